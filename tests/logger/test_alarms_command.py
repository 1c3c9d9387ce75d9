"""``evenrun alarms`` as a person calls it, and what a recording writes of its alarms."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from logger.cli import main
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, DECLARED, hall_session

CARD = str(Path(__file__).parents[2] / "recordings" / "cards" / "hall.toml")
BRINE = dict(DECLARED) | {"fluid": "propylene_glycol 25 % mass"}


@pytest.fixture
def cold(tmp_path: Path) -> str:
    return str(hall_session(tmp_path / "cold", AS_FOUND, seconds=300, declared=BRINE))


def facts(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:  # type: ignore[type-arg]
    assert main(["alarms", *arguments, "--json"]) == 0
    found: dict = json.loads(capsys.readouterr().out)  # type: ignore[type-arg]
    return found


def test_an_alarm_is_told_with_limit_source_act_and_condition(
    cold: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (alarm,) = facts(capsys, cold, "--card", CARD)["alarms"]
    assert (alarm["code"], alarm["state"], alarm["active"]) == ("freeze_margin_low", "not acknowledged", True)
    assert (alarm["limit"], alarm["side"], alarm["safe"]) == (2.0, "below", "while running")
    assert alarm["changes"][0]["change"] == "raised"
    assert main(["alarms", cold, "--card", CARD, "--units", "us"]) == 0
    page = capsys.readouterr().out
    assert "act below 3.6 °F [unit card: commissioning sheet]" in page
    assert "Be ready to stop the unit at its own control." in page


def test_a_machine_that_runs_well_raises_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    well = str(hall_session(tmp_path / "well", AS_LEFT, seconds=300, declared=BRINE))
    assert main(["alarms", well, "--card", CARD]) == 0
    assert "No alarm was raised." in capsys.readouterr().out
    assert main(["alarms", well]) == 0
    assert "give --card" in capsys.readouterr().out


def test_it_is_acknowledged_and_shelved_by_events_that_stay(
    cold: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with_card = (cold, "--card", CARD)
    (alarm,) = facts(capsys, *with_card, "--acknowledge", "freeze_margin_low")["alarms"]
    assert alarm["state"] == "acknowledged"
    shelve = ("--shelve", "freeze_margin_low", "--for", "20m", "--reason", "being opened", "--at", "0:04:00")
    (alarm,) = facts(capsys, *with_card, *shelve)["alarms"]
    assert alarm["state"] == "shelved"
    (alarm,) = facts(capsys, *with_card)["alarms"]
    assert [act["text"] for act in alarm["acts"]] == ["acknowledged", "shelved for 20 min: being opened"]
    assert (
        facts(capsys, *with_card, "--unshelve", "freeze_margin_low")["alarms"][0]["state"] == "acknowledged"
    )
    assert main(["verify", cold]) == 0


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("--shelve", "freeze_margin_low"), "only with a reason"),
        (("--shelve", "freeze_margin_low", "--reason", "x", "--for", "20h"), "1 to 480 min"),
        (("--acknowledge", "no_such"), "there is: freeze_margin_low"),
        (("--acknowledge", "freeze_margin_low", "--at", "9:00:00"), "behind the end"),
        (("--acknowledge", "freeze_margin_low", "--at", "noon"), "write it like 0:42:00"),
    ],
)
def test_what_cannot_be_done_is_said_with_the_way_out(
    cold: str, arguments: tuple[str, ...], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["alarms", cold, "--card", CARD, *arguments]) == 2
    assert sentence in capsys.readouterr().err
