"""The owner's page: yes only as far as somebody answers for it, one page, nothing fetched, no blame."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from analysis.card_file import CardFile
from analysis.unit_card import unit_card
from drivers.strict_toml import decode
from logger.commands import report
from logger.comparison import Studied, compare_sessions, study
from logger.errors import CommandError
from logger.replay import open_session
from logger.reports import making
from logger.reports.owner import owner_facts
from logger.reports.paper import page_of, pdf_of
from logger.visit_file import decode_visit
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, DECLARED, hall_session

RECORDINGS = Path(__file__).parents[2] / "recordings"
HALL_CARD = unit_card(decode((RECORDINGS / "cards" / "hall.toml").read_text("utf-8"), CardFile))
RECORD = (RECORDINGS / "visits" / "hall.toml").read_text("utf-8")
BRINE = {**DECLARED, "fluid": "propylene_glycol 25 % mass"}
NASTY = '<script>alert(1)</script><img src="http://example.org/x"> & ' + "word-without-end-" * 30


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Studied:
    folder = tmp_path_factory.mktemp("a") / "as-found"
    return study(open_session(str(hall_session(folder, AS_FOUND, declared=BRINE))))


@pytest.fixture(scope="module")
def left(tmp_path_factory: pytest.TempPathFactory) -> Studied:
    folder = tmp_path_factory.mktemp("b") / "as-left"
    return study(open_session(str(hall_session(folder, AS_LEFT, declared=BRINE, seed=2))))


@pytest.fixture(scope="module")
def warm(tmp_path_factory: pytest.TempPathFactory) -> Studied:
    """Record the decoy: the same machine with warmer water."""
    levels = {**AS_LEFT, "water/si": 9.0, "water/so": 4.8}
    folder = tmp_path_factory.mktemp("c") / "warm"
    return study(open_session(str(hall_session(folder, levels, declared=BRINE, seed=3))))


def words(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<style.*?</style>|<[^>]*>", " ", html, flags=re.S))


def owner(a: Studied, b: Studied | None, record: str = RECORD, card: object = HALL_CARD) -> str:
    compared = compare_sessions(a, b) if b is not None else None
    sessions = [a] if b is None else [a, b]
    read = decode_visit(record) if record else None
    facts = owner_facts(sessions, compared, read, card, "si", written_us=1_768_400_000_000_000)  # type: ignore[arg-type]
    return page_of("owner.html", facts, "a4")


def test_the_hall_is_answered_as_the_technician_answers_for_it(found: Studied, left: Studied) -> None:
    text = words(owner(found, left))
    assert "Was it broken? Yes." in text
    assert "Is it fixed? Yes, for heating. Heating: measured before and after, under like conditions." in text
    assert "approved by the technician" in text
    assert "Not tested: cooling: the source is too cold" in text
    assert "Temporary repair: none" in text
    assert "0.28 kg of R410A recovered, weighed." in text
    assert "1.03" not in text  # the charge on the plate was never weighed


def test_how_near_to_freezing_is_held_against_the_card(found: Studied, left: Studied) -> None:
    html = owner(found, left)
    # Hall: 1.6 K as found and 5.0 K as left (job scenario, computed); the card asks for 3 K.
    assert re.search(r"1\.\d K</span> <span class=\"slab\">TOO LOW", html)
    assert re.search(r"class=\"n\">[45]\.\d K", html)
    assert "good: 3.0 K or more" in html
    drawn = re.search(r'aria-label="(before[^"]*)"', html)
    assert drawn is not None
    assert re.search(r"before: brine in at 4\.0 °C, .*freezes at −9\.\d °C; after: brine in", drawn.group(1))
    assert "unit's coldest" in html or "unit&#39;s coldest" in html


def test_no_more_than_seven_rows_and_out_of_band_is_said_in_words(found: Studied, left: Studied) -> None:
    html = owner(found, left)
    table = html[html.index("Before and after") :]
    table = table[: table.index("</table>")]
    assert 3 <= table.count('<th scope="row">') <= 7
    assert "above its limit" in table  # subcooling 11.5 K, the card allows 8 K


def test_without_a_card_nothing_is_judged(found: Studied, left: Studied) -> None:
    text = words(owner(found, left, card=None))
    assert "no unit card: nothing is judged against limits" in text
    assert "TOO LOW" not in text
    assert "its limit" not in text


def test_advice_that_nobody_approved_is_not_printed(found: Studied, left: Studied) -> None:
    silent = RECORD.replace('watch_approved_by = "technician A"', "")
    text = words(owner(found, left, silent))
    assert "What to watch" not in text
    assert "Pipe shavings may come loose" not in text


def test_a_pair_that_cannot_be_compared_never_says_measured(found: Studied, warm: Studied) -> None:
    text = words(owner(found, warm))
    assert "the technician says so; before and after cannot be compared" in text
    assert "Before and after: not comparable" in text
    assert "NOT COMPARABLE: source water in" in text
    assert "Fair comparison" not in text


def test_without_a_record_nobody_has_answered(found: Studied) -> None:
    text = words(owner(found, None, record=""))
    assert "Was it broken? Not stated." in text
    assert "Is it fixed? Not stated." in text
    assert "Temporary repair: not recorded" in text


@pytest.mark.parametrize(
    "words_of_blame", ["fault of", "guarantee", "will not return", "negligen", "last visit"]
)
def test_no_blame_and_no_promise(found: Studied, left: Studied, words_of_blame: str) -> None:
    assert words_of_blame not in words(owner(found, left)).lower()


def test_what_a_person_typed_stays_text(found: Studied, left: Studied) -> None:
    record = f"[visit]\nsite = '''{NASTY}'''\n[[action]]\nfound = '''{NASTY}'''\ndid = '''{NASTY}'''\n"
    record += f"[owner]\nbroken = 'yes'\nbroken_how = '''{NASTY}'''\nwatch = '''{NASTY}'''\n"
    record += "watch_approved_by = 'A'\n"
    html = owner(found, left, record)
    tags = "".join(re.findall(r"<[^>]*>", html))
    assert "<script" not in tags
    assert "<img" not in tags
    assert not re.search(r"(?:src|href)\s*=", tags)
    assert "&lt;script&gt;" in html


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_page_is_one_page_of_pdf(found: Studied, left: Studied, paper: str) -> None:
    pytest.importorskip("weasyprint", reason="a PDF needs evenrun[pdf]")
    facts = owner_facts(
        [found, left], compare_sessions(found, left), decode_visit(RECORD), HALL_CARD, "si",
        written_us=1_768_400_000_000_000,
    )  # fmt: skip
    content, pages = making.one_page(facts, paper, pdf=True)  # type: ignore[arg-type]
    assert content.startswith(b"%PDF")
    assert pages == 1


def test_a_missing_library_is_said_with_the_way_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(name: str) -> object:
        raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.setattr("logger.reports.paper.importlib.import_module", refuse)
    with pytest.raises(CommandError, match=r"install evenrun\[pdf\], or write --out FILE.html") as refused:
        pdf_of("<p>x</p>")
    assert refused.value.status == 2


def test_the_command_writes_it_with_the_record_beside_the_session(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import argparse

    folder = hall_session(tmp_path / "s", AS_LEFT, seconds=900, declared=BRINE)
    (folder / "visit.toml").write_text(RECORD, encoding="utf-8")
    (folder / "unit.toml").write_text(
        (RECORDINGS / "cards" / "hall.toml").read_text("utf-8"), encoding="utf-8"
    )
    out = tmp_path / "page.html"
    asked = argparse.Namespace(
        as_found=str(folder), as_left=None, reader="owner", out=str(out), units="us", visit="", card="",
        paper="letter", phase_found="", phase_left="", between="",
    )  # fmt: skip
    assert report.run(asked) == 0
    assert str(out) in capsys.readouterr().out
    html = out.read_text("utf-8")
    assert "size: letter" in html
    assert "°F" in html
    assert "°C" not in html
    assert "Heating: measured after the work only." in words(html)
