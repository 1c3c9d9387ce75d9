"""A control circuit by Ohm's law, to hold the verdicts against; it knows nothing of their rules."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from analysis.electrical import ChainPoint

OPEN = 1e9
METER_OHM = 1e7
WINDING_OHM = 1.1


@dataclass(frozen=True)
class Bench:
    """Series resistance of each part [ohm] by the point after it; shunts to C after a point [ohm]."""

    series: dict[str, float] = field(default_factory=dict)
    shunt: dict[str, float] = field(default_factory=dict)
    supply: float = 230.0
    ratio: float = 25.8 / 230.0
    call: bool = True
    coil_ohm: float = 68.0

    def volts(self, points: tuple[ChainPoint, ...], loaded: bool) -> dict[str, float]:
        """Volts at every point to the common of its side."""
        control = [p for p in points if p.side == "control"]
        # From the far end back: resistance to C seen at each point, through the parts behind it.
        ahead = math.inf
        seen: dict[str, float] = {}
        for index in range(len(control) - 1, -1, -1):
            point = control[index]
            own = [METER_OHM, self.shunt.get(point.name, math.inf)]
            if index == len(control) - 1:
                own.append(self.coil_ohm if loaded else math.inf)
            else:
                own.append(ahead + self._ohm(control[index + 1]))
            ahead = 1.0 / sum(1.0 / ohm for ohm in own)
            seen[point.name] = ahead
        found: dict[str, float] = {}
        volts, cut = self.supply, False
        for point in points:
            if point.side == "line":
                cut = cut or self.series.get(point.name, 0.0) >= OPEN
                volts = 0.0 if cut else volts - self.series.get(point.name, 0.0) * (8.0 if loaded else 0.01)
            elif point.role == "transformer":
                source = volts * self.ratio
                total = WINDING_OHM + self.series.get(point.name, 0.0)
                volts = source * seen[point.name] / (seen[point.name] + total)
            else:
                volts *= seen[point.name] / (seen[point.name] + self._ohm(point))
            found[point.name] = round(volts, 2)
        return found

    def _ohm(self, point: ChainPoint) -> float:
        if point.role == "control" and not self.call:
            return OPEN
        return 0.01 + self.series.get(point.name, 0.0)
