"""``evenrun match`` as a person calls it: a stored session, a watched set-up, gauges open to the air."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from analysis.correction import parse_correction
from analysis.units import Quantity
from logger.cli import main
from logger.errors import CommandError
from logger.replay import open_session
from logger.setup_file import load_setup
from logger.setup_offsets import with_offsets, write_offsets
from tests.logger.cup_board import SETUP, Board
from tests.logger.hall_sessions import hall_session

IN_CUP = {
    "gauges/ps": 0.012, "gauges/pl": 0.9, "clamps/ts": 12.3, "clamps/tl": 12.1, "water/si": 12.05,
    "water/so": 12.21, "water/li": 21.0,
}  # fmt: skip
"""The load's thermometer lies beside the cup, and one gauge is not empty."""
TO = ("--to", "0:02:30")


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return hall_session(tmp_path_factory.mktemp("cup") / "cup", IN_CUP, seconds=180)


def facts(capsys: pytest.CaptureFixture[str], *arguments: str, status: int = 0) -> dict:  # type: ignore[type-arg]
    assert main(["match", *arguments, "--json"]) == status
    found: dict = json.loads(capsys.readouterr().out)  # type: ignore[type-arg]
    return found


def test_a_probe_beside_the_cup_is_named_with_the_way_out(
    stored: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["match", str(stored), *TO, "--units", "us"]) == 0
    page = capsys.readouterr().out
    assert "Water/li" not in page
    assert "water/li (load water in) lies 15.82 °F above the others" in page
    assert "put it into the cup; if it is in, leave it out and have it looked at." in page
    assert page.count("not yet") == 5
    assert "[offset]" not in page
    found = facts(capsys, str(stored), *TO)
    assert (found["even"], found["offsets"]) == (False, {})
    assert found["troubles"][0]["channels"] == ["water/li"]
    assert main(["match", str(stored), *TO, "--apply"]) == 1
    assert not [event for event in open_session(str(stored)).events if event.kind == "offset"]


