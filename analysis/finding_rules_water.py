"""Rules of the water sides: flow, coil, pump, strainer, air, source."""

from __future__ import annotations

from analysis.finding_acts import isolated, relieved, running, stopped
from analysis.finding_rule import Rule, also, must, usual

_PHYSICS = (
    "water columns by physics: heat = flow x specific heat x change; film ~ flow^0.8; drop ~ bore^-4.75. "
    "Flow and fouling signs as ASHRAE RP-1043 shows them in a water-cooled condenser"
)
_SECOND_ROUTE = "the flow by a second route: meter, timed container or energy balance"
_STRAINER = "the pressure drop over the strainer, one gauge moved between both sides"
_PUMP = "the pump's current against the card"
_PURGE = "the dead-head test of a purge: a falling level means air"

WATER_RULES: tuple[Rule, ...] = (
    Rule(
        "low_source_flow", "Too little water flows through the source coil",
        (
            must("source_volume_flow", "low"),
            usual("source_change", "high", 0.2),
            also("pump_current", "off"),
            also("freeze_margin", "low"),
        ),
        (
            running("Compare the flow by a second route; read the pump's current if licensed for live work."),
            stopped("Look at valves, filling pressure and strainer indicator."),
        ),
        _PHYSICS,
        settled=False,
        at_start=True,
        seen={"flow_falls_while_running": 0.55, "other_units_alike": 0.6},
    ),
    Rule(
        "clogged_strainer", "A strainer or filter in the source circuit is clogged",
        (
            must("source_volume_flow", "low"),
            also("strainer_pressure_drop", "high"),
            usual("pump_current", "not_high", 0.4),
            usual("strainer_pressure_drop", "high", 0.8),
            usual("coil_drop_ratio", "not_high", 0.4),
        ),
        (
            running("Read the pressure on both sides of the strainer with one gauge."),
            relieved("Open the strainer, look at what is in it and clean it."),
        ),
        _PHYSICS,
        rivals={"air_in_loop": _PURGE},
        seen={"dirt_in_strainer": 0.6},
        seen_against={"tower_or_strainer_clean": 0.2},
        settled=False,
    ),
    Rule(
        "weak_pump", "The source pump does not give its head",
        (
            must("source_volume_flow", "low"),
            must("pump_current", "off"),
            usual("strainer_pressure_drop", "not_high", 0.5),
            also("pump_capacitance_ratio", "low"),
        ),
        (
            running("Read pump voltage and current, if licensed for live work."),
            isolated("Discharge the run capacitor through a resistor, then measure it against its marking."),
        ),
        "motor practice: a permanent-capacitor motor that lost capacitance slips and draws more. " + _PHYSICS,
        settled=False,
        seen={"other_units_alike": 0.5},
    ),
    Rule(
        "air_in_loop", "There is air in the source circuit",
        (
            must("source_volume_flow", "low"),
            must("flow_scatter", "high"),
            usual("pump_current", "not_high", 0.5),
            also("source_static_gauge", "low"),
        ),
        (
            running("Watch flow and pump current for one minute: gas makes both waver."),
            stopped("Purge with 0.6 m/s or more in every pipe until the dead-head level stands still."),
        ),
        _PHYSICS,
        rivals={"clogged_strainer": _STRAINER, "weak_pump": _PUMP},
        seen={"bubbles_in_water": 0.6, "air_noise_in_loop": 0.5, "dead_head_level_drops": 0.75},
        settled=False,
    ),
    Rule(
        "scaled_source_coil", "The source coil is scaled on its water side",
        (
            must("condensing_approach", "high"),
            usual("source_volume_flow", "not_low", 0.4),
            usual("coil_drop_ratio", "high", 0.7),
            usual("liquid_approach", "not_low", 0.6),
            usual("liquid_approach", "high", 0.3),
            usual("subcooling", "not_high", 0.4),
            usual("superheat", "not_high", 0.6),
        ),
        (
            running("Compare approach and coil drop with the clean coil's at this flow."),
            relieved("Flush the coil by the maker's instruction; acid needs goggles, gloves and fresh air."),
        ),
        _PHYSICS,
        rivals={
            "non_condensables": "standing pressure against saturation at rest",
            "overcharge": "how close the liquid line comes to the entering water",
        },
        modes=("cooling",),
        own_route=True,
    ),
    Rule(
        "scaled_source_coil", "The source coil is scaled on its water side",
        (
            must("evaporating_approach", "high"),
            usual("source_volume_flow", "not_low", 0.3),
            usual("coil_drop_ratio", "high", 0.7),
            usual("superheat", "not_high", 0.8),
            usual("subcooling", "not_low", 0.7),
            usual("displacement_index", "not_low", 0.4),
        ),
        (
            running("Compare approach and coil drop with the clean coil's at this flow."),
            relieved("Flush the coil by the maker's instruction; acid needs goggles, gloves and fresh air."),
        ),
        _PHYSICS,
        rivals={
            "iced_source_coil": "whether the signs go away after the coil has stood warm for an hour",
            "undercharge": "subcooling",
        },
        modes=("heating",),
        own_route=True,
    ),
    Rule(
        "iced_source_coil", "Ice grows in the source coil",
        (
            must("evaporating_approach", "high"),
            must("freeze_margin", "low"),
            usual("coil_drop_ratio", "high", 0.7),
            usual("superheat", "not_high", 0.8),
            usual("subcooling", "not_low", 0.7),
        ),
        (
            running("Be ready to stop the machine: a coil that freezes through bursts."),
            stopped("Let water flow with the compressor off until the coil has thawed."),
        ),
        _PHYSICS,
        rivals={"scaled_source_coil": "whether the signs go away after the coil has stood warm for an hour"},
        seen={"ice_on_source_coil": 0.7},
        modes=("heating",),
        settled=False,
        at_start=True,
        rank=1,
    ),
    Rule(
        "low_load_flow", "The load side carries too little water or air, or takes too little heat",
        (
            must("load_change", "high"),
            usual("load_flow", "low", 0.7),
            usual("evaporating_approach", "not_high", 0.2),
        ),
        (
            running("Prove the load flow by meter or timed container; look at filter, valves, floor loops."),
            stopped("Look at filter, air coil and fan, or at the load strainer's indicator."),
        ),
        _PHYSICS,
        seen_against={"load_side_clean": 0.2},
        seen={"high_pressure_stops": 0.4},
    ),
    Rule(
        "source_exhausted", "The source cannot give what is drawn from it",
        (
            must("source_entering_temperature", "low"),
            also("source_volume_flow", "low"),
        ),
        (
            running("Note the entering temperature and the well's level every ten minutes."),
            stopped("Let the source recover and compare."),
        ),
        "entering water limits of the trade; well draw-down as an owner measured it",
        seen={"well_level_falls": 0.8, "flow_falls_while_running": 0.5},
        modes=("heating",),
        settled=False,
    ),
)  # fmt: skip
