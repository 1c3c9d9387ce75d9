"""The summary kept with a session: made at closing, taken while all is as it was, never when it is not."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from logger import session_summary
from logger.amend import amend
from logger.commands import mark
from logger.descriptor import DESCRIPTOR
from logger.events import EVENTS
from logger.recover import recover
from logger.replay import open_session
from logger.session import Session
from logger.session_summary import KEPT, SessionSummary, keep_summary, kept_summary, work_out
from logger.strip import strip
from logger.summaries import summarise
from tests.logger.hall_sessions import AS_FOUND, hall_session


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = hall_session(tmp_path_factory.mktemp("kept") / "hall", AS_FOUND, seconds=900)
    keep_summary(folder)
    return folder


@pytest.fixture
def hall(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "hall"))


def test_it_says_what_working_out_says(hall: Path) -> None:
    kept = kept_summary(hall)
    fresh = work_out(open_session(str(hall)))
    assert kept is not None
    assert kept.stretches == fresh.stretches
    assert kept.stretches[0].values["superheat"][0] == pytest.approx(9.9, abs=5.0)
    rows = summarise(str(hall))
    (hall / KEPT).unlink()
    assert [r | {"key": ""} for r in summarise(str(hall))] == [r | {"key": ""} for r in rows]


def test_it_is_really_taken(hall: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(_session: Session) -> SessionSummary:
        raise AssertionError("worked out although it is kept")

    monkeypatch.setattr("logger.summaries.work_out", never)
    assert summarise(str(hall))[0]["refrigerant"] == "R410A"


def _flip(path: Path) -> None:
    content = bytearray(path.read_bytes())
    place = content.rindex(b"1")
    content[place : place + 1] = b"2"
    path.write_bytes(content)


@pytest.mark.parametrize("name", ["readings.csv", EVENTS, DESCRIPTOR])
def test_one_altered_byte_makes_it_stale(hall: Path, name: str) -> None:
    _flip(hall / name)
    assert kept_summary(hall) is None


def test_another_program_makes_it_stale(hall: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session_summary, "made_by", lambda: "evenrun of tomorrow")
    assert kept_summary(hall) is None


def test_a_correction_is_summed_up_anew(hall: Path) -> None:
    before = kept_summary(hall)
    amend(open_session(str(hall)), "refrigerant", "", "R454B", 0)
    after = kept_summary(hall)
    assert before is not None
    assert after is not None
    assert {s.refrigerant for s in after.stretches} == {"R454B"}
    assert after.stretches[0].values["superheat"] != before.stretches[0].values["superheat"]


def test_a_mark_keeps_it_up_to_date(hall: Path) -> None:
    mark.run(argparse.Namespace(session=str(hall), text="looked", at="0:00:05"))
    assert kept_summary(hall) is not None


def test_a_recovered_session_has_a_new_one(hall: Path) -> None:
    with (hall / "readings.csv").open("ab") as file:
        file.write(b"1000.0,water/si,4")
    assert kept_summary(hall) is None
    assert recover(hall).changed
    assert kept_summary(hall) is not None


def test_a_copy_for_sharing_does_not_bring_it_along(hall: Path, tmp_path: Path) -> None:
    strip(open_session(str(hall)), tmp_path / "shared")
    assert not (tmp_path / "shared" / KEPT).exists()


def test_a_long_session_is_left_for_when_it_is_asked_for(hall: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (hall / KEPT).unlink()
    monkeypatch.setattr(session_summary, "MOST_READINGS", 100)
    keep_summary(hall)
    assert not (hall / KEPT).exists()
    assert summarise(str(hall))[0]["refrigerant"] == "R410A"


def test_a_read_only_session_is_no_trouble(hall: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_path: Path, _content: bytes) -> None:
        raise PermissionError(13, "Permission denied")

    (hall / KEPT).unlink()
    monkeypatch.setattr(session_summary, "replace_file", refuse)
    keep_summary(hall)
    assert not (hall / KEPT).exists()


def test_no_fault_of_ours_makes_a_closing_fail(hall: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fault(_session: Session) -> SessionSummary:
        raise ZeroDivisionError

    (hall / KEPT).unlink()
    monkeypatch.setattr(session_summary, "work_out", fault)
    keep_summary(hall)
    assert not (hall / KEPT).exists()


def test_a_huge_one_is_not_read(hall: Path) -> None:
    with (hall / KEPT).open("ab") as file:
        file.truncate(session_summary.MOST_BYTES + 1)
    assert kept_summary(hall) is None


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None)
@given(junk=st.binary(max_size=200), at=st.floats(0, 1))
def test_no_content_of_it_does_harm(made: Path, tmp_path: Path, junk: bytes, at: float) -> None:
    copy = tmp_path / "hall"
    if not copy.exists():
        shutil.copytree(made, copy)
    whole = (made / KEPT).read_bytes()
    place = int(at * len(whole))
    (copy / KEPT).write_bytes(whole[:place] + junk + whole[place + len(junk) :])
    rows = summarise(str(copy))
    assert all(row["folder"] == str(copy) for row in rows)


def test_a_column_that_nobody_knows_stays_out(hall: Path) -> None:
    kept = msgspec.json.decode((hall / KEPT).read_bytes(), type=SessionSummary)
    kept.stretches[0].values["folder"] = (1.0, 2.0)
    (hall / KEPT).write_bytes(msgspec.json.encode(kept))
    assert summarise(str(hall))[0]["folder"] == str(hall)
