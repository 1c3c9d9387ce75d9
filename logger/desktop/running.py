"""Opening the window: on a stored session, or on a simulated machine that runs live."""

from __future__ import annotations

import signal
import sys
from contextlib import ExitStack
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, cast

import msgspec

from analysis.presets import PresetName
from logger.app import open_recording
from logger.demo import STORIES, open_visit, session_folder, simulated_machine
from logger.desktop.comparing import compare_page
from logger.desktop.display import why_no_window
from logger.desktop.live import Live
from logger.desktop.looks import LookName
from logger.desktop.paperwork import Paperwork
from logger.desktop.remembered import remember, remembered
from logger.desktop.review import Review
from logger.desktop.scene_compare import ComparePage
from logger.desktop.source import Source
from logger.errors import DONE, NOT_AVAILABLE, CommandError, NotAvailableError
from logger.log_setup import log_file, logging_to
from logger.recording_end import say_silent, tell_warnings
from logger.replay import open_session
from logger.session_card import card_of, read_card
from logger.setup_file import load_setup
from logger.status_file import StatusFile, begin_status
from logger.watch import Watch
from logger.watch_file import load_watch
from logger.written_file import read_written

if TYPE_CHECKING:
    from logger.desktop.window import Window

CLOSE_S = 60.0
"""How long closing a session may take, after a long night."""


def run_review(session: str, *, units: str, look: str, card: str, other: str = "", between: str = "") -> int:
    """Open the window on a stored session."""
    need_window()
    preset = cast(PresetName, units or "si")
    review = Review.open(open_session(session), preset, card)
    middle = open_session(between) if between else None
    page = compare_page(review.session, open_session(other), review.card, middle) if other else None
    return _tell_end(_show(review, look, page, paperwork=Paperwork(review.folder, other, preset, card)))


def run_opening(*, units: str, look: str, card: str = "", out: Path | None = None) -> int:
    """Open the window with nothing named: set a visit up, look at the last session, or at the demo hall.

    The very first time, on a computer that remembers no session, it opens on the demo hall and says so.

    Parameters
    ----------
    card, out
        The unit card of the visit, and the folder of its session; blank and None where they are not named.

    Raises
    ------
    CommandError
        If the card cannot be read.
    """
    from logger.desktop.opening import Opening

    need_window()
    card_text = _card_text(card)
    with ExitStack() as stack:
        stack.enter_context(logging_to(log_file()))
        preset = cast(PresetName, units or "si")
        known = remembered()
        opening = Opening(preset, known, stack, card_text=card_text, out=out)
        first = not (known.last_session or card or out)
        shown = _show(opening, look, view="devices", touched="visit demo" if first else "")
    return _tell_end(shown)


def run_demo(story: str, out: Path, *, units: str, look: str) -> int:
    """Open the window on a story's machine as found, simulated and live."""
    need_window()
    told = STORIES[story]
    visit = told.visits[0] if told.visits[0].recorded_as == "as-found" else told.visits[1]
    preset = cast(PresetName, units or ("us" if story == "bakery" else "si"))
    with simulated_machine(told.name, visit.phase, speed=1.0) as (address, _):
        recording = open_visit(told, visit, address, session_folder(out, told, visit), live=True)
        live = Live(recording, preset, simulated=True, card=recording.card, curves=recording.curves)
        paperwork = Paperwork(recording.folder, "", preset, demo_card(story), growing=True)
        shown = _show(live, look, paperwork=paperwork)
    return _tell_end(shown)


def run_setup(
    path: Path,
    out: Path,
    *,
    units: str,
    look: str,
    card: str = "",
    watch: str | None = None,
    status: str = "",
) -> int:
    """Open the window on the devices of a set-up and record them into ``out``, as ``evenrun record`` does.

    Parameters
    ----------
    path, out
        The set-up, and the folder of the new session.
    card
        Unit card instead of the one that the set-up names.
    watch
        Options of a watch over night, a file or blank; None stores every reading.
    status
        A file that says each minute how the recording stands; blank for none.

    Raises
    ------
    CommandError
        If the set-up is wrong or the session cannot be made; nothing is left behind.
    """
    need_window()
    setup, text = load_setup(path)
    kept = None if watch is None else Watch(load_watch(watch))
    card_text = _card_text(card)  # refused before anything is made
    if status:
        begin_status(Path(status))
    preset = cast(PresetName, units or "si")
    with ExitStack() as stack:
        stack.enter_context(logging_to(log_file()))
        recording = open_recording(setup, text, out, beside=path.parent, card_text=card_text)
        recording.engine.watch = kept
        if status:
            stack.enter_context(StatusFile(Path(status), recording.engine, recording.folder))
        live = Live(recording, preset, card=recording.card, curves=recording.curves)
        shown = _show(live, look, paperwork=Paperwork(recording.folder, "", preset, growing=True))
    return _tell_end(shown) or say_silent(list(recording.engine.links.values()))


