"""What the session view does: declarations put right by one more event, and other sessions opened.

Everything is worked out in a thread of its own. Readings and earlier events stay as they are.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, cast

from analysis.derived import BY_SYMBOL
from analysis.fairness import fluid_words
from analysis.presets import PresetName, duration
from analysis.saturation import names
from logger.desktop.amounts import amount
from logger.desktop.background import Background
from logger.desktop.key_page import Offer
from logger.desktop.scene_devices import barometer_words
from logger.desktop.scene_session import Entry, SessionPage
from logger.errors import CommandError
from logger.shown_values import plain

if TYPE_CHECKING:
    from logger.desktop.present import Present
    from logger.desktop.review import Review
    from logger.desktop.source import Source

_log = logging.getLogger(__name__)
MOST_DIGITS = 6
FIRST_REFRIGERANTS = ("R410A", "R454B", "R32", "R134a", "R407C", "R22", "R290", "R513A")
"""Refrigerants that are offered first: common in ground-coupled machines (common practice, no source)."""
_MODES = ("heating", "cooling")
_PHASES = ("rest", "start", "settle", "as-found", "repair", "as-left", "night")
LIQUIDS = (
    "water",
    *(f"propylene_glycol {share} % mass" for share in (20, 25, 30, 35)),
    *(f"ethylene_glycol {share} % mass" for share in (20, 25, 30, 35)),
    "ethanol 15 % mass", "ethanol 20 % mass", "ethanol 25 % mass", "methanol 20 % mass", "methanol 25 % mass",
)  # fmt: skip
_UNITS: dict[PresetName, tuple[str, ...]] = {"si": ("hPa", "m"), "us": ("psia", "ft")}
_CLOSED: dict[str, Any] = {
    "question": "", "opening": False, "entry": None, "offers": (), "more": (), "page": 0
}  # fmt: skip
_SHOWN = (
    "superheat", "subcooling", "freeze_margin", "evaporating_approach", "condensing_approach",
    "source_volume_flow",
)  # fmt: skip
"""Derived values whose change is told."""


class Declares(Protocol):
    """A source in which something can be declared."""

    def declare(self, kind: str, text: str, *, whole: bool) -> None:
        """Let it hold for the whole session, or from the present moment on."""
        ...


class SessionDesk:
    """What is being chosen on the session view, and the work that follows."""

    def __init__(self, source: Source, preset: PresetName) -> None:
        self._source, self._preset = source, preset
        self._page = SessionPage(stored=not source.recording, whole=not source.recording)
        self._kind = ""
        self._folder = Path()
        self._background = Background("session")
        self._notice = ""
        self.opened: Review | None = None
        """A session that has been opened and waits to be shown."""
        self.redone = 0
        """How often something was put right."""

    @property
    def busy(self) -> bool:
        """Whether something is being worked out."""
        return self._background.busy

    def join(self, timeout: float) -> bool:
        """Wait until nothing is being worked out; gives whether that is so."""
        return self._background.join(timeout)

    def notice(self) -> str:
        """Give why something was refused, once."""
        told, self._notice = self._notice, ""
        return told.rstrip(".")

    def page(self, present: Present, playing: float = 0.0) -> SessionPage:
        """Give what the view shows now."""
        length = getattr(self._source, "end_us", 0)
        return replace(
            self._page, declared=declared_words(present), length_us=length, playing=playing,
            stored=not self._source.recording, folder=plain(str(getattr(self._source, "folder", ""))),
        )  # fmt: skip

    def act(self, what: str) -> None:
        """Do what a touch asks for."""
        name, _, rest = what.partition(" ")
        if self.busy:
            return
        match name:
            case "back":
                self._page = replace(
                    self._page, question="", opening=False, entry=None, offers=(), more=(), page=0
                )
            case "turn":
                self._page = replace(self._page, page=self._page.page + 1)
            case "whole" | "since":
                self._page = replace(self._page, whole=name == "whole")
            case "choose":
                self._choose(rest)
            case "declare":
                self._declare(self._kind, rest)
            case "unit" | "digit":
                self._type(name, rest)
            case "keep":
                self._keep()
            case "browse":
                folder = getattr(self._source, "folder", None)
                self._browse(Path(rest) if rest else Path(folder or ".").resolve().parent)
            case "open":
                self._run("opening the session", lambda: self._open(Path(rest)))
            case _:
                pass

    def _choose(self, kind: str) -> None:
        self._kind = kind
        lists = {
            "refrigerant": ("which refrigerant is in the machine?", self._refrigerants()),
            "mode": ("what is called for?", _MODES),
            "phase": ("which phase of the visit is it?", _PHASES),
            "fluid": ("what flows in the source circuit?", LIQUIDS),
            "load_fluid": ("what flows in the load circuit?", LIQUIDS),
        }
        if kind == "barometer":
            units = _UNITS[self._preset]
            entry = Entry("", units[0], units)
            self._page = replace(self._page, question="barometer of the site", entry=entry)
            return
        question, choices = lists[kind]
        offers = tuple(
            Offer(text.replace("_", " ").replace("as-", "as "), f"session declare {text}") for text in choices
        )
        self._page = replace(self._page, question=question, offers=offers, more=(), entry=None, page=0)

    def _refrigerants(self) -> tuple[str, ...]:
        session = getattr(self._source, "session", None)
        own = tuple(session.header.pressure_tables) if session is not None else ()
        return (
            *own,
            *FIRST_REFRIGERANTS,
            *(name for name in names() if name not in (*FIRST_REFRIGERANTS, *own)),
        )

    def _type(self, name: str, rest: str) -> None:
        entry = self._page.entry
        if entry is None:
            return
        if name == "unit":
            entry = replace(entry, unit=rest)
        elif rest == "clear":
            entry = replace(entry, digits="")
        elif len(entry.digits) < MOST_DIGITS and not (rest == "." and "." in entry.digits):
            entry = replace(entry, digits=entry.digits + rest)
        self._page = replace(self._page, entry=entry)

    def _keep(self) -> None:
        entry = self._page.entry
        if entry is None or not entry.digits.strip("."):
            self._notice = "type a value first"
            return
        value = float(entry.digits)
        text = f"{value / 10.0:g} kPa(a)" if entry.unit == "hPa" else f"{value:g} {entry.unit}"
        self._declare("barometer", text)

    def _declare(self, kind: str, text: str) -> None:
        whole = self._page.whole
        self._page = replace(self._page, **_CLOSED)

        def work() -> None:
            before = self._source.present()
            cast("Declares", self._source).declare(kind, text, whole=whole)
            self.redone += 1
            if not self._source.recording:
                self._page = replace(
                    self._page, changed=_changed(before, self._source.present(), self._preset)
                )

        if not hasattr(self._source, "declare"):
            self._notice = "nothing can be declared here"
            return
        self._run("working everything out again", work)

    def _browse(self, folder: Path) -> None:
        """Offer the sessions and folders of a folder, the newest names first."""
        self._folder = folder
        try:
            inside = sorted(
                (p for p in folder.iterdir() if p.is_dir() and not p.name.startswith(".")), reverse=True
            )
        except OSError as refused:
            self._notice = f"{folder} cannot be read: {refused.strerror}"
            return
        sessions = [p for p in inside if (p / "datapackage.json").is_file()]
        others = [p for p in inside if p not in sessions]
        offers = tuple(
            Offer(p.name, f"session open {p}", "a session") for p in sessions
        ) + tuple(Offer(p.name, f"session browse {p}", "a folder") for p in others)  # fmt: skip
        up = Offer("folder above", f"session browse {folder.parent}", folder.parent.name)
        self._page = replace(
            self._page, question=f"open which session of {folder.name or folder}?", offers=offers,
            entry=None, opening=True, more=(up,) if folder.parent != folder else (), page=0,
        )  # fmt: skip

    def _open(self, folder: Path) -> None:
        from logger.desktop.review import Review
        from logger.replay import open_session

        self.opened = Review.open(open_session(str(folder)), self._preset)
        self._page = replace(self._page, **_CLOSED)

    def _run(self, busy: str, work: Callable[[], None]) -> None:
        self._page = replace(self._page, busy=busy, changed=())
        self._background.start(partial(self._guarded, work))

    def _guarded(self, work: Callable[[], None]) -> None:
        """Work; a refusal is a sentence on the screen, and nothing that was there is given up for it."""
        try:
            work()
        except CommandError as refused:
            self._notice = str(refused)
        except Exception as error:
            _log.exception("A session could not be worked out")
            self._notice = f"a fault in the program ({type(error).__name__}); the session on disk is whole"
        finally:
            self._page = replace(self._page, busy="")


def declared_words(present: Present) -> tuple[tuple[str, str, str], ...]:
    """Say what holds at the moment shown."""
    if present.newest is None:
        return ()
    held = present.newest.settings
    barometer = barometer_words(held.barometer_pa, present.preset)
    return (
        ("refrigerant", "refrigerant", plain(held.refrigerant)),
        ("mode", "mode", held.mode),
        ("phase", "phase of the visit", held.phase.replace("-", " ")),
        ("barometer", "barometer", barometer if held.barometer_declared else f"{barometer}, assumed"),
        ("fluid", "source fluid", fluid_words(held.source_liquid)),
        ("load_fluid", "load fluid", fluid_words(held.load_liquid)),
    )


def _changed(before: Present, after: Present, preset: PresetName) -> tuple[str, ...]:
    """Say what reads otherwise at the moment shown."""
    lines = []
    for symbol in _SHOWN:
        one, other = before.value(symbol), after.value(symbol)
        if one == other or not (math.isfinite(one) or math.isfinite(other)):
            continue
        row = BY_SYMBOL[symbol]
        was, now = (
            amount(row.quantity, value, preset).text if math.isfinite(value) else "no value"
            for value in (one, other)
        )
        if was != now:
            lines.append(f"{row.label.split(' (')[0]} {now}, was {was}")
    at = duration(after.elapsed_us / 1e6)
    if not lines:
        return (f"worked out again: at {at} everything reads as before",)
    return (f"worked out again, at {at}:", *lines)
