"""The full count of simulated start-ups; the ordinary run has fifty of them."""

from __future__ import annotations

import time
from concurrent.futures import ProcessPoolExecutor

import pytest

from tests.campaign.record import record
from tests.campaign.steadiness_starts import hunt, hunts_summary, start, summary

FIRST_SEED, COUNT, HUNTS = 10_000, 1000, 100


@pytest.mark.campaign
def test_thousand_starts() -> None:
    began = time.monotonic()
    with ProcessPoolExecutor(2) as pool:
        starts = list(pool.map(start, range(FIRST_SEED, FIRST_SEED + COUNT), chunksize=10))
    found = summary(starts)
    record("steadiness-starts", FIRST_SEED, time.monotonic() - began, found)
    assert found["starts with rows called steady while superheat was off by more than 0.5 K"] == 0
    assert found["called steady within 5 min of truly being so"] >= 0.95  # type: ignore[operator]
    assert found["coverage of the interval"] >= 0.80  # type: ignore[operator]
    constant = found["interval score of the best constant interval"]
    assert found["interval score"] < constant  # type: ignore[operator]


@pytest.mark.campaign
def test_hundred_hunting_valves() -> None:
    began = time.monotonic()
    with ProcessPoolExecutor(2) as pool:
        found = hunts_summary(list(pool.map(hunt, range(FIRST_SEED, FIRST_SEED + HUNTS), chunksize=10)))
    record("steadiness-hunting", FIRST_SEED, time.monotonic() - began, found)
    assert found["rows of them called steady"] == 0
