"""Session folders that somebody else made: nothing outside is read or written, nothing hangs or bursts."""

from __future__ import annotations

import gzip
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from logger.descriptor import DESCRIPTOR
from tests.logger.hostile import ESCAPES, Told, teller
from tests.logger.session_factory import recorded, regular_rows

READERS = ("analyse", "verify", "recheck")


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Told:
    return teller(capsys)


@pytest.fixture
def session(tmp_path: Path) -> Path:
    return recorded(tmp_path / "s", regular_rows(30))


def change(session: Path, edit: Callable[[dict[str, Any]], None]) -> None:
    """Change the descriptor the way somebody hostile would."""
    path = session / DESCRIPTOR
    package = json.loads(path.read_text(encoding="utf-8"))
    edit(package)
    path.write_text(json.dumps(package), encoding="utf-8")


def refused_or_read(told: Told, session: Path) -> list[str]:
    """Try every command that reads; gives what they say."""
    said = []
    for command in READERS:
        status, out, err = told(command, session)
        assert status in (0, 1, 2, 3, 4)
        lines = err.strip().splitlines()
        assert sum(line.startswith("Note: ") for line in lines) <= 1, err  # that the session is damaged
        assert sum(not line.startswith("Note: ") for line in lines) <= 1, err
        said.append(out + err)
    told("match", session, "--to", "0:00:20")
    told("export", session, "--out", session.parent / "out.csv")
    told("report", session, "--out", session.parent / "out.html")
    return said


PATHS = ("../secret.txt", "/etc/hostname", "a/../../secret.txt", "..\\secret.txt", "/dev/zero", ".", "")


@pytest.mark.parametrize("path", PATHS)
def test_paths_that_lead_out_of_the_folder_are_refused(told: Told, session: Path, path: str) -> None:
    """Tried: a digest asked for of a file outside, or of a device that never ends."""
    (session.parent / "secret.txt").write_text("secret")

    def edit(package: dict[str, Any]) -> None:
        package["evenrun"]["parts"].append({"path": path, "bytes": 1, "sha256": "0" * 64})

    change(session, edit)
    status, _, err = told("analyse", session)
    assert status == 3
    assert DESCRIPTOR in err
    refused_or_read(told, session)
    status, _, _ = told("recover", session)
    assert status in (0, 3)
    assert (session.parent / "secret.txt").read_text() == "secret"


@pytest.mark.parametrize("path", ["../readings.csv", "/dev/zero", 7, None, {"a": 1}, [["readings.csv"]], [1]])
def test_readings_named_outside_or_by_no_name(told: Told, session: Path, path: object) -> None:
    """Tried: the readings resource names a file outside, or something that is no name at all."""
    change(session, lambda package: package["resources"][0].update(path=path))
    assert told("analyse", session)[0] == 3
    refused_or_read(told, session)


@pytest.mark.parametrize("name", ["readings.csv", "events.csv", "results.csv", DESCRIPTOR])
@pytest.mark.parametrize("kind", ["fifo", "device", "folder"])
def test_files_that_are_no_files(told: Told, session: Path, name: str, kind: str) -> None:
    """Tried: a pipe nobody writes to, a device that never ends, a folder, in place of a session's file."""
    (session / name).unlink(missing_ok=True)
    if kind == "fifo":
        os.mkfifo(session / name)
    elif kind == "device":
        (session / name).symlink_to("/dev/zero")
    else:
        (session / name).mkdir()
    refused_or_read(told, session)
    status, _, err = told("recover", session)
    assert status in (0, 2, 3, 4)
    assert len(err.strip().splitlines()) <= 1, err


def test_a_correction_is_never_written_through_a_link(told: Told, session: Path) -> None:
    """Tried: events.csv linked to a file of the person's, so that a correction would change that."""
    outside = session.parent / "profile"
    outside.write_bytes((session / "events.csv").read_bytes())
    (session / "events.csv").unlink()
    (session / "events.csv").symlink_to(outside)
    before = outside.read_bytes()
    told("correct", session, "refrigerant", "R410A")
    told("recover", session)
    assert outside.read_bytes() == before


def test_recover_never_writes_through_a_link(told: Told, session: Path) -> None:
    """Tried: readings.csv linked to a foreign file, damaged so that recover would mend that."""
    outside = session.parent / "foreign"
    outside.write_bytes((session / "readings.csv").read_bytes() + b"1.0,torn")
    (session / "readings.csv").unlink()
    (session / "readings.csv").symlink_to(outside)
    before = outside.read_bytes()
    told("recover", session)
    assert outside.read_bytes() == before


