"""What a machine should show at a given entering water: from its card, or from a healthy run of its own.

The limits are the very ones that findings and proofs hold a reading against
(:func:`analysis.finding_levels.level_of`), so a sheet that is printed before the visit and a verdict after it
cannot differ. Where limits are added up, their ends are: a range is never narrower than what it rests on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from analysis.evidence import Visit, seen_value
from analysis.finding_levels import COMMON, Level, level_of
from analysis.presets import PresetName
from analysis.saturation import RefusedRefrigerant, SaturationCurve, UnknownRefrigerant, refrigerant
from analysis.stated_performance import OF_TABLE, Stated, stated_at
from analysis.unit_card import NOT_KNOWN, UnitCard
from analysis.units import Quantity

NOT_ON_CARD = "not on the card"
WATER, HEAT, REFRIGERANT, FREEZING, ELECTRICAL = (
    "Water", "Heat and power", "Refrigerant", "Freezing", "Electrical",
)  # fmt: skip
AIR_UNIT = "water to air"


@dataclass(frozen=True, slots=True)
class Expected:
    """One line of the sheet (SI)."""

    group: str
    symbol: str
    label: str
    quantity: Quantity
    value: float = math.nan
    """Expected at this very condition; NaN where only a range is known."""
    u: float = math.nan
    """Standard uncertainty of the value (k = 1)."""
    low: float = math.nan
    high: float = math.nan
    """Range of a healthy machine; NaN where there is no limit on that side."""
    source: str = ""
    note: str = ""
    """What it rests on, or why nothing can be said."""

    @property
    def known(self) -> bool:
        """Whether the line says anything."""
        return any(math.isfinite(x) for x in (self.value, self.low, self.high))

    @property
    def common(self) -> bool:
        """Whether it rests on common practice, since card and reference say nothing."""
        return COMMON in self.source


@dataclass(frozen=True, slots=True)
class Asked:
    """The condition that the sheet is for (SI)."""

    mode: str
    source_entering: float
    load_entering: float = math.nan
    flow: float = math.nan
    barometer_pa: float = 101_325.0


@dataclass(slots=True)
class _Sheet:
    """The sheet while it is written."""

    card: UnitCard
    asked: Asked
    reference: Visit | None
    preset: PresetName
    dummy: Visit
    stated: Stated | None = None
    reason: str = ""
    lines: list[Expected] = field(default_factory=list)

    def level(self, symbol: str) -> Level | None:
        """Give the limits that findings use, without what they read from a table for another condition."""
        level = level_of(symbol, self.dummy, self.card, self.reference)
        beyond = level is not None and level.source.endswith(OF_TABLE) and self.stated is None
        return None if beyond else level

    def put(self, group: str, symbol: str, label: str, quantity: Quantity, **known: object) -> Expected:
        line = replace(Expected(group, symbol, label, quantity), **known)  # type: ignore[arg-type]
        self.lines.append(line)
        return line

    def band(self, group: str, symbol: str, label: str, quantity: Quantity, **known: object) -> Expected:
        """Put the limits of a symbol, with what else is known of it."""
        level = self.level(symbol)
        facts: dict[str, object] = {"note": NOT_ON_CARD}
        if level is not None:
            low, high = (end if math.isfinite(end) else math.nan for end in (level.low, level.high))
            facts = {"low": low, "high": high, "source": level.source}
            if level.source == COMMON:
                facts["note"] = NOT_ON_CARD
        return self.put(group, symbol, label, quantity, **(facts | known))


def expected_values(
    card: UnitCard, asked: Asked, reference: Visit | None = None, *, preset: PresetName = "si"
) -> tuple[Expected, ...]:
    """Write the sheet of one mode.

    Parameters
    ----------
    card
        Its bands and tables; nothing is read beyond a table's end.
    asked
        Mode, entering temperatures, flow, barometer.
    reference
        A healthy run with its derived values; it goes before the card where it was taken alike
        (:func:`analysis.finding_levels.fair_reference`).
    preset
        Units of the sentences.

    Returns
    -------
    tuple of Expected
        In the order of work: water, heat, refrigerant, freezing, electrical.

    Examples
    --------
    >>> from analysis.unit_card import EXAMPLE, unit_card
    >>> sheet = expected_values(unit_card(EXAMPLE), Asked("heating", 283.15))
    >>> next((line.low, line.high, line.source) for line in sheet if line.symbol == "superheat")
    (4.0, 9.0, 'card: example')
    """
    load_name = "return_air_temperature" if card.kind == AIR_UNIT else "load_entering_temperature"
    given = {"source_entering_temperature": asked.source_entering, load_name: asked.load_entering}
    values = {name: seen_value(name, x, 0.0) for name, x in given.items() if math.isfinite(x)}
    dummy = Visit(
        values, asked.mode, card.refrigerant, metering=card.metering.get(asked.mode, NOT_KNOWN),
        receiver=card.receiver,
    )  # fmt: skip
    sheet = _Sheet(card, asked, reference, preset, dummy)
    sheet.stated, sheet.reason = stated_at(
        card, asked.mode, asked.source_entering, load_entering=asked.load_entering, flow=asked.flow,
        preset=preset,
    )  # fmt: skip
    change, load_change = _water(sheet)
    _heat(sheet)
    _refrigerant(sheet, change, load_change)
    if asked.mode == "heating":
        _freezing(sheet)
    for symbol, label, quantity in (
        ("pump_current", "source pump current", Quantity.CURRENT),
        ("compressor_current", "compressor current", Quantity.CURRENT),
        ("supply_voltage", "supply voltage", Quantity.VOLTAGE),
        ("control_voltage", "control voltage, R to C", Quantity.VOLTAGE),
    ):
        sheet.band(ELECTRICAL, symbol, label, quantity)
    return tuple(sheet.lines)


def _water(sheet: _Sheet) -> tuple[Expected, Expected]:
    """Put flow, drop and temperature changes; gives the changes of source and load."""
    card, asked = sheet.card, sheet.asked
    flow = sheet.band(WATER, "source_volume_flow", "source flow", Quantity.VOLUME_FLOW)
    _drop(sheet, flow)
    q, u_q = asked.flow, 0.0
    if not math.isfinite(q) and not flow.common:
        q, u_q = 0.5 * (flow.low + flow.high), 0.5 * (flow.high - flow.low) / math.sqrt(3.0)
    known: dict[str, object] = {}
    if sheet.stated is not None and math.isfinite(q):
        liquid, t = card.source_liquid, asked.source_entering
        capacity = q * float(liquid.density(t)) * float(liquid.specific_heat(t))
        value = sheet.stated.moved(asked.mode) / capacity
        u = value * math.hypot(0.5 * sheet.stated.room, u_q / q)
        known = {"value": value, "u": u, "note": f"from the heat moved and the flow ({sheet.stated.source})"}
    label = "source water, in less out" if asked.mode == "heating" else "source water, out less in"
    change = sheet.band(WATER, "source_change", label, Quantity.TEMPERATURE_DIFFERENCE, **known)
    sign = -1.0 if asked.mode == "heating" else 1.0
    _shifted(sheet, WATER, "source_leaving_temperature", "source water out", asked.source_entering,
             [(sign, change)])  # fmt: skip
    if card.loop == "closed pressurised":
        sheet.band(WATER, "source_static_gauge", "loop pressure, pump at rest", Quantity.GAUGE_PRESSURE)
    air = card.kind == AIR_UNIT
    if not air:
        sheet.band(WATER, "load_flow", "load flow", Quantity.VOLUME_FLOW)
    side = "load air" if air else "load water"
    ways = "out less in" if asked.mode == "heating" else "in less out"
    load = sheet.band(WATER, "load_change", f"{side}, {ways}", Quantity.TEMPERATURE_DIFFERENCE)
    return change, load


def _drop(sheet: _Sheet, flow: Expected) -> None:
    """Put the coil's drop: a stated band, else the card's table at the flow, ± 10 % (k = 2)."""
    card, asked = sheet.card, sheet.asked
    symbol, label, quantity = "source_pressure_drop", "source coil drop", Quantity.PRESSURE_DIFFERENCE
    level = sheet.level(symbol)
    if level is not None or card.drops is None:
        sheet.band(WATER, symbol, label, quantity)
        return
    room = 2.0 * card.drops.u_relative

    def at(q: float) -> float:
        assert card.drops is not None
        return float(card.drops.drop(q, asked.source_entering, card.source_liquid))

    facts: dict[str, object] = {"source": f"card: {card.drops.source}, coil table"}
    if math.isfinite(asked.flow):
        value = at(asked.flow)
        facts |= {
            "value": value,
            "u": card.drops.u_relative * value,
            "note": "at the flow that was asked for",
        }
        if not math.isfinite(value):
            facts |= {"note": "flow outside the card's coil table", "source": ""}
    elif flow.known and not flow.common:
        low, high = at(flow.low) * (1.0 - room), at(flow.high) * (1.0 + room)
        facts |= {"low": low, "high": high, "note": "at the flow above"}
    else:
        facts |= {"note": "give --flow: the card has no band for the flow", "source": ""}
    sheet.put(WATER, symbol, label, quantity, **facts)


def _heat(sheet: _Sheet) -> None:
    """Put heat, power and COP: stated by the table at this condition, else bands."""
    stated, asked = sheet.stated, sheet.asked
    heating = asked.mode == "heating"
    moved = "heat from the source" if heating else "heat to the source"
    useful = ("heat_to_load", "heat to the load") if heating else ("heat_from_load", "heat from the load")
    rate, ratio = Quantity.HEAT_RATE, Quantity.RATIO
    if stated is None:
        for symbol, label, quantity in (
            ("heat_moved", moved, rate), (*useful, rate),
            ("compressor_power", "compressor power", Quantity.POWER), ("cop", "COP, compressor alone", ratio),
        ):  # fmt: skip
            line = sheet.band(HEAT, symbol, label, quantity)
            if not line.known:
                sheet.lines[-1] = replace(line, note=f"{NOT_ON_CARD}: {sheet.reason}")
        return
    source = f"card: {stated.source}{OF_TABLE}"
    for symbol, label, value, u, quantity in (
        ("heat_moved", moved, stated.moved(asked.mode), 0.5 * stated.room, rate),
        (*useful, stated.capacity, 0.5 * stated.room, rate),
        ("compressor_power", "compressor power", stated.power, 0.5 * stated.room, Quantity.POWER),
        ("cop", "COP, compressor alone", stated.cop, 0.5 * math.sqrt(2.0) * stated.room, ratio),
    ):
        known: dict[str, object] = {"value": value, "u": value * u}
        level = sheet.level(symbol)
        if level is None or level.kind != "reference":
            sheet.put(HEAT, symbol, label, quantity, source=source, **known)
        else:
            sheet.band(HEAT, symbol, label, quantity, **known, note=f"limits; value {source}")


def _refrigerant(sheet: _Sheet, change: Expected, load_change: Expected) -> None:
    """Put pressures with their saturation temperatures, superheat, subcooling, approaches, discharge."""
    heating, asked = sheet.asked.mode == "heating", sheet.asked
    dt = Quantity.TEMPERATURE_DIFFERENCE
    curve = _curve(sheet.card.refrigerant)
    load = asked.load_entering
    evaporating_in, cold = (asked.source_entering, change) if heating else (load, load_change)
    condensing_in, warm = (load, load_change) if heating else (asked.source_entering, change)
    start = len(sheet.lines)
    low_gap = sheet.band(REFRIGERANT, "evaporating_approach", "leaving less evaporating", dt)
    high_gap = sheet.band(REFRIGERANT, "condensing_approach", "condensing less leaving", dt)
    gaps = sheet.lines[start:]
    del sheet.lines[start:]
    for side, entering, moved, gap, sign in (
        ("suction", evaporating_in, cold, low_gap, -1.0),
        ("discharge", condensing_in, warm, high_gap, 1.0),
    ):
        name, label = (
            ("evaporating_temperature", "evaporating, dew")
            if side == "suction"
            else ("condensing_temperature", "condensing, bubble")
        )
        level = sheet.level(name)
        if not math.isfinite(entering) and level is not None:
            saturation = sheet.band(REFRIGERANT, name, label, Quantity.TEMPERATURE)
        else:
            saturation = _shifted(
                sheet, REFRIGERANT, name, label, entering, [(sign, moved), (sign, gap)],
                "leaving load water" if heating is (side == "discharge") else "leaving source water",
            )  # fmt: skip
        words = "suction pressure" if side == "suction" else "high-side pressure"
        _pressure(sheet, f"{side}_pressure", words, saturation, curve, at_dew=side == "suction")
        if side == "suction":
            sheet.band(REFRIGERANT, "superheat", "superheat", dt)
        else:
            note = {"note": "with a receiver it says little about the charge"} if sheet.card.receiver else {}
            sheet.band(REFRIGERANT, "subcooling", "subcooling", dt, **note)
    sheet.lines += gaps
    sheet.band(REFRIGERANT, "discharge_temperature", "discharge line", Quantity.TEMPERATURE)


def _shifted(
    sheet: _Sheet,
    group: str,
    symbol: str,
    label: str,
    entering: float,
    steps: list[tuple[float, Expected]],
    where: str = "",
) -> Expected:
    """Put a temperature that follows from an entering one by steps up or down; ends of ranges add up."""
    kind = Quantity.TEMPERATURE
    if not math.isfinite(entering):
        return sheet.put(group, symbol, label, kind, note="give --load-ewt: it follows from the load")
    lacking = [line.label for _, line in steps if not (math.isfinite(line.low) and math.isfinite(line.high))]
    values = [line.value for _, line in steps]
    known: dict[str, object] = {}
    if all(math.isfinite(value) for value in values):
        known = {
            "value": entering + sum(sign * value for (sign, _), value in zip(steps, values, strict=True)),
            "u": math.hypot(*(line.u for _, line in steps)),
        }
    if lacking:
        note = f"{NOT_ON_CARD}: {', '.join(lacking)}"
        return sheet.put(group, symbol, label, kind, **(known or {"note": note}))
    ends = [
        entering + sum(sign * (line.low if end == (sign > 0.0) else line.high) for sign, line in steps)
        for end in (True, False)
    ]
    sources = dict.fromkeys(line.source for _, line in steps)
    common = COMMON in sources
    note = f"{NOT_ON_CARD}: rests on common practice" if common else f"from {where or 'the limits above'}"
    source = COMMON if common else "; ".join(sources)
    return sheet.put(group, symbol, label, kind, low=ends[0], high=ends[1], source=source, note=note, **known)


def _pressure(
    sheet: _Sheet,
    symbol: str,
    label: str,
    saturation: Expected,
    curve: SaturationCurve | None,
    *,
    at_dew: bool,
) -> None:
    """Put the gauge pressure that belongs to a saturation temperature."""
    kind = Quantity.GAUGE_PRESSURE
    if curve is None:
        name = sheet.card.refrigerant
        sheet.put(REFRIGERANT, symbol, label, kind, note=f"no pressure table for {name}: see the maker's")
        return

    def gauge(t: float) -> float:
        return float((curve.p_dew if at_dew else curve.p_bubble)(t)) - sheet.asked.barometer_pa

    low, high, value = (gauge(t) if math.isfinite(t) else math.nan for t in
                        (saturation.low, saturation.high, saturation.value))  # fmt: skip
    u = math.nan
    if math.isfinite(value):
        u = 0.5 * abs(gauge(saturation.value + saturation.u) - gauge(saturation.value - saturation.u))
    note = saturation.note if not saturation.known else "saturation at the temperature above"
    if saturation.common:
        note = saturation.note
    sheet.put(REFRIGERANT, symbol, label, kind, value=value, u=u, low=low, high=high,
              source=saturation.source, note=note)  # fmt: skip


def _curve(name: str) -> SaturationCurve | None:
    try:
        return refrigerant(name)
    except (UnknownRefrigerant, RefusedRefrigerant):
        return None


def _freezing(sheet: _Sheet) -> None:
    """Put the margin, the liquid's freezing point and the cut-out."""
    card, liquid = sheet.card, sheet.card.source_liquid
    sheet.band(FREEZING, "freeze_margin", "evaporating above freezing", Quantity.TEMPERATURE_DIFFERENCE)
    sheet.put(
        FREEZING, "freezing_point", "source liquid freezes at", Quantity.TEMPERATURE,
        value=liquid.freezing_point, u=liquid.u_freezing_point, source=f"{liquid.text}, its property table",
        note="measure the mixture: a card grows old",
    )  # fmt: skip
    cut_out = card.cut_out
    known: dict[str, object] = {"note": NOT_ON_CARD}
    if cut_out is not None:
        below = cut_out.setting < liquid.freezing_point
        known = {
            "value": cut_out.setting,
            "source": f"card: {cut_out.source}",
            "note": f"at the {cut_out.at}" + ("; BELOW FREEZING: the coil can burst" if below else ""),
        }
    sheet.put(FREEZING, "low_temperature_cut_out", "low-temperature cut-out", Quantity.TEMPERATURE, **known)
