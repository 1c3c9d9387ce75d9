"""Volts in words: limits with their source, readings with their condition, and the points of a circuit.

Voltages are r.m.s. values to the common of their side: to the neutral or the other line on the line side, to
C on the control side. Nothing here is known from a device: a reading is what a person typed or a meter sent.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Side = Literal["line", "control"]

PLATE_SHARE = 0.10
"""A machine must run within its plate voltage +- 10 % (common practice; ANSI C84.1 keeps utilisation of a
230 V motor within 10 % of it, from memory)."""
CONTROL_NOMINAL_V = 24.0
PULL_IN_SHARE = 0.85
"""A contactor must close at 85 % of its coil voltage (IEC 60947-4-1, 8.2.1.2, from memory): 20.4 V of 24."""
COIL_HIGH_SHARE = 1.10
"""... and stand 110 % of it: 26.4 V of 24."""
NO_LOAD_SHARE = 0.90
"""At no load a sound transformer gives at least this share of what its ratio promises: it is wound to give
its rated volts at full load, so with none it gives more (common practice, no source)."""
LIGHT_LOAD_HIGH_V = 28.0
"""A 24 V transformer gives up to this at light load (common practice, no source)."""
MOST_LINE_DROP = 0.03
"""Largest share of the supply lost in the wiring (NFPA 70, 210.19(A) informational note: 3 % of a branch)."""
LINE_METER_V = 2.0
"""Two readings of one line voltage taken in turn may differ by this: meter and supply (common practice)."""
MOST_CONTROL_DROP_V = 1.2
"""Largest loss from one point of a control circuit to the next: 5 % of 24 V (common practice, no source)."""
MOST_CONTACT_DROP_V = 0.5
"""Largest volts straight across one closed contact under load (common practice, no source)."""
ALIVE_SHARE = 0.5
"""A point with less than half of what the point before it has counts as cut off: a bad joint under load
rarely takes more, and an open one leaves only what leaks (common practice, no source)."""
COMMON_PRACTICE = "common practice"


@dataclass(frozen=True, slots=True)
class Limits:
    """What voltages are allowed, and who says so; line limits are NaN where no plate voltage is known."""

    supply_low: float = math.nan
    supply_high: float = math.nan
    supply_source: str = ""
    nominal: float = math.nan
    """Of the supply [V]."""
    tap: float = math.nan
    """Voltage for which the transformer's primary is connected [V]; NaN where not known."""
    control_nominal: float = CONTROL_NOMINAL_V
    pull_in: float = PULL_IN_SHARE * CONTROL_NOMINAL_V
    pull_in_source: str = f"{COMMON_PRACTICE}: 85 % of a 24 V coil"
    line_drop: float = MOST_LINE_DROP
    control_drop: float = MOST_CONTROL_DROP_V
    drop_source: str = COMMON_PRACTICE

    @property
    def supply_known(self) -> bool:
        """Whether line voltages can be judged against a limit."""
        return math.isfinite(self.supply_low) and math.isfinite(self.supply_high)

    def text(self) -> str:
        """Say the limits with their source.

        Examples
        --------
        >>> plate_limits(230.0, source="card: 230 V plate").text().split("; ")[0]
        'supply 207 to 253 V (card: 230 V plate ± 10 %)'
        """
        supply = (
            f"supply {self.supply_low:g} to {self.supply_high:g} V ({self.supply_source})"
            if self.supply_known
            else "supply limits not known: give the plate voltage"
        )
        return f"{supply}; {self.pull_in:g} V pulls in ({self.pull_in_source})"


def plate_limits(
    low: float, high: float | None = None, *, source: str = "plate", tap: float = math.nan
) -> Limits:
    """Give the limits that follow from a plate voltage: +- 10 %.

    Parameters
    ----------
    low, high
        Plate voltage [V], or its range: 208 to 230.
    source
        Who says so.
    tap
        Primary voltage of the transformer's connection [V].

    Examples
    --------
    >>> limits = plate_limits(208.0, 230.0)
    >>> round(limits.supply_low, 1), round(limits.supply_high, 1)
    (187.2, 253.0)
    """
    high = low if high is None else high
    if not 0.0 < low <= high < 1000.0:
        raise ValueError("a plate voltage lies above 0 and below 1000 V, the lower one first")
    nominal = low if low == high else math.nan
    return Limits(
        supply_low=round(low * (1.0 - PLATE_SHARE), 6),
        supply_high=round(high * (1.0 + PLATE_SHARE), 6),
        supply_source=f"{source} ± 10 %",
        nominal=nominal,
        tap=tap,
    )


@dataclass(frozen=True, slots=True)
class VoltReading:
    """Volts at one point of a circuit."""

    point: str
    volts: float
    """NaN where the meter showed nothing."""
    loaded: bool | None = None
    """Whether what the circuit feeds was switched on; None where nobody said."""
    time: str = ""
    who: str = ""
    live: bool = False
    """Sent by a device, not typed."""

    def __post_init__(self) -> None:
        if math.isinf(self.volts) or self.volts < 0.0:
            raise ValueError(f"volts at {self.point} must be zero or more, not {self.volts:g}")

    @property
    def known(self) -> bool:
        """Whether there is a value."""
        return math.isfinite(self.volts)


@dataclass(frozen=True, slots=True)
class AcrossReading:
    """Volts straight across one part, from its input to its output."""

    point: str
    """Output of the part."""
    volts: float
    loaded: bool | None = None


@dataclass(frozen=True, slots=True)
class ChainPoint:
    """One point at which volts are read, and the part that lies before it."""

    name: str
    side: Side
    part: str
    """What lies between the point before and this one."""
    label: str = ""
    role: Literal["", "transformer", "fuse", "safety", "control", "contact", "supply"] = ""
    closed_by: str = ""
    """For a contact: the point whose volts close it."""

    @property
    def shown(self) -> str:
        """Name for people."""
        return self.label or self.name.replace("_", " ")


LIVE_POINTS: Mapping[str, str] = {
    "supply_voltage": "supply",
    "transformer_primary_voltage": "transformer_primary",
    "transformer_secondary_voltage": "transformer_secondary",
    "control_voltage": "control_r_to_c",
    "contactor_coil_voltage": "contactor_coil",
    "pump_voltage": "pump_terminals",
}
"""Measuring point of the machine to point of a circuit."""


def live_readings(
    values: Mapping[str, float], *, loaded: bool | None = None, time: str = ""
) -> tuple[VoltReading, ...]:
    """Turn the present values of measuring points [V] into readings; a silent point gives none.

    A value a little below zero is an instrument's noise about nothing; one further below is no r.m.s. value.

    Examples
    --------
    >>> [r.point for r in live_readings({"control_voltage": 25.2, "supply_voltage": float("nan")})]
    ['control_r_to_c']
    """
    return tuple(
        VoltReading(LIVE_POINTS[name], max(value, 0.0), loaded, time, live=True)
        for name, value in values.items()
        if name in LIVE_POINTS and math.isfinite(value) and value >= -LINE_METER_V
    )


def voltage_unbalance(volts: tuple[float, float, float]) -> float:
    """Voltage unbalance of three phases: largest deviation from the mean over the mean [1].

    More than 2 % is a warning, more than 3 % is put right before the machine runs (ANSI C84.1 annex C: 3 % at
    no load; NEMA MG-1, 14.36 derates a motor above 1 %; both from memory).

    Examples
    --------
    >>> round(100 * voltage_unbalance((238.0, 242.0, 233.0)), 2)
    1.96
    """
    mean = sum(volts) / 3.0
    return max(abs(v - mean) for v in volts) / mean if mean > 0.0 else math.nan
