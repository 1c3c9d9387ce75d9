"""Repairing sessions: whole rows stay, the original is kept beside, everything that is cut is said."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.rows import Rows
from logger.archive import ARCHIVE
from logger.descriptor import DESCRIPTOR, SessionState
from logger.events import EVENTS
from logger.recover import DAMAGED, recover
from logger.session import Session
from logger.session_errors import NotASessionError, StillRecordingError
from logger.verify import verify
from tests.logger.session_factory import CHANNELS, IDS, begin, broken_off, recorded, regular_rows

ROWS = regular_rows(30)


def readings(folder: Path) -> Rows:
    return Rows.concatenate([Rows.empty(IDS), *Session.open(folder).rows()])


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_broken_off_session_becomes_whole(tmp_path: Path) -> None:
    folder = broken_off(tmp_path / "s", ROWS, part_s=10)
    done = recover(folder)
    assert done.changed
    assert done.cut == ()
    assert done.rows == len(ROWS)
    session = Session.open(folder)
    assert session.state is SessionState.RECOVERED
    assert session.events[-1].kind == "recovered"
    assert readings(folder).equals(ROWS)
    assert verify(folder) == []
    before = contents(folder)
    again = recover(folder)
    assert not again.changed
    assert "Nothing to recover: 90 readings" in again.sentence
    assert contents(folder) == before


def test_an_archive_of_other_files_that_holds_more_is_kept(tmp_path: Path) -> None:
    folder = recorded(tmp_path / "s", ROWS.take(slice(0, 60)))
    other = (recorded(tmp_path / "other", ROWS) / ARCHIVE).read_bytes()
    (folder / ARCHIVE).write_bytes(other)
    done = recover(folder)
    assert done.rows == 60
    assert done.restored is None
    assert (folder / DAMAGED / ARCHIVE).read_bytes() == other
    assert f"{len(ROWS)} readings" in done.warnings[0]
    assert f"{DAMAGED}/{ARCHIVE}" in done.warnings[0]


@settings(derandomize=True, deadline=None, max_examples=12)
@given(cut=st.integers(1, 300), zeros=st.sampled_from([0, 1, 512]))
def test_a_torn_tail_is_cut_kept_and_said(
    tmp_path_factory: pytest.TempPathFactory, cut: int, zeros: int
) -> None:
    folder = broken_off(tmp_path_factory.mktemp("torn") / "s", ROWS)
    path = folder / "readings.csv"
    torn = path.read_bytes()[:-cut] + b"\0" * zeros
    path.write_bytes(torn)
    whole = torn.count(b"\n") - 1
    done = recover(folder)
    assert done.rows == whole
    assert readings(folder).equals(ROWS.take(slice(0, whole)))
    rest = len(torn) - torn.rfind(b"\n") - 1
    assert len(done.cut) == (1 if rest else 0)
    if rest:
        assert (folder / DAMAGED / "readings.csv").read_bytes() == torn
        assert f"readings.csv, line {whole + 2}: {rest} bytes cut out" in str(done.cut[0])
        assert str(done.cut[0]) in Session.open(folder).events[-1].text
    assert verify(folder) == []


@settings(derandomize=True, deadline=None, max_examples=12)
@given(data=st.data())
def test_garbage_inside_takes_only_the_rows_it_touches(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    folder = recorded(tmp_path_factory.mktemp("inside") / "s", ROWS)
    (folder / ARCHIVE).unlink()  # from it the rows would be put back
    path = folder / "readings.csv"
    content = path.read_bytes()
    where = data.draw(st.integers(50, len(content) - 1))
    garbage = data.draw(
        st.one_of(st.just(b"\0" * 700), st.binary(min_size=1, max_size=40).map(lambda b: b"\xff" + b))
    )
    damaged = content[:where] + garbage + content[where:]
    path.write_bytes(damaged)
    done = recover(folder)
    assert done.changed
    assert done.rows == len(ROWS) - (content[where - 1 : where] != b"\n" or garbage[-1:] != b"\n")
    assert len(done.cut) >= 1
    assert (folder / DAMAGED / "readings.csv").read_bytes() == damaged
    kept = path.read_bytes().splitlines(keepends=True)
    original = content.splitlines(keepends=True)
    assert [line for line in original if line in set(kept)] == kept
    assert verify(folder) == []
    assert not recover(folder).changed


def test_a_lost_descriptor_is_made_again(tmp_path: Path) -> None:
    folder = broken_off(tmp_path / "s", ROWS)
    start = Session.open(folder).header.utc_start_us
    (folder / DESCRIPTOR).write_bytes(b'{"profile": "tab')
    done = recover(folder)
    assert "not readable as JSON" in str(done.cut[0])
    assert (folder / DAMAGED / DESCRIPTOR).read_bytes() == b'{"profile": "tab'
    session = Session.open(folder)
    assert {(c.id, c.quantity, c.unit) for c in session.channels} == {
        (c.id, c.quantity, c.unit) for c in CHANNELS
    }
    assert session.header.utc_start_us == start
    assert readings(folder).equals(ROWS)
    assert verify(folder) == []


def test_events_are_repaired_too(tmp_path: Path) -> None:
    folder = broken_off(tmp_path / "s", ROWS)
    with (folder / EVENTS).open("ab") as file:
        file.write(b"\0\0\0\r\n12.000000,2026-01-14T08:00:1")
    done = recover(folder)
    assert [fault.line for fault in done.cut] == [3, 4]
    assert [event.kind for event in Session.open(folder).events] == ["clock", "recovered"]
    assert verify(folder) == []


def test_a_damaged_header_is_put_back(tmp_path: Path) -> None:
    folder = broken_off(tmp_path / "s", ROWS)
    path = folder / "readings.csv"
    path.write_bytes(b"\0\0\0" + path.read_bytes()[3:])
    assert recover(folder).rows == len(ROWS)
    assert readings(folder).equals(ROWS)
    assert verify(folder) == []


@pytest.mark.parametrize("content", [b"", b"elapsed_s,chan"])
def test_a_part_without_a_row(tmp_path: Path, content: bytes) -> None:
    folder = broken_off(tmp_path / "s", ROWS)
    (folder / "readings-0002.csv").write_bytes(content)
    assert recover(folder).rows == len(ROWS)
    assert verify(folder) == []


def test_a_damaged_archive_is_made_again_and_the_journal_is_not_touched(tmp_path: Path) -> None:
    folder = recorded(tmp_path / "s", ROWS)
    journal = (folder / "readings.csv").read_bytes()
    archive = (folder / ARCHIVE).read_bytes()
    for damaged in (archive[:-8], archive[: len(archive) // 2], b"", None):
        if damaged is None:
            (folder / ARCHIVE).unlink()
        else:
            (folder / ARCHIVE).write_bytes(damaged)
        assert recover(folder).changed
        assert (folder / "readings.csv").read_bytes() == journal
        assert verify(folder) == []
    assert not (folder / DAMAGED).exists()


def test_a_second_damage_keeps_both_originals(tmp_path: Path) -> None:
    folder = broken_off(tmp_path / "s", ROWS)
    for _ in range(2):
        with (folder / "readings.csv").open("ab") as file:
            file.write(b"12.0")
        recover(folder)
    assert sorted(path.name for path in (folder / DAMAGED).iterdir()) == ["readings.csv", "readings.csv.2"]


def test_what_is_still_written_is_refused(tmp_path: Path) -> None:
    writer = begin(tmp_path / "s")
    with pytest.raises(StillRecordingError, match="still being written"):
        recover(tmp_path / "s")
    with pytest.raises(StillRecordingError, match="still being written"):
        verify(tmp_path / "s")
    writer.close("done")
    assert not recover(tmp_path / "s").changed


def test_no_session_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NotASessionError):
        recover(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_leftovers_of_an_interrupted_repair_are_removed(tmp_path: Path) -> None:
    folder = broken_off(tmp_path / "s", ROWS)
    (folder / ".readings.parquet.spill").write_bytes(b"x")
    (folder / ".readings.csv.new").write_bytes(b"x")
    recover(folder)
    assert not list(folder.glob(".*"))
    shutil.rmtree(folder)
