"""Two sessions compared: worked out, written as plain values, and as rows for a person."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from analysis.analyser import Results
from analysis.circumstances import Circumstances
from analysis.compare import NOT_TESTED, Change, Compared, Comparison, Verdict, compare
from analysis.fairness import ENTERING_LIMIT_K, LIMITS_SOURCE, VOLTAGE_LIMIT, Alike, Condition
from analysis.presets import PresetName, duration, show
from analysis.repeatability import REPEAT_FRACTION, REPOSITION_K, Side
from analysis.saturation import SaturationCurve
from analysis.settings import Settings
from analysis.units import Quantity
from analysis.windows import Mean, Stretch, steady_stretches
from logger.errors import CommandError
from logger.replay import analyse_session, curves_for
from logger.session import Session
from logger.shown_values import plain, shown_change, shown_value

SIGNS = {Alike.ALIKE: "=", Alike.UNLIKE: "≠", Alike.NOT_KNOWN: "?"}


@dataclass(frozen=True, slots=True)
class Studied:
    """A session and its stretches."""

    session: Session
    stretches: list[Stretch]
    side: Side

    @property
    def title(self) -> str:
        """What the session is called."""
        return plain(self.session.header.title) or self.session.folder.name


def compare_between(as_found: Studied, between: Studied | None) -> dict[str, Comparison]:
    """Compare as found with the machine between two repairs, by mode; empty without one."""
    if between is None:
        return {}
    return {comparison.mode: comparison for comparison in compare_sessions(as_found, between).comparisons}


def study(session: Session, watch: Callable[[Results], None] | None = None) -> Studied:
    """Work a session out; ``watch`` sees every result as it comes.

    Raises
    ------
    CommandError
        If an event cannot be understood.
    """

    def results() -> Iterator[Results]:
        for result in analyse_session(session):
            if watch is not None:
                watch(result)
            yield result

    found = steady_stretches(results())
    stretches = [stretch for stretch in found if any(mean.rows for mean in stretch.points.values())]
    channels = {channel.id: channel for channel in session.channels}
    return Studied(session, stretches, Side(stretches, channels, _circumstances(curves_for(session))))


def _circumstances(curves: Mapping[str, SaturationCurve]) -> Callable[[Settings], Circumstances]:
    def circumstances(held: Settings) -> Circumstances:
        return Circumstances(
            curves.get(held.refrigerant), held.source_liquid, held.load_liquid, held.source_coil, held.mode
        )

    return circumstances


def compare_sessions(
    as_found: Studied, as_left: Studied, *, phase_found: str = "", phase_left: str = ""
) -> Compared:
    """Compare two sessions.

    Raises
    ------
    CommandError
        If a phase is asked for that a session does not have, or a session holds no readings.
    """
    for studied, phase in ((as_found, phase_found), (as_left, phase_left)):
        if not studied.stretches:
            raise CommandError(
                f"{studied.session.folder} holds no readings of a measuring point, so there is "
                "nothing to compare."
            )
        phases = list(dict.fromkeys(stretch.settings.phase for stretch in studied.stretches))
        if phase and phase not in phases:
            named = ", ".join(f"'{plain(known)}'" for known in phases if known) or "none that is named"
            raise CommandError(
                f"{studied.session.folder} has no steady stretch in a phase '{phase}'; there are: {named}."
            )
    return compare(as_found.side, as_left.side, phase_found=phase_found, phase_left=phase_left)


@dataclass(frozen=True, slots=True)
class ShownCondition:
    """One condition of fairness for a person."""

    sign: str
    label: str
    text: str
    remark: str
    blocks: bool


@dataclass(frozen=True, slots=True)
class ShownChange:
    """One row of a comparison for a person."""

    symbol: str
    label: str
    as_found: str
    as_left: str
    change: str
    verdict: str
    reason: str
    multiple: float | None
    """The change over its expanded uncertainty."""
    between: str = ""
    """The value between two repairs, where a session holds it."""


def shown_conditions(comparison: Comparison, preset: PresetName) -> list[ShownCondition]:
    """Write the conditions of fairness."""
    return [
        ShownCondition(SIGNS[c.alike], c.label, _condition(c, preset), _remark(c, preset), c.blocks)
        for c in comparison.fairness.conditions
    ]


def _condition(condition: Condition, preset: PresetName) -> str:
    if condition.name == "probes":
        return {Alike.ALIKE: "same probes, same places", Alike.UNLIKE: "not all the same"}.get(
            condition.alike, "none in both"
        )
    one, other = (_side(condition, value, preset) for value in (condition.as_found, condition.as_left))
    return f"{one} both times" if one == other else f"{one} and {other}"


def _remark(condition: Condition, preset: PresetName) -> str:
    """Give the remark, with the limit of a temperature that is too far apart."""
    if condition.alike is Alike.UNLIKE and condition.limit and condition.quantity is Quantity.TEMPERATURE:
        limit = show(Quantity.TEMPERATURE_DIFFERENCE, condition.limit, preset)
        return f"{condition.remark}; the limit is {limit}"
    return condition.remark


def _side(condition: Condition, value: float | str | None, preset: PresetName) -> str:
    if value is None:
        return "not known" if condition.quantity is not None else "not declared"
    if isinstance(value, str) or condition.quantity is None:
        return plain(str(value))
    return show(condition.quantity, value, preset)


def shown_changes(
    comparison: Comparison, preset: PresetName, between: Comparison | None = None
) -> list[ShownChange]:
    """Write the rows of a comparison; ``between`` is as found against the machine between two repairs."""
    middle = {change.symbol: change for change in between.changes} if between is not None else {}
    return [
        replace(
            _shown(change, comparison, preset),
            between=_between(middle.get(change.symbol), between, preset) if between is not None else "",
        )
        for change in comparison.changes
    ]


def _between(change: Change | None, between: Comparison, preset: PresetName) -> str:
    if change is None:
        return "not known"
    held = between.as_left.settings
    return shown_value(change.symbol, change.quantity, change.as_left.value, held, preset)


def between_line(between: Comparison) -> str:
    """Say where the values between two repairs come from, and whether conditions were alike."""
    blocking = between.fairness.blocking
    alike = "" if not blocking else f"; NOT under like conditions: {', '.join(c.label for c in blocking)}"
    return f"between   {stretch_line(between.as_left)}{alike}"


def _shown(change: Change, comparison: Comparison, preset: PresetName) -> ShownChange:
    found, left = comparison.as_found.settings, comparison.as_left.settings
    known = change.expanded > 0.0 and math.isfinite(change.difference)
    return ShownChange(
        change.symbol,
        change.label,
        shown_value(change.symbol, change.quantity, change.as_found.value, found, preset),
        shown_value(change.symbol, change.quantity, change.as_left.value, left, preset),
        shown_change(change.quantity, change.difference, change.expanded, preset),
        change.verdict.value,
        change.reason,
        change.difference / change.expanded if known else None,
    )


def verdict_line(comparison: Comparison, preset: PresetName) -> str:
    """Say in one line whether the pair is fair, or why it is not."""
    blocking = comparison.fairness.blocking
    if not blocking:
        return "FAIR to compare: taken under like conditions, both steady"
    reasons = "; ".join(
        f"{c.label} {_condition(c, preset)}" + (f" ({_remark(c, preset)})" if c.remark else "")
        for c in blocking
    )
    return f"NOT COMPARABLE: {reasons}"


def comparison_notes(preset: PresetName) -> list[str]:
    """Say what a comparison rests on, with the source of every limit."""
    again = show(Quantity.TEMPERATURE_DIFFERENCE, REPOSITION_K, preset)
    apart = show(Quantity.TEMPERATURE_DIFFERENCE, ENTERING_LIMIT_K, preset)
    return [
        "A change is one that is larger than its expanded uncertainty U (k = 2): spread of the rows, and how "
        "well a probe repeats when it is put on again.",
        f"Taken for that, k = 1: {again} for each temperature probe, {REPEAT_FRACTION * 100:.0f} % of the "
        f"instrument's own uncertainty for every other quantity ({LIMITS_SOURCE}).",
        "Fixed errors of the same probe in the same place cancel; other probes count with their full "
        "uncertainty.",
        f"Fair: entering temperatures within {apart}, same mode and refrigerant, both steady; a supply "
        f"voltage that differs by more than {VOLTAGE_LIMIT * 100:.0f} % is stated ({LIMITS_SOURCE}).",
        "Stages are not recorded: compare a machine with several stages at the same stage.",
    ]


def not_tested_lines(compared: Compared) -> list[str]:
    """Say for each mode that is not compared what is lacking."""
    return [
        f"{mode.capitalize()}: not tested."
        if lack == NOT_TESTED
        else f"{mode.capitalize()}: {lack}, not compared."
        for mode, lack in compared.not_tested
    ]


def stretch_line(stretch: Stretch) -> str:
    """Say where a stretch lies and how it stands."""
    span = f"{duration(stretch.from_us / 1e6)} to {duration(stretch.to_us / 1e6)}"
    state = f"steady for {duration(stretch.seconds)}" if stretch.steady else "NOT STEADY"
    phase = f", phase {plain(stretch.settings.phase)}" if stretch.settings.phase else ""
    return f"{span}, {state}{phase}"


def known(value: float) -> float | None:
    """Give None for what is not known, as JSON writes it."""
    return value if math.isfinite(value) else None


def _mean(mean: Mean) -> dict[str, object]:
    return {
        "value": known(mean.value),
        "u": known(mean.u),
        "spread": known(mean.spread),
        "rows": mean.rows,
        "rho": known(mean.rho),
    }


def _stretch_facts(stretch: Stretch) -> dict[str, object]:
    return {
        "from": stretch.from_us / 1e6,
        "to": stretch.to_us / 1e6,
        "steady": stretch.steady,
        "phase": stretch.settings.phase or None,
        "barometer": stretch.settings.barometer_pa,
        "refrigerant": stretch.settings.refrigerant or None,
    }


def comparison_facts(as_found: Studied, as_left: Studied, compared: Compared) -> dict[str, object]:
    """Give everything as plain values: SI, standard uncertainties (k = 1), null where not known."""
    return {
        "as_found": str(as_found.session.folder),
        "as_left": str(as_left.session.folder),
        "comparisons": [_facts(comparison) for comparison in compared.comparisons],
        "not_tested": dict(compared.not_tested),
    }


def _facts(comparison: Comparison) -> dict[str, object]:
    return {
        "mode": comparison.mode or None,
        "fair": comparison.fairness.fair,
        "conditions": {
            c.name: {
                "alike": {Alike.ALIKE: True, Alike.UNLIKE: False}.get(c.alike),
                "blocks": c.blocks,
                "as_found": c.as_found,
                "as_left": c.as_left,
                "limit": c.limit,
                "remark": c.remark or None,
            }
            for c in comparison.fairness.conditions
        },
        "as_found": _stretch_facts(comparison.as_found),
        "as_left": _stretch_facts(comparison.as_left),
        "changes": {
            c.symbol: {
                "as_found": _mean(c.as_found),
                "as_left": _mean(c.as_left),
                "difference": known(c.difference),
                "u": known(c.u),
                "verdict": c.verdict.value,
                "reason": c.reason or None,
                "same_probes": c.same_probes,
            }
            for c in comparison.changes
        },
    }


def count_verdicts(changes: Sequence[Change]) -> dict[Verdict, int]:
    """Count the rows of each verdict."""
    return {verdict: sum(change.verdict is verdict for change in changes) for verdict in Verdict}
