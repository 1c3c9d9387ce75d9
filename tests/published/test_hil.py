"""NIST hardware-in-the-loop demonstration: days of 1 min data of a heat pump in test chambers (MIT licence).

Outside numbers: the files' own, and 24:00:00 as the end of a day (ISO 8601:2004, 4.2.3).
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from logger.cli import main
from logger.session import Session
from tests.published.measured import measured

_MAP = """
keep = "mapped"
[time]
column = "date_time"
format = "%m/%d %H:%M:%S"
year = 2022
zone = "-05:00"
[[column]]
header = "od_power"
unit = "W"
assign = "compressor_power"
[[column]]
header = "local_pres"
unit = "inHg(a)"
assign = "barometric_pressure"
[[column]]
header = "sa_temp"
unit = "degF"
assign = "supply_air_temperature"
[[column]]
header = "zn_temp"
unit = "degF"
assign = "return_air_temperature"
[[column]]
header = "sa_flow"
unit = "cfm"
assign = "air_flow"
[[column]]
header = "ref_flow"
unit = "lb/min"
quantity = "mass_flow"
[[column]]
header = "grid_signal_price"
unit = "1"
quantity = "ratio"
sentinels = [-9999]
"""


@pytest.mark.parametrize("log", ["hil_atl_default.csv", "hil_tucson_win.csv"])
def test_day_of_minutes(log: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, out = tmp_path / "map.toml", tmp_path / "session"
    path.write_text(_MAP)
    assert main(["import", str(measured(log)), "--map", str(path), "--out", str(out), "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["rows"] == 1440
    assert facts["seconds"] == 1439 * 60  # 00:01 to 24:00
    assert facts["files"][0]["missing"] == 1440
    assert facts["late"] == 0
    session = Session.open(out)
    assert {channel.expected_interval_s for channel in session.channels} == {60.0}
    assert not (out / "original").exists()
    assert main(["verify", str(out)]) == 0
    assert main(["analyse", str(out), "--json"]) == 0
    barometer = json.loads(capsys.readouterr().out.splitlines()[-1])["stretches"][-1]["points"][
        "barometric_pressure"
    ]
    assert barometer["value"] == pytest.approx(29.7 * 3386.389, rel=0.02)


def test_draft_finds_time_and_sentinels(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", "--draft", str(measured("hil_atl_default.csv"))]) == 0
    text = capsys.readouterr().out
    assert 'format = "%m/%d %H:%M:%S"' in text
    assert "-9999 may stand for 'no value'" in text
    assert "always -9999" not in text
