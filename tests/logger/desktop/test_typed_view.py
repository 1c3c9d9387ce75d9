"""A typed visit in the window: keys become rows on disk, nothing is corrected silently."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent

from logger.desktop.scene_typed import typed_scene
from logger.desktop.staged_typed import staged_typed
from logger.desktop.typing_visit import TypingVisit
from logger.desktop.window import Window
from logger.session import Session
from logger.typed_sheet import declare


@pytest.fixture
def visit(tmp_path: Path) -> Iterator[TypingVisit]:
    sheet = declare(refrigerant="R410A", mode="heating", barometer="94.32 kPa(a)")
    made = TypingVisit(sheet, tmp_path / "visit", "si")
    yield made
    made.stop("test")


def _type(visit: TypingVisit, point: str, keys: str) -> None:
    visit.choose(point)
    for key in keys:
        visit.key(key)
    visit.key("keep")


def test_the_hall_of_the_typed_visit_says_what_its_table_says() -> None:
    # 5.2 bar(g) is -8.0 degC, superheat 5.6 K, U 1.3 K with a gauge of class 1.0 and a clamp of 1 K.
    present, page = staged_typed("si")
    words = {text.text for text in typed_scene(present, page).texts}
    assert {
        "5.6",
        "± 1.3 K",
        "evaporating −8.0 °C",
        "suction line −2.4 °C",
        "repeats",
        "single look",
    } <= words


def test_rows_are_on_disk_as_they_are_kept(visit: TypingVisit) -> None:
    _type(visit, "suction_pressure", "5.2")
    _type(visit, "suction_temperature", "-2.4")
    rows = [rows for rows in Session.open(visit.folder).rows() if len(rows)]
    assert [float(v) for batch in rows for v in batch.value] == [5.2, -2.4]
    assert visit.page.digits == ""


def test_an_impossible_value_is_asked_again_and_never_kept(visit: TypingVisit) -> None:
    _type(visit, "suction_temperature", "888888")
    assert "type it again" in visit.notice
    assert visit.page.sheet.rows == []
    assert visit.page.digits == "888888"


def test_keep_without_a_value_and_a_minus_where_none_belongs_do_nothing(visit: TypingVisit) -> None:
    visit.choose("source_flow")
    visit.key("-")
    visit.key("keep")
    assert visit.page.digits == ""
    assert visit.notice == "type a value first"


def test_the_pad_takes_one_point_clears_and_goes_back(visit: TypingVisit) -> None:
    for key in ("5", ".", ".", "2", "back", "3"):
        visit.key(key)
    assert visit.page.digits == "5.3"
    visit.key("clear")
    assert visit.page.digits == ""


def test_digits_of_the_keyboard_go_to_the_pad_and_page_keys_change_the_view(visit: TypingVisit) -> None:
    shown = Window(visit, view="typed")
    try:
        for key, text in ((Qt.Key.Key_5, "5"), (Qt.Key.Key_Comma, ","), (Qt.Key.Key_2, "2")):
            shown.keyPressEvent(QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, text))
        assert visit.page.digits == "5.2"
        assert shown.scene.view == "typed"
        shown.keyPressEvent(
            QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Return, Qt.KeyboardModifier.NoModifier, "\r")
        )
        assert [row.value for row in visit.page.sheet.rows] == [5.2]
        target = next(t for t in shown.scene.targets if t.act == "typed suction_temperature")
        shown.act(target.act)
        assert visit.page.point == "suction_temperature"
        shown.keyPressEvent(
            QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_PageDown, Qt.KeyboardModifier.NoModifier)
        )
        assert shown.scene.view != "typed"
    finally:
        visit.stop("test")
        shown.close()


def test_a_closed_visit_is_a_whole_session(visit: TypingVisit) -> None:
    _type(visit, "suction_pressure", "5.2")
    visit.stop("done")
    session = Session.open(visit.folder)
    assert session.state.value == "closed"
    assert visit.warnings == ()


def test_there_are_no_marks_and_a_kept_row_stays(visit: TypingVisit) -> None:
    _type(visit, "suction_pressure", "5.2")
    visit.undo()
    assert "stays" in visit.notice
    assert len(visit.page.sheet.rows) == 1


def test_outside_a_typed_visit_the_view_says_how_to_begin_one() -> None:
    present, _ = staged_typed()
    assert any("--typed" in text.text for text in typed_scene(present, None).texts)
