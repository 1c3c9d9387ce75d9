from __future__ import annotations

import math
import random

import pytest

from drivers.plant.faults import Faults
from drivers.plant.lines import CHANNELS
from drivers.plant.sensors import Dropout, Probe, Sensors, built_probes
from drivers.plant.simulation import simulate
from drivers.plant.stories import STORIES

TRUE = {"ps": 5.1234, "ts": -2.0, "si": 4.0, "so": 0.1, "pw": 3000.4}


def sensors(**probes: Probe) -> Sensors:
    return Sensors({n: probes.get(n, Probe()) for n in TRUE}, random.Random(1))


def test_a_perfect_probe_only_rounds_to_its_resolution() -> None:
    read = sensors().read(1.0, 1.0, TRUE, 20.0, Faults())
    assert read == {"ps": 5.123, "ts": -2.0, "si": 4.0, "so": 0.1, "pw": 3000.0}


def test_a_clamp_errs_towards_the_air() -> None:
    read = sensors(ts=Probe(clamp=0.05)).read(1.0, 1.0, TRUE, 20.0, Faults())
    assert read["ts"] == pytest.approx(-2.0 + 0.05 * 22.0)


def test_lag_follows_exponentially() -> None:
    s = sensors(ts=Probe(lag=10.0))
    s.read(0.0, 1.0, TRUE | {"ts": 0.0}, 20.0, Faults())
    for t in range(1, 11):
        read = s.read(float(t), 1.0, TRUE | {"ts": 10.0}, 20.0, Faults())
    assert read["ts"] == pytest.approx(10.0 * (1.0 - math.exp(-1.0)), abs=0.01)


def test_noise_has_its_spread_and_losses_their_share() -> None:
    s = sensors(ps=Probe(noise=0.02, loss=0.1))
    values = [
        v for t in range(4000) if (v := s.read(float(t), 1.0, TRUE, 20.0, Faults()).get("ps")) is not None
    ]
    mean = sum(values) / len(values)
    assert mean == pytest.approx(TRUE["ps"], abs=0.002)
    assert math.sqrt(sum((v - mean) ** 2 for v in values) / len(values)) == pytest.approx(0.02, rel=0.06)
    assert len(values) / 4000 == pytest.approx(0.9, abs=0.02)


def test_swapped_probes_and_a_fallen_clamp_change_only_the_indication() -> None:
    read = sensors().read(1.0, 1.0, TRUE, 20.0, Faults(swapped=("si", "so")))
    assert (read["si"], read["so"]) == (0.1, 4.0)
    s = sensors()
    for t in range(200):
        read = s.read(float(t), 1.0, TRUE, 20.0, Faults(probe_off="ts"))
    assert read["ts"] == pytest.approx(20.0, abs=0.01)


def test_a_dropout_gives_nothing_and_ends() -> None:
    s = Sensors(
        {"ps": Probe(), "ts": Probe()}, random.Random(1), (Dropout(5.0, 7.0, ("ts",)), Dropout(9.0, 10.0))
    )
    seen = {t: set(s.read(float(t), 1.0, TRUE, 20.0, Faults())) for t in range(12)}
    assert seen[4] == {"ps", "ts"}
    assert seen[5] == seen[6] == {"ps"}
    assert seen[7] == {"ps", "ts"}
    assert seen[9] == set()


def test_what_cannot_be_measured_is_absent() -> None:
    assert "ts" not in sensors().read(1.0, 1.0, TRUE | {"ts": math.nan}, 20.0, Faults())


def test_a_seeds_probes_keep_their_fixed_errors_within_the_declared_uncertainty() -> None:
    probes = {name: Probe(offset=0.0) for name in CHANNELS}
    assert built_probes(probes, 4) == built_probes(probes, 4) != built_probes(probes, 5)
    ratios = [
        built_probes(probes, seed)[name].offset / CHANNELS[name].uncertainty
        for seed in range(40)
        for name in CHANNELS
    ]
    assert sum(abs(r) < 1.0 for r in ratios) / len(ratios) == pytest.approx(0.954, abs=0.02)


def test_readings_agree_with_the_truth_within_what_the_channels_declare() -> None:
    story = STORIES["hall-healthy"]
    row = list(simulate(story.scenario(story.phases[0]), 1500))[-1]
    for name, value in row.readings.items():
        assert abs(value - row.true[name]) < 4.0 * CHANNELS[name].uncertainty, name
