"""A typed visit, ``CASE.toml``: readings with their units, the class of the gauges, and what was seen."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Literal, TypeVar

import msgspec

from analysis.barometer import STANDARD_ATMOSPHERE_PA, parse_barometer
from analysis.evidence import EXTRA_SYMBOLS, OBSERVATIONS, Seen, Visit, quantity_of_symbol, seen_value
from analysis.flow_routes import FlowRoute
from analysis.liquids import Liquid, LiquidError, parse_liquid
from analysis.proofs import Proof
from analysis.proofs_pressure import prove_liquid_decay, prove_nitrogen, prove_vacuum
from analysis.refrigerants import RefusedRefrigerant, UnknownRefrigerant
from analysis.saturation import refrigerant
from analysis.unit_card import NOT_KNOWN, UnitCard
from analysis.units import Quantity, UnitError, parse_amount

_Parsed = TypeVar("_Parsed")
_RANGE = re.compile(r"\s*([^\s].*?)\s+to\s+(.+)")
_CLASSES: dict[str, tuple[Quantity, tuple[Quantity, ...]]] = {
    "pressure": (Quantity.PRESSURE_DIFFERENCE, (Quantity.ABSOLUTE_PRESSURE, Quantity.GAUGE_PRESSURE)),
    "temperature": (Quantity.TEMPERATURE_DIFFERENCE, (Quantity.TEMPERATURE,)),
    "temperature_difference": (Quantity.TEMPERATURE_DIFFERENCE, (Quantity.TEMPERATURE_DIFFERENCE,)),
    "pressure_difference": (Quantity.PRESSURE_DIFFERENCE, (Quantity.PRESSURE_DIFFERENCE,)),
    "flow": (Quantity.VOLUME_FLOW, (Quantity.VOLUME_FLOW,)),
    "heat": (Quantity.HEAT_RATE, (Quantity.HEAT_RATE,)),
    "power": (Quantity.POWER, (Quantity.POWER,)),
    "voltage": (Quantity.VOLTAGE, (Quantity.VOLTAGE,)),
    "current": (Quantity.CURRENT, (Quantity.CURRENT,)),
}
"""Name of a gauge class to how its limit is written and to the quantities that it covers."""


class CaseError(ValueError):
    """A typed visit cannot be read; the text is one sentence with the key path and the way out."""


class NitrogenTable(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """``[nitrogen_test]``: start and end of a pressure test with nitrogen."""

    start_pressure: str
    end_pressure: str
    start_temperature: str
    end_temperature: str


class SeriesTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """``[vacuum_test]`` or ``[liquid_pressure_test]``: pressures over time."""

    minutes: tuple[float, ...]
    pressures: tuple[str, ...]
    gauge: str
    """Limit of error of the gauge against itself, such as ``5 Pa``."""


class CaseFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """Everything that may be typed."""

    title: str = ""
    mode: Literal["", "heating", "cooling"] = ""
    refrigerant: str = ""
    barometer: str = ""
    source_fluid: str = ""
    load_fluid: str = ""
    metering: Literal["expansion valve", "fixed orifice", "not known"] = "not known"
    receiver: bool | None = None
    running: bool = True
    steady: bool = True
    flow_route: Literal["", "meter", "timed container", "energy balance"] = ""
    water_proven_by: str = ""
    """Who vouches for the water, and when."""
    gauge_class: dict[str, str] = {}
    """Limit of error of each kind of gauge, as ``pressure = "0.16 bar"`` or ``flow = "3 %"``."""
    readings: dict[str, str] = {}
    """Symbol to value with unit, ``suction_pressure = "5.2 bar(g)"``, or a range, ``"10 to 12 K"``."""
    seen: tuple[str, ...] = ()
    """What was seen beside the readings; keys of :data:`analysis.evidence.OBSERVATIONS`."""
    nitrogen_test: NitrogenTable | None = None
    vacuum_test: SeriesTable | None = None
    liquid_pressure_test: SeriesTable | None = None


def visit_of_case(case: CaseFile, card: UnitCard | None = None) -> Visit:
    """Read every value of a typed visit.

    The limit of a gauge's class is a rectangular bound, ``u = limit / sqrt(3)`` (GUM 4.3.7), and so is half
    the width of a range.

    Raises
    ------
    CaseError
        At the first value that cannot be read.

    Examples
    --------
    >>> typed = CaseFile(refrigerant="R410A", mode="heating", gauge_class={"pressure": "0.16 bar"},
    ...                  barometer="94.32 kPa(a)", readings={"suction_pressure": "5.2 bar(g)"})
    >>> seen = visit_of_case(typed).values["suction_pressure"]
    >>> round(seen.value), round(seen.u)
    (614320, 9238)
    """
    barometer = _read("barometer", case.barometer, parse_barometer) or STANDARD_ATMOSPHERE_PA
    classes = {name: _class(name, text) for name, text in case.gauge_class.items()}
    values = {symbol: _reading(symbol, text, barometer, classes) for symbol, text in case.readings.items()}
    for name in case.seen:
        if name not in OBSERVATIONS:
            raise CaseError(f"'seen': '{name}' is not known; known are {', '.join(OBSERVATIONS)}.")
    name = case.refrigerant or (card.refrigerant if card is not None else "")
    try:
        curve = refrigerant(name) if name else None
    except (UnknownRefrigerant, RefusedRefrigerant) as refused:
        raise CaseError(f"'refrigerant': {refused}") from None
    metering = case.metering
    if metering == NOT_KNOWN and card is not None and case.mode:
        metering = card.metering.get(case.mode, NOT_KNOWN)  # type: ignore[assignment]
    route = {"": None, "meter": FlowRoute.METER, "timed container": FlowRoute.TIMED_CONTAINER,
             "energy balance": FlowRoute.ENERGY_BALANCE}[case.flow_route]  # fmt: skip
    return Visit(
        values=values,
        mode=case.mode,
        refrigerant=curve.name if curve is not None else "",
        curve=curve,
        source_liquid=_liquid("source_fluid", case.source_fluid) or (card.source_liquid if card else None),
        load_liquid=_liquid("load_fluid", case.load_fluid) or (card.load_liquid if card else None),
        barometer_pa=barometer,
        barometer_declared=bool(case.barometer),
        flow_route=route,
        steady=case.steady,
        running=case.running,
        observations=frozenset(case.seen),
        water_proven_by=case.water_proven_by,
        metering=metering,
        receiver=case.receiver if case.receiver is not None else (card.receiver if card else None),
    )


def _read(path: str, text: str, parse: Callable[[str], _Parsed]) -> _Parsed | None:
    """Read a text that may be left out."""
    return _must(path, text, parse) if text else None


def _must(path: str, text: str, parse: Callable[[str], _Parsed]) -> _Parsed:
    try:
        return parse(text)
    except (UnitError, LiquidError) as refused:
        raise CaseError(f"'{path}': {refused}") from None


def _limit(path: str, text: str, quantity: Quantity) -> float:
    """Read a limit of error; it cannot be negative."""
    found = _must(path, text, lambda given: parse_amount(given, quantity).si)
    if found < 0.0:
        raise CaseError(
            f"'{path}': a limit of error cannot be below zero: write '{text.strip().lstrip('-−')}'."
        )
    return found


def _liquid(path: str, text: str) -> Liquid | None:
    return _read(path, text, parse_liquid)


def _class(name: str, text: str) -> tuple[float, float]:
    """Read a class as fixed and relative limit."""
    if name not in _CLASSES:
        raise CaseError(f"'gauge_class.{name}' is no kind of gauge; known are {', '.join(_CLASSES)}.")
    path = f"gauge_class.{name}"
    if text.strip().endswith("%"):
        return 0.0, _limit(path, text, Quantity.RATIO)
    return _limit(path, text, _CLASSES[name][0]), 0.0


def _reading(symbol: str, text: str, barometer: float, classes: dict[str, tuple[float, float]]) -> Seen:
    quantity = quantity_of_symbol(symbol)
    if quantity is None:
        known = ", ".join(("superheat", "subcooling", *EXTRA_SYMBOLS))
        raise CaseError(f"'readings.{symbol}' is no measuring point or value; beside the points: {known}.")
    match = _RANGE.fullmatch(text)
    ends = [match.group(1), match.group(2)] if match else [text]
    if match and re.fullmatch(r"[+\-−]?[\d.]+", ends[0]):
        ends[0] += " " + re.sub(r"^[+\-−]?[\d.]+\s*", "", ends[1])
    found = [_si(f"readings.{symbol}", end, quantity, barometer) for end in ends]
    value, half = sum(found) / len(found), 0.5 * abs(found[-1] - found[0])
    kind = next(
        (name for name, (_, covers) in _CLASSES.items() if quantity in covers and name in classes), None
    )
    if kind is None and not half:
        return seen_value(symbol, value)
    fixed, relative = classes[kind] if kind is not None else (0.0, 0.0)
    u = math.hypot(fixed, relative * abs(value), half) / math.sqrt(3.0)
    return seen_value(symbol, value, u)


def _si(path: str, text: str, quantity: Quantity, barometer: float) -> float:
    among = (Quantity.GAUGE_PRESSURE, quantity) if quantity is Quantity.ABSOLUTE_PRESSURE else (quantity,)
    try:
        amount = parse_amount(text, *among)
    except UnitError as refused:
        raise CaseError(f"'{path}': {refused}") from None
    return amount.si + (
        barometer if amount.quantity is Quantity.GAUGE_PRESSURE and quantity is not amount.quantity else 0.0
    )


def pressure_proofs(case: CaseFile) -> tuple[Proof, ...]:
    """Try the pressure tests of a typed visit.

    Raises
    ------
    CaseError
        If a value cannot be read.
    """
    barometer = _read("barometer", case.barometer, parse_barometer) or STANDARD_ATMOSPHERE_PA
    classes = {name: _class(name, text) for name, text in case.gauge_class.items()}
    found: list[Proof] = []
    if (test := case.nitrogen_test) is not None:
        p = [_si(f"nitrogen_test.{end}_pressure", getattr(test, f"{end}_pressure"),
                 Quantity.ABSOLUTE_PRESSURE, barometer) for end in ("start", "end")]  # fmt: skip
        t = [_si(f"nitrogen_test.{end}_temperature", getattr(test, f"{end}_temperature"),
                 Quantity.TEMPERATURE, 0.0) for end in ("start", "end")]  # fmt: skip
        fixed, relative = classes.get("pressure", (16e3, 0.0))
        u_p = math.hypot(fixed, relative * p[0]) / math.sqrt(3.0)
        u_t = classes.get("temperature", (1.0, 0.0))[0] / math.sqrt(3.0)
        found.append(prove_nitrogen((p[0], p[1]), (t[0], t[1]), u_pressure=u_p, u_temperature=u_t))
    if (series := case.liquid_pressure_test) is not None:
        times, values, u = _series("liquid_pressure_test", series, Quantity.GAUGE_PRESSURE, barometer)
        found.append(prove_liquid_decay(times, values, u_pressure=u))
    if (series := case.vacuum_test) is not None:
        times, values, u = _series("vacuum_test", series, Quantity.ABSOLUTE_PRESSURE, barometer)
        found.append(prove_vacuum(times, values, u_pressure=u))
    return tuple(found)


def _series(
    path: str, table: SeriesTable, quantity: Quantity, barometer: float
) -> tuple[list[float], list[float], float]:
    if len(table.minutes) != len(table.pressures):
        raise CaseError(f"'{path}': give one pressure for each of the minutes.")
    values = [
        _si(f"{path}.pressures[{n}]", text, quantity, barometer) for n, text in enumerate(table.pressures, 1)
    ]
    u = _limit(f"{path}.gauge", table.gauge, Quantity.PRESSURE_DIFFERENCE)
    return [60.0 * minute for minute in table.minutes], values, u / math.sqrt(3.0)
