"""Profiles, set-ups, maps, device texts and keys from anybody: a sentence, soon, and never code that runs."""

from __future__ import annotations

import ast
import asyncio
import csv
import io
import logging
import socket
import subprocess
import sys
from collections.abc import AsyncGenerator
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from analysis.measure import Quality, Reading
from drivers import discover as discovering
from drivers.base import Found, LinkEvent, LinkState, Rejected, Timing
from drivers.clock import SystemClock
from drivers.registry import Context
from logger.app import open_recording
from logger.commands import scan as scan_command
from logger.live_table import live_table
from logger.log_setup import hide_keys, logging_to
from logger.plain_console import PlainConsole
from logger.plain_output import PlainStream
from logger.run_live import one_line
from logger.session import Session
from logger.setup_file import load_setup
from tests.logger.hostile import ESCAPES, Told, acts, teller
from tests.logger.session_factory import recorded, regular_rows

ROOT = Path(__file__).parents[2]
KEY = "0123456789abcdef0123456789ABCDEF"
CONFIGURATIONS = {
    "nothing": b"",
    "zeros": bytes(4096),
    "nested without end": b"a = " + b"[" * 200_000,
    "tables in tables": b"[" + b".".join([b"a"] * 50_000) + b"]\nx = 1\n",
    "inline tables in tables": b"a = " + b"{b = " * 100_000,
    "two megabytes": b"title = '" + b"x" * (2 << 20) + b"'\n",
    "no text": b"\xff\xfe\x00title",
    "a date outside the calendar": b"title = 9999999-01-01\n",
    "a number without end": b"title = " + b"9" * 100_000 + b"\n",
    "infinity": b"[link]\nbaud = inf\n[line]\n",
    "another type": b"title = 5\n",
    "an object of the language": b"title = '!!python/object/apply:os.system [id]'\n__import__ = 'os'\n",
    "escapes in a key": b'"\\u001b[2J\\u001b]0;owned\\u0007" = 1\n',
    "escapes in a value": b'title = "x"\n[[device]]\nname = "\\u001b[2J"\n',
    "a page": b"<html><script>alert(1)</script></html>",
}


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Told:
    return teller(capsys)


@pytest.mark.parametrize("what", CONFIGURATIONS)
def test_configuration_that_wants_harm_is_one_sentence(told: Told, tmp_path: Path, what: str) -> None:
    """Tried: each of the contents above as a profile, a set-up, a map and a unit card."""
    path = tmp_path / "file.toml"
    path.write_bytes(CONFIGURATIONS[what])
    table = tmp_path / "log.csv"
    table.write_text("t,a\n0,1\n")
    for arguments in (
        ("check-profile", path),
        ("record", path, "--out", tmp_path / "s", "--for", "1s", "--quiet"),
        ("import", table, "--map", path, "--out", tmp_path / "i"),
        ("check-card", path),
    ):
        if what in ("nothing", "zeros") and arguments[0] == "record" and not CONFIGURATIONS[what]:
            continue  # a set-up may be empty: it records nothing
        status, out, err = told(*arguments, limit_s=10)
        assert status in (1, 2, 3, 4), (arguments, status, out, err)
        assert len(err.strip().splitlines()) <= 1, err
        assert len(err) < 2000, f"{len(err)} characters are no sentence"
    assert not (tmp_path / "s").exists()
    assert not (tmp_path / "i").exists()


@pytest.mark.parametrize("size", [2 << 20, 5 << 30])
def test_a_huge_configuration_is_refused_unread(told: Told, tmp_path: Path, size: int) -> None:
    """Tried: a (sparse) file larger than memory where a profile or a set-up is asked for."""
    path = tmp_path / "huge.toml"
    with path.open("wb") as file:
        file.truncate(size)
    for arguments in (("check-profile", path), ("record", path, "--out", tmp_path / "s")):
        status, _, err = told(*arguments, limit_s=10)
        assert status in (2, 3, 4)
        assert "MB" in err


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "/etc/passwd", "..", "scpi_meter/../scpi_meter", "\x1b[2J"]
)
def test_a_profile_is_a_shipped_name_or_a_toml_file(told: Told, name: str) -> None:
    """Tried: a path to any file as the name of a profile; its content must not be shown."""
    status, out, err = told("check-profile", name)
    assert status in (3, 4)
    assert "root:" not in out + err


