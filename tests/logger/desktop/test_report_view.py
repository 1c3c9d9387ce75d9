"""The report view: what was not approved is not printed, and the file is where the window says it is."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from analysis.timeline import Event
from logger.desktop.paperwork import Paperwork
from logger.desktop.review import Review
from logger.desktop.window import Window
from logger.replay import open_session
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, DECLARED, hall_session

RECORDINGS = Path(__file__).parents[3] / "recordings"
CARD = str(RECORDINGS / "cards" / "hall.toml")
SURE = 30.0


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("visit")
    declared = DECLARED | {"fluid": "propylene_glycol 25 % mass"}
    pair = tuple(
        hall_session(folder / name, levels, seconds=900, declared=declared)
        for name, levels in (("hall-as-found", AS_FOUND), ("hall-as-left", AS_LEFT))
    )  # fmt: skip
    return pair[0], pair[1]


@pytest.fixture
def window(application: QApplication, pair: tuple[Path, Path]) -> Iterator[Window]:
    found, left = pair
    paperwork = Paperwork(found, str(left), "si", CARD)
    shown = Window(Review.open(open_session(str(found)), "si", CARD), paperwork=paperwork)
    shown.show_view("report")
    assert paperwork.join(SURE)
    shown.redraw()
    yield shown
    shown.close()
    shown.deleteLater()


def _touch(window: Window, act: str) -> None:
    target = next(t for t in window.scene.targets if t.act == act)
    at = QPointF(target.rect.x + target.rect.w / 2, target.rect.y + target.rect.h / 2)
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    window.mousePressEvent(QMouseEvent(QMouseEvent.Type.MouseButtonPress, at, at, left, left, none))


def _written(window: Window) -> Path:
    assert window.paperwork is not None
    _touch(window, "report write")
    assert window.paperwork.join(SURE)
    window.redraw()
    path = Path(window.paperwork.page.written)
    shown = " ".join(text.text for text in window.scene.texts)
    assert path.name in shown, window.paperwork.page.trouble
    return path


def test_a_judgement_is_printed_only_once_it_is_approved(window: Window) -> None:
    assert window.paperwork is not None
    texts = {one.key: one.text for one in window.paperwork.page.sentences}
    assert texts.keys() == {"broken", "fixed"}
    assert all(not one.approved and one.drafted for one in window.paperwork.page.sentences)
    page = _written(window).read_text("utf-8")
    assert "the readings support" not in page
    assert page.count("Not stated.") == 2
    _touch(window, "report approve broken")
    page = _written(window).read_text("utf-8")
    assert "the readings support" in page
    assert page.count("Not stated.") == 1


def test_every_reader_and_paper_is_written_and_no_file_is_replaced(
    window: Window, pair: tuple[Path, Path]
) -> None:
    paths = []
    for reader in ("office", "technician", "owner", "owner"):
        _touch(window, f"report reader {reader}")
        _touch(window, "report paper letter")
        paths.append(_written(window))
    assert len(set(paths)) == 4
    assert all(path.parent == pair[0].parent for path in paths)
    assert all("size: letter" in path.read_text("utf-8") for path in paths)


def test_a_folder_that_cannot_be_written_is_no_end(
    window: Window, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    real = Path.write_bytes

    def refuse(path: Path, data: bytes) -> int:
        if path.parent != tmp_path:
            raise PermissionError(13, "Permission denied")
        return real(path, data)

    monkeypatch.setattr(Path, "write_bytes", refuse)
    assert _written(window).parent == tmp_path


def test_a_record_beside_the_sessions_speaks_before_a_draft_does(
    pair: tuple[Path, Path], tmp_path: Path
) -> None:
    folder = hall_session(tmp_path / "s", AS_LEFT, seconds=900)
    record = (RECORDINGS / "visits" / "hall.toml").read_text("utf-8")
    (folder / "visit.toml").write_text(record, encoding="utf-8")
    paperwork = Paperwork(folder, "", "us")
    paperwork.open()
    assert paperwork.join(SURE)
    sentences = {one.key: one for one in paperwork.page.sentences}
    assert sentences["broken"].text.startswith("Yes. Too little brine")
    assert {key: one.approved for key, one in sentences.items()} == {
        "broken": False, "fixed": False, "watch": True
    }  # fmt: skip
    assert not any(one.drafted for one in sentences.values())
    assert paperwork.page.paper == "letter"


def test_one_session_that_holds_both_ends_is_compared_with_itself(
    tmp_path: Path, application: QApplication
) -> None:
    phase = [Event(0, 0, "phase", "", "as-found"), Event(900_000_000, 0, "phase", "", "as-left")]
    folder = hall_session(tmp_path / "both", AS_FOUND, seconds=1800, events=phase)
    paperwork = Paperwork(folder, "", "si", CARD)
    shown = Window(Review.open(open_session(str(folder)), "si", CARD), paperwork=paperwork)
    try:
        assert any("one side only" in text.text for text in _view(shown, "compare"))
        assert paperwork.join(SURE)
        assert any("FAIR to compare" in text.text for text in _view(shown, "compare"))
    finally:
        shown.close()


def _view(window: Window, view: str) -> tuple[object, ...]:
    window.show_view(view)
    window.redraw()
    return window.scene.texts


def test_a_damaged_card_is_told_on_the_view(pair: tuple[Path, Path], tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("[unit]\ntitle = 3\n", encoding="utf-8")
    paperwork = Paperwork(pair[0], "", "si", str(bad))
    paperwork.open()
    assert paperwork.join(SURE)
    assert "bad.toml" in paperwork.page.trouble


def test_neither_the_window_nor_its_pages_load_the_property_library(pair: tuple[Path, Path]) -> None:
    code = (
        "import sys; from pathlib import Path; import logger.desktop.running;"
        "light = [m for m in ('jinja2', 'weasyprint') if m in sys.modules];"
        "from logger.desktop.paperwork import Paperwork;"
        f"p = Paperwork(Path({str(pair[0])!r}), {str(pair[1])!r}, 'si', {CARD!r}); p.open(); p.join(30);"
        "bad = light + [m for m in ('CoolProp', 'pandas') if m in sys.modules];"
        "print(bad, p.page.trouble); sys.exit(bool(bad or p.page.trouble))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], check=False, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stdout + done.stderr
