"""Made-up moments of our own two sites, worked out by the real analyser: for pictures and for audits.

They are no recordings. Every number on them comes from steady readings of the sites' tables through the same
analyser as any session; the noise is fixed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.analyser import Analyser
from analysis.card_file import (
    CardFile,
    LimitTable,
    LoadSideTable,
    MeteringTable,
    RefrigerantTable,
    SourceSideTable,
    UnitTable,
)  # fmt: skip
from analysis.measure import Channel, Specification
from analysis.points import POINTS
from analysis.presets import PresetName
from analysis.rows import Rows
from analysis.saturation import refrigerant
from analysis.settings import settings_over_time
from analysis.timeline import Event
from analysis.unit_card import UnitCard, unit_card
from analysis.units import Quantity
from drivers.base import LinkEvent, LinkState
from logger.desktop.advice import advise, support_of
from logger.desktop.bands import BandWatch, bands_of
from logger.desktop.history import History
from logger.desktop.present import Mark, Present, judge_rows, runs
from logger.engine import Link
from logger.session_alarms import SessionAlarms

_T, _G = Quantity.TEMPERATURE, Quantity.GAUGE_PRESSURE
_UNITS = {
    _T: "degC", _G: "bar(g)", Quantity.VOLUME_FLOW: "L/s", Quantity.PRESSURE_DIFFERENCE: "kPa",
    Quantity.POWER: "kW", Quantity.CURRENT: "A", Quantity.VOLTAGE: "V",
}  # fmt: skip
_PROMISED = {
    _T: Specification(fixed=0.2), _G: Specification(fixed=0.05),
    Quantity.VOLUME_FLOW: Specification(of_reading=0.03),
    Quantity.PRESSURE_DIFFERENCE: Specification(fixed=0.3), Quantity.POWER: Specification(fixed=0.02),
    Quantity.CURRENT: Specification(fixed=0.02), Quantity.VOLTAGE: Specification(fixed=1.0),
}  # fmt: skip
_HALL = {
    "suction_pressure": 5.15, "discharge_pressure": 24.59, "suction_temperature": -2.4,
    "liquid_temperature": 30.6, "discharge_temperature": 85.0, "source_entering_temperature": 4.0,
    "source_leaving_temperature": -2.4, "source_pressure_drop": 9.8, "load_entering_temperature": 30.0,
    "load_leaving_temperature": 35.1, "load_flow": 0.53, "compressor_power": 3.00, "pump_current": 1.16,
    "supply_voltage": 229.0,
}  # fmt: skip
_RIGHT = _HALL | {
    "suction_pressure": 5.86, "discharge_pressure": 25.61, "suction_temperature": 0.6,
    "liquid_temperature": 31.6, "discharge_temperature": 84.0, "source_leaving_temperature": 0.1,
    "source_pressure_drop": 28.8, "load_leaving_temperature": 35.6, "compressor_power": 3.19,
    "pump_current": 0.92,
}  # fmt: skip
_LEFT = _RIGHT | {
    "suction_pressure": 5.89, "discharge_pressure": 22.85, "suction_temperature": 1.3,
    "liquid_temperature": 34.0, "discharge_temperature": 77.0, "load_leaving_temperature": 35.5,
    "compressor_power": 2.96,
}  # fmt: skip
_START = _HALL | {
    "suction_pressure": 7.59, "discharge_pressure": 18.69, "suction_temperature": 2.9,
    "liquid_temperature": 31.1, "discharge_temperature": 48.0, "source_leaving_temperature": 3.6,
    "load_leaving_temperature": 30.6, "compressor_power": 1.62,
}  # fmt: skip
_BAKERY = {
    "suction_pressure": 8.825, "discharge_pressure": 22.298, "suction_temperature": 13.89,
    "liquid_temperature": 31.11, "discharge_temperature": 73.89, "source_entering_temperature": 14.44,
    "source_leaving_temperature": 21.11, "source_flow": 0.3785, "return_air_temperature": 24.44,
    "supply_air_temperature": 13.89, "compressor_power": 2.13, "source_pressure_drop": 26.9,
}  # fmt: skip


def _card(title: str, kind: str, fluid: str, loop: str, limits: dict[str, tuple[str, str, str]]) -> UnitCard:
    """Write a card with a valve, no receiver, and limits: low, high, act below."""
    mode = "heating" if kind == "water to water" else "cooling"
    return unit_card(
        CardFile(
            unit=UnitTable(title=title, kind=kind, supply="230 V", source="plate"),  # type: ignore[arg-type]
            refrigerant=RefrigerantTable(name="R410A", source="plate"),
            metering=MeteringTable(heating="expansion valve", cooling="expansion valve", source="seen"),
            source_side=SourceSideTable(loop=loop, fluid=fluid, source="seen"),  # type: ignore[arg-type]
            load_side=LoadSideTable(source="seen") if mode == "heating" else None,
            limit=tuple(
                LimitTable(symbol=symbol, mode=mode, low=low, high=high, act_below=act, source="card")  # type: ignore[arg-type]
                for symbol, (low, high, act) in limits.items()
            ),
        )
    )


HALL_CARD = _card(
    "Community hall, unit 2", "water to water", "propylene_glycol 25 % mass", "closed pressurised",
    {
        "source_volume_flow": ("0.55 L/s", "0.65 L/s", ""), "source_change": ("3 K", "5 K", ""),
        "evaporating_approach": ("3 K", "5 K", ""), "freeze_margin": ("3 K", "", "2 K"),
        "superheat": ("4 K", "9 K", ""), "subcooling": ("4 K", "8 K", ""), "load_change": ("4 K", "7 K", ""),
        "pump_current": ("0.85 A", "1.00 A", ""),
    },
)  # fmt: skip
BAKERY_CARD = _card(
    "Lakeside bakery", "water to air", "water", "open",
    {
        "source_volume_flow": ("5 gpm", "7 gpm", ""), "source_change": ("10 degF", "14 degF", ""),
        "condensing_approach": ("12 degF", "20 degF", ""), "superheat": ("8 degF", "16 degF", ""),
        "subcooling": ("8 degF", "15 degF", ""), "load_change": ("16 degF", "22 degF", ""),
    },
)  # fmt: skip
_HALL_DECLARED = {
    "refrigerant": "R410A", "barometer": "94.32 kPa(a)", "fluid": "propylene_glycol 25 % mass",
    "load_fluid": "water", "source_coil": "0.60 L/s at 28.8 kPa", "mode": "heating", "phase": "as-found",
}  # fmt: skip
_BAKERY_DECLARED = {
    "refrigerant": "R410A", "barometer": "14.38 psia", "fluid": "water", "mode": "cooling",
    "phase": "as-found",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Stage:
    """How a moment comes about."""

    levels: Mapping[str, float]
    declared: Mapping[str, str] = field(default_factory=lambda: dict(_HALL_DECLARED))
    card: UnitCard | None = field(default_factory=lambda: HALL_CARD)
    seconds: int = 1000
    lost: tuple[str, ...] = ()
    """Points that fall silent for the last 47 s."""
    title: str = "Community hall, unit 2"
    marks: tuple[Mark, ...] = (Mark(1, 58_000_000, "start"),)
    device: str = "gauges"
    shelving: bool = False


_LONG = "Community hall at the lake, plant room two, unit number 2 of the floor heating (rebuilt 1998)"
SILENT_S = 47

_STAGES: dict[str, _Stage] = {
    "as-found": _Stage(_HALL),
    "water-put-right": _Stage(_RIGHT, declared=_HALL_DECLARED | {"phase": "repair"}),
    "as-left": _Stage(_LEFT, declared=_HALL_DECLARED | {"phase": "as-left"}),
    "alarm-waits": _Stage(_HALL, shelving=True),
    "start": _Stage(_START, seconds=130, marks=(Mark(1, 4_000_000, "start"),)),
    "dropout": _Stage(_HALL, lost=("discharge_temperature", "suction_temperature")),
    "pressure-lost": _Stage(_HALL, lost=("suction_pressure",)),
    "all-lost": _Stage(_HALL, lost=tuple(_HALL)),
    "no-device": _Stage({}, seconds=0, marks=()),
    "no-card": _Stage(_HALL, card=None),
    "no-refrigerant": _Stage(_HALL, declared={k: v for k, v in _HALL_DECLARED.items() if k != "refrigerant"}),
    "wrong-refrigerant": _Stage(_HALL, declared=_HALL_DECLARED | {"refrigerant": "R22"}),
    "cooling": _Stage(_BAKERY, _BAKERY_DECLARED, BAKERY_CARD, title="Lakeside bakery"),
    "long-names": _Stage(
        _HALL, title=_LONG, device="the-very-long-name-of-a-four-probe-box-with-radio",
        marks=tuple(Mark(n, n * 90_000_000, f"a long remark on what was seen, {n}") for n in range(1, 11)),
    ),
    "extreme": _Stage(
        _HALL | {
            "load_leaving_temperature": 88.8, "source_leaving_temperature": -9.9, "suction_temperature": 58.8,
            "liquid_temperature": -8.8, "compressor_power": 88.88, "pump_current": 88.88,
        },
        title="Community hall, unit 2",
    ),
}  # fmt: skip
STAGES = tuple(_STAGES)
"""Names of the made-up moments."""


def staged_channels(name: str) -> dict[str, Channel]:
    """Give the channels of a made-up moment by id."""
    plan = _STAGES[name]
    return {f"{plan.device}/{point}": _channel(f"{plan.device}/{point}", point) for point in plan.levels}


def stage(name: str, preset: PresetName = "si") -> tuple[Present, History]:
    """Work a made-up moment out.

    Parameters
    ----------
    name
        One of :data:`STAGES`.
    """
    plan = _STAGES[name]
    history = History(keep_rows=True)
    channels = staged_channels(name)
    bands = bands_of(plan.card.bands, plan.declared.get("mode", "")) if plan.card is not None else {}
    present = Present(title=plan.title, preset=preset, bands=bands, marks=plan.marks)
    if not plan.seconds:
        return replace(present, marks=()), history
    events = [Event(0, 0, kind, "", text) for kind, text in plan.declared.items()]
    events += [Event(0, 0, "assign", f"{plan.device}/{point}", point) for point in plan.levels]
    name_of = plan.declared.get("refrigerant", "")
    curves = {name_of: refrigerant(name_of)} if name_of else {}
    fold = Analyser(channels, settings_over_time(events, channels), curves)
    rows = _readings(plan, list(channels))
    now_us = plan.seconds * 1_000_000
    closed = [*fold.step(rows), *fold.step(Rows.empty(), now_us + fold.frame.grace_us)]
    for results in closed:
        if results.rows:
            history.append(results)
    newest = history.at(now_us)
    assert newest is not None, "a stage has readings"
    since = float(newest.judgement.since_change_s[-1])
    last = history.tail(now_us, 120)
    found = advise(last, curves, plan.card, running=runs(newest), since_change_s=since)
    silent = {f"{plan.device}/{point}": float(SILENT_S) for point in plan.lost}
    state = LinkState.WAITING if plan.lost and len(plan.lost) == len(plan.levels) else LinkState.LIVE
    link = Link(plan.device, LinkEvent(0, state, "", attempt=3))
    return (
        replace(
            present,
            elapsed_us=now_us,
            newest=newest,
            links=(link,),
            channels=tuple(channels),
            rates={plan.device: float(len(channels))},
            silent=silent,
            judged=judge_rows(BandWatch(), history.before(now_us, 12), bands),
            alarms=SessionAlarms.of(closed, plan.card, ()).shown(now_us),
            shelving=plan.shelving,
            support=support_of(found, preset, newest.settings.barometer_pa),
        ),
        history,
    )


def _channel(identity: str, point: str) -> Channel:
    quantity = POINTS[point].quantity
    quantity = _G if quantity is Quantity.ABSOLUTE_PRESSURE else quantity
    return Channel(
        identity,
        quantity,
        _UNITS[quantity],
        resolution=0.01,
        uncertainty=_PROMISED[quantity],
        source="data sheet",
    )


def _readings(plan: _Stage, ids: list[str]) -> Rows:
    """Give a reading a second and channel, with a little fixed noise."""
    rng = np.random.default_rng(1)
    n, count = plan.seconds, len(ids)
    t = np.repeat(np.arange(n, dtype=np.int64) * 1_000_000 + 100_000, count)
    channel = np.tile(np.arange(count, dtype=np.int32), n)
    levels = np.array([plan.levels[name.partition("/")[2]] for name in ids])
    value = levels[channel] + rng.normal(0.0, 0.002, n * count)
    lost = np.array([name.partition("/")[2] in plan.lost for name in ids])[channel]
    keep = ~(lost & (t >= (n - SILENT_S) * 1_000_000))
    return Rows(tuple(ids), t[keep], channel[keep], value[keep], np.zeros(int(keep.sum()), np.uint16))
