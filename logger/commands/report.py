"""``evenrun report A [B] --for owner|office|technician --out FILE``: one self-contained page, HTML or PDF."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from analysis.presets import PresetName
from logger.comparison import compare_sessions, study
from logger.errors import DONE, CommandError
from logger.replay import end_us, open_session
from logger.reports.envelope import Envelope
from logger.reports.office import office_facts
from logger.reports.owner import owner_facts
from logger.reports.paper import TYPE_SIZES, Paper, page_of, pdf_of, write_page
from logger.reports.session_charts import Seen
from logger.reports.technician import technician_page
from logger.session_card import find_card, written_card
from logger.visit_file import find_visit


def run(args: argparse.Namespace) -> int:
    """Write the report."""
    out = Path(args.out)
    _check(args, out)
    folders = [args.as_found] + ([args.as_left] if args.as_left else [])
    roles = ["as found", "as left"] if args.as_left else ["session"]
    seen = []
    for folder, role in zip(folders, roles, strict=True):
        session = open_session(folder)
        envelope = Envelope(end_us(session))
        seen.append(Seen(role, study(session, envelope.add), envelope))
    compared = None
    if args.as_left:
        compared = compare_sessions(
            seen[0].studied, seen[1].studied, phase_found=args.phase_found, phase_left=args.phase_left
        )
    studied = [one.studied for one in seen]
    newest_first = [one.session for one in reversed(studied)]
    preset: PresetName = args.units or "si"
    written_us, pdf = time.time_ns() // 1000, out.suffix.lower() == ".pdf"
    found = find_visit([session.folder for session in newest_first], args.visit)
    record, photos = (found[0], found[1].parent) if found else (None, None)
    card = find_card(newest_first, args.card)
    pages = 1
    if args.reader == "technician":
        html = technician_page(
            seen, compared, preset, written_us=written_us, paper=args.paper, card=card, record=record
        )
        content, pages = pdf_of(html) if pdf else (html.encode(), 1)
    elif args.reader == "office":
        written = written_card(newest_first, args.card)
        facts = office_facts(
            studied, compared, record, photos, written[0] if written else None, preset, written_us=written_us
        )
        html = page_of("office.html", facts, args.paper)
        content, pages = pdf_of(html) if pdf else (html.encode(), 1)
    else:
        facts = owner_facts(studied, compared, record, card, preset, written_us=written_us)
        content, pages = one_page(facts, args.paper, pdf=pdf)
    write_page(out, content)
    print(f"Report: {out}")
    if record is None and args.reader != "technician":
        print("There is no visit record; write visit.toml beside the session, or give --visit FILE.")
    if args.reader == "owner" and pages > 1:
        print(f"The texts of the visit record take {pages} pages; shorter ones fit on one.")
    return DONE


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


def _check(args: argparse.Namespace, out: Path) -> None:
    if out.suffix.lower() not in (".html", ".htm", ".pdf"):
        raise CommandError(f"--out {out}: name a file that ends in .html or .pdf.")
    if out.is_dir():
        raise CommandError(f"--out {out} is a folder; name a file in it.")
    if not args.as_left and (args.phase_found or args.phase_left):
        raise CommandError("--phase-found and --phase-left choose what is compared; name a second session.")
