"""Half a million random circuits, two faults each at most, read by a noisy meter: no part is wronged."""

from __future__ import annotations

import time

import pytest

from tests.analysis.electrical_trials import run_trials
from tests.campaign.record import record

pytestmark = pytest.mark.campaign
SEED, COUNT = 20260708, 500_000


def test_no_part_is_wronged() -> None:
    began = time.monotonic()
    outcomes, wrong = run_trials(COUNT, SEED)
    told = {"circuits": COUNT, "wrong": len(wrong), "first": wrong[:5], "outcomes": dict(outcomes)}
    record("electrical-chain", SEED, time.monotonic() - began, told)
    assert not wrong
