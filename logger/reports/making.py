"""A report from its sessions to its bytes: the same steps for the command and for the window."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from analysis.card_file import CardFile
from analysis.compare import Compared
from analysis.presets import PresetName
from analysis.unit_card import UnitCard
from analysis.visit import VisitRecord
from logger.comparison import Studied, compare_sessions, study
from logger.replay import end_us, open_session
from logger.reports.envelope import Envelope
from logger.reports.office import office_facts
from logger.reports.owner import owner_facts
from logger.reports.paper import TYPE_SIZES, Paper, page_of, pdf_of
from logger.reports.session_charts import Seen
from logger.reports.technician import technician_page
from logger.session_card import find_card, written_card
from logger.visit_file import find_visit

Reader = Literal["technician", "owner", "office"]


@dataclass(frozen=True, slots=True)
class Material:
    """Everything that a report rests on."""

    seen: tuple[Seen, ...]
    """One session, or as found and as left."""
    compared: Compared | None
    record: VisitRecord | None
    photos: Path | None
    """Folder of the record."""
    card: UnitCard | None
    written: CardFile | None
    """The card as it is written, for its plate."""
    between: Studied | None = None
    """The machine between two repairs, as with the water put right."""

    @property
    def studied(self) -> list[Studied]:
        """The sessions, worked out."""
        return [one.studied for one in self.seen]


def gather(
    as_found: str, as_left: str = "", *, card: str = "", visit: str = "", phase_found: str = "",
    phase_left: str = "", both_ends: bool = False, between: str = "",
) -> Material:  # fmt: skip
    """Work the sessions out, and find the card and the record that belong to them.

    Parameters
    ----------
    as_found, as_left
        Folders.
    card, visit
        Files named by the person; found beside the sessions by default.
    phase_found, phase_left
        Which stretches are compared.
    between
        Folder of a session between two repairs, where two sessions are compared.
    both_ends
        Whether one session that holds both ends of a repair is compared with itself.

    Raises
    ------
    CommandError
        In one sentence, with the way out.
    """
    folders = [as_found, as_left] if as_left else [as_found]
    roles = ["as found", "as left"] if as_left else ["session"]
    seen = []
    for folder, role in zip(folders, roles, strict=True):
        session = open_session(folder)
        envelope = Envelope(end_us(session))
        seen.append(Seen(role, study(session, envelope.add), envelope))
    compared = None
    if both_ends and not as_left:
        phase_found, phase_left = phases_of(seen[0].studied)
    if as_left or (phase_found and phase_left):
        compared = compare_sessions(
            seen[0].studied, seen[-1].studied, phase_found=phase_found, phase_left=phase_left
        )
    newest_first = [one.studied.session for one in reversed(seen)]
    found = find_visit([session.folder for session in newest_first], visit)
    record, photos = (found[0], found[1].parent) if found else (None, None)
    written = written_card(newest_first, card)
    return Material(
        tuple(seen), compared, record, photos, find_card(newest_first, card),
        written[0] if written else None, study(open_session(between)) if between else None,
    )  # fmt: skip


def made(
    material: Material, reader: Reader, paper: Paper, preset: PresetName, *, pdf: bool, written_us: int
) -> tuple[bytes, int]:
    """Make the page; gives it with its number of pages.

    Raises
    ------
    CommandError
        If a PDF is asked for and its library is not there.
    """
    if reader == "owner":
        facts = owner_facts(
            material.studied, material.compared, material.record, material.card, preset,
            written_us=written_us,
        )  # fmt: skip
        return one_page(facts, paper, pdf=pdf)
    if reader == "technician":
        html = technician_page(
            material.seen, material.compared, preset, written_us=written_us, paper=paper,
            card=material.card, record=material.record, photo_folder=material.photos,
            between=material.between,
        )  # fmt: skip
    else:
        facts = office_facts(
            material.studied, material.compared, material.record, material.photos, material.written, preset,
            written_us=written_us,
        )  # fmt: skip
        html = page_of("office.html", facts, paper)
    return pdf_of(html) if pdf else (html.encode(), 1)


def one_page(facts: dict[str, object], paper: Paper, *, pdf: bool) -> tuple[bytes, int]:
    """Set the owner's page in the largest type in which it fits on one; gives it with its number of pages."""
    if not pdf:
        return page_of("owner.html", facts, paper).encode(), 1
    content, pages = b"", 0
    for type_size in TYPE_SIZES:
        content, pages = pdf_of(page_of("owner.html", facts, paper, type_size=type_size))
        if pages == 1:
            break
    return content, pages


def phases_of(studied: Studied) -> tuple[str, str]:
    """Name the phases of a session that holds both ends of a repair; empty where it does not."""
    phases = {stretch.settings.phase for stretch in studied.stretches}
    return ("as-found", "as-left") if {"as-found", "as-left"} <= phases else ("", "")
