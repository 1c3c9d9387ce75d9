"""What ordinary field instruments are good for; apart, so that the small calculators start fast."""

from __future__ import annotations

from analysis.units import Quantity

ASSUMED_U: dict[Quantity, tuple[float, float]] = {
    Quantity.TEMPERATURE: (0.5, 0.0),
    Quantity.TEMPERATURE_DIFFERENCE: (0.7, 0.0),
    Quantity.ABSOLUTE_PRESSURE: (8000.0, 0.005),
    Quantity.GAUGE_PRESSURE: (8000.0, 0.005),
    Quantity.PRESSURE_DIFFERENCE: (700.0, 0.02),
    Quantity.VOLUME_FLOW: (0.0, 0.03),
    Quantity.HEAT_RATE: (0.0, 0.07),
    Quantity.POWER: (0.0, 0.02),
    Quantity.VOLTAGE: (0.5, 0.005),
    Quantity.CURRENT: (0.02, 0.02),
}
"""Fixed and relative standard uncertainty where nothing is promised about an instrument; ordinary field
instruments, common practice, no source."""
