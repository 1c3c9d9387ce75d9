"""``evenrun expect``: the sheet in a terminal, as JSON and as a page on both papers."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from logger.cli import main
from tests.logger.hall_sessions import AS_LEFT, hall_session

RECORDINGS = Path(__file__).parents[2] / "recordings"
HALL, BAKERY = (str(RECORDINGS / "cards" / f"{name}.toml") for name in ("hall", "bakery"))


def test_the_sheet_in_both_presets(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["expect", HALL, "--ewt", "4degC"]) == 0
    si = capsys.readouterr().out
    assert "heat to the load              12.2 kW ± 1.0" in si
    assert "[card: unit table, performance table]" in si
    assert "not on the card" in si
    assert main(["expect", HALL, "--ewt", "4degC", "--units", "us"]) == 0
    us = capsys.readouterr().out
    assert "psig" in us
    assert not re.search(r"°C|bar\(|kPa| K\b|L/s", us.split("Properties")[0])


def test_json_by_symbol(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["expect", BAKERY, "--ewt", "58degF", "--json"]) == 0
    modes = json.loads(capsys.readouterr().out)["modes"]
    assert list(modes) == ["heating", "cooling"]
    superheat = modes["cooling"]["values"]["superheat"]
    assert superheat["low"] == pytest.approx(8 / 1.8)
    assert (superheat["unit"], superheat["source"]) == ("K", "card: unit table")
    assert modes["cooling"]["values"]["heat_moved"]["value"] is None


def test_outside_the_table_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["expect", HALL, "--ewt", "12degC"]) == 0
    assert "outside the card's table: source water in 12.0 °C" in capsys.readouterr().out


def test_a_reference_says_at_what_it_was_taken_or_why_it_does_not_serve(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    healthy = str(hall_session(tmp_path / "healthy", AS_LEFT))
    assert main(["expect", HALL, "--ewt", "5degC", "--reference", healthy]) == 0
    out = capsys.readouterr().out
    assert "Healthy reference:" in out
    assert "taken at source in 4.0 °C" in out
    assert "reference: this machine's own value" in out
    assert main(["expect", HALL, "--ewt", "8degC", "--reference", healthy]) == 0
    assert "was not used: its source water in differs by more than 3 K" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["--ewt", "4"], 2, "no unit"),
        (["--ewt=-12degC"], 2, "freezes at"),
        (["--ewt", "150degC"], 2, "is the unit right?"),
        (["--ewt", "4degC", "--flow", "0L/s"], 2, "above zero"),
        (["--ewt", "4degC", "--out", "sheet.txt"], 2, ".html or .pdf"),
        (["--ewt", "4degC", "--reference", "nowhere"], 4, "nowhere"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_one_sentence(
    arguments: list[str], status: int, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["expect", HALL, *arguments]) == status
    told = capsys.readouterr().err
    assert words in told
    assert told.count("\n") == 1


def test_a_card_that_cannot_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = tmp_path / "card.toml"
    broken.write_text("unit = 3")
    assert main(["expect", str(broken), "--ewt", "4degC"]) == 3
    assert main(["expect", str(tmp_path / "none.toml"), "--ewt", "4degC"]) == 4
    capsys.readouterr()


def test_a_page_that_needs_no_other_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sheet.html"
    assert main(["expect", HALL, "--ewt", "4degC", "--paper", "letter", "--out", str(out)]) == 0
    page = out.read_text(encoding="utf-8")
    assert "size: letter" in page
    assert "as found, by pen" in page
    assert "http:" not in page
    assert "https:" not in page
    assert str(out) in capsys.readouterr().out


@pytest.mark.parametrize(("paper", "units"), [("a4", "si"), ("letter", "us")])
def test_one_page_for_each_mode(
    paper: str, units: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("weasyprint", reason="a PDF needs evenrun[pdf]")
    from logger.commands import expect

    counted: list[int] = []

    def counting(html: str) -> tuple[bytes, int]:
        content, pages = pdf_of(html)
        counted.append(pages)
        return content, pages

    pdf_of = expect.pdf_of
    monkeypatch.setattr(expect, "pdf_of", counting)
    monkeypatch.setattr(expect, "TYPE_SIZES", expect.TYPE_SIZES[-2:])  # the last ones, to be quick
    out = tmp_path / "sheet.pdf"
    assert (
        main(["expect", HALL, "--ewt", "4degC", "--paper", paper, "--units", units, "--out", str(out)]) == 0
    )
    assert counted[-1] == 1
    assert out.read_bytes().startswith(b"%PDF")
