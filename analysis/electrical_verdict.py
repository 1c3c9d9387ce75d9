"""The verdict on one circuit, and on circuits that close each other's contacts."""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Mapping, Sequence

from analysis.electrical import (
    COIL_HIGH_SHARE,
    LIGHT_LOAD_HIGH_V,
    AcrossReading,
    ChainPoint,
    Limits,
    VoltReading,
)
from analysis.electrical_across import across_losses, contradictions
from analysis.electrical_acts import acts_after_loss, acts_to_check, acts_to_read
from analysis.electrical_chain import (
    SHORTED_OR_LOADED,
    Called,
    ChainVerdict,
    Kind,
    Loss,
    Outcome,
    Read,
    impossible,
    losses,
    newest,
    nominal_line,
)
from analysis.electrical_doubts import doubts


def judge_chain(
    circuit: str,
    points: Sequence[ChainPoint],
    readings: Sequence[VoltReading],
    limits: Limits | None = None,
    *,
    call: bool | None = None,
    coil: Mapping[str, float] | None = None,
    across: Sequence[AcrossReading] = (),
) -> ChainVerdict:
    """Say where volts are first lost on one circuit.

    Parameters
    ----------
    circuit
        Its name.
    points
        In the order of the circuit; see :mod:`analysis.electrical_circuits`.
    readings
        In the order of reading; a later one of a point in the same condition replaces an earlier one.
    limits
        Given or from the plate; without them line volts are only compared with each other.
    call
        Whether the thermostat calls.
    coil
        Volts of the coils that close contacts of this circuit, by point.
    across
        Volts straight across closed parts.

    Raises
    ------
    ValueError
        If a reading names a point that the circuit does not have.

    Examples
    --------
    >>> from analysis.electrical import plate_limits
    >>> from analysis.electrical_circuits import control_circuit
    >>> typed = {"transformer_primary": 229.0, "transformer_secondary": 25.6, "fuse": 25.6,
    ...          "high_pressure_switch": 0.0}
    >>> found = judge_chain("control", control_circuit(["high_pressure_switch"]),
    ...                     [VoltReading(name, volts) for name, volts in typed.items()], plate_limits(230.0))
    >>> found.loss.named, found.loss.parts
    ('', ('wire from fuse to R and C', 'high-pressure switch'))
    """
    limits = limits or Limits()
    names = [point.name for point in points]
    for name in (*(r.point for r in readings), *(r.point for r in across)):
        if name not in names:
            raise ValueError(f"'{name}' is no point of the {circuit} circuit; it has {', '.join(names)}")
    known = Called(call, coil or {})
    rest, load = newest(points, readings, False), newest(points, readings, True)
    at_rest = _judge(circuit, points, rest, limits, known, (), loaded=False)
    under_load = _judge(circuit, points, load, limits, known, across, loaded=True)
    chosen = _more_telling(at_rest, under_load, bool(load) or bool(across))
    return _with_surroundings(chosen, points, readings, rest, load, limits)


def _more_telling(rest: ChainVerdict, load: ChainVerdict, has_load: bool) -> ChainVerdict:
    """Choose which verdict to give; what stops the machine at no load comes first."""
    if not has_load:
        return rest
    if Outcome.CHECK in (rest.outcome, load.outcome):
        return rest if rest.outcome is Outcome.CHECK else load
    if rest.loss is not None and rest.loss.kind is Kind.OPEN:
        return rest
    return load if load.outcome not in (Outcome.WHOLE, Outcome.NOT_READ) or not rest.readings else (
        rest if rest.outcome not in (Outcome.WHOLE, Outcome.NOT_READ) else load
    )  # fmt: skip