def _card_text(path: str) -> str:
    """Give the text of a unit card that can be read; blank where none is named."""
    if not path:
        return ""
    text = read_written(Path(path), "unit card")
    card_of(text, path)
    return text


def _tell_end(shown: Source) -> int:
    """Say where what was recorded last lies, and what did not work."""
    if not isinstance(shown, Live):
        return DONE
    print(f"Session: {shown.folder}")
    tell_warnings(shown.warnings)
    if shown.failure:
        print(shown.failure, file=sys.stderr)
        return NOT_AVAILABLE
    return DONE


def run_typed(
    refrigerant: str, out: Path, *, units: str, look: str, mode: str, card: str, barometer: str, fluid: str
) -> int:
    """Open the window for a visit with plain gauges; the rows become a session in ``out``."""
    from logger.desktop.typing_visit import TypingVisit
    from logger.typed_sheet import declare

    need_window()
    sheet = declare(refrigerant=refrigerant, mode=mode, barometer=barometer, fluid=fluid)
    known = read_card(Path(card)) if card else None
    visit = TypingVisit(sheet, out, cast(PresetName, units or "si"), known)
    try:
        _show(visit, look, view="typed")
    finally:
        visit.stop("the window was closed")
        print(f"Session: {out}")
    return DONE


def run_electrical(path: Path, *, units: str, look: str) -> int:
    """Open the window for a dead machine; what is typed goes into a file that ``evenrun electrical`` reads.

    Raises
    ------
    CommandError
        If the file is there and cannot be read, or its folder is not there.
    """
    from logger.desktop.electrical_source import ElectricalSource
    from logger.electrical_file import load_electrical

    if path.exists():
        load_electrical(path)  # refused before the window opens, with the key path
    elif not path.parent.is_dir():
        raise NotAvailableError(f"There is no folder {path.parent}; make it, or name another file.")
    need_window()
    _show(ElectricalSource(path, cast(PresetName, units or "si")), look, view="electrical")
    if path.exists():
        print(f"Readings: {path}")
    return DONE


def demo_card(story: str) -> str:
    """Find the unit card of a story among those that the program brings; empty where there is none."""
    path = Path(__file__).parents[1] / "demo_cards" / f"{STORIES[story].card}.toml"
    return str(path) if path.is_file() else ""


def need_window() -> None:
    """Raise where no window can be opened.

    Raises
    ------
    CommandError
        In one sentence, with the way out.
    """
    why = why_no_window()
    if why:
        raise CommandError(why)


def _show(
    source: Source, look: str, page: ComparePage | None = None, view: str = "levels",
    paperwork: Paperwork | None = None, touched: str = "",
) -> Source:  # fmt: skip
    """Run the window until it is closed; gives what it showed last. A recording is always closed properly."""
    from PySide6.QtWidgets import QApplication

    from logger.desktop.sounds import Sounds
    from logger.desktop.window import Window

    settings = remembered()
    sounds = Sounds(on=settings.sounds)
    application = QApplication.instance() or QApplication(["evenrun"])
    if isinstance(source, Live):
        source.start()
    window = Window(source, cast(LookName, look), view, page, paperwork, sounds)
    stack = ExitStack()
    window.new_visit = lambda: _another_visit(window, stack)

    def end(_number: int, _frame: FrameType | None) -> None:
        if window.source.recording:
            window.end_recording()
        else:
            window.close()

    before = {number: signal.signal(number, end) for number in (signal.SIGINT, signal.SIGTERM)}
    with stack:
        try:
            window.show()
            if touched:
                window.act(touched)
            application.exec()
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)
            shown = window.source
            close_source(shown)
            if window.paperwork is not None:
                window.paperwork.join(CLOSE_S)  # a page that is being written is written whole
            sounds.close()
            remember_of(shown, sounds_on=sounds.on)
    return shown


def _another_visit(window: Window, stack: ExitStack) -> Source:
    """Begin to set up a visit from another session; what was recorded until now is remembered."""
    from logger.desktop.opening import Opening, visit_words

    remember_of(window.source, sounds_on=window.sounds.on)
    folder = str(getattr(window.source, "folder", ""))
    again = {"last_visit": folder} if visit_words(folder) else {}
    settings = msgspec.structs.replace(remembered(), **again)
    return Opening(window.source.present().preset, settings, stack)


def close_source(source: Source) -> None:
    """Let a recording, or what was about to become one, end properly."""
    close = getattr(source, "close", None)
    if close is not None:
        close()
    made = getattr(source, "opened", None) or source
    if made.recording:
        made.stop("the window was closed")
    if isinstance(made, Live):
        made.join(CLOSE_S)


def remember_of(source: Source, *, sounds_on: bool) -> None:
    """Remember what was shown, for the next time."""
    settings = remembered()
    last = str(getattr(source, "folder", settings.last_session))
    real = isinstance(source, Live) and not source.simulated
    visit = last if real else settings.last_visit
    remember(msgspec.structs.replace(settings, sounds=sounds_on, last_session=last, last_visit=visit))
