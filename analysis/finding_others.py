"""What is said beside the rules: findings of the guards and of the card, notes, and an explanation."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.card_checks import check_card
from analysis.evidence import Line, Visit
from analysis.finding import Finding, Status
from analysis.finding_acts import running, stopped
from analysis.finding_levels import unlike
from analysis.guards import Conflict
from analysis.unit_card import UnitCard

_PROBE = (
    running("Hold the doubtful probes side by side in one cup of water and compare."),
    stopped("Vent the gauges to air and read zero; compare standing pressures with saturation."),
)


def of_conflicts(conflicts: Sequence[Conflict], visit: Visit) -> list[Finding]:
    """Make findings of what the guards saw."""
    findings = []
    for conflict in conflicts:
        wrong = conflict.code in ("refrigerant_scale", "gauge_or_absolute")
        strength = 0.75 if wrong and len(conflict.fits) <= 3 else 0.6
        code = "wrong_refrigerant" if conflict.code == "refrigerant_scale" else "probe_fault"
        statement = (
            "The machine is not filled with what is declared, or a pressure was read on the wrong scale"
            if code == "wrong_refrigerant"
            else "A probe, its place or its scale is wrong"
        )
        nan = float("nan")
        line = Line(
            conflict.code,
            nan,
            nan,
            nan,
            nan,
            "",
            "second law, readings against each other",
            conflict.sentence,
        )
        findings.append(
            Finding(
                code, statement, strength, Status.ACTIVE, conflict.ask, (line,), acts=_PROBE, signs=1, rank=3
            )
        )
    return findings


def of_card(card: UnitCard | None) -> list[Finding]:
    """Make a finding where the cut-out is set against the liquid."""
    if card is None:
        return []
    nan = float("nan")
    return [
        Finding(
            "cut_out_set_against_fluid",
            "The low-temperature cut-out does not belong to this liquid: the coil can freeze before it opens",
            0.9,
            Status.ACTIVE,
            "",
            (
                Line(
                    "low_temperature_cut_out", card.cut_out.setting, nan, card.source_liquid.freezing_point,
                    nan, "K", card.cut_out.source, fault.sentence,
                ),
            ),
            acts=(stopped("Set the cut-out to what the maker states for this liquid, or change it."),),
            source="freezing point of the declared liquid",
            signs=1,
            rank=4,
        )
        for fault in check_card(card)
        if fault.path.startswith("low_temperature_cut_out") and card.cut_out is not None
    ]  # fmt: skip


def notes_on(
    visit: Visit, card: UnitCard | None, reference: Visit | None, declared_mode: str
) -> tuple[str, ...]:
    """Say what a reader must know beside the findings."""
    notes = []
    assumed = sorted(
        {seen.symbol for seen in visit.values.values() if seen.assumed and seen.symbol in seen.points}
    )
    if assumed:
        notes.append(f"uncertainty assumed, nothing is promised about: {', '.join(assumed)}")
    if visit.mode and not declared_mode:
        notes.append(f"mode not declared: {visit.mode} is taken from the load side")
    if not visit.mode:
        notes.append("mode not declared: heating or cooling decides what the readings mean")
    if not visit.barometer_declared:
        notes.append("barometer not declared: standard atmosphere assumed")
    if reference is not None and (reasons := unlike(visit, reference, card)):
        notes.append(f"the reference was not used: {'; '.join(reasons)}")
    if card is not None and card.water_regulating_valve and visit.mode == "cooling":
        notes.append(
            "a water-regulating valve sets the flow: low flow at a normal condensing temperature is its work"
        )
    if card is not None and card.circuits > 1:
        notes.append(f"the card states {card.circuits} circuits: these readings are judged as one of them")
    return tuple(notes)


def why_condensing_rose(before: Visit, after: Visit) -> str:
    """Explain a rise of the condensing temperature by the heat that is moved; empty where there is none.

    The distance of condensing temperature to entering water grows with the heat that passes the same surface:
    ``d_after = d_before * Q_after / Q_before``.

    Examples
    --------
    The hall: water put right, 9.4 instead of 8.4 kW are taken from the brine.

    >>> from analysis.evidence import seen_value
    >>> def hall(condensing, load_in, heat):
    ...     names = ("condensing_temperature", "load_entering_temperature", "heat_to_load")
    ...     values = dict(zip(names, (condensing, load_in, heat), strict=True))
    ...     return Visit({s: seen_value(s, v) for s, v in values.items()}, "heating")
    >>> why_condensing_rose(hall(315.25, 303.15, 11200.0), hall(316.95, 303.15, 12400.0)).split(":")[0]
    'condensing rose by 1.7 K, of which 1.3 K follow from 11 % more heat'
    """
    entering = "load_entering_temperature" if after.mode == "heating" else "source_entering_temperature"
    heat = "heat_to_load" if after.mode == "heating" else "heat_to_source"
    values = []
    for visit in (before, after):
        needed = [visit.get(symbol) for symbol in ("condensing_temperature", entering, heat)]
        if any(seen is None for seen in needed):
            return ""
        values.append([seen.value for seen in needed if seen is not None])
    (t_one, w_one, q_one), (t_two, w_two, q_two) = values
    rise = t_two - t_one
    if rise <= 0.3 or q_one <= 0.0 or q_two <= q_one:
        return ""
    expected = (t_one - w_one) * (q_two / q_one - 1.0) + (w_two - w_one)
    return (
        f"condensing rose by {rise:.1f} K, of which {expected:.1f} K follow from "
        f"{100 * (q_two / q_one - 1):.0f} % more heat: a higher condensing temperature after the "
        "water was put right is no worsening"
    )
