"""The office's page: what was weighed, timed and used; photos small and without where they were taken."""

from __future__ import annotations

import base64
import io
import os
import re
from pathlib import Path

import pytest

from analysis.card_file import CardFile
from drivers.strict_toml import decode
from logger.comparison import Studied, compare_sessions, study
from logger.replay import open_session
from logger.reports.office import office_facts
from logger.reports.paper import page_of, pdf_of
from logger.reports.photos import photos_of
from logger.visit_file import decode_visit
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, hall_session

RECORDINGS = Path(__file__).parents[2] / "recordings"
CARD = decode((RECORDINGS / "cards" / "hall.toml").read_text("utf-8"), CardFile)
RECORD = (RECORDINGS / "visits" / "hall.toml").read_text("utf-8")


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> list[Studied]:
    top = tmp_path_factory.mktemp("office")
    folders = (hall_session(top / "as-found", AS_FOUND), hall_session(top / "as-left", AS_LEFT, seed=2))
    return [study(open_session(str(folder))) for folder in folders]


def office(pair: list[Studied], record: str = RECORD, photos: Path | None = None) -> str:
    compared = compare_sessions(*pair) if len(pair) == 2 else None
    read = decode_visit(record) if record else None
    facts = office_facts(pair, compared, read, photos, CARD, "si", written_us=1_768_400_000_000_000)
    return page_of("office.html", facts, "a4")


def words(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<style.*?</style>|<[^>]*>", " ", html, flags=re.S))


def test_everything_that_the_record_says_is_there(pair: list[Studied]) -> None:
    text = words(office(pair))
    for said in (
        "Visit report 0147", "serial number HALL-2", "charge on the plate 1.03 kg",
        "arrived 2026-01-14 08:40",
        "The floor stays cool", "labour 4.5 h", "distance 62 km", "factor 1.20: crawl space",
        "own breaker: switched off and locked", "tester proved", "run capacitor of the source pump",
        "recovered 0.28 kg recovery cylinder 3", "cal-2025-31", "Temporary repair: none",
        "Not tested: hot water", "FAIR to compare", "subcooling", "not shown to have changed",
        "strainer full of pipe shavings",
    ):  # fmt: skip
        assert said in text, said


def test_no_rate_no_price_and_no_mass_that_was_not_weighed(pair: list[Studied]) -> None:
    text = words(office(pair))
    assert "with the rate given" not in text
    assert "never weighed: mass in the machine before, mass in the machine after" in text
    priced = RECORD.replace("labour_hours = 4.5", 'labour_hours = 4.5\nlabour_rate = 80.0\ncurrency = "EUR"')
    assert "labour, with the rate given 432.00 EUR" in words(office(pair, priced))  # 4.5 x 80 x 1.2
    unweighed = RECORD.replace('mass = "0.28 kg"\n', "")
    assert "recovered not weighed, no mass" in words(office(pair, unweighed))


def test_a_balance_that_does_not_close_says_by_how_much(pair: list[Studied]) -> None:
    record = RECORD.replace("[refrigerant]", '[refrigerant]\nmass_before = "1.20 kg"\nmass_after = "0.80 kg"')
    assert "does NOT close: 0.12 kg unaccounted for" in words(office(pair, record))


def test_open_temporary_repairs_and_the_callback_stand_on_it(pair: list[Studied]) -> None:
    record = (RECORDINGS / "visits" / "bakery.toml").read_text("utf-8")
    record = record.replace('report = "0211"', 'report = "0211"\nlinked_callback = "0198"')
    text = words(office(pair, record))
    assert "callback on report 0198" in text
    assert "(since 2026-07-08, to be replaced by 2026-08-15)" in text
    assert "Coil cleaned: agent: inhibited phosphoric acid, diluted; 55 min; pH at the end 6.9" in text


def test_without_a_record_the_page_says_so(pair: list[Studied]) -> None:
    text = words(office(pair[:1], ""))
    assert "no record of the visit" in text
    assert "No isolation entered" in text


def _picture(path: Path, color: tuple[int, int, int]) -> None:
    image = pytest.importorskip("PIL.Image", reason="photos need evenrun[pdf]")
    picture = image.new("RGB", (1600, 1200), color)
    exif = image.Exif()
    exif[0x010F] = "camera of somebody"
    exif.get_ifd(0x8825)[1] = "N"  # a place
    picture.save(path, "JPEG", exif=exif)


def test_photos_are_small_and_forget_where_they_were_taken(tmp_path: Path) -> None:
    _picture(tmp_path / "a.jpg", (200, 30, 30))
    (tmp_path / "torn.jpg").write_bytes((tmp_path / "a.jpg").read_bytes()[:300])
    (tmp_path / "link.jpg").symlink_to(tmp_path / "a.jpg")
    os.mkfifo(tmp_path / "pipe.jpg")
    names = ("a.jpg", "torn.jpg", "gone.jpg", "link.jpg", "pipe.jpg")
    shown, torn, gone, link, pipe = photos_of(tmp_path, [(name, "") for name in names])
    assert (link.data, link.why_not) == ("", "a link, not shown")
    assert pipe.data == ""
    content = base64.b64decode(shown.data.partition(",")[2])
    assert b"camera of somebody" in (tmp_path / "a.jpg").read_bytes()
    assert b"camera of somebody" not in content
    image = pytest.importorskip("PIL.Image")
    assert max(image.open(io.BytesIO(content)).size) == 480
    assert torn.data == ""
    assert "cannot be read" in torn.why_not
    assert gone.why_not == "the file is not there"


def test_twenty_photos_and_long_texts_make_a_whole_pdf(pair: list[Studied], tmp_path: Path) -> None:
    pytest.importorskip("weasyprint", reason="a PDF needs evenrun[pdf]")
    (tmp_path / "photos").mkdir()
    record = RECORD
    for n in range(20):
        _picture(tmp_path / "photos" / f"{n}.jpg", (10 * n, 100, 100))
        record += f'\n[[mark]]\ntext = "{"long " * 40}{n}"\nphotos = ["{n}.jpg"]\n'
    html = office(pair, record, tmp_path)
    assert html.count("data:image/jpeg") == 20
    assert "strainer.jpg: strainer full of pipe shavings and sludge (the file is not there)" in words(html)
    assert not re.search(r"src=\"(?!data:)", html)
    content, pages = pdf_of(html)
    assert content.startswith(b"%PDF")
    assert 4 <= pages <= 12
