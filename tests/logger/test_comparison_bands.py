"""Limits of the unit card in the compare table and on the technician's page."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import pytest

from analysis.band_standing import Standing, judge
from analysis.card_file import CardFile
from analysis.unit_card import unit_card
from drivers.strict_toml import decode
from logger.commands import compare, report
from logger.comparison import Studied, study
from logger.comparison_bands import band_rows
from logger.errors import CommandError
from logger.replay import open_session
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, DECLARED, hall_session

CARD_FILE = Path(__file__).parents[2] / "recordings" / "cards" / "hall.toml"
CARD = unit_card(decode(CARD_FILE.read_text("utf-8"), CardFile))
BRINE = {**DECLARED, "fluid": "propylene_glycol 25 % mass"}


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    top = tmp_path_factory.mktemp("bands")
    return (
        hall_session(top / "as-found", AS_FOUND, declared=BRINE),
        hall_session(top / "as-left", AS_LEFT, declared=BRINE, seed=2),
    )


@pytest.fixture(scope="module")
def studied(pair: tuple[Path, Path]) -> list[Studied]:
    return [study(open_session(str(folder))) for folder in pair]


def test_values_stand_in_the_middle_third_exactly_when_they_are_in_band(studied: list[Studied]) -> None:
    rows = {row.symbol: row for row in band_rows([one.stretches[0] for one in studied], CARD, "si")}
    assert rows["subcooling"].limits == "4.0 K to 8.0 K"
    assert rows["subcooling"].standings == (Standing.HIGH, Standing.IN_BAND)
    assert rows["freeze_margin"].standings[0] is Standing.ACT  # 1.6 K, act below 2 K
    assert rows["freeze_margin"].open_high
    for row in rows.values():
        for place, standing in zip(row.places, row.standings, strict=True):
            assert place is not None
            inside = 1 / 3 <= place.x <= (1.0 if row.open_high else 2 / 3)
            assert inside is not standing.out


def test_near_a_limit_is_where_the_uncertainty_reaches_over_it() -> None:
    assert judge(CARD, "subcooling", "heating", 7.9, 0.3).standing is Standing.NEAR_LIMIT
    assert judge(CARD, "subcooling", "heating", 7.0, 0.3).standing is Standing.IN_BAND
    assert judge(CARD, "subcooling", "heating", 8.1, 0.3).standing is Standing.HIGH
    assert judge(CARD, "source_delta_t", "heating", -6.4, 0.1).standing is Standing.HIGH  # without its sign
    assert judge(CARD, "subcooling", "cooling", 6.0, 0.3).standing is Standing.NO_BAND
    assert judge(None, "subcooling", "heating", 6.0, 0.3).standing is Standing.NO_BAND
    assert judge(CARD, "subcooling", "heating", float("nan"), 0.3).standing is Standing.NO_VALUE


def asked(pair: tuple[Path, Path], **more: object) -> argparse.Namespace:
    common = {
        "as_found": str(pair[0]),
        "as_left": str(pair[1]),
        "units": "si",
        "phase_found": "",
        "phase_left": "",
        "between": "",
    }
    return argparse.Namespace(**{**common, "json": False, "card": str(CARD_FILE), **more})


def test_the_compare_command_shows_bands_only_with_a_card(
    pair: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    assert compare.run(asked(pair)) == 0
    said = capsys.readouterr().out
    line = next(line for line in said.splitlines() if line.startswith("subcooling"))
    assert "in band" in line
    assert "4.0 K to 8.0 K" in line
    assert compare.run(asked(pair, card="")) == 0
    assert "allowed band" not in capsys.readouterr().out
    assert compare.run(asked(pair, json=True)) == 0
    band = json.loads(capsys.readouterr().out)["bands"]["heating"]["subcooling"]
    assert (band["low"], band["high"], band["as_found"]) == (4.0, 8.0, "HIGH")
    with pytest.raises(CommandError, match="There is no unit card"):
        compare.run(asked(pair, card="no.toml"))


def test_the_technicians_page_has_bands_findings_and_acts(
    pair: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "page.html"
    visit = str(CARD_FILE.parents[1] / "visits" / "bakery.toml")
    assert report.run(asked(pair, reader="technician", out=str(out), visit=visit, paper="a4")) == 0
    html = out.read_text("utf-8")
    assert "Against the unit card: heating" in html
    assert "commissioning sheet" in html
    assert "No unit card is part" not in html
    assert "pH 6.9 at the end" in html
    assert "to be replaced by 2026-08-15" in html
    assert html.count("What the readings support") == 2
    assert "Water proven:" in html
    capsys.readouterr()
