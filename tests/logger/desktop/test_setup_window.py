"""The window on the devices of a set-up: recorded as ``record`` does it; it asks before it closes."""

from __future__ import annotations

import time
from collections.abc import AsyncGenerator, Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from drivers.discover import Trouble
from drivers.registry import Context
from logger.__main__ import main
from logger.desktop import remembered
from logger.desktop.adopting import where_told
from logger.desktop.live import Live
from logger.desktop.window import AGAIN_S, Window
from logger.session import Session
from tests.logger.desktop.line_probe import line_probe

SURE_S = 120.0
SETUP = """
title = "Community hall, unit 2: as found"
refrigerant = "R410A"
barometer = "94.32 kPa(a)"
mode = "heating"
card = "hall.toml"
clock = "device"
[[device]]
name = "board"
profile = "simulated_machine"
address = "{address}"
[assign]
suction_pressure = "board/ps"
suction_temperature = "board/ts"
"""


pytestmark = pytest.mark.usefixtures("own_folders")


def _driven(step: Callable[[Window], bool]) -> tuple[QTimer, list[str]]:
    """Call ``step`` with the open window again and again, until it says that it is done."""
    troubles: list[str] = []
    end = time.monotonic() + SURE_S

    def tick() -> None:
        shown = [w for w in QApplication.topLevelWidgets() if isinstance(w, Window) and w.isVisible()]
        try:
            if shown and (step(shown[0]) or time.monotonic() > end):
                timer.stop()
                if time.monotonic() > end:
                    troubles.append(" | ".join(text.text for text in shown[0].scene.texts))
                    shown[0].end_recording()
        except Exception as error:  # an exception inside the event loop would be lost
            timer.stop()
            troubles.append(repr(error))
            shown[0].end_recording()

    timer = QTimer()
    timer.timeout.connect(tick)
    timer.start(20)
    return timer, troubles


def _hall_card() -> str:
    from logger.desktop.running import demo_card

    return Path(demo_card("hall")).read_text("utf-8")


def test_a_set_up_is_recorded_in_the_window_and_closing_asks_first(
    application: QApplication, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "hall.toml").write_text(_hall_card(), "utf-8")
    out = tmp_path / "visit"
    asked: list[str] = []

    def step(window: Window) -> bool:
        if window.source.present().newest is None:
            return False
        if not asked:
            assert window.source.recording
            window.act("mark")
            window.close()
            assert window.isVisible()
            asked.extend(text.text for text in window.scene.texts if "close once more" in text.text)
            assert window.source.present().bands, "the unit card of the set-up counts"
            return False
        if time.monotonic() - window._asked > AGAIN_S[0] + 0.1:  # sooner it asks again
            window.close()
        return bool(window._closing)

    with line_probe() as address:
        setup = tmp_path / "setup.toml"
        setup.write_text(SETUP.format(address=address), "utf-8")
        timer, troubles = _driven(step)
        status = main(["desktop", "--setup", str(setup), "--out", str(out), "--status", str(tmp_path / "st")])
        timer.stop()
    assert not troubles, troubles
    assert status == 0
    assert asked
    assert f"Session: {out}" in capfd.readouterr().out
    session = Session.open(out)
    assert session.state.value == "closed"
    assert session.header.setup == setup.read_text("utf-8")
    assert session.header.unit_card
    assert sum(event.kind == "mark" for event in session.events) == 1
    assert {event.text for event in session.events if event.kind == "stop"} == {"stopped by the person"}
    assert '"ended"' in (tmp_path / "st").read_text("utf-8")
    kept = remembered.remembered()
    assert (kept.last_session, kept.last_visit) == (str(out), str(out))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('refrigerent = "R410A"', "'refrigerent' is not a key here; known are refrigerant"),
        ('refrigerant = "R410"', "R410A"),
        ('[[device]]\nname = "a"\nprofile = "no-such"', "no shipped profile 'no-such'"),
        ('card = "none.toml"', "There is no unit card"),
        ("", "There is no unit card none.toml"),
    ],
)
def test_a_bad_set_up_is_one_sentence_and_leaves_nothing_behind(
    application: QApplication, tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, told: str
) -> None:
    setup = tmp_path / "setup.toml"
    setup.write_text(text, "utf-8")
    more = [] if text else ["--card", "none.toml"]
    assert main(["desktop", "--setup", str(setup), "--out", str(tmp_path / "visit"), *more]) in (3, 4)
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1
    assert not (tmp_path / "visit").exists()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["SESSION", "--setup", "a.toml"], "several things to open"),
        (["--typed", "R410A", "--setup", "a.toml"], "several things to open"),
        (["--watch"], "--watch goes with --setup"),
        (["--setup", "a.toml", "--mode", "heating"], "--mode goes with --typed"),
        (["--setup", "a.toml", "--with", "B"], "--with goes with a SESSION"),
    ],
)
def test_what_does_not_go_together_is_told(
    capsys: pytest.CaptureFixture[str], arguments: list[str], told: str
) -> None:
    assert main(["desktop", *arguments]) == 2
    assert told in capsys.readouterr().err


@pytest.mark.parametrize("first", [True, False])
def test_with_nothing_named_the_demo_hall_opens_first_and_is_later_one_touch_away(
    first: bool,
    application: QApplication,
    own_folders: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    async def nothing(_context: Context, _seconds: float) -> AsyncGenerator[Trouble, None]:
        return
        yield Trouble("", "")

    @contextmanager
    def machine(_story: str, _phase: str, *, speed: float) -> Iterator[tuple[str, None]]:
        assert speed == 1.0
        with line_probe(every_s=0.1, step_s=0.1) as address:
            yield address, None

    monkeypatch.setattr("logger.desktop.opening.discover", nothing)
    monkeypatch.setattr("logger.demo.simulated_machine", machine)
    told: list[str] = []

    def step(window: Window) -> bool:
        if not isinstance(window.source, Live):
            if window.source.present().kind == "idle" and not told and not first:
                assert any(text.text == "a simulated machine" for text in window.scene.texts)
                window.act("visit demo")
            return False
        if window.source.present().newest is None:
            return False
        window.show_view("session")
        window.redraw()
        told.append(where_told(window.source))
        told.extend(text.text for text in window.scene.texts if "recorded in" in text.text)
        window.end_recording()
        return True

    if not first:
        remembered.remember(remembered.Remembered(last_session=str(own_folders / "gone")))
    timer, troubles = _driven(step)
    status = main(["desktop"])
    timer.stop()
    assert not troubles, troubles
    assert status == 0
    (session,) = (own_folders / "sessions").iterdir()
    assert told[0].startswith("a simulated machine, recorded in")
    assert f"recorded in {session}" in told
    assert f"Session: {session}" in capfd.readouterr().out
    assert Session.open(session).state.value == "closed"
    kept = remembered.remembered()
    assert (kept.last_session, kept.last_visit) == (str(session), "")
