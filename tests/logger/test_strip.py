"""A stripped copy holds the same readings and not one word that a person wrote."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.timeline import KINDS, Event
from logger.commands import strip as command
from logger.comparison import study
from logger.errors import CommandError
from logger.replay import open_session
from logger.strip import clean_event, strip
from logger.verify import verify
from tests.logger.hall_sessions import AS_FOUND, CHANNELS, DECLARED, SECOND, hall_session

SECRETS = ("Bakerstreet", "Ms. Nobody", "SN-4711", "door code", "192.0.2.7", "lakeside-secret")
RECORDINGS = Path(__file__).parents[2] / "recordings"


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    channels = tuple(
        replace(c, label=f"clamp of {SECRETS[1]}", source=f"data sheet {SECRETS[2]}", calibration=SECRETS[2])
        for c in CHANNELS
    )
    events = [
        Event(10 * SECOND, 0, "mark", "", f"{SECRETS[3]} 12"),
        Event(20 * SECOND, 0, "link", SECRETS[0], f"waiting: {SECRETS[4]} closed"),
        Event(21 * SECOND, 0, "rejected", SECRETS[0], f"3 lines; first: {SECRETS[2]}"),
        Event(22 * SECOND, 0, "phase", "", SECRETS[3]),
        Event(23 * SECOND, 0, "dropout", "clamps/tl", f"40.0 s, {SECRETS[1]}"),
        Event(24 * SECOND, 0, SECRETS[5], SECRETS[0], SECRETS[1]),
        Event(700 * SECOND, 0, "phase", "", "as-found"),
    ]
    folder = tmp_path_factory.mktemp("original") / SECRETS[5]
    made = hall_session(folder, AS_FOUND, title=SECRETS[0], channels=channels, events=events)
    (folder / "visit.toml").write_text(f'[visit]\nsite = "{SECRETS[0]}"', "utf-8")
    card = (RECORDINGS / "cards" / "hall.toml").read_text("utf-8")
    (folder / "unit.toml").write_text(card.replace("HALL-2", SECRETS[2]).replace("commissioning", SECRETS[0]))
    (folder / "photos").mkdir()
    (folder / "photos" / f"{SECRETS[3]}.jpg").write_bytes(b"x")
    return made


def test_not_one_secret_is_in_any_file_or_name(original: Path, tmp_path: Path) -> None:
    out = tmp_path / "copy"
    outcome = strip(open_session(str(original)), out)
    files = [path for path in out.rglob("*") if path.is_file()]
    assert {path.name for path in files} >= {
        "datapackage.json",
        "readings.csv",
        "events.csv",
        "readings.parquet",
    }
    for path in files:
        content = path.read_bytes()
        for secret in (*SECRETS, "Community hall", "clamps/", "gauges/", "commissioning"):
            assert secret.encode() not in content, (path.name, secret)
            assert secret not in path.name
    assert outcome.left_behind == {"mark": 1, "phase": 1, SECRETS[5]: 1}
    assert outcome.card.startswith("unit card without")


def test_readings_and_results_are_the_same_to_the_last_bit(original: Path, tmp_path: Path) -> None:
    strip(open_session(str(original)), tmp_path / "copy")
    assert verify(tmp_path / "copy") == []
    before, after = (study(open_session(str(folder))) for folder in (original, tmp_path / "copy"))
    assert [(s.from_us, s.to_us, s.steady) for s in before.stretches] == [
        (s.from_us, s.to_us, s.steady) for s in after.stretches
    ]
    for one, other in zip(before.stretches, after.stretches, strict=True):
        assert one.points == other.points
        assert one.derived == other.derived
        assert one.settings.barometer_pa == other.settings.barometer_pa
    values = [
        [line.split(b",")[2] for line in (folder / "readings.csv").read_bytes().splitlines()]
        for folder in (original, tmp_path / "copy")
    ]
    assert [float(v or "nan") for v in values[0][1:]] == [float(v or "nan") for v in values[1][1:]]


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.sampled_from([*KINDS, "other"]), st.text("abcXYZ ,;:/-_'0189.()%", max_size=30))
def test_only_known_words_and_strict_amounts_survive(kind: str, text: str) -> None:
    kept = clean_event(Event(0, 0, kind, "somebody's probe", text), lambda _: "channel-01")
    if kept is None:
        return
    assert kept.subject == "channel-01"
    assert "Smith" not in clean_event_text(kind, text + " Smith")


def clean_event_text(kind: str, text: str) -> str:
    kept = clean_event(Event(0, 0, kind, "", text), str)
    return "" if kept is None else kept.text


@pytest.mark.parametrize("kind", sorted(DECLARED))
def test_what_the_analysis_needs_survives(kind: str) -> None:
    assert clean_event_text(kind, DECLARED[kind]) == DECLARED[kind]


def test_a_folder_that_exists_is_refused_and_the_command_says_what_stayed(
    original: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = argparse.Namespace(session=str(original), out=str(tmp_path / "copy"))
    assert command.run(asked) == 0
    said = capsys.readouterr().out
    assert "8400 readings" in said
    assert "1 mark" in said
    with pytest.raises(CommandError, match="is there already"):
        command.run(asked)


def test_a_copy_keeps_the_evidence_of_an_offset_and_nothing_that_a_person_wrote() -> None:
    cup = "matched in one cup at 12 degC: own 0.03 K, shared 0.2 K, slope 0.0029, cup 2026-01-14T08:12:30Z"
    kept = Event(0, 0, "offset", "water/in", f"0.1 K, {cup}")
    assert clean_event(kept, str) == kept
    for told in ("0.1 K, by the baker", f"0.1 K, {cup.replace('2026-01-14T08:12:30Z', 'baker')}"):
        assert clean_event(Event(0, 0, "offset", "water/in", told), str) is None
