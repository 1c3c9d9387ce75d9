"""The guided page: probes in one cup and gauges to the air, by touch and by keyboard, on a live recording."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QApplication

from logger.app import open_recording
from logger.desktop.audit import audit
from logger.desktop.live import Live
from logger.desktop.present import Present
from logger.desktop.review import Review
from logger.desktop.scene_devices import devices_scene
from logger.desktop.sounds import Cue, Sounds
from logger.desktop.window import Window
from logger.replay import open_session
from logger.session import Session
from logger.setup_file import load_setup
from tests.logger.cup_board import SETUP, Board
from tests.logger.hall_sessions import AS_FOUND, hall_session

DEADLINE_S = 60.0
CUP = {"si": 12.10, "so": 12.30, "ps": 0.012}
PIPE = {"si": 12.00, "so": 8.00, "ps": 0.012}


class Heard(Sounds):
    """Sounds that are only counted."""

    def __init__(self) -> None:
        super().__init__(on=True)
        self.cues: list[str] = []

    def play(self, cue: Cue) -> bool:
        self.cues.append(cue)
        return True


class Bench:
    """A window on a recording of the board."""

    def __init__(self, folder: Path, board: Board) -> None:
        setup = folder / "bench.toml"
        setup.write_text(SETUP.format(port=board.port))
        self.board, self.folder = board, folder / "session"
        self.live = Live(open_recording(*load_setup(setup), self.folder, beside=folder), "si")
        self.live.start()
        self.sounds = Heard()
        self.window = Window(self.live, view="devices", sounds=self.sounds)

    def until(self, what: Callable[[], bool]) -> None:
        """Let the window pull until something is so."""
        deadline = time.monotonic() + DEADLINE_S
        while not what():
            assert time.monotonic() < deadline, self.words
            self.window.pull()
            time.sleep(0.01)
        self.window.redraw()

    def send(self, seconds: int, reads: dict[str, float]) -> None:
        """Let the board read so many seconds, and wait until they are worked out."""
        self.board.send(seconds, **reads)
        self.until(lambda: self._newest_s() >= self.board._t - 2)

    def _newest_s(self) -> float:
        newest = self.live.present().newest
        return -1.0 if newest is None else float(newest.t_us[-1]) / 1e6

    @property
    def words(self) -> str:
        return "\n".join(text.text for text in self.window.scene.texts)

    def touch(self, act: str) -> None:
        target = next(t for t in self.window.scene.targets if t.act == act)
        at = QPointF(target.rect.x + target.rect.w / 2, target.rect.y + target.rect.h / 2)
        left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
        self.window.mousePressEvent(QMouseEvent(QMouseEvent.Type.MouseButtonPress, at, at, left, left, none))

    def press(self, key: Qt.Key) -> None:
        self.window.keyPressEvent(QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier))

    def drop(self) -> tuple[float, float]:
        """Give the water's delta-T and its standard uncertainty."""
        present = self.live.present()
        return present.value("source_delta_t"), present.expanded("source_delta_t") / 2.0

    def offsets(self) -> list[tuple[str, str]]:
        events = [event for event in Session.open(self.folder).events if event.kind == "offset"]
        return [(event.subject, event.text) for event in events]


@pytest.fixture
def bench(application: QApplication, tmp_path: Path) -> Iterator[Bench]:
    with Board() as board:
        made = Bench(tmp_path, board)
        yield made
        made.live.stop("test is over")
        assert made.live.join(DEADLINE_S)
        made.window.close()
        made.window.deleteLater()


