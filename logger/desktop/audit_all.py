"""The audit over every view of every made-up moment, in every look and both presets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from analysis.presets import PresetName
from logger.desktop import staged
from logger.desktop.audit import VisibleFault, in_a_look, in_any_look
from logger.desktop.drawing import Choices, draw
from logger.desktop.looks import LOOKS
from logger.desktop.present import Present
from logger.desktop.scene import Scene
from logger.desktop.scene_find import find_scene
from logger.desktop.scene_match import match_scene
from logger.desktop.scene_report import report_scene
from logger.desktop.scene_session import session_scene
from logger.desktop.scene_typed import typed_scene
from logger.desktop.staged import stage
from logger.desktop.staged_electrical import electrical_scenes
from logger.desktop.staged_find import staged_finds
from logger.desktop.staged_match import staged_matches
from logger.desktop.staged_pages import staged_compare, staged_reports, staged_sessions
from logger.desktop.staged_typed import staged_typed


def audit_all(presets: Sequence[PresetName] = ("si", "us")) -> tuple[list[VisibleFault], int]:
    """Look every view of every staged moment through, in every look and both presets.

    Returns
    -------
    faults : list of VisibleFault
    count : int
        How many scenes were looked through.
    """
    faults: list[VisibleFault] = []
    count = 0
    choices = [Choices(view=view) for view in ("levels", "far", "trends", "devices", "compare", "cycle")]
    choices += [
        Choices(view="devices", choosing=True),
        Choices(view="devices", joining="gauges/suction_pressure"),
        Choices(view="compare", page=1),
    ]
    for preset in presets:
        for moment in staged.STAGES:
            present, history = stage(moment, preset)
            page = staged_compare(moment, preset)
            for chosen in choices:
                scene = draw(present, history, chosen, page=page)
                name = f"{chosen.view} {moment} {preset}"
                faults += in_any_look(scene, name)
                for look in LOOKS:
                    count += 1
                    faults += in_a_look(scene, look, f"{name} {look}")
            for kind in ("review", "simulated", "idle"):
                count += 1
                scene = draw(replace(present, kind=kind), history, Choices(view="devices"))
                faults += in_any_look(scene, f"devices {kind} {moment} {preset}")
        for typed in (*(staged_typed(preset, digits=d) for d in (None, "", "-", "888888", "-9.9")), None):
            count += 1
            shown = typed_scene(typed[0], typed[1]) if typed else typed_scene(Present(preset=preset), None)
            name = f"typed {preset} {typed[1].digits if typed else 'none'}"
            faults += [
                *in_any_look(shown, name),
                *in_a_look(shown, "dark", name),
                *in_a_look(shown, "sun", name),
            ]
        for moment in ("as-found", "no-device", "long-names", "cooling", "no-refrigerant"):
            present, history = stage(moment, preset)
            present = replace(present, kind="review")
            for name, session in staged_sessions(present, preset).items():
                count += 1
                shown = session_scene(present, history, session)
                faults += _in_every_look(shown, f"session {name} {moment} {preset}")
        for name, match in staged_matches(preset).items():
            count += 1
            shown = match_scene(Present(preset=preset), match)
            faults += _in_every_look(shown, f"match {name} {preset}")
        for name, report in staged_reports(preset).items():
            count += 1
            shown = report_scene(Present(preset=preset), report)
            faults += _in_every_look(shown, f"report {name} {preset}")
        for name, finding in staged_finds(preset).items():
            count += 1
            shown = find_scene(Present(preset=preset, kind="idle"), finding)
            faults += _in_every_look(shown, f"find {name} {preset}")
        for scene_name, scene in electrical_scenes(preset):
            count += 1
            faults += in_any_look(scene, scene_name)
            for look in LOOKS:
                faults += in_a_look(scene, look, f"{scene_name} {look}")
    return faults, count


def _in_every_look(scene: Scene, where: str) -> list[VisibleFault]:
    """Look for what no look changes, and then through each look."""
    found = list(in_any_look(scene, where))
    for look in LOOKS:
        found += in_a_look(scene, look, f"{where} {look}")
    return found
