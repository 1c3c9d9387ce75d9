"""A laboratory's 5 s log of a cascade heat pump's start (open repository, named in the data's README).

Its header says Pa where the numbers are bar. Outside numbers: the low loop stands at rest at 17.5 bar(g)
beside water and air of 28 to 30 degC, which is saturation of R410A; the log's own steps of 5 s.
"""

from __future__ import annotations

import gzip
import json
from pathlib import Path

import numpy as np
import pytest

from logger.cli import main
from logger.replay import analyse_session
from logger.session import Session
from tests.published.measured import measured

LOG = "cascade_hp_5s_startup.csv.gz"
_HEAD = """
refrigerant = "R410A"
mode = "cooling"
[time]
column = "Time"
format = "iso"
zone = "Asia/Seoul"
"""


def _header(start: str) -> str:
    with gzip.open(measured(LOG), "rt", encoding="utf-8") as file:
        return next(name for name in file.readline().strip().split(",") if name.startswith(start))


def _map(pressure_unit: str) -> str:
    columns = [
        ("P.LC.High", pressure_unit, "discharge_pressure"),
        ("P.LC.Low", pressure_unit, "suction_pressure"),
        ("T-96", "degC", "suction_temperature"),
        ("T-91", "degC", "discharge_temperature"),
        ("T-24", "degC", "source_entering_temperature"),
        ("T-21", "degC", "source_leaving_temperature"),
        ("2.", "W", "compressor_power"),
    ]
    return _HEAD + "".join(
        f'[[column]]\nheader = "{_header(start)}"\nunit = "{unit}"\nassign = "{place}"\n'
        for start, unit, place in columns
    )


def test_wrong_header_unit_is_overruled(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, out = tmp_path / "map.toml", tmp_path / "session"
    path.write_text(_map("bar(g)"), encoding="utf-8")
    assert main(["import", str(measured(LOG)), "--map", str(path), "--out", str(out), "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["rows"] == 840
    assert facts["utc_start"].startswith("2023-08-03T03:56:01")
    assert "P.LC.High(Pa): the file says Pa, the map says bar(g)" in facts["files"][0]["overruled"]
    standing = next(check for check in facts["checks"] if check["name"] == "standing pressure at rest")
    assert standing["agrees"] is True
    assert "says Pa" in (out / "events.csv").read_text(encoding="utf-8")
    results = list(analyse_session(Session.open(out)))
    t_us = np.concatenate([result.t_us for result in results])
    evaporating = np.concatenate([result.derived["evaporating_temperature"].value for result in results])
    # 13:29:11 in the log: 10.19 bar(g) = 147.8 psig; R410A cards give 50 degF at 143 psig (from memory).
    assert evaporating[t_us == 1990_000_000][0] - 273.15 == pytest.approx(10.9, abs=0.6)
    assert main(["analyse", str(out), "--json"]) == 0


def test_header_unit_believed_is_caught(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, out = tmp_path / "map.toml", tmp_path / "session"
    path.write_text(_map("Pa(g)"), encoding="utf-8")
    main(["import", str(measured(LOG)), "--map", str(path), "--out", str(out), "--json"])
    facts = json.loads(capsys.readouterr().out)
    standing = next(check for check in facts["checks"] if check["name"] == "standing pressure at rest")
    assert standing["agrees"] is not True


def test_draft_doubts_the_header(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", "--draft", str(measured(LOG))]) == 0
    text = capsys.readouterr().out
    place = text.index('header = "P.LC.High(Pa)"')
    assert "next to nothing for a refrigerant pressure; likely bar(g)" in text[place - 400 : place]
    assert 'format = "iso"' in text
