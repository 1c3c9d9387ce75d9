"""The journal under a disk that refuses: rows stay whole and in order, and none is lost uncounted."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from io import FileIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import logger.append_file
from analysis.rows import Rows
from logger.append_file import AppendFile, replace_file
from logger.journal import Journal
from logger.session import Session
from logger.session_errors import StorageError
from logger.session_writer import SessionWriter
from logger.verify import verify
from tests.logger.session_factory import IDS, begin, regular_rows

HEADER = b"a,b\r\n"


def until(condition: Callable[[], object], seconds: float = 10.0) -> None:
    """Wait for something that a thread does."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.01)


class UnwillingFile(FileIO):
    """A file whose disk refuses by a plan: how many bytes each next write takes; None takes all."""

    plan: list[int | None] = []  # noqa: RUF012 - shared by the test and the file

    def write(self, content: memoryview) -> int:  # type: ignore[override]
        take = self.plan.pop(0) if self.plan else None
        if take is None:
            return super().write(content)
        if take == 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return super().write(content[:take])


@settings(derandomize=True, deadline=None, max_examples=100)
@given(
    plan=st.lists(st.one_of(st.none(), st.integers(0, 12)), max_size=20),
    rows=st.lists(st.integers(0, 10**6), max_size=15),
)
def test_after_any_error_the_file_ends_with_a_whole_row_and_nothing_is_missing(
    tmp_path_factory: pytest.TempPathFactory, plan: list[int | None], rows: list[int]
) -> None:
    path = tmp_path_factory.mktemp("append") / "rows.csv"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(logger.append_file, "FileIO", UnwillingFile)
        patch.setattr(UnwillingFile, "plan", list(plan))
        file = AppendFile(path, HEADER)
        expected = HEADER
        for number in rows:
            chunk = f"{number},{number}\r\n".encode()
            while True:
                try:
                    file.write(chunk)
                except OSError:
                    # The header itself may not have found room yet.
                    assert path.read_bytes() in (expected, b"")
                else:
                    break
            expected += chunk
            assert path.read_bytes() == expected
        file.close()


def test_what_the_disk_did_not_confirm_is_written_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "rows.csv"
    file = AppendFile(path, HEADER)
    file.write(b"1,1\r\n")
    file.sync()
    file.write(b"2,2\r\n")

    def refuse(number: int) -> None:
        raise OSError(errno.EIO, "no")

    with monkeypatch.context() as patch:
        patch.setattr(logger.append_file, "sync_file", refuse)
        with pytest.raises(OSError, match="no"):
            file.sync()
    path.write_bytes(HEADER + b"1,1\r\n\0\0\0\0\0")  # what a disk may make of it
    file.write(b"3,3\r\n")
    assert path.read_bytes() == HEADER + b"1,1\r\n2,2\r\n3,3\r\n"
    file.sync()
    assert not file.dirty
    file.close()


def test_a_file_that_comes_back_shorter_is_cut_to_its_last_row(tmp_path: Path) -> None:
    path = tmp_path / "rows.csv"
    file = AppendFile(path, HEADER)
    file.write(b"1,1\r\n2,2\r\n")
    file.sync()
    file.write(b"3,3\r\n")
    content = path.read_bytes()
    path.unlink()
    with pytest.raises(FileNotFoundError):
        file.sync()
    path.write_bytes(content[:12])  # the drive is back and has lost its end, in the middle of row 2
    file.write(b"4,4\r\n")
    assert path.read_bytes() == HEADER + b"1,1\r\n3,3\r\n4,4\r\n"
    file.close()


