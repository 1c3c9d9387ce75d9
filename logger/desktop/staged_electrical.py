"""Made-up electrical work of our own two sites, and hard cases of it: for pictures and for audits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import msgspec

from analysis.presets import PresetName
from logger.desktop.electrical_page import ElectricalPage, Part
from logger.desktop.present import Present
from logger.desktop.scene import Scene
from logger.desktop.scene_electrical import electrical_scene
from logger.desktop.scene_shorts import shorts_scene
from logger.electrical_file import case_of
from logger.electrical_report import report_on
from logger.electrical_tables import ElectricalTable

_WHO = {"technician": "A", "refrigerant": "R410A", "limits": {"plate": "230 V", "source": "card"}}


def _read(volts: Mapping[str, float], *times: str, loaded: bool | None = None) -> list[dict[str, Any]]:
    clock = [*times, *[times[-1]] * (len(volts) - len(times))] if times else [""] * len(volts)
    return [
        {"point": point, "volts": f"{value} V", "time": time, "who": "A", "loaded": loaded}
        for (point, value), time in zip(volts.items(), clock, strict=True)
    ]


_CONTROL = {
    "supply": 229, "disconnect": 229, "contactor_line": 229, "transformer_primary": 229,
    "transformer_secondary": 25.6, "fuse": 25.6, "control_r_to_c": 25.6, "high_pressure_switch": 25.5,
    "low_temperature_cut_out": 25.4, "control_output": 0.0, "contactor_coil": 0.0,
}  # fmt: skip
_SAFETIES = ["high_pressure_switch", "low_temperature_cut_out"]
_PUMP = {"supply": 229, "disconnect": 229, "relay_in": 229, "relay_out": 228, "pump_terminals": 228}
_SAFE = {
    "who": "A", "when": "10:02", "proven_dead": True, "meter_proved_before": True, "meter_proved_after": True,
    "second_supplies": [],
}  # fmt: skip


def _control(volts: Mapping[str, float], **more: Any) -> dict[str, Any]:
    times = (
        "07:52",
        "07:52",
        "07:53",
        "07:54",
        "07:55",
        "07:55",
        "07:55",
        "07:56",
        "07:56",
        "07:57",
        "07:58",
    )
    reading = _read(volts, *times[: len(volts)])
    return {
        "name": "control",
        "kind": "control",
        "call": True,
        "safeties": _SAFETIES,
        "reading": reading,
    } | more


def _hunt(*rows: tuple[str, str, str, str], repaired: tuple[str, ...] = (), **more: Any) -> dict[str, Any]:
    branches = [
        {"name": name, "load": load, "to_common": common, "to_earth": earth, "repaired": name in repaired,
         "time": time if common else ""}
        for (name, load, common, earth), time in zip(rows, _times(len(rows)), strict=True)
    ]  # fmt: skip
    return {"common_earthed": True, "meter_leads": "0.2 ohm", "branch": branches} | more


def _times(count: int) -> list[str]:
    return [f"10:{6 + 2 * n:02}" for n in range(count)]


_BRANCHES = (
    ("thermostat call", "switch", "open", "open"), ("pressure switches", "switch", "open", "open"),
    ("condensate switch", "switch", "0.8 ohm", "0.6 ohm"), ("contactor coil", "coil", "14.2 ohm", "open"),
)  # fmt: skip
_DOWN = {"primary": "230 V", "secondary": "0.0 V", "lifted": "26.0 V", "time": "09:52", "who": "A"}
_HALL = {"title": "Community hall, unit 2"}
_BAKERY = {"title": "Lakeside bakery"}
_LONG = "the very long name of a branch that runs by way of the cellar and the attic to the old boiler"

_TABLES: dict[str, dict[str, Any]] = {
    "nothing": {},
    "locked-out": _WHO | _HALL | {"circuit": [_control(_CONTROL)]},
    "pump": _WHO | _HALL | {
        "circuit": [{"name": "pump", "kind": "pump",
                     "reading": _read(_PUMP, "08:02", "08:02", "08:03", "08:03", "08:04", loaded=True)}],
        "motor": [{"name": "pump", "runs": True, "terminals": "228 V", "amps": "1.16 A",
                   "rated_amps": "0.92 A", "capacitor": "1.9 uF", "capacitor_marked": "5.0 uF"}],
    },
    "whole": _WHO | _HALL | {
        "circuit": [_control(_CONTROL | {"control_output": 25.2, "contactor_coil": 25.1})]
    },
    "gaps": _WHO | _HALL | {"circuit": [_control({"supply": 229, "fuse": 25.6, "contactor_coil": 0.0})]},
    "no-call": _WHO | _HALL | {"circuit": [_control(_CONTROL, call=False)]},
    "back-again": _WHO | _HALL | {"circuit": [_control(_CONTROL | {"fuse": 0.0})]},
    "dead-transformer": _WHO | _HALL | {
        "circuit": [_control({"supply": 229, "transformer_primary": 229, "transformer_secondary": 0.0})]
    },
    "huge": _WHO | _HALL | {"circuit": [_control(_CONTROL | {"supply": 999.9, "disconnect": 888.88})]},
    "burning": _BAKERY | {"refrigerant": "R454B", "circuit": [_control(_CONTROL)]},
    "long-names": {
        "title": f"Community hall at the lake, plant room two, {_LONG}", "technician": "A with a long name",
        "circuit": [{"name": f"{_LONG}", "kind": "own", "point": [
            {"name": f"point_{n}_{_LONG.replace(' ', '_')}", "part": f"part {n} {_LONG}"} for n in range(16)
        ]}],
        "short_hunt": _hunt(*((f"{n} {_LONG}", "switch", "999999 ohm", "0.1 ohm") for n in range(7))),
        "isolation": _SAFE | {"who": _LONG},
    },
    "one-value-left": _WHO | _BAKERY | {
        "transformer": _DOWN, "isolation": _SAFE,
        "short_hunt": _hunt(*_BRANCHES, ("reversing valve coil", "coil", "31.2 ohm", "")),
    },
    "all-branches": _WHO | _BAKERY | {
        "transformer": _DOWN, "isolation": _SAFE,
        "short_hunt": _hunt(*_BRANCHES, ("reversing valve coil", "coil", "31.2 ohm", "open")),
    },
    "not-isolated": _WHO | _BAKERY | {
        "transformer": _DOWN, "short_hunt": _hunt(*_BRANCHES, ("reversing valve coil", "coil", "", "")),
    },
    "fuse-tried": _WHO | _BAKERY | {
        "transformer": _DOWN,
        "short_hunt": _hunt(
            *((name, load, "", "") for name, load, _, _ in _BRANCHES), ("fan relay", "coil", "", ""),
            call=[
                {"name": "heat", "branches": ["contactor coil", "fan relay"], "blew": True},
                {"name": "cool", "branches": ["condensate switch", "contactor coil"], "blew": True},
                {"name": "fan only", "branches": ["fan relay"], "blew": False},
            ],
        ),
    },
    "proven": _WHO | _BAKERY | {
        "transformer": _DOWN, "isolation": _SAFE,
        "short_hunt": _hunt(
            *_BRANCHES, ("reversing valve coil", "coil", "31.2 ohm", "open"), repaired=("condensate switch",),
            after={"at_rest": "25.9 V", "under_load": "24.8 V"},
        ),
    },
    "transformer-dead": _WHO | _BAKERY | {"transformer": _DOWN | {"lifted": "0.0 V"}},
    "many-faults": _WHO | _BAKERY | {
        "transformer": _DOWN, "isolation": _SAFE,
        "short_hunt": _hunt(*((f"branch {n}", "coil", "0.4 ohm", "0.5 ohm") for n in range(1, 6))),
    },
    "coils-and-shorts": _WHO | _BAKERY | {
        "transformer": _DOWN, "isolation": _SAFE,
        "short_hunt": _hunt(
            ("thermostat call", "switch", "0.4 ohm", "open"),
            ("contactor coil", "coil", "5.2 ohm", "47000 ohm"),
            ("reversing valve coil", "coil", "open", "open"),
        ),
    },
}  # fmt: skip
_FIRST = {"electrical": "locked-out", "shorts": "one-value-left"}
_PAD: tuple[tuple[Part, str], ...] = (
    ("shown", ""),
    ("typing", ""),
    ("typing", "25.6"),
    ("typing", "9999999"),
)
_PARTS = {"electrical": _PAD, "shorts": (*_PAD, ("isolation", ""), ("calls", ""))}
ELECTRICAL_STAGES = tuple(_TABLES)
"""Names of the made-up electrical moments."""


def staged_electrical(
    view: str, name: str = "", preset: PresetName = "si", *, part: Part = "shown", digits: str = ""
) -> tuple[Present, ElectricalPage]:
    """Give a made-up moment of electrical work.

    Parameters
    ----------
    view
        ``electrical`` or ``shorts``.
    name
        One of :data:`ELECTRICAL_STAGES`; the view's own by default.
    part
        What is shown: the drawing, the keypad, or the isolation.
    digits
        What stands in the entry.
    """
    table = msgspec.convert(_TABLES[name or _FIRST[view]], ElectricalTable)
    circuit = table.circuit[0].name if table.circuit else "control"
    report = report_on(case_of(table))
    kept = "kept in electrical.toml" if table.circuit or table.short_hunt else "nothing typed yet"
    page = ElectricalPage(table, report, circuit, part, kept=kept)
    entries = page.entries(view)
    at = next((n for n, entry in enumerate(entries) if not entry.shown), 0)
    page = replace(page, key=entries[at].key, first=at // 6, digits=digits)
    return Present(title=table.title or "the machine", preset=preset), page


def electrical_scenes(preset: PresetName = "si") -> Iterator[tuple[str, Scene]]:
    """Draw both views of every moment: the drawing, the keypad with short and long entries, the isolation."""
    for view, scene_of in (("electrical", electrical_scene), ("shorts", shorts_scene)):
        yield f"{view} nothing to show {preset}", scene_of(Present(preset=preset), None)
        for name in ELECTRICAL_STAGES:
            for part, digits in _PARTS[view]:
                present, page = staged_electrical(view, name, preset, part=part, digits=digits)
                yield f"{view} {name} {part} {digits} {preset}", scene_of(present, page)
