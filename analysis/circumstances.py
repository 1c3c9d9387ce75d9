"""What a person has declared about machine and site, in the form that derived values need."""

from __future__ import annotations

import re
from dataclasses import dataclass

from analysis.liquids import Liquid
from analysis.saturation import SaturationCurve
from analysis.units import Quantity, UnitError, parse_amount


@dataclass(frozen=True, slots=True)
class RatedCoil:
    """One rated point of a water coil, from the unit card."""

    q_v: float
    """Volume flow [m3/s]."""
    dp: float
    """Pressure drop at that flow [Pa]."""

    @classmethod
    def parse(cls, text: str) -> RatedCoil:
        """Read ``0.60 L/s at 28.8 kPa``.

        Raises
        ------
        UnitError
            If it is not a flow at a pressure drop.

        Examples
        --------
        >>> RatedCoil.parse("9 gpm at 3.2 psi").dp // 1
        22063.0
        """
        parts = re.split(r"\s+at\s+", text.strip(), maxsplit=1)
        if len(parts) != 2:
            raise UnitError(f"'{text}' is no rated point; write it like '0.60 L/s at 28.8 kPa'.")
        q_v = parse_amount(parts[0], Quantity.VOLUME_FLOW).si
        dp = parse_amount(parts[1], Quantity.PRESSURE_DIFFERENCE).si
        if not (q_v > 0.0 and dp > 0.0):
            raise UnitError(f"'{text}': flow and pressure drop must be more than zero.")
        return cls(q_v, dp)


@dataclass(frozen=True, slots=True)
class Circumstances:
    """Everything beyond the readings that a derived value may need; None where it is not declared."""

    refrigerant: SaturationCurve | None = None
    source_liquid: Liquid | None = None
    load_liquid: Liquid | None = None
    source_coil: RatedCoil | None = None
    mode: str = ""
    fed_by: tuple[str, ...] = ()
    """The measuring points that feed the value, in the order of its inputs."""

    def lacks(self, needs: tuple[str, ...]) -> tuple[str, ...]:
        """Name what of these is not declared."""
        return tuple(name for name in needs if getattr(self, name) is None)
