"""Labels never overlap, never swap and never leave their window; bands are drawn as specified."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.desktop.axis import choose_axis
from logger.desktop.bands import Band, BandWatch, Judged, Reading, judge
from logger.desktop.gliding import GLIDE_S, Glide
from logger.desktop.placing import ABOVE, NAME, PRESSURE, Wish, place
from logger.desktop.scene import Box, Rect, Sheet
from logger.desktop.shapes import indicator


def test_labels_of_three_thousand_random_sets_neither_overlap_nor_swap_nor_leave() -> None:
    rng = np.random.default_rng(1)
    for _ in range(3000):
        count = int(rng.integers(1, 6))
        top, bottom = 178.0, 178.0 + float(rng.choice([206.0, 230.0, 450.0]))
        heights = np.sort(rng.uniform(top, bottom, count))
        wishes = [Wish(float(y), float(rng.choice([NAME, PRESSURE]))) for y in heights]
        placed = place(wishes, top, bottom)
        assert placed.y[0] - ABOVE >= top - 1e-6
        assert placed.y[-1] + placed.below[-1] <= bottom + 1e-6
        for y, below, following in zip(placed.y, placed.below, placed.y[1:], strict=False):
            assert following - ABOVE >= y + below - 1e-6


def test_far_apart_labels_get_their_wish() -> None:
    assert place([Wish(250.0), Wish(350.0)], 182.0, 402.0).y == (250.0, 350.0)


def test_the_mean_shift_of_a_merged_group_is_zero() -> None:
    placed = place([Wish(290.0), Wish(300.0), Wish(310.0)], 100.0, 500.0)
    assert sum(placed.y) == pytest.approx(900.0)


@given(st.lists(st.floats(250.0, 330.0), min_size=1, max_size=10))
@settings(max_examples=200, deadline=None, derandomize=True)
def test_an_axis_is_always_found_and_parks_what_it_cannot_hold(levels: list[float]) -> None:
    axis = choose_axis(levels)
    for t in levels:
        window, y, beyond = axis.place(t)
        assert window.y <= y <= window.bottom
        assert beyond or window.holds(t)


def test_the_axis_takes_the_largest_scale_that_holds_all() -> None:
    hall = [263.35, 264.95, 270.75, 277.15, 303.15, 308.25, 315.25]
    axis = choose_axis(hall)
    assert (len(axis.windows), axis.px_per_k) == (2, 10.0)
    assert all(axis.place(t)[2] == 0 for t in hall)


@pytest.mark.parametrize(
    ("value", "u", "word"),
    [
        (6.0, 0.2, "in band"),
        (8.9, 0.2, "near limit"),
        (9.4, 0.2, "HIGH"),
        (3.5, 0.2, "LOW"),
        (math.nan, 0.2, "NO VALUE"),
    ],
)
def test_words_of_a_value_and_its_band(value: float, u: float, word: str) -> None:
    assert judge(value, u, Band(4.0, 9.0)).value == word


def test_without_a_band_or_while_settling_nothing_is_judged() -> None:
    assert judge(20.0, 0.1, None) is Judged.NO_BAND
    assert judge(20.0, 0.1, Band(4.0, 9.0), may_be_judged=False) is Judged.NOT_JUDGED


def _run(watch: BandWatch, values: list[float], band: Band) -> list[Judged]:
    return [watch.step(float(t), {"x": Reading(v, 0.0, band, True)})["x"] for t, v in enumerate(values)]


def test_out_of_band_needs_five_seconds_and_clears_with_a_deadband() -> None:
    band = Band(4.0, 8.0)
    shown = _run(BandWatch(), [6.0, 8.5, 8.5, 8.5, 8.5, 8.5, 8.5, 7.8, 7.7, 7.5], band)
    assert [j.value for j in shown[:6]] == ["in band"] + ["near limit"] * 5
    assert shown[6] is Judged.HIGH
    assert shown[7] is Judged.HIGH  # within a tenth of the band of its limit
    assert shown[9] is Judged.IN_BAND


def test_act_now_needs_two_seconds() -> None:
    shown = _run(BandWatch(), [4.0, 1.5, 1.5, 1.5], Band(low=3.0, act_below=2.0))
    assert [j is Judged.ACT for j in shown] == [False, False, False, True]


def test_one_second_out_of_band_raises_nothing() -> None:
    shown = _run(BandWatch(), [6.0, 8.5, 6.0, 6.0, 6.0, 6.0, 6.0, 6.0], Band(4.0, 8.0))
    assert not any(j.abnormal for j in shown)


@pytest.mark.parametrize(("value", "x"), [(4.0, 100.0), (9.0, 200.0), (6.5, 150.0)])
def test_the_band_is_the_middle_third_of_the_track(value: float, x: float) -> None:
    sheet = Sheet()
    indicator(sheet, Rect(0, 50, 300, 26), value, 0.5, Band(4.0, 9.0), Judged.IN_BAND, "superheat")
    allowed = next(i for i in sheet.items if isinstance(i, Box) and i.name == "allowed")
    block = next(i for i in sheet.items if isinstance(i, Box) and i.name == "value block")
    assert (allowed.rect.x, allowed.rect.right) == (100.0, 200.0)
    assert (block.rect.x + block.rect.right) / 2 == pytest.approx(x)
    assert block.rect.w == pytest.approx(2 * 0.5 / 5.0 * 100.0)


def test_a_label_glides_and_the_others_stay() -> None:
    glide = Glide()
    glide.to({"suction": 100.0, "liquid": 300.0}, 0.0)
    glide.to({"suction": 200.0, "liquid": 303.0}, 1.0)
    seen = [glide.at(1.0 + step * GLIDE_S / 10)["suction"] for step in range(11)]
    assert seen == sorted(seen)
    assert (seen[0], seen[-1]) == (100.0, 200.0)
    assert max(b - a for a, b in pairwise(seen)) < 20.0
    assert {glide.at(1.0 + step * GLIDE_S / 10)["liquid"] for step in range(11)} == {303.0}


def test_a_redraw_on_the_way_does_not_hold_a_label_up() -> None:
    glide = Glide()
    glide.to({"suction": 100.0}, 0.0)
    glide.to({"suction": 200.0}, 1.0)
    for step in range(1, 10):
        glide.to({"suction": 200.5}, 1.0 + step * GLIDE_S / 10)
    assert glide.at(1.0 + GLIDE_S)["suction"] == 200.5
    assert not glide.moving(1.0 + 1.01 * GLIDE_S)


def test_without_motion_labels_go_at_once() -> None:
    glide = Glide()
    glide.to({"suction": 100.0}, 0.0)
    glide.to({"suction": 200.0}, 1.0, smooth=False)
    assert glide.at(1.0) == {"suction": 200.0}
    assert not glide.moving(1.0)


def test_a_label_that_turns_back_starts_from_where_it_is() -> None:
    glide = Glide()
    glide.to({"suction": 100.0}, 0.0)
    glide.to({"suction": 200.0}, 1.0)
    half = glide.at(1.0 + GLIDE_S / 2)["suction"]
    glide.to({"suction": 100.0}, 1.0 + GLIDE_S / 2)
    assert glide.at(1.0 + GLIDE_S / 2)["suction"] == pytest.approx(half)
    assert glide.at(1.0 + 2 * GLIDE_S)["suction"] == 100.0
