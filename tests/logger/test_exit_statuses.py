"""Like causes end alike: every command, every way in which what it is given can be wrong, one status."""

from __future__ import annotations

import contextlib
import itertools
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.cli import main
from tests.logger.hall_sessions import AS_FOUND, hall_session

CARD = Path(__file__).parents[2] / "recordings" / "cards" / "hall.toml"
SESSION = {
    "analyse": "analyse S", "findings": "findings S", "proofs": "proofs S", "first": "compare S OK",
    "second": "compare OK S", "report": "report S --out OUT.html", "export": "export S --out OUT.csv",
    "recheck": "recheck S", "alarms": "alarms S", "mark": "mark S word --at 0:01:00",
    "strip": "strip S --out OUT", "morning": "morning S", "replay": "replay S --speed 100000",
    "correct": "correct S refrigerant R410A", "expect": "expect CARD --ewt 6degC --reference S",
    "shot": "shot levels S --out OUT.png", "verify": "verify S", "recover": "recover S",
}  # fmt: skip
EVENTS_WRONG = b"elapsed_s,time_utc,kind,subject,text\r\n0.000000,2026-01-14T08:00:00Z,offset,water/si,x\r\n"
FILES = {
    "record": "record F --out OUT", "desktop --setup": "desktop --setup F --out OUT",
    "import": "import TABLE --map F --out OUT", "check-card": "check-card F",
    "expect": "expect F --ewt 6degC", "findings": "findings F", "proofs": "proofs F",
    "electrical": "electrical F", "card": "alarms OK --card F",
    "visit": "report OK --visit F --out OUT.html", "check-profile": "check-profile F",
    "watch": "record SETUP --watch F --out OUT",
}  # fmt: skip
CAUSES = {"not there": 4, "a file": 2, "an empty folder": 2, "torn": 3, "event": 3}
WRONG = {"torn": ("datapackage.json", b"{torn"), "event": ("events.csv", EVENTS_WRONG)}
OWN_BUSINESS = {
    *((name, cause) for name in ("verify", "recover") for cause in ("torn", "event")),  # what they are for
    *((name, "event") for name in ("export", "strip", "morning")),  # these rest on the readings alone
    ("electrical", "a folder"),  # a session, there
}
CONTENTS = {"no text": b"title = '\xff\xfe\xfa'", "no TOML": b"= =", "unknown key": b"no_such_key = 1\n"}
FILE_CAUSES = {"not there": 4, "a folder": 4} | dict.fromkeys(CONTENTS, 3)


def _cases(commands: dict[str, str], causes: dict[str, int]) -> list[tuple[str, str]]:
    return [pair for pair in itertools.product(commands, causes) if pair not in OWN_BUSINESS]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return hall_session(tmp_path_factory.mktemp("statuses") / "OK", AS_FOUND, seconds=120)


@pytest.fixture
def place(whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    shutil.copytree(whole, tmp_path / "OK")
    shutil.copy(CARD, tmp_path / "CARD")
    (tmp_path / "SETUP").write_text("title = 'x'\n", "utf-8")
    (tmp_path / "TABLE").write_text("t,a\n0,1\n", "utf-8")
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    with contextlib.chdir(tmp_path):
        yield tmp_path


def _status(words: str) -> int:
    try:
        return main([word.replace("OUT", "out/OUT") if word == "OUT" else word for word in words.split()])
    except SystemExit as left:
        return int(left.code or 0)


def _told(capsys: pytest.CaptureFixture[str]) -> str:
    errors = capsys.readouterr().err.strip()
    assert "Traceback" not in errors
    return errors


@pytest.mark.parametrize(("command", "cause"), _cases(SESSION, CAUSES))
def test_a_session_that_cannot_be_used(
    command: str, cause: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if cause == "a file":
        (place / "S").write_bytes(b"x")
    elif cause == "an empty folder":
        (place / "S").mkdir()
    elif cause in WRONG:
        shutil.copytree(place / "OK", place / "S")
        name, content = WRONG[cause]
        (place / "S" / name).write_bytes(content)
    assert _status(SESSION[command]) == CAUSES[cause]
    told = _told(capsys)
    assert told.endswith(".")
    assert "S" in told
    assert not list(place.glob("OUT*"))


@pytest.mark.parametrize(("command", "cause"), _cases(FILES, FILE_CAUSES))
def test_a_file_that_cannot_be_used(
    command: str, cause: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = place / "F.toml"
    if cause == "a folder":
        path.mkdir()
    elif cause in CONTENTS:
        path.write_bytes(CONTENTS[cause])
    assert _status(FILES[command].replace(" F", " F.toml")) == FILE_CAUSES[cause]
    told = _told(capsys)
    assert told.endswith(".")
    assert "F" in told
    assert not list(place.glob("OUT*"))


@pytest.mark.parametrize("command", ["history S", "fleet S"])
def test_a_folder_of_sessions_that_is_none(
    command: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _status(command) == 4
    (place / "S").write_bytes(b"x")
    assert _status(command) == 2
    assert "is no folder" in _told(capsys)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the superuser may read everything")
def test_a_folder_that_is_shut(place: Path) -> None:
    (place / "OK").chmod(0)
    try:
        assert _status("analyse OK") == 4
    finally:
        (place / "OK").chmod(0o755)
