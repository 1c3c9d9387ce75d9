"""Scenes against what they are drawn from: numbers, states, dropouts, comparing, pictures and the command."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtGui import QFont, QFontMetricsF, QGuiApplication, QImage

from analysis.presets import show
from analysis.timeline import Event
from analysis.units import Quantity
from logger.cli import main
from logger.comparison import shown_conditions
from logger.desktop import staged
from logger.desktop.advice import CONDITIONS, Support
from logger.desktop.audit import audit
from logger.desktop.bands import BandWatch, Judged
from logger.desktop.comparing import compare_page
from logger.desktop.drawing import Choices, draw
from logger.desktop.letters import WIDTHS, text_width
from logger.desktop.looks import LOOKS
from logger.desktop.painter import family, font, picture
from logger.desktop.present import Present, judge_rows
from logger.desktop.review import Review
from logger.desktop.scene import Hatch, Scene, Trace
from logger.desktop.scene_levels import levels_scene
from logger.desktop.staged import stage
from logger.desktop.staged_pages import staged_compare, staged_reports, staged_sessions
from logger.replay import open_session
from logger.session_card import read_card
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, hall_session

CARD = Path(__file__).parents[3] / "recordings" / "cards" / "hall.toml"


def _scene(name: str, view: str = "levels", preset: str = "si") -> Scene:
    present, history = stage(name, preset)  # type: ignore[arg-type]
    return draw(present, history, Choices(view=view))


def _words(scene: Scene) -> str:
    return "\n".join(text.text for text in scene.texts)


def test_levels_show_the_figures_of_the_site_table() -> None:
    # The hall as found, by its own table: superheat 5.8 K, subcooling 11.5 K, margin 1.6 K, flow 0.33 L/s.
    scene = _scene("as-found")
    shown = {(t.of, t.text) for t in scene.texts}
    for symbol, number in (("superheat", "5.8"), ("subcooling", "11.5"), ("freeze_margin", "1.6"),
                           ("source_delta_t", "6.4"), ("source_volume_flow", "0.33")):  # fmt: skip
        assert (symbol, number) in shown
    assert "freeze margin too low, 1.6 K: be ready to stop the unit" in _words(scene)


@pytest.mark.parametrize("preset", ["si", "us"])
def test_every_level_on_the_screen_is_the_result_itself(preset: str) -> None:
    present, history = stage("as-left", preset)  # type: ignore[arg-type]
    scene = draw(present, history, Choices())
    for key in ("condensing_temperature", "evaporating_temperature", "suction_temperature"):
        text = next(t.text for t in scene.texts if t.of == key and t.px == 22)
        assert text == show(Quantity.TEMPERATURE, present.value(key), present.preset)


def test_states_are_said_in_words() -> None:
    assert "STEADY for" in _words(_scene("as-found"))
    assert "SETTLING, at least 10 min more" in _words(_scene("start"))
    assert "WAITING for suction line" in _words(_scene("dropout"))
    assert "WAITING for the first reading" in _words(_scene("no-device"))


def test_a_start_is_judged_by_what_the_findings_take_at_a_start_and_by_nothing_else() -> None:
    present, history = stage("start")

    def at(second: int) -> dict[str, str]:
        found = judge_rows(BandWatch(), history.before(second * 1_000_000, 12), present.bands)
        return {symbol: judged.value for symbol, judged in found.items()}

    assert set(at(20).values()) == {"not judged"}
    assert at(60) | {"freeze_margin": ""} == dict.fromkeys(at(60), "not judged") | {
        "freeze_margin": "", "source_volume_flow": "LOW", "pump_current": "HIGH"
    }  # fmt: skip
    assert at(60)["freeze_margin"] != "not judged"


def test_a_machine_at_rest_is_judged_by_nothing() -> None:
    resting = replace(staged._STAGES["start"], levels=staged._HALL | {"compressor_power": 0.0})
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(staged._STAGES, "start", resting)
        present, _ = stage("start")
    assert "AT REST" in _words(levels_scene(present))
    assert set(present.judged.values()) == {Judged.NOT_JUDGED}


def test_a_lost_probe_leaves_a_hatch_and_its_silence() -> None:
    scene = _scene("dropout")
    assert "suction line silent 0:47" in _words(scene)
    assert any(isinstance(item, Hatch) and item.name == "no value" for item in scene.items)


def test_without_a_refrigerant_no_saturation_and_no_gap_of_it_is_shown() -> None:
    scene = _scene("no-refrigerant")
    assert "refrigerant not declared" in _words(scene)
    assert not {t.of for t in scene.texts} & {
        "superheat",
        "subcooling",
        "evaporating_temperature",
        "freeze_margin",
    }


def test_without_a_card_nothing_is_out_of_band() -> None:
    scene = _scene("no-card")
    assert scene.flags == ()
    assert "no band on card" in _words(scene)


def test_a_wrong_refrigerant_is_to_be_checked_first() -> None:
    assert "check this first" in _words(_scene("wrong-refrigerant"))


def test_an_act_without_its_condition_is_refused() -> None:
    with pytest.raises(ValueError, match="no safe condition"):
        Support((), (("whenever", "open the strainer"),))


def test_acts_stand_under_their_conditions_in_the_fixed_order() -> None:
    present, history = stage("as-found")
    assert present.support is not None
    conditions = [c for c in CONDITIONS if any(condition == c for condition, _ in present.support.acts)]
    assert len(conditions) >= 2
    scene = draw(present, history, Choices())
    heights = [
        next(t.y for t in scene.texts if t.bold and t.text.removeprefix("Next, ") == c) for c in conditions
    ]
    assert heights == sorted(heights)


def test_a_charge_finding_is_held_until_the_water_is_proven() -> None:
    def strength(name: str) -> str:
        support = stage(name)[0].support
        assert support is not None
        return next(e.strength for e in support.entries if "too much refrigerant" in e.statement)

    assert strength("as-found") == "held back: water not proven"
    assert "supported" in strength("water-put-right")


def test_a_dropout_is_hatched_with_its_length_and_no_line_crosses_it() -> None:
    present, history = stage("as-found")
    assert present.newest is not None
    channel = present.newest.settings.channel_of["pump_current"]
    event = Event(400_000_000, 0, "dropout", channel, "40.0 s")
    scene = draw(present, history, Choices(view="trends"), events=[event])
    hatch = next(i for i in scene.items if isinstance(i, Hatch) and i.name == "dropout")
    per_s = 744.0 / history.rows
    assert hatch.rect.w == pytest.approx(40.0 * per_s, abs=1.0)
    trace = next(i for i in scene.items if isinstance(i, Trace) and i.of == "pump_current")
    inside = (trace.x > hatch.rect.x + 1) & (trace.x < hatch.rect.right - 1)
    assert inside.any()
    assert all(math.isnan(value) for value in trace.mean[inside])


def test_widths_of_letters_are_those_of_the_shipped_fonts(application: QGuiApplication) -> None:
    assert family() == "B612"
    for bold in (False, True):
        large = QFont(font(100, bold))
        measure = QFontMetricsF(large)
        for letter in WIDTHS[bold]:
            if letter.isprintable():
                assert measure.horizontalAdvance(letter) == pytest.approx(
                    text_width(letter, 100, bold=bold), abs=0.6
                )


@pytest.mark.parametrize("look", ["dark", "sun", "night"])
@pytest.mark.parametrize("size", [(1280, 800), (1024, 768), (1920, 1080)])
def test_a_picture_is_painted_at_any_size(
    application: QGuiApplication, look: str, size: tuple[int, int]
) -> None:
    drawn = picture(_scene("as-found"), LOOKS[look], *size)  # type: ignore[index]
    assert (drawn.width(), drawn.height()) == size
    colours = {drawn.pixel(x, y) for x in range(0, size[0], 7) for y in range(0, size[1], 7)}
    assert len(colours) > 8


def test_in_a_scene_with_nothing_abnormal_no_pixel_is_coloured(application: QGuiApplication) -> None:
    present, history = stage("no-card")
    image: QImage = picture(draw(present, history, Choices()), LOOKS["dark"])
    most = max(
        image.pixelColor(x, y).hsvSaturationF() * (image.pixelColor(x, y).valueF() > 0.3)
        for x in range(0, 1280, 3) for y in range(0, 800, 3)
    )  # fmt: skip
    assert most < 0.25


def test_two_sessions_are_compared_with_the_verdict_of_the_command(tmp_path: Path) -> None:
    a = hall_session(tmp_path / "a", AS_FOUND)
    b = hall_session(tmp_path / "b", AS_LEFT)
    card = read_card(CARD)
    page = compare_page(open_session(str(a)), open_session(str(b)), card)
    scene = draw(Present(), stage("no-device")[1], Choices(view="compare"), page=page)
    words = _words(scene)
    assert [str(fault) for look in ("dark", "sun") for fault in audit(scene, look)] == []  # type: ignore[arg-type]
    assert "FAIR to compare" in words
    assert "11.5 K" in words
    assert "5.2 K" in words
    assert "Cooling: not tested." in words


def test_an_unfair_pair_is_not_judged(tmp_path: Path) -> None:
    a = hall_session(tmp_path / "a", AS_FOUND)
    b = hall_session(tmp_path / "b", AS_LEFT | {"water/si": 9.0, "water/so": 5.1})
    page = compare_page(open_session(str(a)), open_session(str(b)), None)
    scene = draw(Present(), stage("no-device")[1], Choices(view="compare"), page=page)
    words = _words(scene)
    assert audit(scene) == []
    assert "UNFAIR to compare" in words
    assert "not comparable" in words


def test_every_condition_of_fairness_is_shown_whole_or_on_its_own_page() -> None:
    page = staged_compare("long-names")
    assert page is not None
    assert page.comparison is not None
    present, history = stage("long-names")
    table, full = (draw(present, history, Choices(view="compare", page=n), page=page) for n in (0, 1))
    for condition in shown_conditions(page.comparison, "si"):
        assert condition.label in _words(table)
        assert condition.text in _words(full)
    assert not [text.text for text in table.texts if 90 < text.y < 190 and "…" in text.text]
    assert any(target.act == "page" for scene in (table, full) for target in scene.targets)


def _linked(folder: Path, *links: tuple[int, str]) -> Review:
    lines = [Event(second * 1_000_000, 0, "link", "gauges", text) for second, text in links]
    return Review.open(open_session(str(hall_session(folder, AS_FOUND, seconds=120, events=lines))), "si")


def test_a_stored_sessions_links_are_told_as_what_has_been(tmp_path: Path) -> None:
    def words(review: Review, second: int) -> str:
        return _words(draw(review.at(second * 1_000_000), review.history, Choices(view="devices")))

    lost = _linked(tmp_path / "lost", (0, "live"), (67, "waiting: unplugged; next try in 0.5 s"))
    assert "lost at 1:07" in words(lost, 120)
    assert "trying" not in words(lost, 120)
    assert "was live" in words(lost, 60)
    assert "until the end" not in words(lost, 60)
    closed = _linked(tmp_path / "closed", (0, "live"), (120, "waiting: closed"), (121, "ended"))
    assert "was live until the end" in words(closed, 120)


def test_one_side_only_is_said() -> None:
    assert "one side only" in _words(_scene("as-found", "compare"))


def test_the_card_beside_a_session_gives_its_bands(tmp_path: Path) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND)
    (folder / "unit.toml").write_text(CARD.read_text(encoding="utf-8"), encoding="utf-8")
    present = Review.open(open_session(str(folder)), "si").present()
    assert present.bands["superheat"].high == 9.0
    assert present.judged["subcooling"].value == "HIGH"


def test_a_moment_of_a_session_is_the_same_as_its_end_seen_then(tmp_path: Path) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=900, silent=("clamps/ts", 700, 760))
    review = Review.open(open_session(str(folder)), "si")
    gone, back = review.at(750_000_000), review.at(890_000_000)
    assert math.isnan(gone.value("superheat"))
    assert "silent" in gone.silence("suction_temperature")
    assert math.isfinite(back.value("superheat"))


@pytest.mark.parametrize(
    "asked", [["cycle", "--scene", "start"], ["report"], ["report", "--scene", "long"], ["session"],
              ["session", "--scene", "choosing"], ["compare", "--scene", "as-found"]],
)  # fmt: skip
def test_shot_draws_the_made_up_pages(asked: list[str], tmp_path: Path, application: QGuiApplication) -> None:
    out = tmp_path / "x.png"
    assert main(["shot", *asked, "--units", "us", "--out", str(out)]) == 0
    assert QImage(str(out)).height() == 800


@pytest.mark.parametrize("view", ["cycle", "report", "session"])
def test_shot_draws_the_views_of_a_session(view: str, tmp_path: Path, application: QGuiApplication) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=120)
    out = tmp_path / "x.png"
    assert main(["shot", view, str(folder), "--out", str(out)]) == 0
    assert QImage(str(out)).width() == 1280


def test_shot_writes_a_picture(tmp_path: Path, application: QGuiApplication) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=120)
    out = tmp_path / "levels.png"
    assert main(["shot", "levels", str(folder), "--at", "0:01:00", "--look", "sun", "--out", str(out)]) == 0
    assert QImage(str(out)).size().width() == 1280


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["shot"], "Name a view"),
        (["shot", "levels"], "--out"),
        (["shot", "levels", "--out", "x.png"], "Name a session"),
        (["shot", "levels", "--scene", "nowhere", "--out", "x.png"], "There is no scene 'nowhere'"),
        (["shot", "levels", "--scene", "start", "--size", "huge", "--out", "x.png"], "is no size"),
        (["shot", "typed", "nowhere-at-all", "--out", "x.png"], "made-up visit"),
        (["shot", "report", "--scene", "nowhere", "--out", "x.png"], "There is no scene 'nowhere'"),
        (["shot", "session", "--scene", "nowhere", "--out", "x.png"], "There is no scene 'nowhere'"),
    ],
)
def test_shot_says_in_a_sentence_what_is_wrong(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    assert words in capsys.readouterr().err


def test_the_audit_prints_json(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(staged, "STAGES", ("as-found", "no-device"))
    assert main(["shot", "--audit", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["faults"] == []
    assert found["scenes"] >= 60


def test_a_bad_card_is_told_with_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=60)
    bad = tmp_path / "bad.toml"
    bad.write_text("[unit]\ntitle = 3\n", encoding="utf-8")
    assert main(["shot", "levels", str(folder), "--card", str(bad), "--out", str(tmp_path / "x.png")]) == 3
    assert "bad.toml" in capsys.readouterr().err


@pytest.mark.parametrize("view", ["session", "report"])
def test_an_act_now_takes_the_second_line_of_every_view(view: str) -> None:
    present, history = stage("as-found")
    page = staged_sessions(present)["whole"]
    scene = draw(present, history, Choices(view=view), report=staged_reports()["owner"], session=page)
    assert "be ready to stop the unit" in _words(scene)
