"""The cycle view: states in their place, distances with their values, words where something is missing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.saturation import refrigerant
from logger.desktop.cycle_chart import PLOT, chart_of
from logger.desktop.drawing import Choices, draw
from logger.desktop.scene import Box, Path, Scene
from logger.desktop.staged import stage


def _scene(name: str, preset: str = "si") -> Scene:
    present, history = stage(name, preset)  # type: ignore[arg-type]
    return draw(present, history, Choices(view="cycle"))


def _words(scene: Scene) -> str:
    return "\n".join(text.text for text in scene.texts)


def _named(scene: Scene, name: str) -> list[Box | Path]:
    return [item for item in scene.items if isinstance(item, Box | Path) and item.name == name]


def test_the_circuit_of_the_hall_is_drawn_with_its_distances() -> None:
    scene = _scene("as-found")
    assert len(_named(scene, "state")) == 4
    lines = [item for item in _named(scene, "circuit") if isinstance(item, Path)]
    assert [line.dashed for line in lines] == [False, False, True, False]
    assert "superheat 5.8 K" in _words(scene)
    assert "subcooling 11.5 K" in _words(scene)
    assert "mean of the last minute, steady" in _words(scene)
    assert "assumed as the liquid, not measured" in _words(scene)


def test_a_distance_ends_on_the_dome_and_on_the_state() -> None:
    scene, chart = _scene("as-found"), chart_of("R410A")
    assert chart is not None
    present, _ = stage("as-found")
    distance = next(i for i in _named(scene, "distance") if isinstance(i, Path) and i.of == "superheat")
    curve = refrigerant("R410A")
    p = present.value("suction_pressure")
    x, _ = chart.place(float(curve.h_dew(p)), p)
    assert distance.points[0][0] == pytest.approx(x, abs=0.5)
    state = next(i for i in _named(scene, "state") if isinstance(i, Box) and i.of == "suction_temperature")
    assert distance.points[1][0] == pytest.approx(state.rect.x + 6, abs=0.5)


def test_axes_stand_still_whatever_is_measured() -> None:
    def axes(name: str) -> list[tuple[str, float, float]]:
        texts = [t for t in _scene(name).texts if t.x < PLOT.x or PLOT.bottom < t.y < PLOT.bottom + 40]
        return [(t.text, t.x, t.y) for t in texts if t.y > PLOT.y]

    assert axes("as-found") == axes("as-left")


@pytest.mark.parametrize(
    ("name", "states", "words"),
    [
        ("dropout", 2, "suction line silent 0:47"),
        ("pressure-lost", 2, "suction pressure silent 0:47"),
        ("all-lost", 0, "discharge pressure silent 0:47"),
        ("wrong-refrigerant", 3, "not above its dew temperature"),
        ("no-refrigerant", 0, "refrigerant not declared"),
        ("no-device", 0, "no reading yet"),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_drawn_from_it(name: str, states: int, words: str) -> None:
    scene = _scene(name)
    assert len(_named(scene, "state")) == states
    assert words in _words(scene)


def test_american_units_are_psig_and_btu_per_pound() -> None:
    words = _words(_scene("cooling", "us"))
    assert "185.5 Btu/lb" in words
    assert "superheat 13.0 °F" in words
    assert "bar" not in words
    assert "kJ" not in words


def test_a_refrigerant_without_enthalpy_is_named() -> None:
    present, history = stage("as-found")
    assert present.newest is not None
    own = replace(present.newest, settings=replace(present.newest.settings, refrigerant="leaflet blend"))
    scene = draw(replace(present, newest=own), history, Choices(view="cycle"))
    assert "no enthalpy of leaflet blend" in _words(scene)
