"""The audit finds nothing in the program's own scenes, and everything that is put into one on purpose."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.desktop.audit import audit
from logger.desktop.audit_all import audit_all
from logger.desktop.drawing import Choices, draw
from logger.desktop.scene import Box, Item, Path, Rect, Role, Scene, Target, Text
from logger.desktop.staged import stage

BASE = Scene(
    "levels", (Text(100, 100, "superheat", 18, True), Text(100, 140, "5.8 K", 22, True, of="superheat"))
)


def test_no_view_of_any_staged_moment_has_a_fault() -> None:
    faults, count = audit_all()
    assert [str(fault) for fault in faults] == []
    assert count > 400


def _with(*items: Item, **changes: object) -> Scene:
    return replace(BASE, items=(*BASE.items, *items), **changes)  # type: ignore[arg-type]


SEEDED = {
    "too small": _with(Text(300, 300, "small", 14)),
    "letter not in the font": _with(Text(300, 300, "Łódź", 18)),
    "cut off": _with(Text(1250, 300, "leaves the canvas", 18)),
    "overlap": _with(Text(104, 142, "over it", 18)),
    "struck through": _with(Path(((90, 132), (300, 132)), name="rule")),
    "weak contrast": _with(Text(300, 300, "faint", 18, role=Role.HAIRLINE)),
    "number without a unit": _with(Text(300, 300, "5.8", 22, of="subcooling")),
    "unit of another preset": _with(Text(300, 300, "10.4 °F", 22, of="subcooling")),
    "value that is missing": _with(missing=frozenset({"superheat"})),
    "touch too small": _with(targets=(Target(Rect(0, 0, 40, 40), "mark"),)),
    "colour without a cause": _with(
        Box(Rect(300, 300, 20, 26), Role.OUT, of="subcooling", name="value block")
    ),
}


@pytest.mark.parametrize("kind", SEEDED)
def test_a_seeded_fault_is_found(kind: str) -> None:
    assert kind in {fault.kind for fault in audit(SEEDED[kind])}


def test_the_base_of_the_seeded_scenes_is_clean() -> None:
    assert audit(BASE) == []


@pytest.mark.parametrize("gone", ["slab", "arrow"])
def test_a_high_value_without_slab_or_arrow_is_colour_alone(gone: str) -> None:
    present, history = stage("as-found")
    scene = draw(present, history, Choices())
    assert any(flag.symbol == "subcooling" for flag in scene.flags)
    kept = tuple(
        item for item in scene.items
        if not (isinstance(item, Box | Path) and item.name == gone and item.of == "subcooling")
    )  # fmt: skip
    assert "colour alone" in {fault.kind for fault in audit(replace(scene, items=kept))}


def test_weak_marks_are_found_in_the_sun_as_well() -> None:
    scene = _with(Path(((0, 0), (10, 10)), Role.SLAB_TEXT))
    assert "weak contrast" in {fault.kind for fault in audit(scene, "sun")}


@pytest.mark.parametrize("lost", ["suction_temperature", "suction_pressure", "discharge_pressure"])
@pytest.mark.parametrize("view", ["levels", "far", "trends", "devices"])
def test_nothing_is_shown_that_rests_on_a_lost_point(lost: str, view: str) -> None:
    name = {"suction_temperature": "dropout", "suction_pressure": "pressure-lost"}.get(lost, "all-lost")
    present, history = stage(name)
    assert lost in present.missing
    scene = draw(present, history, Choices(view=view))
    shown = {text.of for text in scene.texts}
    assert not shown & present.missing


def test_static_texts_stand_in_the_same_place_in_every_steady_moment() -> None:
    def places(name: str) -> set[tuple[str, float, float]]:
        present, history = stage(name)
        scene = draw(present, history, Choices())
        names = {
            "superheat", "subcooling", "freeze margin", "brine drop", "approach", "load rise", "MARK NOW",
            "What the readings support", "compressor", "brine pump", "heat to load",
        }  # fmt: skip
        return {(t.text, t.x, t.y) for t in scene.texts if t.text in names and t.x < 940}

    assert places("as-found") == places("as-left") == places("start") == places("dropout")
