"""Why each fault of the simulated machine does what it does, for the contributor's guide."""

from __future__ import annotations

from typing import Final

REASONS: Final[dict[str, str]] = {
    "weak_pump_capacitor": (
        "The motor's breakdown torque falls with the capacitance, the rotor slips more: less head and "
        "flow, more current; less flow thins the heat transfer and widens the water's temperature change."
    ),
    "clogged_strainer": (
        "The strainer's resistance grows with the inverse square of its open area: less flow, so a "
        "smaller drop over the coil itself, at a nearly healthy pump current."
    ),
    "scaled_source_coil": (
        "A resistance in series with the water film widens the gap between water and refrigerant; the "
        "narrowed bore (drop ~ bore^-4.75) raises the drop at the same flow."
    ),
    "iced_source_coil": ("Like scale, but thicker: resistance and a narrower bore."),
    "air_in_loop": ("The impeller loses head to gas, bubbles cover part of the surface; flow wanders."),
    "low_load_flow": (
        "Less load-side flow leaves each litre or kilogram more heat to carry: larger change, and in "
        "heating a higher, in cooling a lower saturation temperature on that side."
    ),
    "undercharge": (
        "The mass is missing where it is stored, in the flooded end of the condenser: subcooling goes "
        "first; then gas enters the valve, it passes less, the evaporator starves."
    ),
    "overcharge": (
        "The surplus stands as liquid in the condenser: more subcooling, less surface left to condense "
        "on, higher condensing temperature and power."
    ),
    "non_condensables": (
        "Gas keeps its own partial pressure in the condenser, on top of the refrigerant's: the gauge's "
        "saturation temperature, and with it the indicated subcooling, are too high."
    ),
    "liquid_line_restriction": (
        "A resistance in series with the valve: the valve opens to make up for it, then can open no "
        "further; liquid backs up before it, the evaporator starves."
    ),
    "valve_starving": (
        "The valve passes a fraction of what its opening should: it opens wide, then the superheat rises, "
        "suction falls, liquid backs up in the condenser."
    ),
    "valve_flooding": (
        "The valve stands too far open for its bulb's superheat: more of the evaporator is wet, superheat "
        "vanishes, liquid leaves the condenser."
    ),
    "valve_hunting": (
        "Too steep a valve before a front of liquid that answers late: it overshoots and the superheat "
        "swings; the mean hardly moves, so it shows only in time, from a severity of about 0.5."
    ),
    "compressor_valve_leak": (
        "Part of the compressed gas returns into the cylinder: less mass flow, more work and heat per "
        "kilogram, a smaller pressure ratio."
    ),
    "reversing_valve_leak": (
        "Hot gas crosses from discharge to suction outside the compressor: hotter suction gas, less mass "
        "through the coils."
    ),
    "low_supply_voltage": ("Motors slip more and lose efficiency; the pump gives less head; currents rise."),
    "control_short": (
        "The short draws the transformer's current through the fuse, which melts: no control voltage."
    ),
    "failing_transformer": (
        "Fewer turns carry the secondary: its voltage falls at any load, to nothing when a winding is open."
    ),
    "open_safety": (
        "A worn contact takes part of the coil's voltage, until the contactor no longer pulls in."
    ),
}
"""One reason for every severity of `Faults`."""
