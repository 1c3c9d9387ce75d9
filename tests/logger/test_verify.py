"""What verify finds, with file and line."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.measure import Quality
from analysis.rows import Rows
from logger.archive import ARCHIVE, write_archive
from logger.descriptor import DESCRIPTOR
from logger.events import EVENTS
from logger.recover import recover
from logger.session import Session
from logger.verify import verify
from tests.logger.session_factory import IDS, SECOND, broken_off, recorded, regular_rows

ROWS = regular_rows(20)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return recorded(tmp_path / "s", ROWS, part_s=10)


def test_a_closed_session_has_no_faults(folder: Path) -> None:
    assert verify(folder) == []


def edit(path: Path, old: bytes, new: bytes) -> None:
    content = path.read_bytes()
    assert old in content
    path.write_bytes(content.replace(old, new, 1))


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        (b"3.000000,water/in,", b"3.000000,water/in,2x", 11, "is not a number"),
        (b"3.000000,water/in,", b"3.0000,water/in,", 11, "six decimals"),
        (b"3.000000,water/in,", b"3.000000,", 11, "4 fields instead of 5"),
        (b"A,ok\r\n3.000000", b"A,fine\r\n3.000000", 10, "not a quality word"),
        (b"3.000000,water/in,", b"\0\0\0,water/in,", 11, "control characters"),
        (b"3.000000,water/in,", b"\xff.000000,water/in,", 11, "not UTF-8"),
        (b"elapsed_s", b"time", 1, "header"),
    ],
)
def test_a_line_that_is_wrong_is_named(folder: Path, old: bytes, new: bytes, line: int, words: str) -> None:
    edit(folder / "readings.csv", old, new)
    faults = verify(folder)
    assert (faults[0].file, faults[0].line) == ("readings.csv", line)
    assert any(words in str(fault) for fault in faults)


def test_a_changed_digit_is_found_by_the_digest_and_by_the_archive(folder: Path) -> None:
    edit(folder / "readings-0002.csv", b"12.000000", b"12.000001")
    words = " ".join(map(str, verify(folder)))
    assert "readings-0002.csv: has changed since the session was closed" in words
    assert "readings.parquet: differs from the journal in channel 'water/in'" in words


def test_a_missing_part_is_named(folder: Path) -> None:
    (folder / "readings-0002.csv").unlink()
    words = " ".join(map(str, verify(folder)))
    assert "readings-0002.csv: is missing" in words
    assert "says 60 readings; the files hold 30" in words


def test_an_archive_of_other_readings_is_named(folder: Path, tmp_path: Path) -> None:
    other = recorded(tmp_path / "other", regular_rows(19))
    (folder / ARCHIVE).write_bytes((other / ARCHIVE).read_bytes())
    assert "made from other readings" in str(verify(folder)[0])
    (folder / ARCHIVE).unlink()
    assert "readings.parquet is missing" in str(verify(folder)[0])


def test_an_archive_with_one_other_value_is_named(tmp_path: Path) -> None:
    folder = recorded(tmp_path / "s", ROWS)
    descriptor = Session.open(folder).descriptor
    journal = (folder / "readings.csv").read_bytes()
    (folder / "readings.csv").write_bytes(journal.replace(b",degC,ok", b"1,degC,ok", 1))
    write_archive(folder, descriptor)
    (folder / "readings.csv").write_bytes(journal)
    assert [str(fault) for fault in verify(folder)] == [
        "readings.parquet: differs from the journal in channel 'water/in'; run recover to make it again"
    ]


def test_a_broken_off_session_says_so(tmp_path: Path) -> None:
    faults = verify(broken_off(tmp_path / "s", ROWS))
    assert [fault.file for fault in faults] == [DESCRIPTOR]
    assert "broken off" in faults[0].sentence


def test_an_unknown_channel_is_named(tmp_path: Path) -> None:
    rows = Rows.concatenate([ROWS, Rows.of([(30 * SECOND, "stranger", 1.0, 0)])])
    assert "the channel 'stranger' is not described" in str(verify(recorded(tmp_path / "s", rows))[0])


def test_order_in_time(tmp_path: Path) -> None:
    behind = Rows.of([(0, "water/in", 1.0, Quality.OK), (0, "water/in", 1.0, Quality.LATE)], IDS)
    rows = Rows.concatenate([regular_rows(20), regular_rows(1, start_s=100), behind])
    faults = verify(recorded(tmp_path / "s", rows))
    assert [(fault.file, fault.line) for fault in faults] == [("readings.csv", 65)]
    assert "100.000000 s behind" in faults[0].sentence


def test_lines_are_counted_past_bad_ones(tmp_path: Path) -> None:
    behind = Rows.of([(0, "water/in", 1.0, Quality.OK)], IDS)
    folder = broken_off(
        tmp_path / "s", Rows.concatenate([regular_rows(20), regular_rows(1, start_s=100), behind])
    )
    edit(folder / "readings.csv", b"5.000000,water/in", b"bad\r\n5.000000,water/in")
    assert [fault.line for fault in verify(folder) if fault.file == "readings.csv"] == [17, 66]


def test_damaged_events_and_descriptor_are_named(folder: Path) -> None:
    edit(folder / EVENTS, b"Z,clock", b",clock")
    edit(folder / DESCRIPTOR, b'"state": "closed"', b'"state": "closde"')
    words = " ".join(map(str, verify(folder)))
    assert "events.csv, line 2: '2026-01-14T08:00:00.000000' does not say its zone" in words
    assert "datapackage.json: 'closde' is not a valid SessionState" in words


def test_very_many_faults_are_counted(tmp_path: Path) -> None:
    folder = broken_off(tmp_path / "s", ROWS)
    with (folder / "readings.csv").open("ab") as file:
        file.write(b"bad\r\n" * 3000)
    faults = verify(folder)
    assert len(faults) == 1001
    assert "more faults" in faults[-1].sentence


def test_unknown_values_are_equal_in_both_files(tmp_path: Path) -> None:
    rows = Rows.of([(i, IDS[i % 3], None if i % 4 else float(i), 0) for i in range(50)], IDS)
    assert np.isnan(rows.value).any()
    assert verify(recorded(tmp_path / "s", rows)) == []


def test_a_part_of_nothing_but_garbage_is_named_line_by_line(tmp_path: Path) -> None:
    folder = recorded(tmp_path / "s", regular_rows(20), part_s=10)
    (folder / "readings-0002.csv").write_bytes(b"\0\0\0\0\r\n" * 3)
    faults = verify(folder)
    named = [fault.line for fault in faults if fault.file == "readings-0002.csv" and fault.line]
    assert named == [1, 1, 2, 3]  # the header is missing, and line 1 is no row either
    assert any("says 60 readings; the files hold 30" in fault.sentence for fault in faults)
    assert recover(folder).rows == 60  # the archive still has them
    assert verify(folder) == []


def test_one_wrong_time_is_one_fault(tmp_path: Path) -> None:
    late = regular_rows(2000)
    folder = recorded(tmp_path / "s", late, part_s=3600)
    lines = (folder / "readings.csv").read_bytes().splitlines(keepends=True)
    _, comma, rest = lines[5].partition(b",")
    lines[5] = b"3599.000000" + comma + rest
    (folder / "readings.csv").write_bytes(b"".join(lines))
    told = [str(fault) for fault in verify(folder) if "behind" in str(fault)]
    assert len(told) == 1
    assert "line 7: from here on" in told[0]
    assert "behind the one at 3599.000000 s" in told[0]