def test_offsets_become_events_and_lower_the_uncertainty(
    stored: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = shutil.copytree(stored, tmp_path / "s")
    before = _drop(session, capsys)
    assert main(["match", str(session), *TO, "--without", "water/li"]) == 0
    page = capsys.readouterr().out
    assert "12.16 °C by the mean of all" in page
    assert "the source water's delta-T is known to ± 0.09 K (as stated ± 0.29 K)" in page
    assert "--apply writes the offsets to the session" in page
    found = facts(capsys, str(session), *TO, "--without", "water/li", "--apply")
    offsets = {probe["channel"]: probe["offset"] for probe in found["probes"]}
    assert sum(offsets.values()) == pytest.approx(0.0, abs=1e-9)
    events = [event for event in open_session(str(session)).events if event.kind == "offset"]
    assert {event.subject for event in events} == {"clamps/ts", "clamps/tl", "water/si", "water/so"}
    kept = {e.subject: parse_correction(e.text, Quantity.TEMPERATURE) for e in events}
    assert {c: k.offset for c, k in kept.items()} == pytest.approx(offsets, abs=1e-5)
    assert all(k.match is not None and k.match.cup == "2026-01-14T08:02:30Z" for k in kept.values())
    after = _drop(session, capsys)
    assert before["value"] == pytest.approx(-0.16, abs=0.01)
    assert after["value"] == pytest.approx(0.0, abs=0.01)
    assert after["u"] < before["u"] / 2.5
    assert main(["verify", str(session)]) == 0


def _drop(session: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, float]:
    assert main(["analyse", str(session), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    value: dict[str, float] = found["stretches"][-1]["derived"]["source_delta_t"]
    return value


def test_a_probe_that_is_right_is_the_reference(stored: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = (str(stored), *TO, "--channels", "water/si", "water/so", "--reference", "water/si")
    assert main(["match", *arguments]) == 0
    assert "reference" in capsys.readouterr().out
    by_name = {probe["channel"]: probe for probe in facts(capsys, *arguments)["probes"]}
    assert (by_name["water/si"]["offset"], by_name["water/si"]["u_offset"]) == (0.0, 0.0)
    assert by_name["water/so"]["offset"] == pytest.approx(-0.16, abs=0.005)


def test_a_gauge_that_is_not_empty_is_left_out_and_the_others_are_zeroed(
    stored: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = shutil.copytree(stored, tmp_path / "s")
    assert main(["match", str(session), "--zero", *TO]) == 0
    page = capsys.readouterr().out
    assert page.startswith("pressure relieved: Take the gauge off the machine")
    assert "gauges/pl (liquid line pressure) stands 0.899 bar off zero; up to ± 0.180 bar is believed" in page
    found = facts(capsys, str(session), "--zero", *TO, "--apply", status=1)
    assert set(found["offsets"]) == {"gauges/ps"}
    (event,) = [event for event in open_session(str(session)).events if event.kind == "offset"]
    assert event.text.startswith("-1.1177 kPa, ")
    assert "zeroed open to the air" in event.text


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ((), "Say until when the probes stood in the cup"),
        (("--zero",), "Say until when the gauges were open to the air"),
        (("--to", "noon"), "write it like 0:42:00"),
        (("--to", "0:09:00"), "behind the end"),
        (("--from", "0:02:20", *TO), "takes 60 s or more, not 10 s"),
        ((*TO, "--channels", "water/x"), "There is no channel 'water/x'"),
        ((*TO, "--without", "water/x"), "There is no channel 'water/x'"),
        ((*TO, "--channels", "gauges/ps"), "measures no temperature"),
        ((*TO, "--zero", "--channels", "water/si"), "measures no pressure"),
        ((*TO, "--reference", "gauges/ps"), "is not in the cup"),
        ((*TO, "--zero", "--reference", "ice"), "the air; leave --reference out"),
        ((*TO, "--apply", "--without", "water/li", "--hold-from", "dawn"), "no length of time"),
    ],
)
def test_what_cannot_be_done_is_said_with_the_way_out(
    stored: Path, arguments: tuple[str, ...], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["match", str(stored), *arguments]) == 2
    assert sentence in capsys.readouterr().err


def test_a_silent_probe_is_not_passed_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    session = hall_session(
        tmp_path / "s", IN_CUP | {"water/li": 12.0}, seconds=180, silent=("water/so", 40, 180)
    )
    assert main(["match", str(session), *TO]) == 0
    assert (
        "water/so (source water out) has been read for 0 s of the 48 s that it takes"
        in capsys.readouterr().out
    )
    assert facts(capsys, str(session), *TO, "--without", "water/so")["even"] is True


def test_a_session_without_readings_then_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    only = hall_session(tmp_path / "s", {"water/si": 12.0}, seconds=5)
    assert main(["match", str(only), "--zero", "--to", "0:00:04"]) == 2
    assert "No pressure channel" in capsys.readouterr().err
    assert main(["match", str(only), "--to", "0:00:04"]) == 0
    assert "put two or more into it, or one into ice water" in capsys.readouterr().out


def test_a_set_up_is_watched_until_its_cup_is_even_and_gets_the_lines(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    setup = tmp_path / "bench.toml"
    with Board() as board:
        board.send(400, si=12.10, so=12.30, ta=19.0, ps=0.01, late=6.0)
        setup.write_text(SETUP.format(port=board.port))
        found = facts(capsys, str(setup), "--for", "5m", "--apply")
    assert found["even"] is True
    assert {probe["channel"] for probe in found["probes"]} == {"board/si", "board/so"}
    kept, text = load_setup(setup)
    assert kept.offset == found["offsets"]
    assert text.startswith('title = "bench"  # of the workshop\n')
    assert parse_correction(kept.offset["board/so"], Quantity.TEMPERATURE).offset == pytest.approx(
        -0.1, abs=0.02
    )


def test_a_set_up_in_which_nothing_answers_is_not_available(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    setup = tmp_path / "bench.toml"
    with Board() as board:
        setup.write_text(SETUP.format(port=board.port).replace('clock = "device"\n', ""))
        assert main(["match", str(setup), "--for", "1s"]) == 4
    assert "gave a reading. Look at power, plug and address of its devices" in capsys.readouterr().err
    with Board() as board:
        board.send(30, si=12.0, so=12.0)
        setup.write_text(SETUP.format(port=board.port))
        assert main(["match", str(setup), "--for", "20s", "--channels", "board/si", "board/x"]) == 4
    assert "There is no channel 'board/x'; there are board/" in capsys.readouterr().err
    assert main(["match", str(setup), "--to", "0:01:00"]) == 2
    assert "watched with --for" in capsys.readouterr().err


def test_only_lines_of_the_offset_table_change(tmp_path: Path) -> None:
    setup = tmp_path / "bench.toml"
    old = SETUP.format(port=1).replace(
        "[assign]", '[offset]  # in June\n"board/si" = "1 K"\nboard-x = "2 K"\n\n[assign]'
    )
    setup.write_bytes(old.replace("\n", "\r\n").encode())
    write_offsets(setup, {"board/si": "-0.1 K", "board/so": "0.1 K"})
    text = setup.read_bytes().decode()
    assert text == old.replace(
        '"1 K"\nboard-x = "2 K"\n', '"-0.1 K"\nboard-x = "2 K"\n"board/so" = "0.1 K"\n'
    ).replace("\n", "\r\n")
    assert with_offsets(text, {"board/si": "-0.1 K"}) == text
    other = 'offset = { "board/si" = "1 K" }\n' + SETUP.format(port=1)
    setup.write_text(other)
    with pytest.raises(CommandError, match="put the lines above into it yourself"):
        write_offsets(setup, {"board/si": "-0.1 K"})
    assert setup.read_text() == other
