"""Made-up pages of views that look over whole sessions: for pictures and for audits."""

from __future__ import annotations

from analysis.circumstances import Circumstances
from analysis.compare import compare
from analysis.presets import PresetName
from analysis.repeatability import Side
from analysis.saturation import refrigerant
from analysis.settings import Settings
from analysis.windows import steady_stretches
from logger.desktop.bands import bands_of
from logger.desktop.scene_compare import ComparePage
from logger.desktop.staged import HALL_CARD, stage, staged_channels

PAIRS = {
    "as-found": ("as-found", "as-left"), "as-left": ("as-left", "as-left"),
    "wrong-refrigerant": ("as-found", "wrong-refrigerant"), "extreme": ("as-found", "extreme"),
    "cooling": ("as-found", "cooling"), "start": ("as-found", "start"),
    "pressure-lost": ("pressure-lost", "as-left"), "long-names": ("long-names", "as-left"),
}  # fmt: skip
"""Made-up moment to the pair that is compared in it; all others have one side only."""


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
    return ComparePage(comparison, title, bands, notes)


def _side(name: str, preset: PresetName) -> Side:
    present, history = stage(name, preset)
    stretches = steady_stretches(history.tail(present.elapsed_us, history.rows))
    return Side(stretches, staged_channels(name), _circumstances)


def _circumstances(held: Settings) -> Circumstances:
    curve = refrigerant(held.refrigerant) if held.refrigerant else None
    return Circumstances(curve, held.source_liquid, held.load_liquid, held.source_coil, held.mode)
