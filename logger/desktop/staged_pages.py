"""Made-up pages of views that look over whole sessions: for pictures and for audits."""

from __future__ import annotations

from dataclasses import replace

from analysis.circumstances import Circumstances
from analysis.compare import compare
from analysis.presets import PresetName
from analysis.repeatability import Side
from analysis.saturation import refrigerant
from analysis.settings import Settings
from analysis.windows import steady_stretches
from logger.desktop.bands import bands_of
from logger.desktop.key_page import Offer
from logger.desktop.present import Present
from logger.desktop.scene_compare import ComparePage
from logger.desktop.scene_report import Judgement, ReportPage
from logger.desktop.scene_session import Entry, SessionPage
from logger.desktop.session_desk import declared_words
from logger.desktop.staged import HALL_CARD, stage, staged_channels

PAIRS = {
    "as-found": ("as-found", "as-left"), "as-left": ("as-left", "as-left"),
    "wrong-refrigerant": ("as-found", "wrong-refrigerant"), "extreme": ("as-found", "extreme"),
    "cooling": ("as-found", "cooling"), "start": ("as-found", "start"),
    "pressure-lost": ("pressure-lost", "as-left"), "long-names": ("long-names", "as-left"),
}  # fmt: skip
"""Made-up moment to the pair that is compared in it; all others have one side only."""
BETWEEN = {"as-found": "water-put-right", "extreme": "water-put-right", "wrong-refrigerant": "extreme"}
"""Made-up moment to the one that is shown between the pair."""


def staged_compare(name: str, preset: PresetName = "si") -> ComparePage | None:
    """Compare two made-up moments; None where there is nothing to compare with."""
    if name not in PAIRS:
        return None
    one, other = (_side(moment, preset) for moment in PAIRS[name])
    compared = compare(one, other)
    comparison = compared.comparisons[0] if compared.comparisons else None
    bands = bands_of(HALL_CARD.bands, "heating")
    notes = tuple(f"{mode.capitalize()}: {lack}." for mode, lack in compared.not_tested)
    title = stage(PAIRS[name][0], preset)[0].title
    between = None
    if name in BETWEEN:
        between = compare(one, _side(BETWEEN[name], preset)).comparisons[0]
    return ComparePage(comparison, title, bands, notes, between)


def _side(name: str, preset: PresetName) -> Side:
    present, history = stage(name, preset)
    stretches = steady_stretches(history.tail(present.elapsed_us, history.rows))
    return Side(stretches, staged_channels(name), _circumstances)


def _circumstances(held: Settings) -> Circumstances:
    curve = refrigerant(held.refrigerant) if held.refrigerant else None
    return Circumstances(curve, held.source_liquid, held.load_liquid, held.source_coil, held.mode)


_BROKEN = Judgement(
    "broken", "Was it broken?",
    "Yes. Too little brine came through the unit, and it came close to freezing.", False, True,
)  # fmt: skip
_FIXED = Judgement(
    "fixed", "Is it fixed?",
    "Yes, for heating. Heating: measured before and after, under like conditions.", True,
)  # fmt: skip
_WATCH = Judgement(
    "watch", "What to watch",
    "The strainer. Pipe shavings may come loose again: have it looked at in spring. After a stop by the "
    "low-temperature cut-out, note the time and call before resetting.", False, True,
)  # fmt: skip
_FACTS = (
    "as found: 2026-01-14-hall-as-found, 1:12:40, no dropout",
    "as left: 2026-01-14-hall-as-left, 1:00:00, 2 dropouts",
    "heating: fair to compare; entering source water 4.0 and 4.0, entering load water 30.0 and 30.1",
    "visit record: technician A 0147", "unit card: Community hall, unit 2",
)  # fmt: skip


_DEEP = f"/home/technician/{'visits/' * 20}hall-as-left-owner.pdf"
_REFUSED = (
    "The page /media/stick/hall-as-left-owner.pdf cannot be written: No space left on device. A PDF needs "
    "the library weasyprint with Pango."
)


def staged_reports(preset: PresetName = "si") -> dict[str, ReportPage | None]:
    """Give made-up pages of the report view by name."""
    whole = ReportPage(
        paper="letter" if preset == "us" else "a4", sentences=(_BROKEN, _FIXED, _WATCH), facts=_FACTS
    )
    long = replace(_WATCH, text=" ".join([_WATCH.text] * 4), approved=False)
    return {
        "owner": whole,
        "written": replace(whole, kind="pdf", written=_DEEP),
        "long": replace(whole, sentences=(_BROKEN, _FIXED, long)),
        "read": replace(whole, sentences=(_BROKEN, _FIXED, long), reading="watch"),
        "office": replace(whole, reader="office"),
        "technician": replace(whole, reader="technician", facts=(*_FACTS, "a long line of words " * 30)),
        "busy": ReportPage(busy="working the session out"),
        "lacking": replace(whole, lacking=("hall holds no readings of a measuring point: join channels",)),
        "trouble": replace(whole, trouble=_REFUSED),
        "none": None,
    }  # fmt: skip


def staged_sessions(present: Present, preset: PresetName = "si") -> dict[str, SessionPage | None]:
    """Give made-up pages of the session view at a made-up moment, by name."""
    whole = SessionPage(declared=declared_words(present), length_us=3_600_000_000)
    changed = (
        "worked out again, at 16:40:",
        "superheat 5.8 K, was \u221212.4 K",
        "subcooling 11.5 K, was no value",
    )
    if preset == "us":
        changed = (changed[0], "superheat 10.4 °F, was no value", "subcooling 20.8 °F, was 2.0 °F")
    offers = tuple(Offer(f"R{400 + n}A", f"session declare R{400 + n}A") for n in range(41))
    deep = tuple(
        Offer(f"2026-01-14-hall-{'very-' * 12}long-name-{n}", f"session open {n}", "a session")
        for n in range(5)
    )
    deep_question = f"open which session of {'a-deep-folder-' * 9}?"
    up = (Offer("folder above", "session browse ..", "visits of the technician"),)
    units = ("psia", "ft") if preset == "us" else ("hPa", "m")
    return {
        "whole": whole,
        "playing": replace(whole, playing=60.0, whole=False, changed=changed),
        "live": replace(whole, stored=False, folder=_DEEP.rpartition("/")[0]),
        "busy": replace(whole, busy="working everything out again"),
        "choosing": replace(whole, question="which refrigerant is in the machine?", offers=offers, page=1),
        "opening": replace(whole, question=deep_question, offers=deep, more=up, opening=True),
        "nothing-there": replace(whole, question="open which session of visits?", more=up, opening=True),
        "typing": replace(whole, question="barometer of the site", entry=Entry("1013.2", units[0], units)),
        "typing-nothing": replace(whole, question="barometer of the site", entry=Entry("", units[1], units)),
        "none": None,
    }  # fmt: skip