@pytest.mark.parametrize("depth", [10_000, 400_000])
@pytest.mark.parametrize("mark", ["[", '{"a":'])
def test_a_descriptor_nested_without_end(told: Told, session: Path, depth: int, mark: str) -> None:
    """Tried: brackets in brackets, to exhaust the stack of the reader."""
    (session / DESCRIPTOR).write_text(mark * depth)
    status, _, err = told("analyse", session)
    assert status == 3
    assert "recover" in err
    refused_or_read(told, session)


def test_a_descriptor_without_end(told: Told, session: Path) -> None:
    """Tried: a descriptor of many megabytes (sparse), to exhaust memory."""
    with (session / DESCRIPTOR).open("r+b") as file:
        file.truncate(6 << 30)
    status, _, err = told("analyse", session)
    assert status == 3
    assert "MB" in err


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("rows", "many"), ("rows", -1), ("rows", 10**30), ("rows", 1.5), ("rows", True),
        ("duration_us", "long"), ("duration_us", 10**40), ("duration_us", -5), ("duration_us", []),
        ("state", "owned"), ("format", 99), ("format", []), ("channels", 5), ("channels", [[]]),
        ("parts", {}), ("header", []), ("header", None), ("format", None),
    ],
)  # fmt: skip
def test_counts_and_kinds_that_cannot_be(told: Told, session: Path, key: str, value: object) -> None:
    """Tried: another kind of value, a negative, a number without end, in place of what the key holds."""
    change(session, lambda package: package["evenrun"].update({key: value}))
    refused_or_read(told, session)
    status, _, err = told("recover", session)
    assert status in (0, 3), err


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("utc_start", "9999999-01-01T00:00:00.000000Z"), ("utc_start", 5), ("utc_start", ""),
        ("barometer_pa", float("nan")), ("barometer_pa", 1e400), ("barometer_pa", "high"),
        ("part_us", 0), ("part_us", -1), ("lateness_us", -(10**30)), ("libraries", []), ("title", 5),
        ("setup", "[" * 100_000), ("setup", "title = '" + "x" * 2_000_000 + "'"), ("software", "\x1b[2J" * 9),
    ],
)  # fmt: skip
def test_a_header_that_lies(told: Told, session: Path, key: str, value: object) -> None:
    """Tried: dates outside the calendar, infinite pressure, a set-up nested without end, escapes."""
    change(session, lambda package: package["evenrun"]["header"].update({key: value}))
    refused_or_read(told, session)


@pytest.mark.parametrize(
    "line",
    [
        b"999999999999.000000,water/in,20.0,degC,ok",
        b"-999999999999.000000,water/in,20.0,degC,ok",
        b"31.000000,water/in,1e308,degC,ok",
        b"31.000000,water/in,0x10,degC,ok",
        b"31.000000,water/in,1_000,degC,ok",
        b"31.000000,water/in,nan,degC,ok",
        b"31.000000,water/in,inf,degC,ok",
        "31.000000,water/in,٣,degC,ok".encode(),
        b"31.000000,=cmd|'/c calc'!A1,1.0,degC,ok",
        b"31.000000,\x1b[2Jwater/in,1.0,degC,ok",
        b"31.000000," + b"x" * 3_000_000 + b",1.0,degC,ok",
        b'31.000000,"water/in,1.0,degC,ok',
        b"31.000000,water/in," + b"9" * 100_000 + b",degC,ok",
    ],
)
def test_one_line_of_readings_that_wants_harm(told: Told, session: Path, line: bytes) -> None:
    """Tried: a moment in thirty thousand years (rows without end), foreign digits, formulas, escapes."""
    with (session / "readings.csv").open("ab") as file:
        file.write(line + b"\r\n")
    said = refused_or_read(told, session)
    assert "water/in" in said[1] or "readings.csv" in said[1]
    status, _, _ = told("recover", session)
    assert status == 0
    refused_or_read(told, session)


