"""The table says plainly who is better and which goal is missed."""

from __future__ import annotations

import json

import pytest

from tests.bench.__main__ import measure
from tests.bench.table import Row, as_facts, as_text, of_module


@pytest.mark.parametrize(
    ("ratio", "goal", "at_most", "met", "words"),
    [
        (2.0, 1.5, False, True, "ours is better"), (0.3, 0.2, False, True, "THE PEER IS BETTER"),
        (1.0, 1.5, False, False, "as good as the peer"), (2.6, 3.0, True, True, "costs 2.6 times"),
        (3.1, 3.0, True, False, "THE PEER IS BETTER"), (0.0, 0.0, True, True, "ours is better"),
    ],
)  # fmt: skip
def test_a_faster_peer_is_said(ratio: float, goal: float, at_most: bool, met: bool, words: str) -> None:
    row = Row("g", "something", 1.0, 2.0, "ms", ratio, goal, at_most)
    assert row.met is met
    assert words in row.standing
    text = as_text([row], {}, {"other": "OSError: gone"}, quick=True)
    assert words in text
    assert ("MISSED" in text) is not met
    assert "other: not measured: OSError: gone" in text
    assert json.loads(json.dumps(as_facts([row], {}, {}, True)))["rows"][0]["met"] is met


def test_rows_of_the_modules_are_read_by_their_names() -> None:
    found = {"name": "cold look-up, at most", "value": 2.0, "peer": 1.0, "ratio": 2.0, "goal": 5.0}
    row = of_module("g", found)
    assert (row.what, row.at_most, row.met) == ("cold look-up", True, True)


def test_the_trouble_of_one_stops_no_other() -> None:
    rows, told, troubles = measure(["no-such-module", "fleet"], quick=True)
    assert rows == []
    assert list(told) == ["fleet"]
    assert "ModuleNotFoundError" in troubles["no-such-module"]
