"""Every touch by keyboard: a ring goes from key to key, and Enter does what a touch there would do."""

from __future__ import annotations

from dataclasses import replace

from logger.desktop.scene import Box, Rect, Role, Scene

_PASSED_OVER = ("moment", "look", "far")
"""Acts that have keys of their own: arrows, T and F."""


def next_act(scene: Scene, act: str, way: int) -> str:
    """Give the act that the ring goes to.

    Parameters
    ----------
    act
        Where the ring is; empty where there is none yet.
    way
        1 for the next key, -1 for the one before.

    Examples
    --------
    >>> from logger.desktop.scene import Target
    >>> keys = Scene("x", (), (Target(Rect(0, 0, 9, 9), "mark"), Target(Rect(9, 0, 9, 9), "undo")))
    >>> next_act(keys, "", 1), next_act(keys, "mark", 1), next_act(keys, "mark", -1)
    ('mark', 'undo', 'undo')
    """
    acts = list(dict.fromkeys(t.act for t in scene.targets if t.act.split(" ")[0] not in _PASSED_OVER))
    if not acts:
        return ""
    if act not in acts:
        return acts[0 if way > 0 else -1]
    return acts[(acts.index(act) + way) % len(acts)]


def with_ring(scene: Scene, act: str) -> Scene:
    """Draw the ring round the target of an act; a scene without that act stays as it is."""
    target = next((t for t in scene.targets if t.act == act), None) if act else None
    if target is None:
        return scene
    rect = target.rect
    ring = Rect(rect.x - 3, rect.y - 3, rect.w + 6, rect.h + 6)
    return replace(
        scene, items=(*scene.items, Box(ring, edge=Role.TEXT, px=3, radius=3, dashed=True, name="ring"))
    )