@pytest.mark.parametrize(
    "pattern",
    [r"(?P<ps>(a+)+)b", r"(?P<ps>(\d*)*x)", r"(?P<ps>(a|a)*b)",
     r"(?P<ps>\d+)\d+\d+\d+x", r"(?P<ps>(?=.*a).*)",
     r"(?P<ps>.)\1", "(?P<ps>a{1,99999}){1,99999}", "(?P<ps>["],
)  # fmt: skip
def test_patterns_that_would_take_for_ever_are_refused(told: Told, tmp_path: Path, pattern: str) -> None:
    """Tried: expressions whose time doubles with each character of a line of noise."""
    path = tmp_path / "p.toml"
    path.write_text(
        f'title = "x"\nkind = "serial_lines"\n[line]\npattern = \'{pattern}\'\n'
        '[[channel]]\nname = "ps"\nquantity = "gauge_pressure"\nunit = "bar(g)"\n'
    )
    status, _, err = told("check-profile", path, limit_s=10)
    assert status == 3, err


@pytest.mark.parametrize("name", ["../out", "a/b", "a b", "", "\x1b[2J", "x\ny", "=1+1", "a,b", "ü" * 3])
def test_a_device_is_not_named_like_a_path_or_a_formula(told: Told, tmp_path: Path, name: str) -> None:
    """Tried: names that would become paths, formulas, lines or escapes in files."""
    import json

    path = tmp_path / "s.toml"
    path.write_text(f'[[device]]\nname = {json.dumps(name)}\nprofile = "scpi_meter"\naddress = "x"\n')
    assert told("record", path, "--out", tmp_path / "s")[0] == 3


