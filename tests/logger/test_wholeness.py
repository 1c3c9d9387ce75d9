"""Whoever reads a damaged session is told so in one line, with the way out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from logger.cli import main
from logger.events import EVENTS
from logger.replay import open_session
from tests.logger.session_factory import begin, broken_off, recorded, regular_rows


def shorten(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-200])


def change(path: Path) -> None:
    path.write_bytes(path.read_bytes().replace(b"degC", b"degF", 1))


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (shorten, "readings.csv has 1361 bytes instead of 1561"),
        (change, "readings.csv has been changed since it was closed"),
        (Path.unlink, "readings.csv is missing"),
    ],
)
def test_damage_is_told_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], damage: Callable[[Path], None], said: str
) -> None:
    folder = recorded(tmp_path / "s", regular_rows(10))
    damage(folder / "readings.csv")
    open_session(str(folder))
    (line,) = capsys.readouterr().err.splitlines()
    assert said in line
    assert f"'evenrun verify {folder}'" in line
    assert f"'evenrun recover {folder}'" in line


def test_an_event_that_cannot_be_read_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = recorded(tmp_path / "s", regular_rows(10))
    with (folder / EVENTS).open("ab") as file:
        file.write(b"nonsense\r\n")
    open_session(str(folder))
    assert f"{EVENTS} has " in capsys.readouterr().err


def test_a_session_broken_off_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = broken_off(tmp_path / "s", regular_rows(10))
    open_session(str(folder))
    assert f"was broken off and never closed: run 'evenrun recover {folder}'" in capsys.readouterr().err


def test_whole_sessions_and_growing_ones_are_not(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    open_session(str(recorded(tmp_path / "s", regular_rows(10), part_s=4)))
    writer = begin(tmp_path / "growing")
    writer.flush()
    open_session(str(writer.folder))
    writer.abandon()
    assert capsys.readouterr().err == ""


def test_the_answer_itself_stays_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = recorded(tmp_path / "s", regular_rows(10))
    shorten(folder / "readings.csv")
    assert main(["export", str(folder), "--out", str(tmp_path / "wide.csv")]) == 0
    told = capsys.readouterr()
    assert told.err.count("is damaged") == 1
    assert "is damaged" not in told.out
