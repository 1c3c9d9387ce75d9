"""Published cases with a stated cause or reference, re-keyed from public pages; each names its source.

``sure``: A cause proven by repair, teardown or laboratory; B published reference or teaching case; C
plausible and unconfirmed, so that the honest answer is to decline. ``kind``: what a row can test.

* ``top``: the cause is the first finding, or shares the first place (A rows).
* ``among``: every listed cause is among the first three (B rows).
* ``normal``: a published healthy state; nothing above 0.5.
* ``decline``: no finding about the refrigerant is active, and nothing is above 0.8 (C rows).

Arithmetic rows are tests of their own in ``test_case_log.py``; ``NOT_NUMERIC`` says what the others are. A
manufacturer's page is named by what it is; journals, universities and utilities by name.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["top", "among", "normal", "decline"]


@dataclass(frozen=True)
class Row:
    """One case."""

    number: int
    source: str
    sure: Literal["A", "B", "C"]
    kind: Kind
    expected: tuple[str, ...]
    mode: Literal["", "heating", "cooling"] = ""
    refrigerant: str = ""
    readings: dict[str, str] = field(default_factory=dict)
    seen: tuple[str, ...] = ()
    metering: Literal["expansion valve", "fixed orifice", "not known"] = "not known"
    receiver: bool | None = None
    fluid: str = ""
    missing: tuple[str, ...] = ()
    """What the tool must ask for."""


_MATRIX = (
    "manufacturer's installation manual of a water-to-air unit with R-22, table of normal and faulty readings"
)

ROWS: tuple[Row, ...] = (
    Row(
        2, "ACHR News, article 108215, water-cooled R-22 system: 85 F in, 95 F out, condensing 105 F",
        "B", "normal", (), "cooling", "R22",
        {"discharge_pressure": "211 psig", "source_entering_temperature": "85 degF",
         "source_leaving_temperature": "95 degF"}, fluid="water",
    ),
    Row(
        4, "ACHR News, article 98956, R-410A heat pump: metering device or reversing valve, both accepted",
        "B", "among", ("valve_starving", "liquid_line_restriction"), "cooling", "R410A",
        {"suction_pressure": "64 psig", "suction_temperature": "70 degF"},
        missing=("subcooling",),
    ),
    Row(
        5, _MATRIX, "B", "normal", (), "cooling", "R22",
        {"subcooling": "10 to 12 degF", "superheat": "8 to 12 degF",
         "discharge_temperature": "140 to 150 degF",
         "discharge_pressure": "210 psig", "suction_pressure": "70 psig"}, metering="expansion valve",
    ),
    Row(
        6, _MATRIX, "B", "among", ("overcharge",), "cooling", "R22",
        {"subcooling": "20 to 25 degF", "superheat": "8 to 12 degF",
         "discharge_temperature": "120 to 130 degF",
         "discharge_pressure": "220 psig", "suction_pressure": "80 psig"}, metering="expansion valve",
    ),
    Row(
        # Its subcooling of 6 to 8 F is inside what is common practice, so the row is judged against the same
        # table's own normal row (10 to 12 F), as a technician with that manual would.
        7, _MATRIX, "B", "among", ("undercharge",), "cooling", "R22",
        {"subcooling": "6 to 8 degF", "superheat": "25 to 30 degF", "discharge_temperature": "200 degF",
         "discharge_pressure": "180 psig", "suction_pressure": "25 psig"}, metering="expansion valve",
    ),
    Row(
        8, _MATRIX, "B", "among", ("valve_starving",), "cooling", "R22",
        {"subcooling": "15 to 20 degF", "superheat": "25 to 30 degF", "discharge_temperature": "200 degF",
         "discharge_pressure": "250 psig", "suction_pressure": "45 psig"}, metering="expansion valve",
    ),
    Row(
        9, "ACHR News, 'charging an overcharged system': R-22, capillary, both high, shell sweats",
        "B", "among", ("overcharge",), "cooling", "R22",
        {"suction_pressure": "85 psig", "discharge_pressure": "375 psig"}, ("compressor_sweats",),
        metering="fixed orifice",
    ),
    Row(
        10, "mistakesbytjm.blogspot.com, January 2010: two open-loop units, well level falls under the pump",
        "A", "top", ("source_exhausted",), "heating", "",
        {"source_flow": "12 gpm", "source_change": "9 to 10 degF"}, ("well_level_falls",), fluid="water",
    ),
    Row(
        11, "nmdgreen.com, geothermal rescue: 21 units on one loop stop in winter and in summer; "
        "circulators too small", "A", "top", ("weak_pump", "low_source_flow"), "heating", "", {},
        ("other_units_alike", "low_pressure_stops"),
    ),
    Row(
        14, "laboratory study, water-to-water, R-513A, receiver (abstract): subcooling 0 K by 95 % charge",
        "A", "top", ("undercharge",), "heating", "R513A", {"subcooling": "0.0 K", "superheat": "6 K"},
        metering="expansion valve", receiver=True,
    ),
    Row(
        26, "holmebrew.co.uk, leak in the ground source loops: flushed three times, then one stop in months",
        "A", "top", ("air_in_loop",), "heating", "", {}, ("dead_head_level_drops", "low_pressure_stops"),
    ),
    Row(
        28, "clubsearay.com, thread 106071: boat unit stops on high pressure, overboard flow halved",
        "C", "decline", (), "cooling", "", {}, ("high_pressure_stops",), fluid="sea_water 35 g/kg",
    ),
    Row(
        30, "archives.hvacmechanic.com, 18947: control fuse blows on heat and cool calls, not on fan",
        "C", "decline", (), "", "", {}, ("control_fuse_blows",),
    ),
    Row(
        32, "PM Magazine, article 104595: an indirect tank passes a fifth of its rating; high-pressure stops",
        "B", "among", ("low_load_flow",), "heating", "", {}, ("high_pressure_stops",),
    ),
)  # fmt: skip

NORMAL_MATRIX = next(row for row in ROWS if row.number == 5)

ARITHMETIC = {
    2: "211 psig of R-22 is 105.1 F; approach to 95 F leaving water is 10 F",
    10: "12 gpm x 9.5 F = 57 000 Btu/h (owner 54 000): capacity is there, the source limits",
    20: "50 F, 6 gpm, 36 700 Btu/h: drop 12.2 F, leaving 37.8 F",
    21: "coil table size 036: exponent 1.75 at 30 F, 1.66 at 70 F; the scan's 8.8 psi does not fit",
    23: "501.6 for water at 10 degC, 475 for 25 % propylene glycol, 487 for 15 % methanol",
}
NOT_NUMERIC = {
    3: "rule: a clean tower does not clear the coil",
    15: "abstract only",
    16: "abstracts only: faults coexist",
    17: "abstract only",
    18: "reference table",
    19: "reference table",
    24: "generic band",
    25: "generic band",
}
"""Rows without numbers that a finding could be tried on, and what they are."""