def test_escapes_of_a_device_do_not_reach_the_screen(
    told: Told, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Tried: an advert's name and address, and the sentence of a trouble, full of escapes."""

    async def found(context: Context, seconds: float) -> AsyncGenerator[Found | discovering.Trouble, None]:
        yield Found("ble_gatt", "AA" + ESCAPES, "probe " + ESCAPES, "heard" + ESCAPES)
        yield discovering.Trouble("ble_gatt", "off " + ESCAPES)

    monkeypatch.setattr(scan_command, "discover", found)
    status, out, _ = told("scan", "--for", "1s")
    assert status == 0
    assert "probe" in out
    assert told("scan", "--for", "1s", "--json")[0] == 0


class Shouting:
    """A device whose every text wants something of the terminal."""

    name = "board"

    async def stream(self, clock: object, timing: object) -> AsyncGenerator[object, None]:
        now = SystemClock().monotonic_ns()
        yield LinkEvent(now, LinkState.CONNECTING, "hello " + ESCAPES)
        yield [Reading(now, "board/" + "ps", 1.0, Quality.OK)]
        yield Rejected(now, {"text" + ESCAPES: 1}, ESCAPES.encode())
        await asyncio.sleep(1.5)


def record(tmp_path: Path, setup_text: str, adapter: Any) -> tuple[Session, str]:
    """Record an adapter for a moment; gives the session and what the screen would show."""
    path = tmp_path / "setup.toml"
    path.write_text(setup_text, encoding="utf-8")
    setup, text = load_setup(path)
    recording = open_recording(
        setup, text, tmp_path / "s", beside=tmp_path, adapters=[adapter], timing=Timing()
    )  # type: ignore[list-item]
    screen = io.StringIO()

    async def run() -> None:
        task = asyncio.create_task(recording.engine.run(1_000_000))
        await asyncio.sleep(0.7)
        console = PlainConsole(width=100)
        console.file = screen
        console.print(live_table(recording.engine.snapshot(), "si", "title " + ESCAPES))
        PlainStream(screen).write(one_line(recording.engine.snapshot(), "si"))
        await task

    asyncio.run(run())
    return Session.open(tmp_path / "s"), screen.getvalue()


def test_escapes_of_a_device_do_not_reach_the_live_table_or_the_files(tmp_path: Path) -> None:
    """Tried: link reasons, kinds of refusal, samples and the title full of escapes."""
    session, shown = record(tmp_path, 'title = "x \\u001b[2J"\n', Shouting())
    assert "title" in shown
    assert "SILENT" in shown or "live" in shown
    assert not acts(shown), repr(acts(shown))
    assert not session.faults
    text = (session.folder / "events.csv").read_text(encoding="utf-8").replace("\r\n", "\n")
    assert not [c for c in text if ord(c) < 32 and c != "\n"]


def test_colours_of_our_own_stay(tmp_path: Path) -> None:
    """Tried: whether cleaning takes our own colours away, or lets a foreign one through."""
    screen = io.StringIO()
    console = PlainConsole(width=60)
    console.file = screen
    console._color_system = Console(color_system="standard", force_terminal=True)._color_system
    from rich.text import Text

    console.print(Text("bad\x1b[31m news", "bold"))
    assert screen.getvalue().strip() == "\x1b[1mbad[31m news\x1b[0m"


FORMULAS = ("=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", '=HYPERLINK("http://x")', "%0A-3")


@pytest.mark.parametrize("formula", FORMULAS)
@pytest.mark.parametrize("dialect", [(), ("--spreadsheet",)])
def test_no_spreadsheet_runs_what_a_name_says(
    told: Told, tmp_path: Path, formula: str, dialect: tuple[str, ...]
) -> None:
    """Tried: channel names that a spreadsheet takes for formulas."""
    session = recorded(tmp_path / "s", regular_rows(3))
    path = session / "datapackage.json"
    import json

    package = json.loads(path.read_text(encoding="utf-8"))
    package["evenrun"]["channels"][0]["id"] = formula
    path.write_text(json.dumps(package), encoding="utf-8")
    out = tmp_path / "out.csv"
    status, _, _ = told("export", session, "--out", out, *dialect)
    if status == 0:
        with out.open(encoding="utf-8-sig", newline="") as file:
            for row in csv.reader(file, delimiter=";" if dialect else ","):
                for cell in row:
                    assert cell[:1] not in ("=", "@", "\t", "\r"), cell
                    assert not (cell[:1] in ("+", "-") and not cell[1:2].isdigit()), cell


def test_a_key_is_in_no_session_log_or_message(told: Told, tmp_path: Path) -> None:
    """Tried: finding the key of an encrypted broadcaster anywhere after recording with it."""
    setup = (
        f'[[device]]\nname = "room"\nprofile = "bthome"\naddress = "AA:BB:CC:DD:EE:FF"\n'
        f'options = {{ key = "{KEY}" }}\n'
    )
    session, shown = record(tmp_path, setup, Shouting())
    for path in session.folder.iterdir():
        assert KEY.lower() not in path.read_bytes().decode("latin-1").lower(), path
    assert "not kept" in session.header.setup
    assert 'name = "room"' in session.header.setup
    assert KEY not in shown
    (tmp_path / "wrong.toml").write_text(setup.replace(KEY, KEY[:-1]).replace("bthome", "room_broadcast"))
    _, out, err = told("record", tmp_path / "wrong.toml", "--out", tmp_path / "w")
    assert KEY[:-1] not in out + err


def test_keys_and_tracebacks_go_to_no_screen_and_keys_to_no_log(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Tried: logging a key by mistake, in the text, in an argument, in an exception."""
    path = tmp_path / "log" / "evenrun.log"
    with logging_to(path):
        log = logging.getLogger("drivers.test")
        log.warning("key is %s", KEY)
        log.warning(f"key={KEY}")
        try:
            raise ValueError(f"key {KEY}")
        except ValueError:
            log.warning("failed", exc_info=True)
    text = path.read_text(encoding="utf-8")
    assert "failed" in text
    assert "ValueError" in text
    assert KEY not in text
    assert "hidden" in text
    seen = capsys.readouterr()
    assert seen.err == seen.out == ""
    assert hide_keys("AA:BB:CC:DD:EE:FF and 12345678") == "AA:BB:CC:DD:EE:FF and 12345678"


def test_the_log_does_not_grow_without_end(tmp_path: Path) -> None:
    """Tried: a device whose trouble is logged for days."""
    path = tmp_path / "evenrun.log"
    with logging_to(path, most_bytes=10_000, kept=2):
        for number in range(2000):
            logging.getLogger("drivers.test").warning("again %d %s", number, "x" * 50)
    files = sorted(tmp_path.iterdir())
    assert [file.name for file in files] == ["evenrun.log", "evenrun.log.1", "evenrun.log.2"]
    assert sum(file.stat().st_size for file in files) < 31_000
    assert "again 1999" in path.read_text(encoding="utf-8")


def test_nothing_listens_while_recording(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tried: whether a recording opens a port that somebody could connect to."""
    heard: list[object] = []
    monkeypatch.setattr(socket.socket, "listen", lambda self, *a: heard.append(self))
    monkeypatch.setattr(socket.socket, "bind", lambda self, *a: heard.append(self))
    record(tmp_path, 'title = "x"\n', Shouting())
    assert not heard


def test_no_listener_outside_the_simulated_machine() -> None:
    """Tried: any code of the product that could listen; only the simulated machine does, on this computer."""
    places = []
    for package in ("analysis", "drivers", "logger"):
        for path in (ROOT / package).rglob("*.py"):
            text = path.read_text(encoding="utf-8")
            if any(word in text for word in (".listen(", "start_server(", "create_server(", "serve_forever")):
                places.append(path.relative_to(ROOT).as_posix())
    assert all(place.startswith("drivers/plant/") for place in places), places


RUNS = {"eval", "exec", "compile", "__import__"}
MODULES = {"pickle", "marshal", "shelve", "yaml", "code", "codeop", "runpy"}


def test_no_code_in_configuration() -> None:
    """Tried: any place in the product that could run text as code or unpack objects."""
    for package in ("analysis", "drivers", "logger"):
        for path in (ROOT / package).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                    assert node.func.id not in RUNS, f"{path}:{node.lineno}"
                if isinstance(node, ast.Call):
                    for keyword in node.keywords:
                        shell = keyword.arg == "shell" and getattr(keyword.value, "value", False)
                        assert not shell, f"{path}:{node.lineno}"
                if isinstance(node, ast.Import | ast.ImportFrom):
                    names = {alias.name.split(".")[0] for alias in node.names}
                    names |= {(getattr(node, "module", None) or "").split(".")[0]}
                    assert not names & MODULES, f"{path}:{node.lineno}"


@pytest.mark.parametrize(
    "arguments",
    [("sat", ESCAPES, "1bar(g)"), ("sat", "R410A", ESCAPES), ("analyse", ESCAPES.replace("\x00", "")),
     (ESCAPES,), ("water", ESCAPES), ("air", "80degF", "--humidity", ESCAPES),
     ("record", "x\x1b[2J.toml", "--out", "y")],
)  # fmt: skip
def test_what_is_asked_for_is_not_obeyed_by_the_terminal(told: Told, arguments: tuple[str, ...]) -> None:
    """Tried: escapes in arguments (a pasted line), which errors repeat."""
    assert told(*arguments)[0] in (2, 4)


def test_a_path_that_no_system_can_open_is_a_sentence(told: Told) -> None:
    """Tried: names longer than any system allows."""
    for command in (("analyse", "x" * 5000), ("verify", "x/" * 5000), ("check-profile", "x" * 500 + ".toml")):
        status, _, err = told(*command)
        assert status in (2, 3, 4)
        assert len(err.strip().splitlines()) == 1


def test_output_to_a_closed_pipe_ends_quietly(tmp_path: Path) -> None:
    """Tried: a reader that goes away, as ``| head -1``."""
    session = recorded(tmp_path / "s", regular_rows(30))
    command = f'"{sys.executable}" -m logger verify "{session}" --json | true'
    done = subprocess.run(
        ["sh", "-c", command], capture_output=True, text=True, cwd=ROOT, timeout=30, check=False
    )
    assert "Traceback" not in done.stderr
