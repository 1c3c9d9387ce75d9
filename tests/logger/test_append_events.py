"""Corrections after the end: the session stays in order, readings and old lines stay as they are."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.timeline import Event, timeline
from logger.append_events import append_events
from logger.archive import ARCHIVE
from logger.events import EVENTS
from logger.recover import recover
from logger.session import Session
from logger.session_errors import DamagedSessionError, SessionError, StillRecordingError
from logger.verify import verify
from tests.logger.session_factory import begin, broken_off, recorded, regular_rows

SWAPPED = Event(0, 1_768_400_000_000_000, "assign", "water/in", "source_leaving_temperature")


def test_a_correction_keeps_everything_in_order(tmp_path: Path) -> None:
    folder = recorded(tmp_path / "s", regular_rows(20), part_s=10)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    for _ in range(2):
        append_events(folder, [SWAPPED])
        assert verify(folder) == []
        assert not recover(folder).changed
    after = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert after[EVENTS].startswith(before[EVENTS])
    assert all(after[name] == before[name] for name in ("readings.csv", "readings-0002.csv", ARCHIVE))
    session = Session.open(folder)
    assert timeline(session.events, "assign", "water/in") == [(0, "source_leaving_temperature")]
    assert [batch.ids for batch in session.rows_of("water/in")] == [("water/in",)]  # still from the archive


def test_it_waits_for_the_end_and_for_recovery(tmp_path: Path) -> None:
    writer = begin(tmp_path / "growing")
    with pytest.raises(StillRecordingError):
        append_events(tmp_path / "growing", [SWAPPED])
    writer.close("done")
    with pytest.raises(SessionError, match="broken off; run recover"):
        append_events(broken_off(tmp_path / "broken", regular_rows(2)), [SWAPPED])
    damaged = recorded(tmp_path / "damaged", regular_rows(2))
    with (damaged / "readings.csv").open("ab") as file:
        file.write(b"torn")
    content = (damaged / EVENTS).read_bytes()
    with pytest.raises(DamagedSessionError, match=r"readings\.csv, line 8: the last line is torn"):
        append_events(damaged, [SWAPPED])
    assert (damaged / EVENTS).read_bytes() == content


def test_a_stop_that_the_recorder_wrote_is_not_written_twice(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s")
    writer.note("stop", "", "by hand", from_us=5)
    writer.close("done")
    assert [(e.t_us, e.text) for e in Session.open(tmp_path / "s").events if e.kind == "stop"] == [
        (5, "by hand")
    ]
