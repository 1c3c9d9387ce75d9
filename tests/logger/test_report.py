"""Comparing and reporting at the command line: honest words, whole pages, nothing that leaves the page."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from analysis.timeline import Event
from logger.cli import main
from tests.logger.hall_sessions import (
    AS_FOUND,
    AS_LEFT,
    CHANNELS,
    DECLARED,
    SECOND,
    WATER_RIGHT,
    hall_session,
)

CARD = Path(__file__).parents[2] / "recordings" / "cards" / "hall.toml"

NASTY = '<script>alert("x")</script> & "hall" ' + "unit-without-a-blank-" * 12
VOID = {"meta", "br", "link", "img", "hr", "input"}


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Path:
    events = [
        Event(60 * SECOND, 0, "phase", "", "as-found"),
        Event(300 * SECOND, 0, "mark", "", "<img src=http://example.org/x onerror=alert(1)> strainer opened"),
        Event(400 * SECOND, 0, "dropout", "clamps/tl", "40.0 s"),
        Event(500 * SECOND, 0, "rejected", "gauges", "3 lines; first: <b>garbage</b>"),
    ]
    folder = tmp_path_factory.mktemp("found") / "as-found"
    return hall_session(folder, AS_FOUND, title=NASTY, events=events, silent=("clamps/tl", 400, 440))


@pytest.fixture(scope="module")
def left(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return hall_session(tmp_path_factory.mktemp("left") / "as-left", AS_LEFT, seed=2)


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    def run(*arguments: object) -> tuple[int, str, str]:
        status = main([str(argument) for argument in arguments])
        seen = capsys.readouterr()
        return status, seen.out, seen.err

    return run


Told = Callable[..., tuple[int, str, str]]


class Page(HTMLParser):
    """Checks that tags nest and collects what matters for security and access."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


def report(told: Told, *arguments: object) -> Page:
    out = arguments[-1]
    status, said, err = told("report", *arguments[:-1], "--out", out)
    assert (status, err) == (0, ""), err
    assert str(out) in said
    text = Path(str(out)).read_text(encoding="utf-8")
    assert not re.search(
        r"(?:src|href|srcset|action|data)\s*=\s*[\"']?\s*(?:[a-z]+:)?//", _without_text(text), re.I
    )
    assert not re.search(r"url\(\s*[\"']?(?!#)", text, re.I)
    assert "@import" not in text
    return Page(text)


def _without_text(html: str) -> str:
    """Give the tags alone; what a person typed is text between them."""
    return "".join(re.findall(r"<[^>]*>", html))


def test_as_found_and_as_left_are_compared(told: Told, found: Path, left: Path) -> None:
    status, out, err = told("compare", found, left)
    assert (status, err) == (0, "")
    assert "FAIR to compare" in out
    subcooling = next(line for line in out.splitlines() if line.startswith("subcooling"))
    # Hall: 11.5 K as found and 5.2 K as left (job scenario, computed).
    assert re.search(r"11\.\d K +5\.\d K +−6\.\d ± 0\.\d K +changed", subcooling)
    source = next(line for line in out.splitlines() if line.startswith("source water in  "))
    assert source.rstrip().endswith("not shown to have changed")
    assert "Cooling: not tested." in out
    assert "common practice" in out


def test_units_of_practice(told: Told, found: Path, left: Path) -> None:
    _, out, _ = told("compare", found, left, "--units", "us")
    assert "°F" in out
    assert "psig" in out
    assert "°C" not in out
    assert "bar(g)" not in out


def test_json_keys_are_the_registrys_symbols_and_unknown_is_null(told: Told, found: Path, left: Path) -> None:
    _, out, _ = told("compare", found, left, "--json")
    answer = json.loads(out)
    (comparison,) = answer["comparisons"]
    assert comparison["fair"] is True
    assert set(comparison["changes"]) <= {*BY_SYMBOL, *POINTS}
    assert {"superheat", "subcooling", "suction_pressure", "source_delta_t"} <= set(comparison["changes"])
    subcooling = comparison["changes"]["subcooling"]
    assert subcooling["verdict"] == "changed"
    assert subcooling["difference"] == pytest.approx(-6.3, abs=0.2)
    assert 0.1 < subcooling["u"] < 0.5
    assert answer["not_tested"] == {"cooling": "not tested"}


