"""A visit set up in the window: found, taken, declared and recorded by touch, in at most five steps."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncGenerator, Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QApplication

from drivers.base import Found
from drivers.discover import Trouble, discover
from drivers.registry import Context
from logger.desktop.adopting import home_words, where_told
from logger.desktop.live import Live
from logger.desktop.opening import Opening
from logger.desktop.remembered import Remembered, remembered
from logger.desktop.review import Review
from logger.desktop.running import _another_visit, close_source, demo_card
from logger.desktop.typing_visit import TypingVisit
from logger.desktop.window import AGAIN_S, Window
from logger.replay import open_session
from logger.scanning import Look
from logger.session import Session
from tests.logger.desktop.line_probe import line_probe
from tests.logger.desktop.test_window import Staged
from tests.logger.hall_sessions import AS_FOUND, hall_session

pytestmark = pytest.mark.usefixtures("own_folders")
SURE_S = 120.0


def around(*items: Found | Trouble) -> Look:
    """Look and come across just these."""

    async def look(_context: Context, _seconds: float) -> AsyncGenerator[Found | Trouble, None]:
        for item in items:
            yield item

    return look


def probe_set(address: str, *profiles: str) -> Found:
    return Found("serial_lines", address, "probe set on a wire", "serial port", 0.7, profiles)


@contextmanager
def opened(look: Look, settings: Remembered | None = None, **more: Any) -> Iterator[Window]:
    """Open the window on nothing; what it shows at the end is closed properly."""
    with ExitStack() as stack:
        window = Window(
            Opening("si", settings or Remembered(), stack, look=look, seconds=1.0, **more), view="devices"
        )
        window.show()
        try:
            yield window
        finally:
            close_source(window.source)
            window.close()
            window.deleteLater()


def touch(window: Window, act: str) -> None:
    target = next(t for t in window.scene.targets if t.act == act)
    at = QPointF(target.rect.x + target.rect.w / 2, target.rect.y + target.rect.h / 2)
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    window.mousePressEvent(QMouseEvent(QMouseEvent.Type.MouseButtonPress, at, at, left, left, none))


def turned_to(window: Window, act: str) -> bool:
    """Turn the page until a key is there."""
    if any(target.act == act for target in window.scene.targets):
        return True
    touch(window, "page")
    return False


def words(window: Window) -> str:
    return " | ".join(text.text for text in window.scene.texts)


def until(window: Window, true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + SURE_S
    while not true():
        assert time.monotonic() < deadline, words(window)
        time.sleep(0.01)
        window.pull()
        window.redraw()


def test_a_visit_is_set_up_and_recorded_in_five_steps(application: QApplication, own_folders: Path) -> None:
    with line_probe(every_s=0.1, step_s=0.1) as address:
        with opened(around(probe_set(address, "simulated_machine"))) as window:  # one: open it
            until(window, lambda: "network · fits simulated_machine · seen 0:" in words(window))
            touch(window, "visit take 0")  # two
            touch(window, "visit refrigerant R410A")  # three
            touch(window, "visit mode heating")  # four
            until(window, lambda: "READY to record" in words(window))
            until(window, lambda: "15 of 15 channels feed a measuring point" in words(window))
            assert not (own_folders / "sessions").exists(), "nothing is recorded before it is asked for"
            touch(window, "visit start")  # five
            until(window, lambda: isinstance(window.source, Live))
            live = window.source
            assert isinstance(live, Live)
            until(window, lambda: (n := live.present().newest) is not None and n.rows > 0)
            until(window, lambda: live.present().value("superheat") == pytest.approx(3.4, abs=3.0))
            assert window.scene.view == "levels"
            assert where_told(live) == f"recorded in {home_words(str(live.folder))}"
            window.show_view("session")
            window.redraw()
            assert f"recorded in {live.folder}" in words(window)
            window.show_view("devices")
            window.redraw()
            touch(window, "join")
            until(window, lambda: turned_to(window, "channel simulated_machine/vc"))
            touch(window, "channel simulated_machine/vc")
            until(window, lambda: turned_to(window, "point pump_voltage"))
            touch(window, "point pump_voltage")  # joined otherwise by two touches while it records
            until(window, lambda: live.present().value("pump_voltage") > 20.0)
        session = Session.open(live.folder)
        assert session.state.value == "closed"
        assert live.folder.parent == own_folders / "sessions"
        assert ("assign", "simulated_machine/ts", "suction_temperature") in {
            (event.kind, event.subject, event.text) for event in session.events
        }
        assert f'address = "{address}"' in session.header.setup

        settings = Remembered(last_session=str(live.folder), last_visit=str(live.folder))
        with opened(around(), settings) as window:
            assert "1 device, R410A" in words(window)
            touch(window, "visit before")
            until(window, lambda: "READY to record" in words(window))
            touch(window, "visit start")
            until(window, lambda: isinstance(window.source, Live))
            again = window.source
            assert isinstance(again, Live)
        assert again.folder != live.folder
        before, after = (Session.open(one.folder).header.setup for one in (live, again))
        assert before.partition("[[device]]")[2] == after.partition("[[device]]")[2]

        with opened(around(), settings) as window:
            touch(window, "visit last")
            until(window, lambda: isinstance(window.source, Review))
            assert window.scene.view == "levels"
            window.show_view("devices")
            window.redraw()
            with ExitStack() as stack:
                window.new_visit = lambda: _another_visit(window, stack)
                touch(window, "visit new")
                assert "1 device, R410A" in words(window), "the devices of the session that was looked at"


def test_a_recording_that_begins_while_the_window_closes_is_closed_whole(
    application: QApplication, own_folders: Path
) -> None:
    with line_probe() as address, opened(around(probe_set(address, "simulated_machine"))) as window:
        until(window, lambda: "fits" in words(window))
        touch(window, "visit take 0")
        touch(window, "visit start")
        opening = window.source
        close_source(opening)  # before the window has turned to the recording
        assert isinstance(opening, Opening)
        live = opening.opened
        assert isinstance(live, Live)
        assert live.finished
        window.source = live
    (folder,) = (own_folders / "sessions").iterdir()
    assert Session.open(folder).state.value == "closed"


def test_a_visit_begins_from_a_session_without_devices_of_its_own(
    application: QApplication, tmp_path: Path
) -> None:
    folder = hall_session(tmp_path / "hall", AS_FOUND, seconds=60)
    window = Window(Review.open(open_session(str(folder)), "si"), view="devices")
    with ExitStack() as stack:
        window.new_visit = lambda: _another_visit(window, stack)
        touch(window, "visit new")
        assert isinstance(window.source, Opening)
        assert remembered().last_session == str(folder)
        assert "as before" not in words(window), "it names no device that could be read"
        close_source(window.source)
    window.close()


def test_a_card_and_a_place_that_were_named_count(application: QApplication, tmp_path: Path) -> None:
    card, out = Path(demo_card("hall")).read_text("utf-8"), tmp_path / "named"
    with line_probe() as address, opened(
        around(probe_set(address, "simulated_machine")), card_text=card, out=out
    ) as window:  # fmt: skip
        until(window, lambda: "fits" in words(window))
        touch(window, "visit take 0")
        touch(window, "visit start")
        until(window, lambda: isinstance(window.source, Live))
        assert getattr(window.source, "card", None) is not None
    assert Session.open(out).header.unit_card == card


def test_with_no_device_and_no_radio_it_says_what_to_do(application: QApplication) -> None:
    off = Trouble("ble_gatt", "Bluetooth is switched off: switch it on and look again.")
    with opened(around(off)) as window:
        until(window, lambda: "NO DEVICE found" in words(window))
        assert off.sentence in words(window)
        assert "--setup SETUP.toml" in words(window)
        touch(window, "visit start")
        assert "Take a device first" in words(window)
        touch(window, "visit channels")
        assert "No channel has spoken yet" in words(window)
        touch(window, "visit typed")
        until(window, lambda: "Say first which refrigerant" in words(window))
        touch(window, "visit last")
        until(window, lambda: "There is no last session yet" in words(window))
        touch(window, "mark")
        assert "nothing is recorded yet" in words(window)


def test_this_computer_is_really_looked_through_without_a_hang(application: QApplication) -> None:
    with opened(discover) as window:
        until(window, lambda: "looked 0:" in words(window))
        touch(window, "visit again")
        until(window, lambda: "looked 0:" in words(window))


def test_a_look_that_hangs_holds_up_nobody(application: QApplication) -> None:
    async def hangs(_context: Context, _seconds: float) -> AsyncGenerator[Found | Trouble, None]:
        await asyncio.sleep(3600.0)
        yield Trouble("never", "")

    with opened(hangs) as window:
        opening = window.source
        assert isinstance(opening, Opening)
        touch(window, "visit refrigerant R32")
        assert "LOOKING for devices" in words(window)
        touch(window, "visit typed")
        until(window, lambda: isinstance(window.source, TypingVisit))
        assert window.scene.view == "typed"
        assert not opening._finding.scan.looking


def test_a_look_that_fails_is_a_sentence(application: QApplication) -> None:
    async def breaks(_context: Context, _seconds: float) -> AsyncGenerator[Found | Trouble, None]:
        yield probe_set("socket://127.0.0.1:9")
        raise ZeroDivisionError

    with opened(breaks) as window:
        until(window, lambda: "Looking for devices failed (ZeroDivisionError)" in words(window))
        assert "probe set on a wire" in words(window)


def test_a_device_without_a_known_profile_is_asked_for_it_and_a_wrong_one_is_told(
    application: QApplication,
) -> None:
    with line_probe() as address, opened(around(probe_set(address))) as window:
        until(window, lambda: "profile not known" in words(window))
        touch(window, "visit take 0")
        assert "which profile does probe set on a wire speak?" in words(window)
        touch(window, "visit profile probe_board")
        until(window, lambda: "WRONG PROFILE" in words(window))
        touch(window, "visit take 0")
        touch(window, "visit profile simulated_machine")
        until(window, lambda: "15 of 15 channels" in words(window))
        touch(window, "visit take 0")  # given back
        until(window, lambda: "profile not known" in words(window))
        assert "FOUND 1 device" in words(window)


def test_a_device_that_is_not_there_needs_the_person(application: QApplication) -> None:
    with opened(around(probe_set("socket://127.0.0.1:1", "probe_board"))) as window:
        until(window, lambda: "fits probe_board" in words(window))
        touch(window, "visit take 0")
        until(window, lambda: "NO LINK" in words(window))
        assert "WAITING for probe_board" in words(window)


def test_channels_are_joined_otherwise_by_two_touches(application: QApplication) -> None:
    with line_probe() as address, opened(around(probe_set(address, "simulated_machine"))) as window:
        until(window, lambda: "fits" in words(window))
        touch(window, "visit take 0")
        until(window, lambda: "15 of 15 channels" in words(window))
        touch(window, "visit channels")
        assert "5.15 bar(g) · suction pressure" in words(window)
        touch(window, "visit channel simulated_machine/ts")
        touch(window, "visit point liquid_temperature")
        assert "−2.4 °C · liquid line" in words(window)
        assert "30.6 °C · not joined" in words(window), "a point has one channel"
        touch(window, "visit channel simulated_machine/ps")
        touch(window, "visit point ")
        touch(window, "visit back")
        assert "13 of 15 channels" in words(window)
        touch(window, "visit list fluid")
        touch(window, "visit fluid water")
        touch(window, "visit list refrigerant")
        touch(window, "visit turn")
        touch(window, "visit back")
        assert "water" in words(window)


def test_a_place_that_refuses_is_a_sentence_and_the_page_stays(
    application: QApplication, own_folders: Path
) -> None:
    (own_folders / "sessions").write_text("a file where the folder should be")
    with line_probe() as address, opened(around(probe_set(address, "simulated_machine"))) as window:
        until(window, lambda: "fits" in words(window))
        touch(window, "visit take 0")
        until(window, lambda: "READY to record" in words(window))
        touch(window, "visit start")
        until(window, lambda: "cannot be made" in words(window))
        assert "15 channels read, live" in words(window)


def test_every_touch_of_the_page_is_there_for_the_keyboard(application: QApplication) -> None:
    with opened(around(probe_set("/dev/no-such-port", "probe_board"))) as window:
        until(window, lambda: "fits probe_board" in words(window))
        acts = {t.act for t in window.scene.targets if t.act not in ("look", "far")}
        tab = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Tab, Qt.KeyboardModifier.NoModifier)
        reached = set()
        for _ in acts:
            QApplication.sendEvent(window, QKeyEvent(tab))
            reached.add(window.ring)
        assert reached == acts
        while window.ring != "visit refrigerant R32":
            QApplication.sendEvent(window, QKeyEvent(tab))
        enter = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Return, Qt.KeyboardModifier.NoModifier)
        window.keyPressEvent(enter)
        assert window.source.finding.refrigerant == "R32"  # type: ignore[attr-defined]


def test_from_the_demonstration_a_second_touch_ends_it_and_begins_a_visit(application: QApplication) -> None:
    from dataclasses import replace

    source = Staged(recording=True)
    source._present = replace(source._present, kind="simulated")
    with ExitStack() as stack:
        window = Window(source, view="devices")
        window.new_visit = lambda: Opening("si", Remembered(), stack, look=around(), seconds=1.0)
        window.show()
        touch(window, "visit new")
        assert "close once more" in words(window)
        assert not source.finished

        def ended() -> bool:
            if time.monotonic() - window._asked > AGAIN_S[0] and not source.finished:
                touch(window, "visit new")  # asked anew where it comes too late
            return source.finished

        until(window, ended)
        assert source.asked == ["stop stopped by the person"]
        until(window, lambda: isinstance(window.source, Opening))
        until(window, lambda: "NO DEVICE found" in words(window))
        close_source(window.source)
        window.close()