def test_probes_are_matched_by_touch_and_the_offsets_are_taken_back(bench: Bench) -> None:
    bench.send(8, CUP)
    bench.touch("match")
    bench.touch("match cup")
    assert "ONE CUP: not yet" in bench.words
    assert "read for 7 s of the 48 s that it takes" in bench.words
    bench.touch("match take")
    assert "nothing was taken: it is not even yet" in bench.words
    bench.send(80, CUP)
    assert "ONE CUP: even enough" in bench.words
    assert bench.sounds.cues.count("settled") == 1
    assert not audit(bench.window.scene)
    before, u_before = bench.drop()
    assert before == pytest.approx(-0.2, abs=0.02)
    bench.touch("match take")
    assert "the offsets of 2 channels hold from now on" in bench.words
    bench.send(5, PIPE)
    assert "ONE CUP: matched" in bench.words
    assert "the source water's delta-T is known to" in bench.words
    after, u_after = bench.drop()
    assert after == pytest.approx(4.2, abs=0.03)
    assert u_after < u_before / 2.5
    bench.touch("match undo")
    assert "taken back" in bench.words
    bench.send(5, PIPE)
    undone, u_undone = bench.drop()
    assert (undone, u_undone) == pytest.approx((4.0, u_before), abs=0.02)
    bench.live.stop("done")
    assert bench.live.join(DEADLINE_S)
    kept = bench.offsets()
    assert [channel for channel, _ in kept] == ["board/si", "board/so"] * 2
    assert "matched in one cup at 12.20 degC" in kept[0][1]
    assert [text for _, text in kept[2:]] == ["", ""]


def test_gauges_are_zeroed_after_their_condition_and_by_keyboard_alone(bench: Bench) -> None:
    bench.send(40, CUP)
    keys = [Qt.Key.Key_Tab] * 2
    bench.touch("match")

    def go_to(act: str) -> None:
        for _ in range(30):
            bench.window.focusNextPrevChild(True)
            if bench.window.ring == act:
                break
        assert bench.window.ring == act, keys
        bench.press(Qt.Key.Key_Return)

    go_to("match zero")
    assert "pressure relieved" in bench.words
    assert "Never open a circuit" in bench.words
    assert "match take" not in {target.act for target in bench.window.scene.targets}
    go_to("match vented")
    assert "ZEROING: 1 of 1 at zero" in bench.words
    go_to("match take")
    bench.send(5, CUP)
    assert "ZEROING: zeroed" in bench.words
    held = bench.live.present().newest
    assert held is not None
    assert held.settings.offset["board/ps"] == pytest.approx(-1200.0, abs=1.0)
    go_to("match back")
    go_to("match back")
    assert "device and channel" in bench.words


def test_a_probe_is_left_out_and_comes_back_and_the_reference_goes_round(bench: Bench) -> None:
    bench.send(70, CUP | {"so": 30.0})
    bench.touch("match")
    bench.touch("match cup")
    assert "lie 17.90 K apart" in bench.words
    for words in (
        "against\nice water",
        "against\nsource water in",
        "against\nsource water out",
        "the mean of all",
    ):
        bench.touch("match reference")
        assert words in bench.words
    bench.touch("match which")
    assert not audit(bench.window.scene)
    bench.touch("match toggle board/so")
    assert "source water out\nleft out" in bench.words
    bench.touch("match chosen")
    assert "Too few probes are in the cup" in bench.words
    assert "1 of 2 take part" in bench.words
    bench.touch("match which")
    bench.touch("match toggle board/so")
    bench.touch("match chosen")
    assert "lie 17.90 K apart" in bench.words
    bench.window.show_view("levels")
    bench.window.show_view("devices")
    bench.window.redraw()
    assert "ONE CUP: not yet" in bench.words


def test_a_stored_session_says_how_it_is_matched(application: QApplication, tmp_path: Path) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=30)
    window = Window(Review.open(open_session(str(folder)), "si"), view="devices")
    try:
        window.act("match")
        assert "evenrun match SESSION" in "\n".join(text.text for text in window.scene.texts)
        window.act("match back")
        assert "device and channel" in "\n".join(text.text for text in window.scene.texts)
    finally:
        window.close()
        window.deleteLater()


@pytest.mark.parametrize("devices", [1, 6, 24])
def test_the_key_on_the_devices_covers_no_channel(devices: int) -> None:
    channels = tuple(f"device-with-a-long-name-{n % devices}/channel-with-a-long-name-{n}" for n in range(24))
    scene = devices_scene(Present(channels=channels))
    (target,) = (one for one in scene.targets if one.act == "match")
    told = {text.text for text in scene.texts if min(text.box.overlap(target.rect)) > 0}
    assert told == {"match or zero", "in one cup, in open air"}
    assert not audit(scene)