def test_the_machine_between_two_repairs_has_its_column(
    told: Told, found: Path, left: Path, tmp_path: Path
) -> None:
    water_right = hall_session(tmp_path / "between", WATER_RIGHT, seed=3)
    status, out, _ = told("compare", found, left, "--between", water_right)
    assert status == 0
    heads = next(line for line in out.splitlines() if line.startswith("quantity"))
    assert heads.index("as found") < heads.index("between") < heads.index("as left")
    row = next(line.split() for line in out.splitlines() if line.startswith("condensing (bubble)"))
    found_c, between_c, left_c = (float(row[n].replace("−", "-")) for n in (2, 4, 6))
    assert between_c > found_c + 1.0 > left_c  # it rises with the water put right, and then falls
    facts = json.loads(told("compare", found, left, "--between", water_right, "--json")[1])
    assert facts["between"]["heating"]["fair"] is True
    page = tmp_path / "p.html"
    assert told("report", found, left, "--between", water_right, "--card", CARD, "--out", page)[0] == 0
    Page(page.read_text("utf-8"))
    assert page.read_text("utf-8").count("□ between") == 2
    assert told("report", found, "--between", left, "--out", page)[0] == 2


def test_the_technicians_page_shows_the_photos_of_the_record(
    told: Told, found: Path, left: Path, tmp_path: Path
) -> None:
    image = pytest.importorskip("PIL.Image", reason="photos need evenrun[pdf]")
    (tmp_path / "photos").mkdir()
    image.new("RGB", (640, 480), (90, 80, 60)).save(tmp_path / "photos" / "a.jpg")
    visit = tmp_path / "visit.toml"
    visit.write_text('[[mark]]\ntext = "strainer <b>full</b>"\nphotos = ["a.jpg", "gone.jpg"]\n', "utf-8")
    page = tmp_path / "p.html"
    assert told("report", found, left, "--visit", visit, "--out", page)[0] == 0
    text = page.read_text("utf-8")
    assert text.count("data:image/jpeg") == 1
    assert "a.jpg: strainer &lt;b&gt;full" in text
    assert "the file is not there" in text
    Page(text)


def test_a_decoy_between_is_said_not_to_be_alike(told: Told, found: Path, left: Path, tmp_path: Path) -> None:
    warm = hall_session(tmp_path / "warm", WATER_RIGHT | {"water/si": 9.0, "water/so": 5.0}, seed=3)
    out = told("compare", found, left, "--between", warm)[1]
    assert "NOT under like conditions: source water in" in out


def test_a_session_against_itself(told: Told, found: Path) -> None:
    _, out, _ = told("compare", found, found, "--json")
    (comparison,) = json.loads(out)["comparisons"]
    assert {c["verdict"] for c in comparison["changes"].values()} == {"not shown to have changed"}


def test_the_decoy_at_nine_degrees_and_another_refrigerant(told: Told, found: Path, tmp_path: Path) -> None:
    warm = hall_session(tmp_path / "warm", AS_LEFT | {"water/si": 9.0})
    status, out, _ = told("compare", found, warm)
    assert status == 0
    assert "NOT COMPARABLE: source water in 4.0 °C and 9.0 °C" in out
    assert "the limit is 1.7 K" in out
    other = hall_session(tmp_path / "r22", AS_LEFT, declared=DECLARED | {"refrigerant": "R22"})
    _, out, _ = told("compare", found, other)
    assert "NOT COMPARABLE: refrigerant R410A and R22" in out
    page = report(told, found, warm, tmp_path / "warm.html")
    assert "NOT COMPARABLE" in page.text


def test_corrections_say_when_they_were_written_and_marks_have_the_numbers_of_their_flags(
    told: Told, tmp_path: Path
) -> None:
    late = 1_768_377_600_000_000 + 7200 * SECOND
    events = [
        Event(30 * SECOND, 1_768_377_600_000_000, "mark", "", "first"),
        Event(40 * SECOND, 1_768_377_600_000_000, "mark", "", "second"),
        Event(0, late, "assign", "clamps/ts", "suction_temperature"),
        Event(0, late, "offset", "clamps/ts", "-0.2 K"),
    ]
    folder = hall_session(tmp_path / "corrected", AS_FOUND, seconds=200, events=events)
    text = report(told, folder, tmp_path / "page.html").text
    assert "mark 2 second" in text
    assert "suction_temperature (written 2026-01-14 10:00 UTC)" in text
    assert "-0.2 K (written 2026-01-14 10:00 UTC)" in text
    assert "liquid_temperature" not in text


def test_heating_and_cooling_have_nothing_to_compare(told: Told, found: Path, tmp_path: Path) -> None:
    cooling = hall_session(tmp_path / "cooling", AS_LEFT, declared=DECLARED | {"mode": "cooling"})
    status, out, _ = told("compare", found, cooling)
    assert status == 0
    assert "no mode in common" in out
    assert "Heating: tested as found only, not compared." in out
    assert "no mode in common" in report(told, found, cooling, tmp_path / "page.html").text


