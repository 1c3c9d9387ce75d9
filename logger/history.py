"""The sessions of one machine over time: found, worked out, and told for a person."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from analysis.history import LEAST_DAYS, LEAST_VISITS, Dated, Drift, Series, Trend, histories
from analysis.presets import PresetName, show
from analysis.settings import Settings
from analysis.units import Quantity
from analysis.visit import TemporaryRepair
from analysis.windows import Stretch
from logger.comparison import study
from logger.descriptor import DESCRIPTOR
from logger.errors import CommandError, NotAvailableError
from logger.moments import utc_text
from logger.replay import open_session
from logger.shown_values import plain, shown_change, shown_value
from logger.visit_file import VISIT, read_visit


@dataclass(slots=True)
class MachineHistory:
    """What the folder holds."""

    visits: list[Dated] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    """Session or record, and why it could not be read."""
    temporary: list[tuple[str, TemporaryRepair]] = field(default_factory=list)
    """Session folder and temporary repair that stands open."""
    series: tuple[Series, ...] = ()


def session_folders(folder: Path) -> list[Path]:
    """Find all sessions in a folder and below it, in the order of their names.

    Raises
    ------
    NotAvailableError
        If the folder is not there or cannot be looked through.
    """
    if not folder.is_dir():
        kind = CommandError if folder.exists() else NotAvailableError
        raise kind(f"{folder} is no folder; name the one that holds the sessions.")
    try:
        return sorted(path.parent for path in folder.rglob(DESCRIPTOR))
    except OSError as error:
        raise NotAvailableError(f"{folder} cannot be looked through: {error.strerror}.") from None


def machine_history(folder: Path, progress: Callable[[str], None] | None = None) -> MachineHistory:
    """Work out every session in a folder; a damaged one is named and never stops the others.

    Parameters
    ----------
    folder
        Holds the sessions of one machine.
    progress
        Told the name of each session before it is worked out.
    """
    found = MachineHistory()
    for path in session_folders(folder):
        name = str(path.relative_to(folder)) if path != folder else path.name
        if progress is not None:
            progress(name)
        try:
            session = open_session(str(path))
            studied = study(session)
        except CommandError as refused:
            found.refused.append((name, str(refused)))
            continue
        for stretch in _best(studied.stretches):
            moment = session.header.utc_start_us + stretch.from_us
            found.visits.append(Dated(name, moment, stretch, studied.side))
    _temporary(folder, found)
    found.series = histories(found.visits)
    return found


def _temporary(folder: Path, found: MachineHistory) -> None:
    """Read the visit records; a repair replaced in a later record is closed."""
    repairs: dict[tuple[str, str], tuple[str, TemporaryRepair]] = {}
    for path in sorted(folder.rglob(VISIT)):
        if not path.is_file():
            continue
        name = str(path.parent.relative_to(folder))
        try:
            record = read_visit(path)
        except CommandError as refused:
            found.refused.append((name, str(refused)))
            continue
        for repair in record.temporary_repairs:
            before = repairs.get((repair.what, repair.since))
            if before is None or before[1].open:
                repairs[repair.what, repair.since] = (name, repair)
    found.temporary = sorted(
        (one for one in repairs.values() if one[1].open), key=lambda one: (one[1].since, one[0])
    )


def _best(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Take the longest steady stretch of each mode and phase."""
    best: dict[tuple[str, str], Stretch] = {}
    for stretch in stretches:
        key = (stretch.settings.mode, stretch.settings.phase)
        if key not in best or (stretch.steady, stretch.seconds) >= (best[key].steady, best[key].seconds):
            best[key] = stretch
    return list(best.values())


def history_lines(found: MachineHistory, preset: PresetName) -> Iterator[str]:
    """Tell the history for a person."""
    if not found.visits:
        yield "There is no session here with readings of a measuring point."
    for series in found.series:
        yield ""
        yield f"{(series.mode or 'mode not declared').upper()}: {_count(series)}"
        if not series.newest:
            yield "  These are the visits before the last repair; since then there are too few."
        for trend in series.trends:
            yield from _trend(trend, series, preset)
        for name, why in series.unmatched:
            yield f"  not at like conditions: {plain(name)} ({why})"
    yield ""
    if found.temporary:
        yield "Open temporary repairs"
        for name, repair in found.temporary:
            until = f", to be replaced by {repair.until}" if repair.until else ""
            yield f"  {plain(repair.what)} (since {repair.since}{until}; {plain(name)})"
    else:
        yield "Open temporary repairs: none in the visit records here."
    for name, why in found.refused:
        yield f"Not read: {plain(name)}: {why}"
    yield (
        f"A drift needs {LEAST_VISITS} visits at like conditions over {LEAST_DAYS:.0f} days since the last "
        "repair, and a slope beyond its expanded uncertainty (k = 2, or Student's t where they scatter). "
        "An approach is set to like heat in proportion, at flows within 10 %. Our choices, no source."
    )


def _count(series: Series) -> str:
    number = len(series.matched)
    return f"{number} visit{'' if number == 1 else 's'} at like conditions (like {plain(series.reference)})"


def _trend(trend: Trend, series: Series, preset: PresetName) -> Iterator[str]:
    held = series.matched[-1].stretch.settings if series.matched else Settings()
    at = f" at {show(Quantity.HEAT_RATE, trend.at_heat, preset)}" if math.isfinite(trend.at_heat) else ""
    yield f"  {trend.label}{at}: {_verdict(trend, preset)}"
    for entry in trend.entries:
        value = shown_value(trend.symbol, trend.quantity, entry.value, held, preset)
        u = shown_change(trend.quantity, 0.0, 2.0 * entry.u, preset).partition("± ")[2]
        u = f"± {u}" if u else "± not known"
        yield f"    {utc_text(entry.utc_us)[:10]}  {value:>12}  {u:<12} {plain(entry.name)}"


def _verdict(trend: Trend, preset: PresetName) -> str:
    if trend.drift is Drift.TOO_FEW:
        return f"too few visits ({len(trend.entries)} of {LEAST_VISITS})"
    if trend.drift in (Drift.TOO_CLOSE, Drift.NO_VALUE):
        return trend.drift.value
    slope = shown_change(trend.quantity, trend.slope, trend.limit, preset)
    return f"{'DRIFTS' if trend.drift is Drift.DRIFTS else 'no drift shown'}, {slope} a year"


def history_facts(found: MachineHistory) -> dict[str, object]:
    """Give everything as plain values: SI, standard uncertainties (k = 1), null where not known."""
    return {
        "series": [
            {
                "mode": series.mode or None,
                "newest": series.newest,
                "reference": series.reference,
                "matched": [visit.name for visit in series.matched],
                "unmatched": dict(series.unmatched),
                "trends": {
                    trend.symbol: {
                        "drift": trend.drift.value,
                        "slope_per_year": _known(trend.slope),
                        "u": _known(trend.u_slope),
                        "limit": _known(trend.limit),
                        "per": trend.per or None,
                        "at_heat": _known(trend.at_heat),
                        "visits": [
                            {
                                "session": entry.name,
                                "utc": utc_text(entry.utc_us),
                                "value": _known(entry.value),
                                "u": _known(entry.u),
                            }
                            for entry in trend.entries
                        ],
                    }
                    for trend in series.trends
                },
            }
            for series in found.series
        ],
        "temporary_repairs": [
            {"what": repair.what, "since": repair.since, "until": repair.until or None, "session": name}
            for name, repair in found.temporary
        ],
        "not_read": dict(found.refused),
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None
