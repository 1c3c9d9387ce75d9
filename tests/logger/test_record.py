"""From a wire to a believable superheat on disk: recorded by command, verified, replayed, corrected."""

from __future__ import annotations

import csv
import functools
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import pytest

from tests.drivers.peers.lines import PROFILE

SETUP = """
title = "bench"
refrigerant = "R410A"
barometer = "94.32 kPa(a)"
[[device]]
name = "board"
profile = "board.toml"
address = "{link}"
[assign]
suction_pressure = "board/ps"
suction_temperature = "board/ts"
"""


def evenrun(*arguments: str, timeout: float = 120.0) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own, as a person does."""
    return subprocess.run(
        [sys.executable, "-m", "logger", *arguments],
        capture_output=True, text=True, timeout=timeout, check=False, cwd=Path(__file__).parents[2],
    )  # fmt: skip


def prepare(folder: Path) -> Path:
    """Write a set-up and a profile whose uncertainties are promised; gives the set-up."""
    promised = 'uncertainty = { fixed = 0.2, source = "test" }\n'
    (folder / "board.toml").write_text(PROFILE.replace("valid =", promised + "valid ="))
    setup = folder / "setup.toml"
    setup.write_text(SETUP.format(link=folder / "probe"))
    return setup


def record_while_unplugged(folder: Path, seconds: float, unplug_at: float, unplug_for: float) -> dict:
    """Record an instrument that is unplugged for a while; gives what the instrument says it sent."""
    setup = prepare(folder)
    arguments = [str(folder / "probe"), str(seconds), str(unplug_at), str(unplug_for)]
    with subprocess.Popen(
        [sys.executable, "-m", "tests.logger.instrument", *arguments],
        stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2],
    ) as instrument:  # fmt: skip
        try:
            assert instrument.stdout is not None
            assert instrument.stdout.readline() == "ready\n"
            length = f"{seconds + 7:g}s"
            done = evenrun("record", str(setup), "--out", str(folder / "s"), "--for", length, "--quiet")
            assert done.returncode == 0, done.stderr
            return json.loads(instrument.stdout.readline())
        finally:
            instrument.kill()


def events(session: Path) -> list[dict[str, str]]:
    with (session / "events.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def check_recording(folder: Path, sent: dict) -> None:
    session = folder / "s"
    with (session / "readings.csv").open(newline="", encoding="utf-8") as file:
        readings = list(csv.DictReader(file))
    refused: Counter[str] = Counter()
    for event in events(session):
        if event["kind"] == "rejected":
            for part in event["text"].split("; first:")[0].split(", "):
                kind, count = part.rsplit(" ", 1)
                refused[kind] += int(count)
    assert dict(refused) == sent["refused"]
    assert len(readings) == 2 * sent["good"]

    gaps = [e for e in events(session) if e["kind"] == "dropout" and e["subject"] == "board/ts"]
    (gap,) = [e for e in gaps if "until" not in e["text"]]
    length = float(gap["text"].split()[0])
    assert sent["away"] - 0.1 < length < sent["away"] + 1.0
    began = float(gap["elapsed_s"])

    # Blank within hold + 1 s: the last number must come from within the hold of three seconds.
    found = json.loads(evenrun("analyse", str(session), "--json").stdout)
    assert found["stretches"][0]["steady"] is False
    from logger.replay import analyse_session, open_session

    superheat = [
        (t / 1e6, value)
        for result in analyse_session(open_session(str(session)))
        for t, value in zip(result.t_us, result.derived["superheat"].value, strict=True)
    ]
    inside = [value for t, value in superheat if began + 3.0 + 1.0 < t < began + length]
    assert inside
    assert all(math.isnan(value) for value in inside)
    assert any(math.isfinite(value) for t, value in superheat if t < began)
    assert any(math.isfinite(value) for t, value in superheat if t > began + length + 1.0)

    assert evenrun("verify", str(session)).returncode == 0
    again = evenrun("recheck", str(session), "--json")
    assert again.returncode == 0, again.stdout
    outcome = json.loads(again.stdout)["recheck"]
    assert outcome["shown"] == outcome["same"] > 0
    assert evenrun("recheck", str(session), "--json").stdout == again.stdout


def test_a_damaged_and_unplugged_instrument_gives_nothing_false_and_nothing_uncounted(tmp_path: Path) -> None:
    sent = record_while_unplugged(tmp_path, 14.0, 5.0, 5.0)
    check_recording(tmp_path, sent)


@pytest.mark.campaign
def test_the_same_for_a_minute_with_ten_seconds_unplugged(tmp_path: Path) -> None:
    sent = record_while_unplugged(tmp_path, 53.0, 20.0, 10.0)
    check_recording(tmp_path, sent)


SUCTION = {"suction_pressure": "machine/ps", "suction_temperature": "machine/ts"}


@functools.cache
def recorded(assign: tuple[tuple[str, str], ...]) -> Path:
    """Record the simulated machine once with these assignments."""
    return record_simulated(Path(tempfile.mkdtemp(prefix="evenrun-test-")), dict(assign))


def simulated(folder: Path, assign: dict[str, str], name: str) -> Path:
    """Give a session of the simulated machine with these assignments, free to be changed."""
    return Path(shutil.copytree(recorded(tuple(assign.items())), folder / name))


def record_simulated(folder: Path, assign: dict[str, str]) -> Path:
    """Record fifteen minutes of the simulated machine at high speed."""
    from logger.demo import HALL, simulated_machine

    setup = folder / "setup.toml"
    session = folder / "s"
    with simulated_machine("hall-healthy", "as-found", speed=0.0, seconds=900, seed=4) as (address, _):
        lines = [
            'title = "swap"', f'refrigerant = "{HALL.refrigerant}"', f'barometer = "{HALL.barometer}"',
            'clock = "device"', "[[device]]", 'name = "machine"', 'profile = "simulated_machine"',
            f'address = "{address}"', "[assign]",
            *(f'{place} = "{channel}"' for place, channel in assign.items()),
        ]  # fmt: skip
        setup.write_text("\n".join(lines))
        done = evenrun("record", str(setup), "--out", str(session), "--for", "900s", "--quiet")
        assert done.returncode == 0, done.stderr
    return session


def test_clamps_assigned_the_wrong_way_are_put_right_by_an_event(tmp_path: Path) -> None:
    right = {
        "suction_pressure": "machine/ps", "discharge_pressure": "machine/pd",
        "suction_temperature": "machine/ts", "liquid_temperature": "machine/tl",
    }  # fmt: skip
    wrong = right | {"suction_temperature": "machine/tl", "liquid_temperature": "machine/ts"}
    good, swapped = simulated(tmp_path, right, "good"), simulated(tmp_path, wrong, "swapped")
    for channel, place in (("machine/ts", "suction_temperature"), ("machine/tl", "liquid_temperature")):
        done = evenrun("correct", str(swapped), "assign", place, "--channel", channel)
        assert done.returncode == 0, done.stderr
    again = evenrun("recheck", str(swapped), "--json")
    assert again.returncode == 1, "a correction changes what was shown, and recheck says so"
    mended = json.loads(again.stdout)
    assert mended["recheck"]["changes"]["superheat"]["largest"] > 20.0
    reference = json.loads(evenrun("recheck", str(good), "--json").stdout)
    assert mended["analysis"]["stretches"] == reference["analysis"]["stretches"]
    assert evenrun("verify", str(swapped)).returncode == 0
    assert "superheat" in evenrun("recheck", str(swapped)).stdout


def test_replay_plays_a_session_again(tmp_path: Path) -> None:
    session = simulated(tmp_path, SUCTION, "r")
    done = evenrun("replay", str(session), "--speed", "2000")
    assert done.returncode == 0, done.stderr
    assert "superheat" in done.stdout.splitlines()[-1]
    assert done.stdout.splitlines()[-1].startswith("15:00")


# Bad input: one plain sentence with the way out, and the stated exit status.


def one_sentence(done: subprocess.CompletedProcess[str], status: int, *words: str) -> None:
    assert done.returncode == status, done.stderr + done.stdout
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1, done.stderr
    for word in words:
        assert word in done.stderr, done.stderr


@pytest.mark.parametrize(
    ("change", "status", "words"),
    [
        (('"R410A"', '"R401B"'), 3, ("R401B",)),
        (('"R410A"', '"R41OA"'), 3, ("R41OA", "R410A")),
        (('"94.32 kPa(a)"', '"94.32 kPa"'), 3, ("gauge or absolute", "kPa(a)")),
        (("refrigerant =", "refrigernat ="), 3, ("refrigernat", "refrigerant")),
        (("suction_pressure =", "suction_presure ="), 3, ("suction_presure", "suction_pressure")),
        (('"board/ps"', '"bord/ps"'), 3, ("bord/ps", "board")),
        (('"board.toml"', '"bord.toml"'), 4, ("bord.toml",)),
        (("[[device]]", "[[device"), 3, ("TOML",)),
    ],
)
def test_a_wrong_set_up_is_one_sentence(
    tmp_path: Path, change: tuple[str, str], status: int, words: tuple[str, ...]
) -> None:
    setup = prepare(tmp_path)
    setup.write_text(setup.read_text().replace(*change))
    one_sentence(evenrun("record", str(setup), "--out", str(tmp_path / "s"), "--for", "1s"), status, *words)
    assert not (tmp_path / "s").exists()


def test_a_missing_port_is_told_with_the_ports_there_are(tmp_path: Path) -> None:
    setup = prepare(tmp_path)
    done = evenrun("record", str(setup), "--out", str(tmp_path / "s"), "--for", "3s")
    assert done.returncode == 4
    assert "board gave no reading: " in done.stderr
    assert "Nothing was read at all" in done.stderr, "an empty recording looks like a good one from afar"
    links = [e["text"] for e in events(tmp_path / "s") if e["kind"] == "link"]
    assert any(
        "probe" in text and ("there is" in text.lower() or "no serial port" in text.lower()) for text in links
    )


def test_a_refrigerant_that_is_not_known_is_not_written(tmp_path: Path) -> None:
    session = simulated(tmp_path, SUCTION, "u")
    one_sentence(evenrun("correct", str(session), "refrigerant", "R999"), 2, "R999")
    assert evenrun("analyse", str(session), "--json").returncode == 0


def test_no_refrigerant_no_number(tmp_path: Path) -> None:
    session = simulated(tmp_path, SUCTION, "n")
    done = evenrun("correct", str(session), "refrigerant", "")
    assert done.returncode == 0, done.stderr
    found = json.loads(evenrun("analyse", str(session), "--json").stdout)
    (stretch,) = found["stretches"]
    assert "superheat" not in stretch["derived"]
    assert stretch["missing"]["superheat"] == ["refrigerant"]


def test_a_session_folder_that_exists_is_never_written_over(tmp_path: Path) -> None:
    setup = prepare(tmp_path)
    (tmp_path / "s").mkdir()
    one_sentence(
        evenrun("record", str(setup), "--out", str(tmp_path / "s"), "--for", "1s"), 4, "another name"
    )


def test_a_session_still_being_written_is_not_recovered(tmp_path: Path) -> None:
    setup = prepare(tmp_path)
    command = [sys.executable, "-m", "logger", "record", str(setup), "--out", str(tmp_path / "s")]
    with subprocess.Popen([*command, "--for", "60s", "--quiet"], cwd=Path(__file__).parents[2]) as recording:
        try:
            deadline = time.monotonic() + 20
            while not (tmp_path / "s" / "readings.csv").exists() and time.monotonic() < deadline:
                time.sleep(0.05)
            one_sentence(evenrun("recover", str(tmp_path / "s")), 4, "being written")
            one_sentence(evenrun("correct", str(tmp_path / "s"), "refrigerant", "R22"), 4, "being written")
        finally:
            recording.terminate()
            assert recording.wait(20) == 4, "asked to stop, it closes the session and says that it is empty"
    assert evenrun("verify", str(tmp_path / "s")).returncode == 0


@pytest.mark.skipif(os.geteuid() == 0 and shutil.which("setpriv") is None, reason="root may write anywhere")
def test_an_unwritable_folder_is_one_sentence(tmp_path: Path) -> None:
    setup = prepare(tmp_path)
    file = tmp_path / "file"
    file.write_text("in the way")
    one_sentence(evenrun("record", str(setup), "--out", str(file / "s"), "--for", "1s"), 4)


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02" * 50, b"elapsed_s,channel\r\n1.0,a\r\n"])
def test_a_damaged_journal_is_told_by_file_and_line(tmp_path: Path, content: bytes) -> None:
    session = simulated(tmp_path, SUCTION, "d")
    (session / "readings.csv").write_bytes(content)
    done = evenrun("verify", str(session))
    assert done.returncode == 1
    assert "readings.csv" in done.stdout
    done = evenrun("analyse", str(session))
    assert "Traceback" not in done.stderr
    assert done.returncode in (0, 3)


def test_what_is_no_session_is_one_sentence(tmp_path: Path) -> None:
    for command in ("analyse", "verify", "recheck", "replay", "recover"):
        one_sentence(evenrun(command, str(tmp_path / "none")), 4, "no session")
