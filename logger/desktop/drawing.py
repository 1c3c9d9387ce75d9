"""Which scene belongs to which view, and what the person has chosen in each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.timeline import Event
from logger.desktop.axis import Axis
from logger.desktop.history import History
from logger.desktop.present import Present
from logger.desktop.scene import Scene
from logger.desktop.scene_devices import devices_scene
from logger.desktop.scene_far import far_scene
from logger.desktop.scene_levels import levels_scene
from logger.desktop.scene_trends import TrendWindow, trends_scene

if TYPE_CHECKING:
    from logger.desktop.electrical_page import ElectricalPage
    from logger.desktop.find_page import FindPage
    from logger.desktop.match_page import MatchPage
    from logger.desktop.scene_compare import ComparePage
    from logger.desktop.scene_report import ReportPage
    from logger.desktop.scene_session import SessionPage
    from logger.desktop.typed_page import TypedPage


@dataclass(frozen=True, slots=True)
class Choices:
    """What the person has chosen on the screen; nothing of it is stored."""

    view: str = "levels"
    far_gap: str = ""
    choosing: bool = False
    """Whether channels are offered for joining."""
    joining: str = ""
    """The channel that waits for its measuring point."""
    page: int = 0
    span_s: float = 0.0
    """Length of the trends' window; 0 for the whole session."""
    centre_us: int | None = None
    lanes: tuple[str, ...] = ()


def draw(
    present: Present,
    history: History,
    choices: Choices,
    axis: Axis | None = None,
    events: Sequence[Event] = (),
    page: ComparePage | None = None,
    typed: TypedPage | None = None,
    report: ReportPage | None = None,
    session: SessionPage | None = None,
    labels: Mapping[str, float] | None = None,
    electrical: ElectricalPage | None = None,
    finding: FindPage | None = None,
    matching: MatchPage | None = None,
) -> Scene:
    """Draw the chosen view."""
    match choices.view:
        case "far":
            return far_scene(present, choices.far_gap)
        case "trends":
            window = TrendWindow(choices.span_s, choices.centre_us, choices.lanes)
            return trends_scene(present, history, window, events)
        case "compare":
            from logger.desktop.scene_compare import compare_scene  # loads what reads sessions

            return compare_scene(present, page, choices.page)
        case "cycle":
            from logger.desktop.scene_cycle import cycle_scene

            return cycle_scene(present, history)
        case "session":
            from logger.desktop.scene_session import session_scene

            return session_scene(present, history, session)
        case "report":
            from logger.desktop.scene_report import report_scene

            return report_scene(present, report)
        case "typed":
            from logger.desktop.scene_typed import typed_scene

            return typed_scene(present, typed)
        case "electrical":
            from logger.desktop.scene_electrical import electrical_scene

            return electrical_scene(present, electrical)
        case "shorts":
            from logger.desktop.scene_shorts import shorts_scene

            return shorts_scene(present, electrical)
        case "devices" if finding is not None:
            from logger.desktop.scene_find import find_scene

            return find_scene(present, finding)
        case "devices" if matching is not None:
            from logger.desktop.scene_match import match_scene

            return match_scene(present, matching)
        case "devices":
            return devices_scene(
                present, choosing=choices.choosing, joining=choices.joining, page=choices.page
            )
        case _:
            return levels_scene(present, axis, labels)