@pytest.mark.parametrize(
    "line",
    [
        "0.000000,2026-01-14T08:00:00.000000Z,assign,water/in,__class__",
        "0.000000,2026-01-14T08:00:00.000000Z,assign,water/in,suction_temperature; rm -rf ~",
        "0.000000,2026-01-14T08:00:00.000000Z,offset,water/in,1e308 K",
        "0.000000,2026-01-14T08:00:00.000000Z,offset,water/in,nan K",
        "0.000000,2026-01-14T08:00:00.000000Z,scale,water/in,0",
        "0.000000,2026-01-14T08:00:00.000000Z,scale,water/in,inf",
        "0.000000,2026-01-14T08:00:00.000000Z,barometer,,-5 kPa(a)",
        "0.000000,2026-01-14T08:00:00.000000Z,refrigerant,,../../R410A",
        "0.000000,2026-01-14T08:00:00.000000Z,fluid,,water 400 % mass",
        "999999999999.000000,2026-01-14T08:00:00.000000Z,stop,,in thirty thousand years",
        "0.000000,9999-12-31T23:59:59.999999Z,clock,,9999-12-31T23:59:59.999999Z",
        "0.000000,2026-01-14T08:00:00.000000Z,mark,," + "m" * 2_000_000,
        "0.000000,2026-01-14T08:00:00.000000Z,mark,,{{ 7*7 }}{% for x in y %}<script>alert(1)</script>",
        "0.000000,2026-01-14T08:00:00.000000Z,link,,[bold red]not ours[/] [link=file:///etc]x[/link]",
    ],
)
def test_one_event_that_wants_harm(told: Told, session: Path, line: str) -> None:
    """Tried: code for a name, infinite corrections, paths for a refrigerant, templates and tags in a mark."""
    with (session / "events.csv").open("ab") as file:
        file.write(line.encode() + b"\r\n")
    refused_or_read(told, session)
    page = session.parent / "out.html"
    if page.exists():
        assert "<script>alert(1)" not in page.read_text(encoding="utf-8")
        assert "49" not in page.read_text(encoding="utf-8").split("{{ 7*7 }}")[0][-20:]


def test_events_that_stop_after_thirty_thousand_years_end_with_a_sentence(told: Told, session: Path) -> None:
    """Tried: a stop event so far ahead that a row each second would fill the memory."""
    with (session / "events.csv").open("ab") as file:
        file.write(b"999999999999.000000,2026-01-14T08:00:00.000000Z,stop,,later\r\n")
    with (session / "readings.csv").open("ab") as file:
        file.write(b"999999999998.000000,water/in,20.0,degC,ok\r\n")
    text = (session / "events.csv").read_text().replace("stop,,done", "mark,,done")
    (session / "events.csv").write_text(text, newline="")
    status, _, err = told("analyse", session)
    assert status == 3
    assert "days" in err


def test_names_and_titles_do_not_act_on_the_terminal(told: Told, session: Path) -> None:
    """Tried: escapes, bells and turned writing in title, software, channel label and mark."""

    def edit(package: dict[str, Any]) -> None:
        package["evenrun"]["header"] |= {"title": "hall " + ESCAPES, "software": ESCAPES + "evenrun"}
        package["evenrun"]["channels"][0]["label"] = ESCAPES

    change(session, edit)
    for said in refused_or_read(told, session):  # the teller itself looks for what acts
        assert "owned\x07" not in said


def test_ten_thousand_channels(told: Told, session: Path) -> None:
    """Tried: a reading each of ten thousand channels that nobody announced."""
    with (session / "readings.csv").open("ab") as file:
        for number in range(10_000):
            file.write(b"31.000000,c/%d,1.0,degC,ok\r\n" % number)
    status, out, _ = told("verify", session)
    assert status == 1
    assert "more faults" in out
    assert told("recover", session)[0] == 0


@pytest.mark.parametrize("content", [b"PAR1" + b"\xff" * 4096 + b"PAR1", b"", gzip.compress(bytes(1 << 20))])
def test_an_archive_that_is_none(told: Told, session: Path, content: bytes) -> None:
    """Tried: a forged footer, nothing, and packed zeros in place of the archive."""
    (session / "readings.parquet").write_bytes(content)
    status, out, _ = told("verify", session)
    assert status == 1
    assert "readings.parquet" in out
    refused_or_read(told, session)


def test_reading_a_session_changes_nothing_in_it(told: Told, session: Path) -> None:
    """Tried: whether looking alone writes anything where the session lies."""
    before = {path.name: (path.stat().st_mtime_ns, path.read_bytes()) for path in session.iterdir()}
    refused_or_read(told, session)
    assert {path.name: (path.stat().st_mtime_ns, path.read_bytes()) for path in session.iterdir()} == before
