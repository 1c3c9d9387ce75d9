"""datapackage.json: valid for the standard's own reader, and complete for ours."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analysis.measure import Channel
from analysis.units import Quantity
from logger.descriptor import (
    DESCRIPTOR,
    Descriptor,
    Part,
    SessionHeader,
    SessionState,
    decode_descriptor,
    read_descriptor,
)
from logger.session_errors import DamagedSessionError, SessionError
from tests.logger.session_factory import CHANNELS, broken_off, recorded, regular_rows

WHOLE = Descriptor(
    SessionHeader(
        utc_start_us=1_768_377_600_123_456,
        title="hall, unit 2",
        software="evenrun 0.1.0",
        libraries={"CoolProp": "8.0.0"},
        setup="a = 1\nb = '°'\n",
        unit_card="[plate]\n",
        barometer_pa=94_320.0,
        part_us=10,
        lateness_us=7,
    ),
    CHANNELS,
    SessionState.CLOSED,
    ("readings.csv", "readings-0002.csv"),
    (Part("readings.csv", 12, "ab" * 32),),
    3,
    4_000_000,
)


def test_everything_comes_back() -> None:
    assert decode_descriptor(WHOLE.encode((12, "cd" * 32)), Path("x")) == WHOLE
    assert decode_descriptor(Descriptor(SessionHeader()).encode(), Path("x")) == Descriptor(SessionHeader())


def check_by_the_standards_reader(folder: Path, rows: int) -> None:
    """Open and check a session with the reference implementation of the Frictionless Data Package."""
    frictionless = pytest.importorskip("frictionless", reason="the standard's reader is not installed")
    package = frictionless.Package(str(folder / DESCRIPTOR))
    report = package.validate()
    assert report.valid, report.flatten(["title", "message"])
    read = package.get_resource("readings").read_rows()
    assert len(read) == rows
    assert list(read[0]) == ["elapsed_s", "channel", "value", "unit", "quality"]


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")
def test_the_standards_reader_accepts_three_hourly_parts(tmp_path: Path) -> None:
    rows = regular_rows(30)
    folder = recorded(tmp_path / "s", rows, part_s=10)
    assert len(read_descriptor(folder).readings) == 3
    assert "hash" in json.loads((folder / DESCRIPTOR).read_text())["resources"][0]
    check_by_the_standards_reader(folder, len(rows))


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")
def test_the_standards_reader_accepts_a_session_that_was_broken_off(tmp_path: Path) -> None:
    rows = regular_rows(30)
    check_by_the_standards_reader(broken_off(tmp_path / "s", rows, part_s=10), len(rows))


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")
def test_the_standards_reader_notices_a_changed_digit(tmp_path: Path) -> None:
    frictionless = pytest.importorskip("frictionless", reason="the standard's reader is not installed")
    folder = recorded(tmp_path / "s", regular_rows(30), part_s=10)
    path = folder / "readings-0002.csv"
    path.write_bytes(path.read_bytes().replace(b"12.000000", b"12.000001", 1))
    report = frictionless.Package(str(folder / DESCRIPTOR)).validate()
    assert [kind for (kind,) in report.flatten(["type"])] == ["hash-count"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda own: own.pop("channels"), "'channels' is missing"),
        (lambda own: own["channels"][0].update(quantity="warmth"), "quantity"),
        (lambda own: own["channels"][1].update(unit="psi"), "does not say gauge or absolute"),
        (lambda own: own["header"].update(part_us="long"), "part_us"),
        (lambda own: own["header"].update(utc_start="yesterday"), "'yesterday' is not a date and time"),
        (lambda own: own.update(format=99), "use a newer evenrun"),
    ],
)
def test_a_wrong_descriptor_names_the_key(change: object, words: str) -> None:
    package = json.loads(WHOLE.encode())
    assert callable(change)
    change(package["evenrun"])
    with pytest.raises(DamagedSessionError, match=words) as error:
        decode_descriptor(json.dumps(package).encode(), Path("datapackage.json"))
    assert str(error.value).startswith("datapackage.json: ")


@pytest.mark.parametrize("content", [b"", b"[]", b"{}", b"\xff\xfe", b'{"evenrun": 3}', b'{"evenrun": null}'])
def test_anything_else_is_one_sentence(content: bytes) -> None:
    with pytest.raises(DamagedSessionError):
        decode_descriptor(content, Path("datapackage.json"))


def test_a_missing_descriptor_beside_readings_points_to_recover(tmp_path: Path) -> None:
    folder = broken_off(tmp_path / "s", regular_rows(1))
    (folder / DESCRIPTOR).unlink()
    with pytest.raises(DamagedSessionError, match="run recover"):
        read_descriptor(folder)


def test_newer_statements_about_a_channel_replace_older_ones_but_not_its_unit() -> None:
    better = Channel("clamp/current", Quantity.CURRENT, "A", resolution=0.01)
    assert WHOLE.with_channels([better]).channels[2] == better
    with pytest.raises(SessionError, match="give it another name"):
        WHOLE.with_channels([Channel("clamp/current", Quantity.CURRENT, "mA")])
