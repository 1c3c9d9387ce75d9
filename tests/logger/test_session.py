"""Writing a session and reading it back."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure import Channel, Quality
from analysis.rows import Rows
from analysis.timeline import timeline
from analysis.units import Quantity
from drivers.clock import FollowedClock
from logger.descriptor import SessionHeader, SessionState
from logger.readings_format import READINGS_HEADER, LineWriter
from logger.readings_reader import BadLine, ReadingsReader
from logger.session import Session
from logger.session_errors import (
    NotASessionError,
    SessionError,
    SessionExistsError,
    StillRecordingError,
    StorageError,
)
from logger.session_lock import lock_session
from logger.session_writer import SessionWriter
from tests.logger.session_factory import (
    CHANNELS,
    IDS,
    SECOND,
    START_UTC_NS,
    any_rows,
    begin,
    recorded,
    regular_rows,
)

UNITS = {channel.id: channel.unit for channel in CHANNELS}


def read_all(path: Path, *, fast: bool, block_bytes: int = 1 << 20) -> tuple[Rows, list[BadLine]]:
    bad: list[BadLine] = []
    reader = ReadingsReader(UNITS, fast=fast, block_bytes=block_bytes)
    batches = list(reader.read(path, bad.append))
    return Rows.concatenate([Rows.empty(IDS), *batches]), bad


@settings(derandomize=True, deadline=None, max_examples=60)
@given(rows=any_rows(), block_bytes=st.sampled_from([16, 100, 1 << 20]), plain=st.booleans())
def test_lines_come_back_to_the_bit(
    tmp_path_factory: pytest.TempPathFactory, rows: Rows, block_bytes: int, plain: bool
) -> None:
    if plain:  # no quotes needed and no negative moments: the quick way takes it
        rows = rows.take((rows.channel != 1) & (rows.t_us >= 0))
    path = tmp_path_factory.mktemp("lines") / "readings.csv"
    path.write_bytes(READINGS_HEADER + LineWriter(UNITS).encode(rows))
    for fast in (True, False):
        got, bad = read_all(path, fast=fast, block_bytes=block_bytes)
        assert bad == []
        assert got.equals(rows)


def test_the_quick_way_takes_what_the_writer_writes() -> None:
    rows = regular_rows(100).take(regular_rows(100).channel != 1)
    assert ReadingsReader(UNITS)._quickly(LineWriter(UNITS).encode(rows)) is not None


@settings(derandomize=True, deadline=None, max_examples=150)
@given(data=st.data())
def test_both_ways_of_reading_agree_on_damaged_files(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    rows = regular_rows(12).take(regular_rows(12).channel != 1)
    content = bytearray(READINGS_HEADER + LineWriter(UNITS).encode(rows))
    for _ in range(data.draw(st.integers(1, 3))):
        where = data.draw(st.integers(0, len(content)))
        length = data.draw(st.integers(0, 12))
        piece = data.draw(
            st.one_of(st.binary(max_size=8), st.sampled_from([b"\n", b"\r\n", b" ", b"\t", b'"', b"-"]))
        )
        content[where : where + length] = piece
    path = tmp_path_factory.mktemp("damaged") / "readings.csv"
    path.write_bytes(bytes(content))
    block_bytes = data.draw(st.sampled_from([64, 1 << 20]))
    quick, quick_bad = read_all(path, fast=True, block_bytes=block_bytes)
    slow, slow_bad = read_all(path, fast=False, block_bytes=block_bytes)
    assert quick.equals(slow)
    assert quick_bad == slow_bad


@settings(derandomize=True, deadline=None, max_examples=60)
@given(cut=st.integers(1, 300))
def test_a_torn_tail_loses_only_the_torn_row(tmp_path_factory: pytest.TempPathFactory, cut: int) -> None:
    rows = regular_rows(20)
    content = READINGS_HEADER + LineWriter(UNITS).encode(rows)
    path = tmp_path_factory.mktemp("torn") / "readings.csv"
    path.write_bytes(content[:-cut])
    whole = content[:-cut].count(b"\n") - 1
    for fast in (True, False):
        got, bad = read_all(path, fast=fast)
        assert got.equals(rows.take(slice(0, whole)))
        assert len(bad) == (0 if content[:-cut].endswith(b"\n") else 1)


def test_a_number_cut_inside_is_not_used(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_bytes(READINGS_HEADER + b"1.000000,water/in,52.3,degC,ok\r\n2.000000,water/in,52.")
    rows, bad = read_all(path, fast=True)
    assert rows.value.tolist() == [52.3]
    assert "torn" in bad[0].reason
    assert bad[0].line == 3


def test_a_value_in_another_unit_is_not_used(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_bytes(
        READINGS_HEADER + b"1.000000,water/in,52.3,degF,ok\r\n2.000000,water/in,11.5,degC,ok\r\n"
    )
    for fast in (True, False):
        rows, bad = read_all(path, fast=fast)
        assert np.isnan(rows.value[0])
        assert Quality(int(rows.quality[0])) == Quality.INVALID
        assert rows.value[1] == 11.5
        assert "degF" in bad[0].reason


def test_garbage_without_line_ends_is_not_collected_in_memory(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    good = b"1.000000,water/in,52.3,degC,ok\r\n"
    path.write_bytes(READINGS_HEADER + good + b"\0" * 300_000 + good + good)
    rows, bad = read_all(path, fast=True, block_bytes=4096)
    assert len(rows) == 2  # the row glued to the zeros is gone
    assert sum(len(piece.content) for piece in bad) == 300_000 + len(good)
    assert {piece.line for piece in bad} == {3}


@settings(derandomize=True, deadline=None, max_examples=15)
@given(rows=any_rows(most=30), batch=st.integers(1, 40))
def test_a_session_comes_back_to_the_bit(
    tmp_path_factory: pytest.TempPathFactory, rows: Rows, batch: int
) -> None:
    folder = recorded(tmp_path_factory.mktemp("s") / "session", rows, batch=batch)
    session = Session.open(folder)
    assert Rows.concatenate([Rows.empty(IDS), *session.rows()]).equals(rows)
    assert session.channels == CHANNELS
    assert session.state is SessionState.CLOSED
    assert session.header.utc_start_us == START_UTC_NS // 1000
    assert session.descriptor.rows == len(rows)
    assert [event.kind for event in session.events] == ["clock", "stop"]


def test_one_file_for_each_hour_and_late_rows_stay_in_the_order_of_arrival(tmp_path: Path) -> None:
    early = regular_rows(3)
    late = Rows.of([(2 * SECOND, "water/in", 5.0, Quality.LATE)], IDS)
    rows = Rows.concatenate([early, regular_rows(3, start_s=12), late, regular_rows(2, start_s=24)])
    session = Session.open(recorded(tmp_path / "s", rows, part_s=10))
    assert [part.name for part in session.parts] == ["readings.csv", "readings-0002.csv", "readings-0003.csv"]
    assert session.descriptor.readings == tuple(part.name for part in session.parts)
    assert Rows.concatenate(list(session.rows())).equals(rows)
    assert session.duration_us == 25 * SECOND


def test_a_growing_session_can_be_read_and_is_known_as_growing(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s")
    rows = regular_rows(5)
    writer.add(rows)
    assert writer.flush()
    session = Session.open(tmp_path / "s")
    assert session.recording
    assert session.state is SessionState.RECORDING
    assert Rows.concatenate(list(session.rows())).equals(rows)
    assert session.duration_us == 4 * SECOND
    with pytest.raises(StillRecordingError, match="stop that recording first"):
        lock_session(tmp_path / "s")
    writer.close("done")
    assert not session.recording
    assert not (tmp_path / "s" / ".lock").exists()


def test_an_existing_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "s").mkdir()
    with pytest.raises(SessionExistsError, match="choose another name"):
        begin(tmp_path / "s")
    assert list((tmp_path / "s").iterdir()) == []


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StorageError, match="cannot be made: a part of the path is a file"):
        begin(tmp_path / "file" / "s")


def test_a_channel_in_another_unit_is_refused_and_nothing_changes(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s")
    with pytest.raises(SessionError, match="recorded in degC here and now comes in degF"):
        writer.channels(
            [Channel("new/one", Quantity.CURRENT, "A"), Channel("water/in", Quantity.TEMPERATURE, "degF")]
        )
    writer.close("done")
    assert Session.open(tmp_path / "s").channels == CHANNELS


def test_a_channel_id_over_two_lines_is_refused(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s")
    with pytest.raises(SessionError, match="one line of plain text"):
        writer.add(Rows.of([(0, "two\nlines", 1.0, Quality.OK)]))
    writer.close("done")


def test_a_correction_afterwards_repairs_the_whole_session(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s")
    writer.note("assign", "water/in", "source_entering_temperature")
    writer.note("assign", "water/in", "source_leaving_temperature", from_us=0)
    writer.close("done")
    events = Session.open(tmp_path / "s").events
    assert timeline(events, "assign", "water/in") == [(0, "source_leaving_temperature")]


def test_a_folder_without_a_session_is_named(tmp_path: Path) -> None:
    with pytest.raises(NotASessionError, match="here is no session"):
        Session.open(tmp_path)
    with pytest.raises(NotASessionError, match="here is no session"):
        Session.open(tmp_path / "missing")


def test_time_zero_is_one_moment_on_both_clocks(tmp_path: Path) -> None:
    clock = FollowedClock(START_UTC_NS)
    clock.follow(5_000_000_000)
    writer = SessionWriter.create(tmp_path / "s", SessionHeader(), clock)
    assert writer.t0_ns == 5_000_000_000
    clock.follow(6_500_000_900)
    assert writer.now_us() == 1_500_000
    writer.close("done")
    assert Session.open(tmp_path / "s").header.utc_start_us == (START_UTC_NS + 5_000_000_000) // 1000


def test_some_channels_come_from_the_archive_only_when_it_belongs_to_the_files(tmp_path: Path) -> None:
    rows = regular_rows(30)
    folder = recorded(tmp_path / "s", rows, part_s=10)

    def two() -> list[Rows]:
        return [batch for batch in Session.open(folder).rows_of("water/in", "clamp/current") if len(batch)]

    assert [batch.ids for batch in two()] == [("water/in",), ("clamp/current",)]
    for damage in (b"", b"PAR1"):
        (folder / "readings.parquet").write_bytes(damage)
        assert Rows.concatenate(two()).equals(rows.take(rows.channel != 1))
    other = recorded(tmp_path / "other", regular_rows(3))
    (folder / "readings.parquet").write_bytes((other / "readings.parquet").read_bytes())
    assert Rows.concatenate(two()).equals(rows.take(rows.channel != 1))


def test_a_session_that_could_not_be_begun_leaves_no_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, content: bytes) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("logger.session_writer.replace_file", refuse)
        with pytest.raises(StorageError, match="cannot be begun: the disk is full"):
            begin(tmp_path / "s")
    assert begin(tmp_path / "s").close("done") == ()


def test_channels_that_appear_late_in_a_long_file_are_read_alike_by_both_ways(tmp_path: Path) -> None:
    count = 60_000
    ids = tuple(f"probe/{number}" for number in range(40))
    t_us = np.arange(count) * 1000
    channel = (np.arange(count) // 1500).astype(np.int32)
    quality = np.where(np.arange(count) % 20_000 > 15_000, Quality.LATE.value, 0).astype(np.uint16)
    rows = Rows(ids, t_us, channel, np.sin(t_us / 1e6), quality)
    path = tmp_path / "readings.csv"
    path.write_bytes(READINGS_HEADER + LineWriter(dict.fromkeys(ids, "degC")).encode(rows))
    got = []
    for fast in (True, False):
        reader = ReadingsReader({}, fast=fast)
        got.append(Rows.concatenate(list(reader.read(path))))
        assert reader.ids == ids
        assert reader.units == dict.fromkeys(ids, "degC")
    assert got[0].ids == got[1].ids
    assert got[0].equals(rows)
    assert got[1].equals(rows)


@pytest.mark.skipif(sys.platform == "win32", reason="locks cannot be looked at without write permission")
def test_a_lock_of_another_user_is_respected(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    writer = begin(tmp_path / "s")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr("logger.session_lock.FileLock.acquire", refuse)
        assert Session.open(tmp_path / "s").recording
        writer.close("done")
        (tmp_path / "s" / ".lock").write_bytes(b"")  # left over
        assert not Session.open(tmp_path / "s").recording
