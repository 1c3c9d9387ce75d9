"""What is prepared while recording: closing gives the same archive, and no trouble of it costs a reading."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.measure import Quality
from analysis.rows import Rows
from logger import archive_ahead
from logger.archive import ARCHIVE, SCRATCH, read_archive, write_archive
from logger.archive_ahead import Prepared
from logger.descriptor import Descriptor, SessionHeader, read_descriptor
from logger.readings_format import READINGS_HEADER, LineWriter, part_name
from logger.recover import recover
from logger.session_writer import SessionWriter
from logger.sorted_readings import SortedReadings
from logger.verify import verify
from tests.logger.session_factory import CHANNELS, IDS, begin, regular_rows


def rows_out_of_turn(seconds: int) -> Rows:
    """Give readings some of which come late, some without a value."""
    rows, rng = regular_rows(seconds), np.random.default_rng(3)
    late = rng.random(len(rows)) < 0.02
    return Rows(
        rows.ids,
        np.where(late, np.maximum(rows.t_us - 5_000_000, 0), rows.t_us),
        rows.channel,
        np.where(rng.random(len(rows)) < 0.05, np.nan, rows.value),
        np.where(late, int(Quality.LATE), rows.quality).astype(np.uint16),
    )


def record(writer: SessionWriter, rows: Rows) -> None:
    for start in range(0, len(rows), 30):
        writer.add(rows.take(slice(start, start + 30)))


def wait_until_prepared(writer: SessionWriter, parts: int) -> None:
    """Wait for the thread; fails if it never does it."""
    for _ in range(500):
        if writer._ahead.taken >= parts:
            return
        time.sleep(0.01)
    pytest.fail(f"only {writer._ahead.taken} parts are prepared")


@pytest.fixture(autouse=True)
def from_the_first_part_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """Prepare small sessions, too."""
    monkeypatch.setattr(archive_ahead, "LEAST_READINGS", 0)


def test_a_small_session_is_left_for_its_closing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive_ahead, "LEAST_READINGS", 900)
    writer = begin(tmp_path / "s", part_s=100)
    record(writer, regular_rows(150))
    assert writer.flush(60.0)
    assert writer._ahead._thread is None
    record(writer, regular_rows(900).take(slice(450, None)))
    wait_until_prepared(writer, 2)
    assert writer.close("test") == ()
    assert verify(tmp_path / "s") == []


@pytest.fixture
def small_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sort a hundred readings at a time, so that there are many runs."""
    monkeypatch.setattr(SortedReadings.__init__, "__defaults__", (100,))


@pytest.mark.usefixtures("small_runs")
def test_closing_uses_it_and_gives_the_same_archive_to_the_byte(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s", part_s=100)
    record(writer, rows_out_of_turn(350))
    wait_until_prepared(writer, 3)
    assert (writer.folder / SCRATCH).exists()
    assert writer.close("done") == ()
    assert not list(writer.folder.glob(".*"))
    assert verify(writer.folder) == []
    ahead = (writer.folder / ARCHIVE).read_bytes()
    write_archive(writer.folder, read_descriptor(writer.folder))
    assert (writer.folder / ARCHIVE).read_bytes() == ahead


def test_a_part_that_another_program_changed_is_read_anew(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s", part_s=100)
    record(writer, regular_rows(250))
    wait_until_prepared(writer, 2)
    lines = LineWriter({channel.id: channel.unit for channel in CHANNELS})
    with (writer.folder / part_name(1)).open("ab") as file:
        file.write(lines.encode(Rows.of([(99_500_000, IDS[0], 1.5, Quality.OK)], IDS)))
    writer.close("done")
    assert sum(len(rows) for rows in read_archive(writer.folder / ARCHIVE)) == 250 * len(IDS) + 1


@pytest.mark.usefixtures("small_runs")
def test_a_disk_without_room_for_it_costs_nothing_but_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as full:
        full.setattr(SortedReadings, "_store", refuse)
        writer = begin(tmp_path / "s", part_s=100)
        record(writer, regular_rows(250))
        writer.flush()
        writer._ahead._thread.join(10.0)  # type: ignore[union-attr]
        assert not (writer.folder / SCRATCH).exists()
        assert writer.status().trouble is None
    assert writer.close("done") == ()
    assert verify(writer.folder) == []


@pytest.mark.usefixtures("small_runs")
def test_a_process_that_ends_leaves_a_session_that_recover_puts_right(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s", part_s=100)
    record(writer, regular_rows(250))
    wait_until_prepared(writer, 2)
    writer.flush()
    left = (writer.folder / SCRATCH).read_bytes()  # without its footer: of no use to anybody
    writer.abandon()
    assert not (writer.folder / SCRATCH).exists()
    (writer.folder / SCRATCH).write_bytes(left)  # as kill -9 leaves it
    assert recover(writer.folder).rows == 250 * len(IDS)
    assert not (writer.folder / SCRATCH).exists()
    assert verify(writer.folder) == []
    assert not recover(writer.folder).changed


def test_it_serves_only_files_and_channels_that_are_as_they_were_read(tmp_path: Path) -> None:
    lines = LineWriter({channel.id: channel.unit for channel in CHANNELS})
    part = tmp_path / part_name(1)
    part.write_bytes(READINGS_HEADER + lines.encode(regular_rows(5)))
    prepared = Prepared(tmp_path, Descriptor(SessionHeader()))
    prepared.take(part)
    assert prepared.serves([part], Descriptor(SessionHeader()).with_channels(CHANNELS))
    in_other_unit = [replace(CHANNELS[0], unit="degF"), *CHANNELS[1:]]
    assert not prepared.serves([part], Descriptor(SessionHeader()).with_channels(in_other_unit))
    part.write_bytes(part.read_bytes()[:-1])
    assert not prepared.serves([part], Descriptor(SessionHeader()).with_channels(CHANNELS))


@pytest.mark.parametrize("run_rows", [1, 7, 1000])
def test_runs_of_any_length_give_the_same_order(tmp_path: Path, run_rows: int) -> None:
    rows = rows_out_of_turn(60)
    lines = LineWriter({channel.id: channel.unit for channel in CHANNELS})
    part = tmp_path / part_name(1)
    part.write_bytes(READINGS_HEADER + lines.encode(rows))
    readings = SortedReadings({channel.id: channel.unit for channel in CHANNELS}, tmp_path / "runs", run_rows)
    readings.take(part)
    assert readings.channels() == list(IDS)
    for number, name in enumerate(IDS):
        mine = rows.take(rows.channel == number)
        mine = mine.take(np.argsort(mine.t_us, kind="stable"))
        (group,) = readings.groups(name)
        np.testing.assert_array_equal(group.t_us, mine.t_us)
        np.testing.assert_array_equal(group.value, mine.value)
    readings.close()
    assert not (tmp_path / "runs").exists()
