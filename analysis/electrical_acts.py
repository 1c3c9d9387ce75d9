"""What to do next after a chain of readings, each act with the condition in which it is safe."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.electrical import ChainPoint
from analysis.electrical_chain import SHORTED_OR_LOADED, Kind, Loss, Read
from analysis.finding_acts import Act, Safe

_LICENSED = "if licensed, live volts"


def acts_to_check() -> tuple[Act, ...]:
    """Advise after an impossible order of volts."""
    return (
        Act(f"{_LICENSED}: prove the meter, then read the questioned points again", Safe.STOPPED),
        Act(
            "look for a second supply or a feed from behind; until found, all of it is live",
            Safe.STOPPED,
        ),
    )


def acts_to_read(points: Sequence[ChainPoint], rest: Read, load: Read) -> tuple[Act, ...]:
    """Advise which point to read next where nothing is lost so far."""
    furthest = max((index for index, _ in (*rest, *load)), default=-1)
    if furthest + 1 < len(points):
        return (Act(f"{_LICENSED}: read {points[furthest + 1].shown}", Safe.STOPPED),)
    if not load:
        return (Act(f"{_LICENSED}: read the chain again under load", Safe.WHILE_RUNNING),)
    return ()


def acts_after_loss(loss: Loss) -> tuple[Act, ...]:
    """Advise after a loss: what proves the part, and what must not be fitted yet."""
    if loss.kind is Kind.NO_CALL:
        return (Act("set the thermostat to call, wait for its delay, then read again", Safe.STOPPED),)
    acts: list[Act] = []
    if SHORTED_OR_LOADED in loss.parts:
        acts += [
            Act("lift the transformer's secondary leads for a reading without them", Safe.ISOLATED),
            Act(f"{_LICENSED}: with the leads lifted and held apart, read the secondary", Safe.STOPPED),
            Act("fit no transformer and no fuse before every branch is measured", Safe.ISOLATED),
        ]
    elif loss.kind is Kind.TAP:
        acts.append(Act("connect the transformer's primary for the supply as its label says", Safe.ISOLATED))
    elif loss.named == "control fuse":
        acts += [
            Act("measure the fuse; it blew for a reason: measure every branch first", Safe.ISOLATED),
            Act("fit no fuse before every branch is measured, and never a larger one", Safe.ISOLATED),
        ]
    elif loss.named == "the unit's own control":
        acts.append(
            Act("read the control's fault display and count of stops before it is reset", Safe.STOPPED)
        )
    elif loss.named:
        acts.append(Act(f"measure {loss.named}: continuity, joints, heat marks", Safe.ISOLATED))
        acts.append(Act("bridge no safety to make the machine run", Safe.STOPPED))
    elif loss.reason.startswith("whether"):
        asked = loss.reason.removesuffix(" is not read").removesuffix(" is not stated")
        acts.append(Act(f"find out {asked}, if licensed where that is live volts", Safe.STOPPED))
    else:
        acts.append(Act(f"{_LICENSED}: read the points between", Safe.STOPPED))
    return tuple(acts)
