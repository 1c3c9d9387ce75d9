"""Rules beside water and charge: danger, controls, cycling."""

from __future__ import annotations

from analysis.finding_acts import isolated, running, stopped
from analysis.finding_rule import Rule, also, must, usual

OTHER_RULES: tuple[Rule, ...] = (
    Rule(
        "water_in_refrigerant",
        "Water may have entered the refrigerant: stop, isolate, do not restart",
        (also("source_static_gauge", "off"), also("standing_excess", "off")),
        (
            stopped("Stop the machine and do not start it again, not even to look."),
            isolated(
                "Lock it out, shut both water valves, photograph, take a sample of oil and tell the owner."
            ),
        ),
        "common practice, no source",
        seen={
            "oil_milky": 0.75,
            "moisture_indicator_wet": 0.5,
            "loop_pressure_rising": 0.5,
            "water_in_gauge_hose": 0.8,
        },
        settled=False,
        while_stopped=True,
        rank=10,
    ),
    Rule(
        "control_voltage_loss",
        "The control circuit lacks its voltage",
        (
            must("control_voltage", "low"),
            usual("transformer_secondary_voltage", "not_low", 0.0),
            also("contactor_coil_voltage", "low"),
        ),
        (
            running("Follow the volts point by point from the supply, if licensed for live work."),
            isolated(
                "Lift both ends of each branch and measure it against C and earth before a fuse is fitted."
            ),
        ),
        "control coils pull in at 85 % of 24 V and accept 110 %; from memory, to be confirmed",
        settled=False,
        while_stopped=True,
        rank=2,
    ),
    Rule(
        "short_cycling",
        "The machine starts too often to settle",
        (must("starts_per_hour", "high"),),
        (running("Note time to trip, rise rate and trip pressure of each run."),),
        "common practice, no source: six starts an hour",
        settled=False,
        while_stopped=True,
    ),
)
