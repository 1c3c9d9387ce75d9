"""Sleep is held off while recording, let go afterwards, and where it cannot be, one sentence says so."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from types import ModuleType, SimpleNamespace

import pytest

from logger.keep_awake import awake


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


def test_the_real_library_answers() -> None:
    pytest.importorskip("wakepy", reason="wakepy is not installed")
    with awake() as sentence:
        assert sentence == "" or "sleep" in sentence
