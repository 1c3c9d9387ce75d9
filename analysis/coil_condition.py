"""Scale or low flow? Whether the two can be told apart with what was measured, and what the signs say.

Both raise the condensing (or lower the evaporating) temperature. Scale: less heat transfer and more pressure
drop at the same flow. Low flow: the flow itself. So the flow must come by a route of its own: one found from
the coil's own pressure drop would explain the drop by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from analysis.flow_routes import FlowResult

COVERAGE = 2.0  # a difference counts when it exceeds twice its standard uncertainty (GUM, about 95 %)


class CoilCondition(StrEnum):
    """What the liquid side of a coil shows."""

    SCALE = "scale"
    LOW_FLOW = "low_flow"
    SCALE_AND_LOW_FLOW = "scale_and_low_flow"
    NEITHER = "neither"
    CANNOT_SAY = "cannot_say"


@dataclass(frozen=True, slots=True)
class Ratio:
    """A measured value over its clean or stated reference, with standard uncertainty [1]."""

    value: float
    u: float

    @property
    def known(self) -> bool:
        """Whether value and uncertainty are both numbers."""
        return bool(np.isfinite(self.value) and np.isfinite(self.u))

    @property
    def below(self) -> bool:
        """Whether it is below 1 by more than its uncertainty."""
        return self.known and self.value + COVERAGE * self.u < 1.0

    @property
    def above(self) -> bool:
        """Whether it is above 1 by more than its uncertainty."""
        return self.known and self.value - COVERAGE * self.u > 1.0

    @property
    def text(self) -> str:
        """The ratio as a person reads it, with the expanded uncertainty."""
        return f"{self.value:.2f} +- {COVERAGE * self.u:.2f} times"


@dataclass(frozen=True, slots=True)
class CoilVerdict:
    """What can be said of a coil, with its reasons."""

    condition: CoilCondition
    reasons: tuple[str, ...]


def scale_or_low_flow(
    flow: FlowResult, lowest_flow: float, conductance: Ratio | None, drop: Ratio | None
) -> CoilVerdict:
    """Say whether a coil is scaled, short of flow, both, neither, or that it cannot be said.

    Parameters
    ----------
    flow
        Liquid flow with its route, as single numbers [m3/s].
    lowest_flow
        Lowest flow that the unit card allows [m3/s].
    conductance
        UA over the clean UA at this same flow (:func:`analysis.coil.ua_at_flow`).
    drop
        Coil pressure drop over the drop stated for this same flow.

    Returns
    -------
    CoilVerdict
        Scale needs both signs, less conductance and more drop: less conductance alone can be air in the
        refrigerant or surplus charge, more drop alone can be debris.

    Examples
    --------
    The bakery as found: timed container, UA 0.61 and drop 1.63 times the clean coil's.

    >>> from analysis.flow_routes import flow_from_timed_container
    >>> flow = flow_from_timed_container([0.018927] * 3, [50.0, 50.2, 49.9], u_volume=2e-4, u_time=0.5)
    >>> verdict = scale_or_low_flow(flow, 3.15e-4, Ratio(0.61, 0.04), Ratio(1.63, 0.10))
    >>> verdict.condition.value
    'scale'
    >>> verdict.reasons[1]
    'conductance is 0.61 +- 0.08 times the clean coil'
    """
    cannot = CoilCondition.CANNOT_SAY
    q_v, u = float(flow.q_v), float(flow.u)
    route = flow.route.value.replace("_", " ")
    if not flow.route.independent_of_coil:
        return CoilVerdict(
            cannot,
            (
                f"the flow was found by {route}, which cannot also judge the coil: "
                "use a meter, a timed container or an energy balance",
            ),
        )
    if not (np.isfinite(q_v) and np.isfinite(u) and np.isfinite(lowest_flow) and lowest_flow > 0):
        return CoilVerdict(cannot, ("the flow, its uncertainty or its lowest limit is not known",))
    low = Ratio(q_v / lowest_flow, u / lowest_flow)
    reasons = [f"flow by {route} is {low.text} the lowest stated"]
    missing = []
    for name, ratio, reference in (
        ("conductance", conductance, "the clean coil"),
        ("pressure drop", drop, "that stated for this flow"),
    ):
        if ratio is not None and ratio.known:
            reasons.append(f"{name} is {ratio.text} {reference}")
        else:
            missing.append(f"{name} against {reference} is missing")
    weak, tight = (ratio is not None and ratio for ratio in (conductance, drop))
    scaled = bool(weak and weak.below and tight and tight.above)
    if scaled:
        condition = CoilCondition.SCALE_AND_LOW_FLOW if low.below else CoilCondition.SCALE
    elif missing:
        # Low flow is a fact by itself; that the coil is clean is not.
        condition = CoilCondition.LOW_FLOW if low.below else cannot
        reasons += missing
    elif bool(weak and weak.below) != bool(tight and tight.above):
        condition = CoilCondition.LOW_FLOW if low.below else cannot
        reasons.append("of the two signs of scale only one is there: look for another cause as well")
    else:
        condition = CoilCondition.LOW_FLOW if low.below else CoilCondition.NEITHER
    return CoilVerdict(condition, tuple(reasons))
