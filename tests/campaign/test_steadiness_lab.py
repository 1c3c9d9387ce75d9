"""The whole curve on the chiller logs: settled ends called steady against ramps called steady."""

from __future__ import annotations

import dataclasses
import time

import numpy as np
import pytest

from analysis.signals import SIGNALS
from analysis.verdict import State
from tests.campaign.record import record
from tests.campaign.steadiness_lab import LOGS, STEP_ROWS, fold, label, read_log, score
from tests.published.measured import measured

SCALES = (0.35, 0.5, 0.7, 0.85, 1.0, 1.2, 1.5, 2.0, 3.0, 5.0)
"""All limits of slopes times this."""


@pytest.mark.campaign
def test_the_whole_curve(monkeypatch: pytest.MonkeyPatch) -> None:
    began = time.monotonic()
    logs = {name: read_log(measured(name)) for name in LOGS}
    labels = {name: label(log) for name, log in logs.items()}
    own = dict(SIGNALS)
    curve = []
    for scale in SCALES:
        for name, limit in own.items():
            wider = dataclasses.replace(limit, slope_per_s=limit.slope_per_s * scale)
            monkeypatch.setitem(SIGNALS, name, wider)
        curve.append({"scale": scale} | score({n: _steady(log) for n, log in logs.items()}, labels))
    record("steadiness-rp1043", 0, time.monotonic() - began, {"curve": curve})
    at_one = curve[SCALES.index(1.0)]
    assert at_one["false, not tuned on"] < 0.02


def _steady(log: dict[str, np.ndarray]) -> np.ndarray:
    states = np.concatenate([r.judgement.overall.state for r in fold(log)])
    return np.asarray(states[::STEP_ROWS][: log["t_s"].size] == State.STEADY)
