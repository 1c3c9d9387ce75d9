"""The visit record: strict reading, amounts, photos, and marks made afterwards."""

from __future__ import annotations

import contextlib
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.strict_toml import TomlError
from logger.errors import CommandError
from logger.replay import open_session
from logger.visit_file import decode_visit, find_visit, parse_at, read_visit
from tests.logger.hall_sessions import AS_FOUND, hall_session

RECORDS = Path(__file__).parents[2] / "recordings" / "visits"


def test_the_halls_record_says_what_was_weighed_and_nothing_else() -> None:
    record = read_visit(RECORDS / "hall.toml")
    assert [(t.kind, t.weighed) for t in record.ledger.transfers] == [("recovered", 0.28)]
    assert math.isnan(record.ledger.mass_before)
    assert record.ledger.u_weighing == pytest.approx(0.005)
    assert record.work.distance_m == pytest.approx(62_000.0)
    assert math.isnan(record.work.labour_price)  # hours, but no rate was agreed
    assert record.isolations[0].second_supplies
    assert record.photos == (("strainer.jpg", "strainer full of pipe shavings and sludge"),)
    assert record.owner.approved_watch.startswith("The strainer.")


def test_the_bakerys_record_has_a_cleaned_coil_and_an_open_temporary_repair() -> None:
    record = read_visit(RECORDS / "bakery.toml")
    assert record.cleanings[0].end_ph == 6.9
    assert [repair.open for repair in record.temporary_repairs] == [True]
    assert record.owner.approved_watch == ""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[visti]\n", "'visti' is not a key here"),
        ('[visit]\nsiet = "x"', "'visit.siet' is not a key here; known are site"),
        ('[visit]\narrived = "this morning"', "'visit.arrived': 'this morning' is no moment"),
        ('[[temporary_repair]]\nwhat = "a"\nsince = "8.7.2026"', "'temporary_repair[1].since'"),
        ('[[refrigerant.transfer]]\nkind = "vented"', "refrigerant.transfer[1].kind"),
        ('[[refrigerant.transfer]]\nkind = "charged"\nmass = "0.28"', "refrigerant.transfer[1].mass"),
        ('[[refrigerant.transfer]]\nkind = "charged"\nmass = "-1 kg"', "-1 cannot be"),
        (
            '[[refrigerant.transfer]]\nkind = "recovered"\n'
            'cylinder_before = "12 kg"\ncylinder_after = "11 kg"',
            "the cylinder gains what is recovered",
        ),
        (
            '[[refrigerant.transfer]]\nkind = "charged"\nmass = "0.5 kg"\n'
            'cylinder_before = "12 kg"\ncylinder_after = "11 kg"',
            "0.5 kg is stated and the cylinder changed by 1.00 kg",
        ),
        ('[[coil_cleaning]]\nagent_class = "acid"\nend_ph = 17.0', "write a number from 0 to 14"),
        ('[[coil_cleaning]]\nagent_class = "acid"\nminutes = inf', "coil_cleaning[1].minutes"),
        ("[work]\naccess_factor = 0.5", "'work.access_factor': 0.5 cannot be"),
        ('[[mark]]\ntext = "a"\nat = "42 min"', "'mark[1].at'"),
        ('[[mark]]\ntext = "a"\nphotos = ["../../secret.jpg"]', "no plain file name"),
        ('[[mark]]\ntext = "a"\nphotos = ["C:\\\\x.jpg"]', "no plain file name"),
        ("not toml", "not readable as TOML"),
    ],
)
def test_a_wrong_record_is_refused_by_its_key_path(text: str, said: str) -> None:
    with pytest.raises(TomlError, match=r"\.$") as refused:
        decode_visit(text)
    assert said in str(refused.value)


@settings(derandomize=True, deadline=None, max_examples=80)
@given(st.text(max_size=200))
def test_no_text_makes_anything_but_a_record_or_one_sentence(text: str) -> None:
    with contextlib.suppress(TomlError):
        assert decode_visit(text).site == ""


@settings(derandomize=True, deadline=None, max_examples=50)
@given(st.integers(0, 9999), st.integers(0, 59), st.integers(0, 59))
def test_moments_of_a_session(hours: int, minutes: int, seconds: int) -> None:
    assert parse_at(f"{hours}:{minutes:02}:{seconds:02}") == hours * 3600 + minutes * 60 + seconds


def test_a_file_that_is_not_there_or_no_text(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="There is no visit record"):
        read_visit(tmp_path / "none.toml")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(CommandError, match="UTF-8"):
        read_visit(tmp_path / "bytes.toml")


def test_a_record_is_found_in_the_session_before_beside_it(tmp_path: Path) -> None:
    one, other = tmp_path / "a", tmp_path / "b"
    one.mkdir(), other.mkdir()
    assert find_visit([one, other]) is None
    (tmp_path / "visit.toml").write_text('[visit]\nsite = "beside"')
    (other / "visit.toml").write_text('[visit]\nsite = "inside"')
    found = find_visit([one, other])
    assert found is not None
    assert found[0].site == "inside"
    assert found[1] == other / "visit.toml"


def test_a_mark_is_one_more_event_and_readings_stay(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from logger.commands import mark

    folder = hall_session(tmp_path / "s", AS_FOUND, seconds=60)
    readings = (folder / "readings.csv").read_bytes()
    events = (folder / "events.csv").read_bytes()
    assert mark.run(_args(folder, "strainer \x1b[31mopened", "0:00:42")) == 0
    assert "0:42: strainer [31mopened" in capsys.readouterr().out
    assert (folder / "readings.csv").read_bytes() == readings
    assert (folder / "events.csv").read_bytes().startswith(events)
    marks = [e for e in open_session(str(folder)).events if e.kind == "mark"]
    assert [(e.t_us, e.text) for e in marks] == [(42_000_000, "strainer [31mopened")]


@pytest.mark.parametrize(
    ("text", "at", "said"),
    [("x", "42m", "write it like 0:42:00"), ("x", "1:00:00", "behind the end"), ("  ", "0:00:01", "a text")],
)
def test_a_mark_that_cannot_be_is_refused(tmp_path: Path, text: str, at: str, said: str) -> None:
    from logger.commands import mark

    folder = hall_session(tmp_path / "s", AS_FOUND, seconds=60)
    with pytest.raises(CommandError, match=said):
        mark.run(_args(folder, text, at))


def _args(folder: Path, text: str, at: str) -> object:
    import argparse

    return argparse.Namespace(session=str(folder), text=text, at=at)