def test_replacing_leaves_the_old_or_the_new(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "datapackage.json"
    replace_file(path, b"old")

    def refuse(number: int) -> None:
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(logger.append_file.os, "fsync", refuse)
    with pytest.raises(OSError, match="full"):
        replace_file(path, b"new")
    assert path.read_bytes() == b"old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["datapackage.json"]


def test_rows_of_a_second_are_made_durable_without_being_asked(tmp_path: Path) -> None:
    journal = Journal(tmp_path, sync_every_s=0.05)
    journal.open("rows.csv", HEADER)
    journal.start()
    assert journal.append("rows.csv", b"1,1\r\n")
    until(lambda: journal.status().written_rows == 1 and journal.status().behind_s == 0.0)
    assert journal.status().sync_s > 0
    assert journal.trouble is None
    assert journal.stop()
    assert journal.stop()


def test_memory_is_bounded_and_what_found_no_room_is_counted(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "gone", hold_bytes=20, retry_s=0.02)
    journal.open("rows.csv", HEADER)
    journal.start()
    kept = [journal.append("rows.csv", f"{number},0\r\n".encode()) for number in range(9)]
    assert kept == [True] * 4 + [False] * 5
    assert journal.append("rows.csv", b"9,9\r\n", 0, always=True)
    until(lambda: journal.trouble)
    trouble = journal.trouble
    assert trouble is not None
    assert "the folder is gone" in trouble
    assert "4 rows are held in memory" in trouble
    assert "5 more found no room and are lost" in trouble
    assert not journal.flush(0.05)
    assert not journal.stop(0.05)
    (tmp_path / "gone").mkdir()
    assert journal.stop()
    assert (tmp_path / "gone" / "rows.csv").read_bytes() == HEADER + b"0,0\r\n1,0\r\n2,0\r\n3,0\r\n9,9\r\n"
    assert journal.status().dropped_rows == 5


def test_a_folder_that_goes_and_comes_back_loses_nothing_that_was_not_durable(tmp_path: Path) -> None:
    folder, away = tmp_path / "s", tmp_path / "away"
    writer = begin(folder, journal=Journal(folder, sync_every_s=0.05, retry_s=0.02))
    rows = regular_rows(20)
    writer.add(rows.take(slice(0, 30)))
    until(lambda: writer.status().written_rows == 30 and writer.status().behind_s == 0)
    shutil.move(folder, away)
    writer.add(rows.take(slice(30, 45)))
    until(lambda: writer.status().trouble)
    writer.add(rows.take(slice(45, 60)))
    assert "the folder is gone" in str(writer.status().trouble)
    shutil.move(away, folder)
    until(lambda: writer.status().trouble is None and writer.status().held_rows == 0)
    assert writer.close("done") == ()
    assert Rows.concatenate(list(Session.open(folder).rows())).equals(rows)
    assert verify(folder) == []


FULL = """
import json, resource, signal, sys, time
from pathlib import Path
from logger.journal import Journal
from tests.logger.session_factory import begin, regular_rows
folder, hold = Path(sys.argv[1]), int(sys.argv[2])
rows = regular_rows(400)
writer = begin(folder, journal=Journal(folder, retry_s=0.02, hold_bytes=hold))
resource.setrlimit(resource.RLIMIT_FSIZE, (9_999, resource.RLIM_INFINITY))
for start in range(0, 900, 50):
    writer.add(rows.take(slice(start, start + 50)))
    while writer.status().trouble is None and not writer.flush(0.05):
        pass
while writer.status().trouble is None:
    time.sleep(0.01)
said = writer.status()
whole = (folder / "readings.csv").read_bytes().endswith(b"\\r\\n")
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
while writer.status().trouble is not None:
    time.sleep(0.01)
for start in range(900, 1200, 50):
    writer.add(rows.take(slice(start, start + 50)))
    assert writer.flush()
warnings = writer.close("done")
print(json.dumps([said.trouble, said.held_rows, said.dropped_rows, whole, warnings]))
"""


def run_full(folder: Path, hold: int) -> list[object]:
    pytest.importorskip("resource", reason="the operating system has no limit of file size")
    done = subprocess.run(
        [sys.executable, "-c", FULL, str(folder), str(hold)],
        capture_output=True, text=True, timeout=60, check=False, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    result: list[object] = json.loads(done.stdout)
    return result


def test_a_full_disk_holds_the_rows_and_writes_them_in_order_later(tmp_path: Path) -> None:
    trouble, held, dropped, whole, warnings = run_full(tmp_path / "s", 1 << 20)
    assert "the file has reached the largest size that is allowed here" in str(trouble)
    assert f"{held} rows are held in memory" in str(trouble)
    assert (dropped, whole, warnings) == (0, True, [])
    assert Rows.concatenate(list(Session.open(tmp_path / "s").rows())).equals(regular_rows(400))
    assert verify(tmp_path / "s") == []


def test_rows_beyond_the_memory_become_a_lost_event(tmp_path: Path) -> None:
    _, _, dropped, whole, _ = run_full(tmp_path / "s", 10_000)
    assert isinstance(dropped, int)
    assert dropped > 0
    assert whole
    session = Session.open(tmp_path / "s")
    lost = [event for event in session.events if event.kind == "lost"]
    assert len(lost) == 1
    assert lost[0].text.startswith(f"{dropped} rows from ")
    got, rows = Rows.concatenate(list(session.rows())), regular_rows(400)
    kept = (1200 - dropped) - 300  # before the gap; the 300 after it came when writing worked again
    assert got.equals(Rows.concatenate([rows.take(slice(0, kept)), rows.take(slice(900, 1200))]))
    assert lost[0].t_us == int(rows.t_us[kept])
    assert verify(tmp_path / "s") == []


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a file system of 256 KiB of its own."""
    place = tmp_path / "disk"
    place.mkdir()
    try:
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(place)], capture_output=True, check=False
        )
    except FileNotFoundError:
        pytest.skip("there is no mount command here")
    if done.returncode:
        pytest.skip("mounting a small file system is not permitted here")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_disk_that_is_really_full(small_disk: Path) -> None:
    filler = small_disk / "filler"
    filler.write_bytes(b"x" * 160_000)
    folder = small_disk / "s"
    writer = begin(folder, journal=Journal(folder, retry_s=0.02))
    rows = regular_rows(1000)
    for start in range(0, len(rows), 100):
        writer.add(rows.take(slice(start, start + 100)))
    until(lambda: writer.status().trouble)
    assert "the disk is full; free some space" in str(writer.status().trouble)
    assert (folder / "readings.csv").read_bytes().endswith(b"\r\n")
    with pytest.raises(StorageError, match="rows are held in memory"):
        writer.close("done", timeout_s=0.1)
    filler.unlink()
    until(lambda: writer.status().trouble is None)
    warnings = writer.close("done")
    assert Rows.concatenate(list(Session.open(folder).rows())).equals(rows)
    # 256 KiB are too little for the archive's spill as well: it is said, and nothing half-written stays.
    assert not warnings or "the archive was not written: the disk is full" in warnings[0]
    assert not list(folder.glob(".*"))


def test_a_disk_that_turns_read_only(small_disk: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(StorageError, match="cannot be made: the disk is read-only"):
        begin(small_disk / "s")
    subprocess.run(["mount", "-o", "remount,rw", str(small_disk)], check=True)


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write anywhere"
)
def test_a_folder_that_may_not_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(StorageError, match="it is not permitted here"):
        begin(tmp_path / "s")


def test_nothing_held_is_given_up_by_closing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    writer: SessionWriter = begin(tmp_path / "s", journal=Journal(tmp_path / "s", retry_s=0.02))

    def refuse(file: AppendFile, chunk: bytes) -> None:
        raise OSError(errno.EIO, "no")

    with monkeypatch.context() as patch:
        patch.setattr(AppendFile, "write", refuse)
        writer.add(Rows.of([(0, "water/in", 1.0, 0)], IDS))
        with pytest.raises(StorageError, match="save the session to another disk"):
            writer.close("done", timeout_s=0.1)
    assert writer.close("done") == ()
    assert Session.open(tmp_path / "s").descriptor.rows == 1
    assert [event.kind for event in Session.open(tmp_path / "s").events] == ["clock", "stop"]


def test_a_fault_of_our_own_keeps_the_rows_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    journal = Journal(tmp_path, retry_s=0.02)
    journal.open("rows.csv", HEADER)

    def stumble(file: AppendFile, chunk: bytes) -> None:
        raise ValueError("not foreseen")

    with monkeypatch.context() as patch:
        patch.setattr(AppendFile, "write", stumble)
        journal.start()
        journal.append("rows.csv", b"1,1\r\n")
        until(lambda: journal.trouble)
    assert journal.stop()
    assert (tmp_path / "rows.csv").read_bytes() == HEADER + b"1,1\r\n"


def test_a_disk_that_takes_rows_but_never_confirms_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = Journal(tmp_path, retry_s=0.01, sync_every_s=0.01, hold_bytes=40)
    journal.open("rows.csv", HEADER)
    journal.start()

    def refuse(number: int) -> None:
        raise OSError(errno.EIO, "no")

    kept = 0
    with monkeypatch.context() as patch:
        patch.setattr(logger.append_file, "sync_file", refuse)
        assert journal.append("rows.csv", b"0,0\r\n")
        until(lambda: journal.trouble)
        for number in range(1, 30):
            kept += journal.append("rows.csv", f"{number % 10},0\r\n".encode())
            time.sleep(0.005)
            trouble = journal.trouble
            assert trouble is not None
            assert "save the session to another disk" in trouble
        assert kept == 40 // 5 - 1  # what is written and not confirmed counts as held
        assert journal.status().behind_s > 0.01
        assert journal.flush()  # the operating system has them all the same
        assert (tmp_path / "rows.csv").read_bytes().count(b"\n") == 1 + 1 + kept
    assert journal.stop()
    assert journal.trouble is None
    assert (tmp_path / "rows.csv").read_bytes().count(b"\n") == 1 + 1 + kept


def test_a_recording_of_weeks_does_not_hold_a_file_for_every_hour(tmp_path: Path) -> None:
    journal = Journal(tmp_path)
    journal.start()
    try:
        for hour in range(60):
            journal.open(f"hour-{hour}.csv", HEADER)
            journal.append(f"hour-{hour}.csv", f"{hour},1\r\n".encode())
            if hour:
                journal.finish(f"hour-{hour - 1}.csv")
            if hour % 10 == 9:
                assert journal.sync(60.0)
        assert journal.sync(60.0)
        assert list(journal._files) == ["hour-59.csv"]
    finally:
        assert journal.stop(60.0)
    for hour in range(60):
        assert (tmp_path / f"hour-{hour}.csv").read_bytes() == HEADER + f"{hour},1\r\n".encode()


def test_a_finished_hour_that_is_not_durable_yet_is_kept_until_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    refusing = [True]

    def sync(handle: int) -> None:
        if refusing[0]:
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(logger.append_file, "sync_file", sync)
    journal = Journal(tmp_path, retry_s=0.01)
    journal.start()
    journal.open("one.csv", HEADER)
    journal.append("one.csv", b"1,1\r\n")
    journal.finish("one.csv")
    assert not journal.sync(0.3)
    assert list(journal._files) == ["one.csv"]
    refusing[0] = False
    assert journal.stop(60.0)
    assert journal._files == {}
    assert (tmp_path / "one.csv").read_bytes() == HEADER + b"1,1\r\n"
