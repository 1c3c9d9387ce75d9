"""The status file: whole at every moment, says how storing stands, and never stops a recording."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from logger.errors import NotAvailableError
from logger.session import Session
from logger.status_file import StatusFile, begin_status
from logger.verify import verify
from logger.watch import Watch
from tests.drivers.peers.lines import PROFILE, line
from tests.drivers.peers.ports import FakePort
from tests.logger.test_record import SETUP
from tests.logger.watched import Bench

ROOT = Path(__file__).parents[2]


def test_it_is_whole_whenever_it_is_read(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "s", Watch())
    path = tmp_path / "status.json"
    begin_status(path)
    assert json.loads(path.read_text())["state"] == "starting"
    seen = set()
    with StatusFile(path, bench.engine, tmp_path / "s", every_s=0.001):
        end = time.monotonic() + 1.0
        while time.monotonic() < end:
            bench.clock.on(0.1)
            bench.give(ts=1.0, ps=5.0)
            bench.tick()
            facts = json.loads(path.read_text())
            seen.add(facts.get("elapsed"))
            assert facts["state"] in ("starting", "recording")
    facts = json.loads(path.read_text())
    assert facts["state"] == "ended"
    assert facts["watch"]["received"] == len(bench.sent)
    assert facts["storing"]["trouble"] is None
    assert len(seen) > 3
    bench.end()


def test_a_fault_is_said_and_a_refusing_disk_stops_nothing(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "s")
    path = tmp_path / "gone" / "status.json"
    path.parent.mkdir()
    with pytest.raises(ZeroDivisionError), StatusFile(path, bench.engine, tmp_path / "s"):
        raise ZeroDivisionError
    assert json.loads(path.read_text())["state"] == "failed"
    path.unlink()
    path.parent.rmdir()
    with StatusFile(path, bench.engine, tmp_path / "s", every_s=0.001):
        time.sleep(0.05)
    with pytest.raises(NotAvailableError, match="status file"):
        begin_status(path)
    bench.end()


def test_a_watch_by_command_with_status_ended_by_a_signal(tmp_path: Path) -> None:
    (tmp_path / "board.toml").write_text(PROFILE)
    (tmp_path / "setup.toml").write_text(SETUP.format(link=tmp_path / "probe"))
    port = FakePort(tmp_path / "probe")
    command = [
        sys.executable, "-m", "logger", "record", str(tmp_path / "setup.toml"), "--out", str(tmp_path / "s"),
        "--watch", "--quiet", "--status", str(tmp_path / "status.json"),
    ]  # fmt: skip
    with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, stdout=subprocess.PIPE) as recording:
        try:
            begun = time.monotonic()
            number = 0
            while time.monotonic() - begun < 8.0:
                port.send(line(number) + b"\r\n")
                number += 1
                time.sleep(0.05)
        finally:
            recording.terminate()
            _, errors = recording.communicate(timeout=20)
    assert recording.returncode == 0, errors
    facts = json.loads((tmp_path / "status.json").read_text())
    assert facts["state"] == "ended"
    assert facts["watch"]["received"] == facts["watch"]["stored"] + facts["watch"]["left_out"]
    assert facts["watch"]["left_out"] > facts["watch"]["stored"] > 4
    session = Session.open(tmp_path / "s")
    assert session.descriptor.rows == facts["watch"]["stored"]
    assert verify(tmp_path / "s") == []
    assert b"Traceback" not in errors
