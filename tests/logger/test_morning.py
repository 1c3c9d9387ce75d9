"""What happened over night: counts are the events' own, and what moved before a stop is listed in order."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from logger.cli import main
from logger.watch import Watch
from logger.watch_file import WatchOptions
from tests.logger.watched import Bench

NIGHT = WatchOptions(
    bands={"suction_pressure": (600_000.0, 780_000.0, None), "suction_temperature": (270.0, 280.0, None)}  # type: ignore[dict-item]
)


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Suction pressure falls, then suction temperature, then the machine stops; a probe is silent."""
    folder = tmp_path_factory.mktemp("night") / "s"
    bench = Bench(folder, Watch(NIGHT))
    for second in range(400):
        bench.clock.on(1.0)
        values = {"ps": 5.86, "ts": 0.6, "power": 2.96, "v": 229.0}
        if second >= 200:
            values["ps"] = 4.0
        if second >= 206:
            values["ts"] = -12.0
        if second >= 235:
            values["power"] = 0.0
        if 300 <= second < 340:
            del values["ts"]
        bench.give(**values)
        bench.tick()
    bench.end()
    return folder


def test_first_movers_before_a_stop(night: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["morning", str(night), "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    (stop,) = facts["stops"]
    assert stop["at"] == pytest.approx(236.0, abs=1.0)
    assert [mover["point"] for mover in stop["moved_before"]] == ["suction_pressure", "suction_temperature"]
    assert stop["moved_before"][0]["ahead"] == pytest.approx(35.0, abs=1.0)
    assert facts["dropouts"]["board/ts"] == {"count": 1, "seconds": 41.0}
    assert facts["starts"] == []
    assert facts["readings"] + facts["left_out"] == 400 * 4 - 40
    assert facts["ended"] == "done"


def test_as_text(night: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["morning", str(night)]) == 0
    text = capsys.readouterr().out
    assert "before the stop at 3:56" in text
    assert text.index("suction_pressure leaves") < text.index("suction_temperature leaves")
    assert "board/ts: 1, in all 0:41" in text


def test_without_a_watch_no_stop_is_denied(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bench = Bench(tmp_path / "s", None)
    for second in range(60):
        bench.clock.on(1.0)
        bench.give(ps=5.86, ts=0.6, power=2.96 if second < 30 else 0.0, v=229.0)
        bench.tick()
    bench.end()
    assert main(["morning", str(tmp_path / "s")]) == 0
    text = capsys.readouterr().out
    assert "none seen" not in text
    assert "evenrun analyse" in text
    assert main(["morning", str(tmp_path / "s"), "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert (facts["watched"], facts["starts"], facts["stops"]) == (False, None, None)


def test_what_is_no_session_is_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["morning", str(tmp_path / "none")]) == 4
    assert len(capsys.readouterr().err.splitlines()) == 1
