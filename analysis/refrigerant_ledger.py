"""The refrigerant ledger of a visit: what was weighed out of the machine and into it, and whether it closes.

A charge that was never weighed has no mass; nothing is taken from the plate or guessed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

COVERAGE = 2.0
SCALE_U_KG = 0.005
"""Standard uncertainty of one weighing where none is stated [kg]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Transfer:
    """Refrigerant went out of the machine or into it."""

    kind: Literal["recovered", "charged"]
    mass: float = math.nan
    """[kg]; NaN where it was not weighed."""
    cylinder: str = ""
    cylinder_before: float = math.nan
    cylinder_after: float = math.nan
    """The cylinder on the scale, before and after [kg]."""

    @property
    def weighed(self) -> float:
        """Mass that was moved, from what was weighed [kg]; NaN where nothing was.

        Examples
        --------
        >>> round(Transfer("recovered", cylinder_before=11.52, cylinder_after=11.80).weighed, 3)
        0.28
        """
        if math.isfinite(self.mass):
            return self.mass
        change = self.cylinder_after - self.cylinder_before
        return change if self.kind == "recovered" else -change


@dataclass(frozen=True, slots=True)
class Ledger:
    """All refrigerant that was moved in the visit."""

    refrigerant: str = ""
    transfers: tuple[Transfer, ...] = ()
    mass_before: float = math.nan
    """In the machine before, weighed [kg]; NaN where it never was."""
    mass_after: float = math.nan
    u_weighing: float = SCALE_U_KG
    """Standard uncertainty of each weighing [kg]."""
    leak_test: str = ""
    vacuum: str = ""


@dataclass(frozen=True, slots=True)
class MassBalance:
    """Whether the refrigerant is accounted for."""

    recovered: float
    charged: float
    """Sums of what was weighed [kg]; NaN where a part of it was not."""
    residual: float
    """Mass before + charged - recovered - mass after [kg]; NaN where something was not weighed."""
    u: float
    """Standard uncertainty of the residual [kg]."""
    closes: bool | None
    """None where it cannot be said."""
    missing: tuple[str, ...]


def mass_balance(ledger: Ledger) -> MassBalance:
    """Hold the refrigerant that was moved against what was in the machine before and after.

    ``residual = m_before + sum(charged) - sum(recovered) - m_after``; it closes where
    ``|residual| <= 2 u sqrt(n)`` for ``n`` weighings.

    Parameters
    ----------
    ledger
        What was weighed.

    Returns
    -------
    MassBalance
        With what is missing where it cannot be closed.

    Examples
    --------
    The hall: surplus recovered and weighed; what was in the machine before was never weighed.

    >>> hall = Ledger("R410A", (Transfer("recovered", 0.28),))
    >>> found = mass_balance(hall)
    >>> found.recovered, found.closes, found.missing
    (0.28, None, ('mass in the machine before', 'mass in the machine after'))
    """
    missing = [
        f"mass {transfer.kind}" + (f" (cylinder {transfer.cylinder})" if transfer.cylinder else "")
        for transfer in ledger.transfers
        if not math.isfinite(transfer.weighed)
    ]
    for mass, name in ((ledger.mass_before, "before"), (ledger.mass_after, "after")):
        if not math.isfinite(mass):
            missing.append(f"mass in the machine {name}")
    recovered, charged = _sum(ledger.transfers, "recovered"), _sum(ledger.transfers, "charged")
    residual = ledger.mass_before + charged - recovered - ledger.mass_after
    # A mass told from a cylinder before and after is two weighings.
    weighings = 2 + sum(1 if math.isfinite(t.mass) else 2 for t in ledger.transfers)
    u = ledger.u_weighing * math.sqrt(weighings)
    closes = abs(residual) <= COVERAGE * u if math.isfinite(residual) else None
    return MassBalance(recovered, charged, residual, u, closes, tuple(missing))


def _sum(transfers: Sequence[Transfer], kind: str) -> float:
    return math.fsum(transfer.weighed for transfer in transfers if transfer.kind == kind)
