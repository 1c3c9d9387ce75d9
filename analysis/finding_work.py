"""The values of a visit while they are being worked out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from analysis.elementwise import FloatArray
from analysis.evidence import Seen, Visit, quantity_of_symbol
from analysis.uncertainty import propagate


class Work:
    """The values while they are being worked out."""

    def __init__(self, visit: Visit) -> None:
        self.visit = visit
        self.values: dict[str, Seen] = {k: v for k, v in visit.values.items() if math.isfinite(v.value)}
        self.route = visit.flow_route

    def first(self, *names: str) -> Seen | None:
        """Give the first of these values that is known."""
        return next((self.values[name] for name in names if name in self.values), None)

    def add(self, symbol: str, function: Callable[..., FloatArray], *inputs: Seen | None) -> None:
        """Work out one value, unless it was typed or an input is missing."""
        known = [seen for seen in inputs if seen is not None]
        if symbol in self.values or len(known) != len(inputs):
            return
        value, u = propagate(function, [np.array([s.value]) for s in known], [np.array([s.u]) for s in known])
        self.put(symbol, float(value[0]), float(u[0]), known)

    def put(self, symbol: str, value: float, u: float, inputs: Sequence[Seen]) -> None:
        """Keep a value with the readings behind it; what is not finite stays away."""
        quantity = quantity_of_symbol(symbol)
        assert quantity is not None, f"{symbol} is no symbol of the verdict"
        if math.isfinite(value):
            points = frozenset().union(*(seen.points for seen in inputs))
            self.values[symbol] = Seen(
                symbol, value, u, quantity, points, any(seen.assumed for seen in inputs)
            )
