"""The audit over every view of every made-up moment, in every look and both presets."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.presets import PresetName
from logger.desktop import staged
from logger.desktop.audit import VisibleFault, in_a_look, in_any_look
from logger.desktop.drawing import Choices, draw
from logger.desktop.looks import LOOKS
from logger.desktop.present import Present
from logger.desktop.scene_typed import typed_scene
from logger.desktop.staged import stage
from logger.desktop.staged_electrical import electrical_scenes
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
    choices = [Choices(view=view) for view in ("levels", "far", "trends", "devices")]
    choices += [
        Choices(view="devices", choosing=True),
        Choices(view="devices", joining="gauges/suction_pressure"),
    ]
    for preset in presets:
        for moment in staged.STAGES:
            present, history = stage(moment, preset)
            for chosen in choices:
                scene = draw(present, history, chosen)
                name = f"{chosen.view} {moment} {preset}"
                faults += in_any_look(scene, name)
                for look in LOOKS:
                    count += 1
                    faults += in_a_look(scene, look, f"{name} {look}")
        for typed in (*(staged_typed(preset, digits=d) for d in (None, "", "-", "888888", "-9.9")), None):
            count += 1
            shown = typed_scene(typed[0], typed[1]) if typed else typed_scene(Present(preset=preset), None)
            name = f"typed {preset} {typed[1].digits if typed else 'none'}"
            faults += [
                *in_any_look(shown, name),
                *in_a_look(shown, "dark", name),
                *in_a_look(shown, "sun", name),
            ]
        for scene_name, scene in electrical_scenes(preset):
            count += 1
            faults += in_any_look(scene, scene_name)
            for look in LOOKS:
                faults += in_a_look(scene, look, f"{scene_name} {look}")
    return faults, count
