"""Sleep is held off while recording, let go afterwards, and where it cannot be, one sentence says so."""

from __future__ import annotations

import asyncio
import gc
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from logger.keep_awake import awake
from tests.drivers.fake_bluez.daemon import WHY_SKIPPED, private_bus

INHIBIT_SUSPEND, COOKIE = 4, 17


@contextmanager
def desktop(address: str) -> Iterator[list[tuple[str, int]]]:
    """Answer on a message bus as a desktop does that can hold sleep off; gives what it was asked."""
    dbus_fast = pytest.importorskip("dbus_fast")
    dbus_aio = pytest.importorskip("dbus_fast.aio")
    asked: list[tuple[str, int]] = []
    ready = threading.Event()
    stops: list[Callable[[], None]] = []

    def answer(message: Any) -> Any:
        if message.interface != "org.gnome.SessionManager":
            return None
        asked.append((message.member, message.body[-1]))
        if message.member == "Inhibit":
            return dbus_fast.Message.new_method_return(message, "u", [COOKIE])
        return dbus_fast.Message.new_method_return(message)

    async def serve() -> None:
        bus = await dbus_aio.MessageBus(bus_address=address).connect()
        bus.add_message_handler(answer)
        await bus.request_name("org.gnome.SessionManager")
        stops.append(partial(asyncio.get_running_loop().call_soon_threadsafe, bus.disconnect))
        ready.set()
        await bus.wait_for_disconnect()

    thread = threading.Thread(target=lambda: asyncio.run(serve()))
    thread.start()
    try:
        assert ready.wait(10.0)
        yield asked
    finally:
        stops[0]()
        thread.join()


class Library(ModuleType):
    """A library that holds sleep off, or not, or fails."""

    def __init__(self, active: bool, error: Exception | None = None) -> None:
        super().__init__("wakepy")
        self.held = 0
        library = self

        @contextmanager
        def running(on_fail: str = "warn"):  # type: ignore[no-untyped-def]
            if error is not None:
                raise error
            library.held += 1
            yield SimpleNamespace(active=active)
            library.held -= 1

        self.keep = SimpleNamespace(running=running)


@pytest.mark.parametrize("active", [True, False])
def test_it_holds_and_lets_go(monkeypatch: pytest.MonkeyPatch, active: bool) -> None:
    library = Library(active)
    monkeypatch.setitem(sys.modules, "wakepy", library)
    with awake() as sentence:
        assert library.held == 1
        assert (sentence == "") is active
    assert library.held == 0


def test_a_failing_library_stops_no_recording(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "wakepy", Library(True, OSError("no bus")))
    with awake() as sentence:
        assert "OSError" in sentence
    monkeypatch.setitem(sys.modules, "wakepy", None)
    with awake() as sentence:
        assert "not installed" in sentence


def test_what_the_recording_raises_is_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    library = Library(True)
    monkeypatch.setitem(sys.modules, "wakepy", library)
    with pytest.raises(ZeroDivisionError), awake():
        raise ZeroDivisionError


@pytest.mark.skipif(bool(WHY_SKIPPED), reason=WHY_SKIPPED)
def test_the_desktop_is_really_asked_and_let_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("wakepy", reason="wakepy is not installed")
    with private_bus(tmp_path) as address:
        monkeypatch.setenv("DBUS_SESSION_BUS_ADDRESS", address)
        with desktop(address) as asked, awake() as sentence:
            assert sentence == ""
            assert asked == [("Inhibit", INHIBIT_SUSPEND)]
        assert asked == [("Inhibit", INHIBIT_SUSPEND), ("Uninhibit", COOKIE)]


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # wakepy leaves its socket
@pytest.mark.skipif(bool(WHY_SKIPPED), reason=WHY_SKIPPED)
def test_a_bus_on_which_nobody_holds_sleep_off(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("wakepy", reason="wakepy is not installed")
    with private_bus(tmp_path) as address:
        monkeypatch.setenv("DBUS_SESSION_BUS_ADDRESS", address)
        with awake() as sentence:
            assert "sleep is not held off" in sentence
            assert "power settings" in sentence
    gc.collect()


def test_the_real_library_answers() -> None:
    pytest.importorskip("wakepy", reason="wakepy is not installed")
    with awake() as sentence:
        assert sentence == "" or "sleep" in sentence
