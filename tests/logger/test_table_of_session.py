"""A pressure table that the person gave is kept in the session and used when it is worked out again."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np
import pytest

from analysis.measure import Channel
from analysis.rows import Rows
from analysis.saturation import refrigerant
from analysis.units import Quantity
from logger.amend import amend
from logger.app import open_recording
from logger.errors import CommandError, DamagedInputError
from logger.replay import analyse_session, curves_for
from logger.session import Session
from logger.setup_file import Setup
from logger.strip import strip
from tests.analysis.test_pressure_table import text_of
from tests.logger.test_record import evenrun

SETUP = """
refrigerant = "R438A"
pressure_table = "leaflet.csv"
[assign]
suction_pressure = "gauge/p"
suction_temperature = "clamp/t"
"""
CHANNELS = (
    Channel("gauge/p", Quantity.GAUGE_PRESSURE, "kPa(g)"),
    Channel("clamp/t", Quantity.TEMPERATURE, "degC"),
)
IDS = tuple(channel.id for channel in CHANNELS)


def record(folder: Path, table: str) -> Path:
    """Record a gauge and a clamp with a refrigerant that evenrun has no equation for."""
    (folder / "leaflet.csv").write_text(table)
    setup = msgspec.toml.decode(SETUP, type=Setup)
    recording = open_recording(setup, SETUP, folder / "s", beside=folder, adapters=[])
    writer = recording.engine._writer
    writer.channels(CHANNELS)
    value, flags = np.array([500.0, 10.0]), np.zeros(2, np.uint16)
    writer.add(Rows(IDS, np.zeros(2, np.int64), np.arange(2, dtype=np.int32), value, flags))
    writer.close("end")
    return folder / "s"


def superheat(folder: Path) -> float:
    found = [results.derived["superheat"].value for results in analyse_session(Session.open(folder))]
    return float(np.concatenate(found)[0])


def test_session_is_worked_out_with_the_table_it_was_recorded_with(tmp_path):
    # The leaflet is printed from R32's own curve, so R32 says what the superheat must be.
    session = record(tmp_path, text_of("R32"))
    (tmp_path / "leaflet.csv").unlink()
    due = 283.15 - refrigerant("R32").t_dew(500_000.0 + 101_325.0)
    assert superheat(session) == pytest.approx(due, abs=0.05)
    done = evenrun("analyse", str(session))
    assert (done.returncode, done.stderr) == (0, "")
    amend(Session.open(session), "refrigerant", "", "R438A", 0)
    assert superheat(session) == pytest.approx(due, abs=0.05)


def test_unknown_refrigerant_without_a_table_is_still_refused(tmp_path):
    session = record(tmp_path, text_of("R32"))
    with pytest.raises(CommandError, match="R439A"):
        amend(Session.open(session), "refrigerant", "", "R439A", 0)


def test_damaged_table_in_a_session_is_named(tmp_path):
    folder = record(tmp_path, text_of("R32"))
    package = folder / "datapackage.json"
    package.write_text(package.read_text().replace("dew_pressure [psig]", "dew_pressure [pints]"))
    with pytest.raises(DamagedInputError, match="its pressure table"):
        curves_for(Session.open(folder))


@pytest.mark.parametrize(("name", "kept"), [("R438A", "R438A"), ("the baker's mixture", "refrigerant-01")])
def test_a_copy_for_sharing_keeps_the_figures_and_no_word(tmp_path, name, kept):
    table = "# from the baker's cylinder\n" + text_of("R32")
    session = record(tmp_path, table)
    package = session / "datapackage.json"
    package.write_text(package.read_text().replace("R438A", name))
    events = session / "events.csv"
    events.write_text(events.read_text().replace("R438A", name))
    strip(Session.open(session), tmp_path / "shared")
    assert superheat(tmp_path / "shared") == superheat(session)
    shared = Session.open(tmp_path / "shared")
    assert list(shared.header.pressure_tables) == [kept]
    assert "baker" not in (tmp_path / "shared" / "datapackage.json").read_text()
    assert "baker" not in (tmp_path / "shared" / "events.csv").read_text()
