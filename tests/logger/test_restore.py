"""Readings that the files of a closed session have lost come back from its archive, each once."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure import Quality
from analysis.rows import Rows
from logger.archive import ARCHIVE
from logger.descriptor import DESCRIPTOR
from logger.readings_reader import ReadingsReader
from logger.recover import DAMAGED, recover
from logger.session import Session
from logger.verify import verify
from tests.logger.session_factory import IDS, recorded, regular_rows

SECOND_PART = "readings-0002.csv"


def recorded_hours(folder: Path) -> Path:
    """Three parts of ten seconds, with readings without a value, twice the same, and late ones."""
    rows, rng = regular_rows(30), np.random.default_rng(5)
    late = np.zeros(len(rows), bool)
    late[[40, 41, 70]] = True
    rows = Rows(
        rows.ids,
        np.where(late, rows.t_us - 9_000_000, rows.t_us),
        rows.channel,
        np.where(rng.random(len(rows)) < 0.1, np.nan, rows.value),
        np.where(late, int(Quality.LATE), rows.quality).astype(np.uint16),
    )
    twice = rows.take(np.array([35, 35, 36]))
    whole = Rows.concatenate([rows.take(slice(0, 37)), twice, rows.take(slice(37, None))])
    return recorded(folder, whole, part_s=10)


def in_one_order(folder: Path) -> Rows:
    """Give a session's readings by channel and time."""
    rows = Rows.concatenate([Rows.empty(IDS), *Session.open(folder).rows()])
    return rows.take(np.lexsort((rows.quality, rows.value, rows.t_us, rows.channel)))


def cut_off(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:400])


def empty(path: Path) -> None:
    path.write_bytes(b"")


def zeroed(path: Path) -> None:
    content = path.read_bytes()
    path.write_bytes(content[:300] + bytes(500) + content[800:])


def other_digits(path: Path) -> None:
    changed, count = re.subn(rb"(water/in,)(\d)", rb"\g<1>9\2", path.read_bytes(), count=3)
    assert count == 3
    path.write_bytes(changed)


def line_lost(path: Path) -> None:
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:7] + lines[8:]))


def line_doubled(path: Path) -> None:
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:8] + lines[7:]))


@pytest.mark.parametrize("name", ["readings.csv", SECOND_PART])
@pytest.mark.parametrize(
    "damage", [cut_off, empty, zeroed, other_digits, line_lost, line_doubled, Path.unlink]
)
def test_the_session_is_whole_again(tmp_path: Path, name: str, damage: Callable[[Path], None]) -> None:
    folder = recorded_hours(tmp_path / "s")
    before = in_one_order(folder)
    path = folder / name
    others = {part: part.read_bytes() for part in Session.open(folder).parts if part != path}
    damage(path)
    damaged = path.read_bytes() if path.exists() else None
    done = recover(folder)
    assert done.rows == len(before)
    assert done.restored is not None
    assert done.restored.files == (name,)
    assert in_one_order(folder).equals(before)
    assert {part: part.read_bytes() for part in others} == others
    if damaged is not None:
        assert (folder / DAMAGED / name).read_bytes() == damaged
        assert len(list((folder / DAMAGED).glob(f"{name}*"))) == 1
    assert f"readings put back from {ARCHIVE} into {name}" in done.sentence
    assert done.restored.sentence in Session.open(folder).events[-1].text
    assert not list(folder.glob(".*"))
    assert verify(folder) == []
    assert not recover(folder).changed


def test_it_says_how_many_came_back_and_how_many_were_no_readings(tmp_path: Path) -> None:
    folder = recorded_hours(tmp_path / "s")
    other_digits(folder / "readings.csv")
    done = recover(folder)
    assert done.restored is not None
    assert (done.restored.rows, done.restored.changed) == (3, 3)
    assert done.sentence.endswith(
        "3 readings put back from readings.parquet into readings.csv, 3 changed ones taken out."
    )


def test_several_parts_at_once(tmp_path: Path) -> None:
    folder = recorded_hours(tmp_path / "s")
    before = in_one_order(folder)
    for part in Session.open(folder).parts:
        cut_off(part)
    recover(folder)
    assert in_one_order(folder).equals(before)
    assert verify(folder) == []
    for number, part in enumerate(Session.open(folder).parts):
        for rows in ReadingsReader({}).read(part):
            in_time = rows.t_us[(rows.quality & Quality.LATE.value) == 0]
            assert set(in_time // 10_000_000) == {number}  # each hour in its own file


@settings(derandomize=True, deadline=None, max_examples=15)
@given(
    begin=st.integers(0, 3500),
    length=st.integers(1, 1500),
    filler=st.sampled_from([b"", b"\0", b"9", b"\r\n"]),
)
def test_whatever_is_overwritten(
    tmp_path_factory: pytest.TempPathFactory, begin: int, length: int, filler: bytes
) -> None:
    folder = recorded(tmp_path_factory.mktemp("any") / "s", regular_rows(30))
    before = in_one_order(folder)
    path = folder / "readings.csv"
    content = path.read_bytes()
    path.write_bytes(content[:begin] + filler * length + content[begin + length :])
    recover(folder)
    assert in_one_order(folder).equals(before)
    assert verify(folder) == []


def test_a_damaged_archive_is_not_trusted(tmp_path: Path) -> None:
    folder = recorded_hours(tmp_path / "s")
    cut_off(folder / SECOND_PART)
    archive = bytearray((folder / ARCHIVE).read_bytes())
    archive[300] ^= 1
    (folder / ARCHIVE).write_bytes(archive)
    done = recover(folder)
    assert done.restored is None
    assert done.rows < 93
    assert verify(folder) == []


def test_a_lost_descriptor_is_taken_from_the_archive(tmp_path: Path) -> None:
    folder = recorded_hours(tmp_path / "s")
    before, rows = Session.open(folder), in_one_order(folder)
    (folder / DESCRIPTOR).write_bytes(b'{"profile": "tab')
    cut_off(folder / SECOND_PART)
    done = recover(folder)
    assert "taken from readings.parquet" in str(done.cut[0])
    after = Session.open(folder)
    assert (after.header, after.channels) == (before.header, before.channels)
    assert in_one_order(folder).equals(rows)
    assert verify(folder) == []
