"""Saturation pressures that other property tables give as well.

Gauge pressures [psig at 14.696 psia] of the dew and bubble line at round temperatures, rounded to 0.1 psi.
The rows marked ``outside`` agree, by comparison made once, with a public table computed with NIST REFPROP
(R22, R134a, R410A and R404A bubble, -40 to 140 degF: at most 0.05 psi apart, its rounding) or a public text
table of the same kind (R22, R407C). The others were computed with CoolProp 8.0.0 alone: against those the
test can only show that our curves are that library's.
"""

from __future__ import annotations

from typing import NamedTuple

TEMPERATURES_DEGF = (0.0, 40.0, 80.0, 100.0, 120.0)


class Row(NamedTuple):
    """One refrigerant: gauge pressures [psig] at TEMPERATURES_DEGF."""

    name: str
    outside: bool
    dew: tuple[float, ...]
    bubble: tuple[float, ...]


def _pure(name: str, *psig: float, outside: bool = False) -> Row:
    return Row(name, outside, psig, psig)


ROWS = (
    _pure("R22", 24.0, 68.6, 143.6, 195.9, 260.0, outside=True),
    _pure("R134a", 6.5, 35.0, 86.7, 124.2, 171.2, outside=True),
    Row("R410A", True, (48.2, 118.4, 235.7, 317.6, 418.3), (48.4, 118.8, 236.5, 318.5, 419.5)),
    Row("R407C", True, (19.4, 63.2, 140.5, 196.1, 265.8), (29.5, 80.2, 165.8, 225.5, 298.6)),
    Row("R404A", True, (32.6, 85.4, 173.4, 234.7, 309.9), (33.7, 86.9, 175.4, 236.8, 312.1)),
    _pure("R32", 49.3, 121.0, 241.5, 325.7, 429.3),
    Row("R454B", False, (42.9, 107.5, 216.0, 291.9, 385.5), (45.9, 113.2, 225.4, 303.3, 398.6)),
    Row("R452B", False, (43.9, 109.4, 219.5, 296.5, 391.4), (46.4, 114.2, 227.5, 306.1, 402.4)),
    _pure("R507A", 34.8, 89.2, 179.5, 242.2, 319.0),
    _pure("R290", 23.7, 63.9, 129.3, 173.9, 227.8),
    _pure("R12", 9.1, 36.9, 84.0, 116.9, 157.3),
    _pure("R513A", 9.4, 39.8, 93.2, 131.3, 178.7),
)
