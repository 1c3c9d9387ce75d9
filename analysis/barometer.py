"""The site's barometer: what turns a gauge pressure into an absolute one."""

from __future__ import annotations

from analysis.units import Quantity, UnitError, parse_amount

STANDARD_ATMOSPHERE_PA = 101_325.0


def altitude_pressure(metres: float) -> float:
    """Pressure of the standard atmosphere at an altitude [m -> Pa].

    Formula: ``101325 (1 - 2.25577e-5 h)^5.2559`` (ASHRAE Handbook Fundamentals, chapter 1, equation 3).

    Examples
    --------
    >>> round(altitude_pressure(600.0) / 1000.0, 2)
    94.32
    """
    return float(STANDARD_ATMOSPHERE_PA * (1.0 - 2.25577e-5 * metres) ** 5.2559)


def parse_barometer(text: str) -> float:
    """Read a barometer (``94.32 kPa(a)``) or an altitude (``600 m``) [-> Pa].

    Examples
    --------
    >>> round(parse_barometer("2000 ft"))
    94213
    """
    amount = parse_amount(text, Quantity.ABSOLUTE_PRESSURE, Quantity.LENGTH)
    pressure = altitude_pressure(amount.si) if amount.quantity is Quantity.LENGTH else amount.si
    if not 50_000.0 <= pressure <= 110_000.0:
        raise UnitError(
            f"'{text}' is no barometer reading on land; write the local one, not sea-level corrected."
        )
    return pressure