def _judge(
    circuit: str,
    points: Sequence[ChainPoint],
    read: Read,
    limits: Limits,
    known: Called,
    across: Sequence[AcrossReading],
    *,
    loaded: bool,
) -> ChainVerdict:
    verdict = functools.partial(ChainVerdict, circuit, loaded=loaded, points=tuple(points), limits=limits)
    held = tuple(reading for _, reading in read)
    if not read and not across:
        text = "nothing is read yet"
        return verdict(Outcome.NOT_READ, text)
    questions = (
        *impossible(points, read, limits),
        *contradictions(points, across, read, limits),
        *_stuck(points, read, limits, known),
    )
    if questions:
        text = f"check reading: {'; '.join(questions)}; no loss is named"
        return verdict(Outcome.CHECK, text, questions=questions, acts=acts_to_check(), readings=held)
    found = losses(points, read, limits, known, loaded=loaded)
    line = nominal_line(points, read, limits)
    direct, unsaid = across_losses(points, across, read, limits, known)
    found += [loss for loss in direct if loss.parts[0] not in {loss.named for loss in found}]
    main = next((loss for loss in found if loss.kind is Kind.OPEN), found[0] if found else None)
    further = tuple(loss for loss in found if loss is not main)
    last_good = _last_good(points, read, main)
    cleared = _cleared(points, read, last_good, found)
    if main is not None:
        outcome = Outcome.NOT_CALLED if main.kind is Kind.NO_CALL else Outcome.LOSS
        return verdict(
            outcome, _loss_text(main, limits, points), loss=main, further=further, cleared=cleared,
            missing=tuple(unsaid), acts=acts_after_loss(main), readings=held,
        )  # fmt: skip
    outcome, text = _no_loss(points, read, limits, line, loaded)
    return verdict(outcome, text, cleared=cleared, missing=tuple(unsaid), readings=held)


def _stuck(points: Sequence[ChainPoint], read: Read, limits: Limits, known: Called) -> list[str]:
    """Find contacts that pass volts although their coil has none: welded, held, or fed from behind."""
    found = []
    line = nominal_line(points, read, limits)
    for index, reading in read:
        point = points[index]
        coil = known.coil.get(point.closed_by, math.nan) if point.role == "contact" else math.nan
        if coil < 0.5 * limits.pull_in and reading.volts > 0.5 * line:
            found.append(
                f"{reading.volts:g} V at {point.shown} while its coil has {coil:.1f} V: contacts stuck or "
                "welded, a second supply, or a slip"
            )
    return found


def _last_good(points: Sequence[ChainPoint], read: Read, main: Loss | None) -> int:
    """Index of the furthest point that still had its volts."""
    if main is None:
        return read[-1][0] if read else -1
    names = [point.name for point in points]
    good = [i for i, _ in read if i < names.index(main.at)]
    return good[-1] if good else -1


def _cleared(
    points: Sequence[ChainPoint], read: Read, last_good: int, found: Sequence[Loss]
) -> tuple[str, ...]:
    """Parts upstream of a point that had its volts; a part with a loss of its own is never cleared."""
    blamed = {part for loss in found for part in loss.parts}
    if last_good >= 0 and not any(i == last_good for i, _ in read):
        return ()
    return tuple(point.part for point in points[: last_good + 1] if point.part not in blamed)


def _loss_text(loss: Loss, limits: Limits, points: Sequence[ChainPoint]) -> str:
    shown = {point.name: point.shown for point in points}
    volts = f"{loss.volts:.3g} V at {shown[loss.at]}"
    if loss.after:
        volts = f"{loss.volts_before:.4g} V at {shown[loss.after]}, {volts}"
    if loss.kind is Kind.NO_CALL:
        return f"no fault: {loss.reason} ({volts})"
    if loss.named == "the unit's own control":
        return f"first loss in the unit's own control: {volts}"
    how = {Kind.RESISTANCE: "part of the volts is lost", Kind.LOW: "too few volts"}.get(
        loss.kind, "first loss"
    )
    if loss.kind is Kind.TAP:
        return f"wrong tap: the transformer is connected for {limits.tap:g} V ({volts})"
    if loss.named:
        return f"{how}: {loss.named} ({volts})"
    why = f"; {loss.reason}" if loss.reason else ""
    return f"{how} in one of: {', '.join(loss.parts)} ({volts}){why}"


