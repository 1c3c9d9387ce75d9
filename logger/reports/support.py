"""What the readings of a session support, for a page: the same words as on the command line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.evidence import visit_of_stretch
from analysis.finding import Finding, Status
from analysis.findings import acts_in_order, find
from analysis.presets import PresetName
from analysis.unit_card import UnitCard
from logger.comparison import Studied
from logger.replay import curves_for
from logger.verdict_report import line_text


@dataclass(frozen=True, slots=True)
class Supported:
    """One finding."""

    strength: str
    statement: str
    reason: str
    supporting: Sequence[str]
    against: Sequence[str]
    missing: Sequence[str]
    apart: Sequence[str]


@dataclass(frozen=True, slots=True)
class Support:
    """Everything that is said of a session's best stretch."""

    conflicts: Sequence[tuple[str, str]]
    """What contradicts, and what to look at."""
    water: str
    water_missing: Sequence[str]
    findings: Sequence[Supported]
    acts: Sequence[tuple[str, Sequence[str]]]
    """Condition in which they are safe, and the acts."""
    notes: Sequence[str]


def support_of(studied: Studied, card: UnitCard | None, preset: PresetName) -> Support | None:
    """Weigh the longest steady stretch; None where the session has no stretch at all."""
    if not studied.stretches:
        return None
    best = max(studied.stretches, key=lambda stretch: (stretch.steady, stretch.seconds))
    curve = curves_for(studied.session).get(best.settings.refrigerant)
    found = find(visit_of_stretch(best, curve, card), card)
    shown = [finding for finding in found.findings if finding.status is not Status.DECLINED]
    barometer = found.visit.barometer_pa
    return Support(
        [(conflict.sentence, conflict.ask) for conflict in found.conflicts],
        f"{found.water.verdict.value}. {found.water.reason}".strip(),
        found.water.missing,
        [_supported(finding, preset, barometer) for finding in shown],
        [(safe.value, texts) for safe, texts in acts_in_order(shown).items()],
        found.notes,
    )


def _supported(finding: Finding, preset: PresetName, barometer: float) -> Supported:
    held = "held back: " if finding.status is Status.HELD else ""
    return Supported(
        f"{held}{finding.strength_words}",
        finding.statement,
        finding.reason,
        [line_text(line, preset, barometer) for line in finding.supporting],
        [line_text(line, preset, barometer) for line in finding.against],
        finding.missing,
        finding.apart,
    )
