"""What is left behind, in the window: sessions compared, judgements approved, a report written.

Sessions are worked out and pages are set in a thread of their own, so that neither the window nor a recording
waits for them. Readings on disk are only read.
"""

from __future__ import annotations

import logging
import math
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, cast

from analysis.presets import PresetName, duration
from logger.desktop.background import Background
from logger.desktop.scene_report import Judgement, ReportPage
from logger.errors import CommandError, NotAvailableError
from logger.shown_values import plain

if TYPE_CHECKING:  # what works pages out is loaded when one is opened, for the window must open at once
    from logger.desktop.scene_compare import ComparePage
    from logger.reports.making import Material, Reader
    from logger.reports.paper import Paper

_log = logging.getLogger(__name__)
SETTING = "setting the page"
STALE_S, STALE_TIMES = 3.0, 10.0
"""A recording that goes on is worked out anew while its pages are looked at, after so long and so many times
as long as that takes."""


class Paperwork:
    """The pages about one session, or about a pair.

    Parameters
    ----------
    as_found, as_left
        Folders of the sessions; the second may be empty.
    card
        Path of a unit card; found beside the sessions by default.
    growing
        Whether the session is still being recorded.
    """

    def __init__(
        self, as_found: Path, as_left: str, preset: PresetName, card: str = "", *, growing: bool = False
    ) -> None:
        self._found, self._left, self._preset, self._card = as_found, as_left, preset, card
        self._growing = growing
        self._material: Material | None = None
        self._approved: set[Judgement] = set()
        self._background = Background("paperwork")
        self._at, self._took = -math.inf, 0.0
        self._write_next = False
        """Whether a page was asked for while something else was being worked out."""
        self.page = ReportPage(paper="letter" if preset == "us" else "a4")
        self.comparison: ComparePage | None = None

    @property
    def busy(self) -> bool:
        """Whether something is being worked out."""
        return self._background.busy

    def join(self, timeout: float) -> bool:
        """Wait until nothing is being worked out; gives whether that is so."""
        return self._background.join(timeout)

    def open(self) -> None:
        """Begin to work the sessions out, where that has not been done yet, or where more has come since."""
        wait = max(STALE_S, STALE_TIMES * self._took) if self._growing else math.inf
        if not self.busy and time.monotonic() - self._at >= wait:
            self._run("working the session out" if self._material is None else "", self._gather)

    def again(self) -> None:
        """Let everything be worked out again when the pages are looked at next: something was put right."""
        self._at = -math.inf

    def act(self, what: str) -> None:
        """Do what a touch on the report view asks for."""
        name, _, rest = what.partition(" ")
        if name == "reader":
            self.page = replace(self.page, reader=cast("Reader", rest), reading="", written="", trouble="")
        elif name == "paper":
            self.page = replace(self.page, paper=cast("Paper", rest), written="")
        elif name == "file":
            self.page = replace(self.page, kind=rest, written="")
        elif name == "read":
            self.page = replace(self.page, reading=rest)
        elif name == "approve":
            self._approve(rest)
        elif name == "write" and self.busy:
            self._write_next = True
        elif name == "write" and self._material is not None:
            self._run(SETTING, self._write)

    def _approve(self, key: str) -> None:
        """Approve a sentence as it stands now, or take that back; another text must be approved anew."""
        sentences = tuple(
            replace(one, approved=not one.approved) if one.key == key else one for one in self.page.sentences
        )
        self._approved = {one for one in sentences if one.approved}
        self.page = replace(self.page, sentences=sentences, written="")

    def _run(self, busy: str, work: Callable[[], None]) -> None:
        written = self.page.written if not busy else ""
        self.page = replace(self.page, busy=busy, trouble="", written=written)
        self._background.start(partial(self._guarded, work))

    def _guarded(self, work: Callable[[], None]) -> None:
        """Whatever goes wrong with a page is a sentence on it; the window and the recording go on."""
        try:
            begin = time.monotonic()
            work()
            self._took = time.monotonic() - begin
            if self._write_next and self._material is not None:
                self._write_next = False
                self.page = replace(self.page, busy=SETTING)
                self._write()
            self.page = replace(self.page, busy="")
        except CommandError as refused:
            self.page = replace(self.page, busy="", trouble=str(refused))
        except Exception as error:
            _log.exception("A page could not be made")
            trouble = f"A fault in the program ({type(error).__name__}); the recording is whole."
            self.page = replace(self.page, busy="", trouble=trouble)

    def _gather(self) -> None:
        from logger.desktop.comparing import page_of_comparison
        from logger.reports.judgements import sentences_of
        from logger.reports.making import gather

        self._at = time.monotonic()
        material = gather(str(self._found), self._left, card=self._card, both_ends=True)
        self._material = material
        if material.compared is not None:
            events = [event for one in material.studied for event in one.session.events]
            title = material.seen[0].studied.title
            self.comparison = page_of_comparison(material.compared, title, events, material.card)
        held = material.record.owner if material.record is not None else None
        signed = held.watch if held is not None and held.approved_watch else ""
        sentences = []
        for one in sentences_of(material):
            shown = Judgement(one.key, one.question, plain(one.text), one.drafted, True)
            approved = shown in self._approved or (one.key == "watch" and signed != "" and not one.drafted)
            sentences.append(replace(shown, approved=approved))
        self._approved = {one for one in sentences if one.approved}
        self.page = replace(
            self.page, sentences=tuple(sentences), facts=self._facts(material), lacking=_lacking(material)
        )

    def _facts(self, material: Material) -> tuple[str, ...]:
        """Say what the page rests on."""
        from logger.comparison import verdict_line

        lines = []
        for one in material.seen:
            lost = sum(event.kind == "dropout" for event in one.studied.session.events)
            dropouts = {0: "no dropout", 1: "one dropout"}.get(lost, f"{lost} dropouts")
            length = duration(one.studied.session.duration_us / 1e6)
            lines.append(f"{one.role}: {plain(one.studied.session.folder.name)}, {length}, {dropouts}")
        if material.compared is not None and material.compared.comparisons:
            lines.append(verdict_line(material.compared.comparisons[0], self._preset))
        else:
            lines.append("nothing is compared: one session with one end of a repair")
        record, card = material.record, material.card
        lines.append(
            " ".join(filter(None, ("visit record:", plain(record.technician), plain(record.report))))
            if record is not None
            else "no visit record: write visit.toml beside the session, and work, parts and weights are told"
        )
        lines.append(
            f"unit card: {plain(card.title)}" if card is not None
            else "no unit card: nothing is held against limits of the machine"
        )  # fmt: skip
        return tuple(lines)

    def _write(self) -> None:
        from logger.reports.judgements import approved_only
        from logger.reports.making import made
        from logger.reports.paper import write_page

        assert self._material is not None, "asked for only where there is material"
        page, material = self.page, self._material
        if page.reader == "owner":
            material = approved_only(material, {one.key for one in page.sentences if one.approved})
        content, _ = made(
            material, page.reader, page.paper, self._preset, pdf=page.kind == "pdf",
            written_us=time.time_ns() // 1000,
        )  # fmt: skip
        newest = material.seen[-1].studied.session.folder
        name = f"{newest.name}-{page.reader}"
        try:
            out = _free(newest.resolve().parent, name, page.kind)
            write_page(out, content)
        except NotAvailableError:
            out = _free(Path.home(), name, page.kind)  # the session may lie where nothing can be written
            write_page(out, content)
        self.page = replace(self.page, written=str(out))


def _free(folder: Path, name: str, ending: str) -> Path:
    """Give a path that is not taken: a page that was handed out is never replaced by another."""
    number = 1
    while (path := folder / f"{name}{f'-{number}' if number > 1 else ''}.{ending}").exists():
        number += 1
    return path


def _lacking(material: Material) -> tuple[str, ...]:
    """Say what is not enough for a report."""
    return tuple(
        f"{plain(one.session.folder.name)} holds no readings of a measuring point: join channels on Devices"
        for one in material.studied if not one.stretches
    )  # fmt: skip