def test_the_pages_say_what_was_typed_and_run_none_of_it(
    told: Told, found: Path, left: Path, tmp_path: Path
) -> None:
    page = report(told, found, left, tmp_path / "pair.html")
    assert not {tag for tag, _ in page.tags} & {"script", "img", "iframe", "object", "link", "b2"}
    assert not [name for _, attributes in page.tags for name in attributes if name.startswith("on")]
    assert '<script>alert("x")</script> & "hall"' in page.text
    assert "<img src=http://example.org/x onerror=alert(1)> strainer opened" in page.text
    assert "<b>garbage</b>" in page.text
    policy = next(a["content"] for tag, a in page.tags if tag == "meta" and "http-equiv" in a)
    assert policy is not None
    assert policy.startswith("default-src 'none'")


@pytest.mark.parametrize("units", ["si", "us"])
def test_one_session_alone(told: Told, found: Path, tmp_path: Path, units: str) -> None:
    page = report(told, found, "--units", units, tmp_path / "one.html")
    text = page.text
    for wanted in (
        "Not tested", "Cooling: not tested", "Against the readings", "40.0 s", "3 lines", "data sheet",
        "Caution.", "local codes", "declared", "evenrun 0.1.0", "Not worked out:", "common practice", "GUM",
    ):  # fmt: skip
        assert wanted in text, wanted
    assert ("94.32 kPa(a)" if units == "si" else "13.68 psia") in text
    assert ("bar(g)" if units == "si" else "psig") in text
    assert text.count("as left") == 0


def test_pages_can_be_read_without_eyes(told: Told, found: Path, left: Path, tmp_path: Path) -> None:
    page = report(told, found, left, tmp_path / "pair.html")
    tags = page.tags
    assert ("html", {"lang": "en"}) in tags
    heads = [attributes for tag, attributes in tags if tag == "th"]
    assert heads
    assert all(attributes.get("scope") in ("row", "col") for attributes in heads)
    pictures = [attributes for tag, attributes in tags if tag == "svg"]
    ids = {attributes.get("id") for _, attributes in tags}
    for attributes in pictures:
        labels = (attributes.get("aria-labelledby") or "").split()
        assert attributes.get("aria-hidden") == "true" or (labels and set(labels) <= ids)
    known = [attributes["id"] for _, attributes in tags if attributes.get("id")]
    assert len(known) == len(set(known))
    assert sum(tag == "h1" for tag, _ in tags) == 1


def test_no_line_crosses_the_dropout_and_it_is_hatched(told: Told, found: Path, tmp_path: Path) -> None:
    report(told, found, tmp_path / "one.html")
    text = (tmp_path / "one.html").read_text(encoding="utf-8")
    # Of the liquid line, and of the subcooling that rests on it; each with its white ground behind it.
    assert len(re.findall(r'<text class="s" x=[^>]*>dropout 40 s<', text)) == 2
    chart = next(f for f in text.split("<figure") if "liquid line" in f)
    hatch = re.search(r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" [^>]*fill="url\(#', chart)
    assert hatch is not None
    begin, end = float(hatch[1]), float(hatch[1]) + float(hatch[2])
    dotted = [
        d for style, d in re.findall(r'<path class="l (\w+)" d="(M [^"]* L [^"]*)"', chart) if style == "dot"
    ]
    assert len(dotted) == 2  # the liquid line, before and after
    spans = [[float(x) for x in re.findall(r"[ML] ([\d.]+)", d)] for d in dotted]
    assert max(spans[0]) <= begin + 0.15
    assert min(spans[1]) >= end - 0.15


def test_a_session_without_readings_and_without_promises(told: Told, found: Path, tmp_path: Path) -> None:
    empty = hall_session(tmp_path / "empty", {}, declared={}, seconds=0)
    assert "no readings" in report(told, empty, tmp_path / "empty.html").text
    status, _, err = told("compare", found, empty)
    assert status == 2
    assert "no readings" in err
    bare = tuple(type(c)(c.id, c.quantity, c.unit) for c in CHANNELS)
    unsure = hall_session(tmp_path / "bare", AS_LEFT, channels=bare, seconds=100)
    text = report(told, unsure, tmp_path / "bare.html").text
    assert "nothing promised" in text
    assert "not known" in text
    assert "not to be judged" in text


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("--out", "page.odt"), 2, "ends in .html or .pdf"),
        (("--out", "p.html", "--for", "owner", "--visit", "no.toml"), 4, "There is no visit record"),
        (("--out", "no/such/folder/p.html"), 4, "cannot be written"),
        (("--out", "p.html", "--phase-left", "as-left"), 2, "name a second session"),
    ],
)
def test_wrong_use_is_one_sentence_with_the_way_out(
    told: Told, found: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...], status: int, said: str,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    got, out, err = told("report", found, *arguments)
    assert (got, out) == (status, "")
    assert said in err
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_phase_that_is_not_there_is_named_with_those_that_are(told: Told, found: Path, left: Path) -> None:
    status, _, err = told("compare", found, left, "--phase-found", "as-fnd")
    assert status == 2
    assert "as-fnd" in err
    assert "'as-found'" in err