def _no_loss(
    points: Sequence[ChainPoint], read: Read, limits: Limits, line: float, loaded: bool
) -> tuple[Outcome, str]:
    """Say what a chain without a loss means: whole, weak, or too high."""
    for index, reading in read:
        point = points[index]
        if point.side == "line" and reading.volts > limits.supply_high:
            return Outcome.HIGH, f"{reading.volts:g} V at {point.shown} is above {limits.supply_high:g} V"
        high = COIL_HIGH_SHARE * limits.control_nominal if loaded else LIGHT_LOAD_HIGH_V
        if point.side == "control" and reading.volts > high:
            return Outcome.HIGH, (
                f"{reading.volts:g} V at {point.shown} is above {high:.1f} V: "
                "see whether the transformer's tap suits the supply"
            )
    for index, reading in read:
        point = points[index]
        if point.side == "control" and reading.volts < limits.pull_in:
            tap = limits.tap if math.isfinite(limits.tap) else line
            due = f"; {_tap_words(tap, read, points)}" if math.isfinite(tap) else ""
            return Outcome.WEAK, (
                f"{reading.volts:g} V at {point.shown}, below the {limits.pull_in:g} V that pull a coil in, "
                f"and no single part loses them{due}"
            )
    last = points[read[-1][0]].shown if read else "the parts read across"
    how = "under load" if loaded else "at no load"
    return Outcome.WHOLE, f"no volts are lost as far as {last} ({how})"


def _tap_words(tap: float, read: Read, points: Sequence[ChainPoint]) -> str:
    primary = [r.volts for i, r in read if points[i].side == "line"]
    if primary and primary[-1] < 0.95 * tap:
        return f"{primary[-1]:g} V feed a tap for {tap:g} V: a lower tap, or the supply put right, gives more"
    return "the transformer is weak or loaded"


def _sagging(
    points: Sequence[ChainPoint], rest: Read, load: Read, limits: Limits
) -> tuple[str, float, float] | None:
    """Find the first point that has enough volts at no load and too few under load."""
    at_rest = {index: reading.volts for index, reading in rest}
    for index, reading in load:
        least = limits.pull_in if points[index].side == "control" else limits.supply_low
        if at_rest.get(index, math.nan) >= least > reading.volts:
            return points[index].shown, at_rest[index], reading.volts
    return None


def _with_surroundings(
    verdict: ChainVerdict,
    points: Sequence[ChainPoint],
    readings: Sequence[VoltReading],
    rest: Read,
    load: Read,
    limits: Limits,
) -> ChainVerdict:
    """Add what is missing, and what sags only under load."""
    missing = list(verdict.missing)
    if not limits.supply_known:
        missing.append("plate voltage: line volts are only compared with each other")
    if verdict.loss is not None and not verdict.loss.named and len(verdict.loss.parts) > 1:
        start = [p.name for p in points].index(verdict.loss.after) if verdict.loss.after else -1
        end = [p.name for p in points].index(verdict.loss.at)
        between = [p.shown for p in points[start + 1 : end]]
        missing += [f"volts at {name}" for name in between]
        if SHORTED_OR_LOADED in verdict.loss.parts:
            missing.append("secondary volts with the transformer's leads lifted")
    if verdict.loss is not None and verdict.loss.reason.startswith("whether"):
        missing.append(verdict.loss.reason)
    if verdict.outcome is Outcome.LOSS:
        high = [r for i, r in (*rest, *load) if points[i].side == "line" and r.volts > limits.supply_high]
        if high:
            missing.append(f"why {high[0].volts:g} V stand at {high[0].point.replace('_', ' ')}: too many")
    if verdict.outcome in (Outcome.WHOLE, Outcome.NOT_READ):
        furthest = max((i for i, _ in (*rest, *load)), default=-1)
        missing += [f"volts at {p.shown}" for p in points[furthest + 1 :]]
        if not load:
            missing.append("readings under load: a weak contact shows only there")
    missing += [f"a value at {r.point.replace('_', ' ')}" for r in readings if not r.known]
    missing += doubts(readings, limits, verdict.loss)
    statement = verdict.statement
    sagging = _sagging(points, rest, load, limits)
    if sagging is not None:
        place, before, after = sagging
        statement += f"; {place} sags from {before:g} to {after:g} V when the load pulls in"
    acts = verdict.acts or acts_to_read(points, rest, load)
    return dataclasses.replace(verdict, statement=statement, missing=tuple(dict.fromkeys(missing)), acts=acts)
