"""Rules of the refrigerant circuit: charge, gas, valves, compressor. All wait for the water to be proven."""

from __future__ import annotations

from analysis.finding_acts import running, stopped
from analysis.finding_rule import Rule, also, must, usual
from analysis.unit_card import NOT_KNOWN, ORIFICE, VALVE

_SIGNS = (
    "published sign tables of machines with fixed orifice and with expansion valve (named with the tests); "
    "water-cooled signs as ASHRAE RP-1043 shows them"
)
_LICENSED = "The refrigerant circuit is for licensed persons: recover and weigh, never vent."
_LIQUID = "how close the liquid line comes to the entering water or air, against a healthy reference"
_STANDING = "standing pressure against saturation at rest, machine equalised"
_DRIER = "the temperature drop along liquid line and drier"
_ACROSS = "the temperature rise of the suction gas across the reversing valve"
_SUBCOOLING = "subcooling: low with too little refrigerant, behind a restriction as much as the water allows"

CHARGE_RULES: tuple[Rule, ...] = (
    Rule(
        "undercharge", "There is too little refrigerant in the circuit",
        (
            must("subcooling", "low"),
            usual("superheat", "not_low", 0.6),
            usual("subcooling_share", "low", 0.6),
            usual("liquid_approach", "not_low", 0.4),
            usual("displacement_index", "not_low", 0.4),
            usual("compression_index", "not_low", 0.4),
            also("superheat", "high"),
            also("evaporating_approach", "high"),
            also("discharge_temperature", "high"),
            also("evaporating_temperature", "low"),
        ),
        (
            running("Read subcooling again at a second steady stretch, in heating if the season allows."),
            stopped(f"Search for the leak before anything is added. {_LICENSED}"),
        ),
        _SIGNS,
        rivals={
            "valve_flooding": "superheat",
            "compressor_valve_leak": "heat moved against the compressor's table",
            "reversing_valve_leak": _ACROSS,
            "liquid_line_restriction": _SUBCOOLING,
            "valve_starving": _SUBCOOLING,
        },
        charge=True,
        metering=(VALVE, NOT_KNOWN),
    ),
    Rule(
        "undercharge", "There is too little refrigerant in the circuit",
        (
            must("superheat", "high"),
            usual("subcooling", "low", 0.6),
            usual("subcooling_share", "low", 0.6),
            usual("evaporating_approach", "not_low", 0.4),
            usual("liquid_approach", "not_low", 0.4),
            also("discharge_temperature", "high"),
        ),
        (
            running("Read superheat and subcooling again at a second steady stretch."),
            stopped(f"Search for the leak before anything is added. {_LICENSED}"),
        ),
        _SIGNS,
        rivals={"liquid_line_restriction": _SUBCOOLING, "reversing_valve_leak": _ACROSS},
        charge=True,
        metering=(ORIFICE,),
    ),
    Rule(
        "overcharge", "There is too much refrigerant in the circuit",
        (
            must("subcooling", "high"),
            usual("liquid_approach", "not_high", 0.8),
            usual("liquid_approach", "low", 0.4),
            usual("superheat", "not_high", 0.8),
            usual("load_change", "not_high", 0.3),
            also("condensing_approach", "high"),
            also("compressor_power", "high"),
        ),
        (
            running("Read subcooling again at a second steady stretch."),
            stopped(f"Recover small steps into a weighed cylinder; book what came out. {_LICENSED}"),
        ),
        _SIGNS,
        rivals={"non_condensables": f"{_LIQUID}; {_STANDING}"},
        charge=True,
        seen={"compressor_sweats": 0.5},
    ),
    Rule(
        "non_condensables", "Air or another gas is in the refrigerant",
        (
            must("subcooling", "high"),
            must("condensing_approach", "high"),
            usual("liquid_approach", "not_low", 0.9),
            usual("liquid_approach", "not_high", 0.5),
            usual("superheat", "not_high", 0.8),
            usual("load_change", "not_high", 0.4),
            also("standing_excess", "high"),
            usual("standing_excess", "high", 0.8),
            also("compressor_power", "high"),
        ),
        (
            running("Compare the liquid line with the entering water: gas leaves it where it was."),
            stopped(f"Let the machine equalise and compare standing pressure with saturation. {_LICENSED}"),
        ),
        _SIGNS,
        rivals={"overcharge": f"{_LIQUID}; {_STANDING}"},
        charge=True,
    ),
    Rule(
        "liquid_line_restriction", "The liquid line or its drier is restricted",
        (
            must("superheat", "high"),
            usual("evaporating_approach", "high", 0.6),
            usual("subcooling", "not_low", 0.2),
            usual("subcooling_share", "not_low", 0.8),
            usual("liquid_approach", "not_high", 0.5),
            usual("liquid_line_temperature_drop", "high", 0.8),
            also("discharge_temperature", "high"),
            also("evaporating_temperature", "low"),
        ),
        (
            running("Measure the temperature along liquid line and drier: a drop shows the place."),
            stopped(f"Change the drier. {_LICENSED}"),
        ),
        _SIGNS,
        rivals={"valve_starving": _DRIER, "undercharge": _SUBCOOLING},
        charge=True,
    ),
    Rule(
        "valve_starving", "The expansion valve passes too little",
        (
            must("superheat", "high"),
            usual("evaporating_approach", "high", 0.6),
            usual("subcooling", "not_low", 0.2),
            usual("subcooling_share", "not_low", 0.8),
            usual("liquid_approach", "not_high", 0.5),
            usual("liquid_line_temperature_drop", "not_high", 0.8),
            also("discharge_temperature", "high"),
            also("evaporating_temperature", "low"),
        ),
        (
            running("Look at bulb contact, bulb insulation and the place of any frost."),
            stopped(f"Warm the bulb in the hand and watch the superheat at the next run. {_LICENSED}"),
        ),
        _SIGNS,
        rivals={"liquid_line_restriction": _DRIER, "undercharge": _SUBCOOLING},
        charge=True,
        metering=(VALVE, NOT_KNOWN),
    ),
    Rule(
        "valve_flooding", "The expansion valve passes too much; liquid may reach the compressor",
        (
            must("superheat", "low"),
            usual("evaporating_approach", "not_high", 0.6),
            usual("subcooling", "not_high", 0.5),
            usual("discharge_superheat", "not_high", 0.4),
            also("discharge_superheat", "low"),
            also("evaporating_approach", "low"),
        ),
        (
            running("Look at bulb contact and place; feel the suction line for wetness at the compressor."),
            stopped(f"Fix and insulate the bulb; change the adjustment once, note the turns. {_LICENSED}"),
        ),
        _SIGNS,
        rivals={"overcharge": "subcooling"},
        charge=True,
        metering=(VALVE, NOT_KNOWN),
    ),
    Rule(
        "hunting", "The expansion valve hunts",
        (
            must("superheat_swing", "high"),
        ),
        (
            running("Note period and amplitude over three swings; look at bulb contact and load."),
        ),
        "periodic swing of the superheat, common practice, no source",
        charge=True,
        settled=False,
        metering=(VALVE, NOT_KNOWN),
    ),
    Rule(
        "compressor_valve_leak", "The compressor leaks inside: valves, scrolls or rings",
        (
            must("displacement_index", "low"),
            must("compression_index", "low"),
            usual("superheat", "not_high", 0.7),
            usual("evaporating_approach", "not_high", 0.7),
            usual("compressor_flow_ratio", "low", 0.5),
            also("evaporating_approach", "low"),
            also("subcooling", "low"),
        ),
        (
            running("Compare heat moved and power with the compressor's table at these temperatures."),
            stopped("Watch how fast the two pressures become equal after the stop."),
        ),
        _SIGNS + "; measured against mapped flow and power is the best test of a leak",
        rivals={"reversing_valve_leak": _ACROSS},
        charge=True,
    ),
    Rule(
        "compressor_valve_leak", "The compressor leaks inside: valves, scrolls or rings",
        (
            must("heat_moved", "low"),
            usual("superheat", "normal", 0.8),
            usual("evaporating_approach", "not_high", 0.8),
            usual("subcooling", "not_low", 0.5),
            usual("source_volume_flow", "not_low", 0.7),
            usual("displacement_index", "low", 0.7),
            usual("compression_index", "low", 0.6),
            usual("load_change", "not_high", 0.5),
            also("evaporating_approach", "low"),
        ),
        (
            running("Compare heat moved and power with the compressor's table at these temperatures."),
            stopped("Watch how fast the two pressures become equal after the stop."),
        ),
        _SIGNS + "; measured against stated capacity is the best test of a leak",
        rivals={"reversing_valve_leak": _ACROSS},
        charge=True,
    ),
    Rule(
        "reversing_valve_leak", "The reversing valve leaks from discharge to suction",
        (
            must("displacement_index", "low"),
            must("superheat", "high"),
            usual("evaporating_approach", "not_high", 0.8),
            usual("compression_index", "not_low", 0.6),
            usual("reversing_valve_temperature_rise", "high", 0.8),
            usual("subcooling_share", "not_low", 0.6),
            also("subcooling", "low"),
        ),
        (
            running("Measure the suction line before and after the reversing valve: above 4 K is a leak."),
        ),
        _SIGNS + "; temperature rise across the valve body, common practice, no source",
        rivals={"compressor_valve_leak": _ACROSS, "liquid_line_restriction": _ACROSS},
        charge=True,
    ),
    Rule(
        "reversing_valve_leak", "The reversing valve leaks from discharge to suction",
        (
            must("heat_moved", "low"),
            must("superheat", "high"),
            usual("evaporating_approach", "not_high", 0.9),
            usual("source_volume_flow", "not_low", 0.7),
            usual("displacement_index", "low", 0.7),
            usual("compression_index", "not_low", 0.6),
            usual("reversing_valve_temperature_rise", "high", 0.8),
            usual("subcooling_share", "not_low", 0.6),
            also("subcooling", "low"),
        ),
        (
            running("Measure the suction line before and after the reversing valve: above 4 K is a leak."),
        ),
        _SIGNS + "; temperature rise across the valve body, common practice, no source",
        rivals={"compressor_valve_leak": _ACROSS, "liquid_line_restriction": _ACROSS},
        charge=True,
    ),
)  # fmt: skip
