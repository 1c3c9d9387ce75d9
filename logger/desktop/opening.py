"""The window before anything is recorded: a visit is set up, or something else is opened.

Ports and radio are used in the scan's own thread, sessions are made and opened in another: the window waits
for neither. What is to be shown next stands in :attr:`Opening.opened`.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import msgspec

from analysis.presets import PresetName
from analysis.timeline import Event
from drivers.discover import discover
from logger.desktop.find_page import FindPage
from logger.desktop.finding import Finding
from logger.desktop.history import History
from logger.desktop.present import Present
from logger.desktop.remembered import Remembered, fresh_session_folder
from logger.desktop.source import Source
from logger.errors import CommandError
from logger.scanning import SECONDS, Look, Scan
from logger.shown_values import plain
from logger.visit_plan import VisitPlan, plan_again

_log = logging.getLogger(__name__)
STOP_S = 20.0
"""For so long a recording waits until the scan has let go of ports and radio."""


class Opening:
    """Nothing recorded yet, as the window's source.

    Parameters
    ----------
    settings
        What is remembered from the last time.
    stack
        Holds a simulated machine, if one is asked for, until the window is closed.
    card_text, out
        The machine's unit card, and the folder of the new session, where the person named them.
    look, seconds
        What looks for devices, by default all kinds together, and for how long.
    """

    recording = False
    finished = True

    def __init__(
        self,
        preset: PresetName,
        settings: Remembered,
        stack: ExitStack,
        *,
        card_text: str = "",
        out: Path | None = None,
        look: Look | None = None,
        seconds: float = SECONDS,
    ) -> None:
        self.preset, self.history = preset, History(keep_rows=False)
        self.events: list[Event] = []
        self.notice = ""
        self.opened: Source | None = None
        """What is to be shown next."""
        self._settings, self._stack = settings, stack
        self._again = visit_words(settings.last_visit)
        self._busy = ""
        self._thread: threading.Thread | None = None
        self._out = out
        self._finding = Finding(Scan(look or discover, seconds), preset, VisitPlan(card_text=card_text))
        self._finding.scan.start()

    def present(self) -> Present:
        """Give the frame of the moment; nothing is read into a session yet."""
        return Present(preset=self.preset, kind="idle", notice=self.notice)

    @property
    def finding(self) -> FindPage:
        """What the page shows now."""
        return replace(
            self._finding.page(),
            busy=self._busy,
            again=self._again,
            last=_folder_words(self._settings.last_session),
        )

    def act(self, what: str) -> None:
        """Do what a touch asks for; a refusal is a sentence in the second line."""
        name, _, rest = what.partition(" ")
        if self._busy or self.opened is not None:
            return
        self.notice = ""
        try:
            if not self._finding.act(name, rest):
                self._open(name)
        except CommandError as refused:
            self.notice = plain(str(refused)).rstrip(".")

    def _open(self, name: str) -> None:
        match name:
            case "before":
                self._finding.adopt(plan_again(Path(self._settings.last_visit)))
            case "start":
                if not self._finding.plan.devices:
                    raise CommandError("Take a device first: touch it on the left.")
                self._run("STARTING the recording", self._open_recording)
            case "last":
                self._run("OPENING the last session", self._open_last)
            case "demo":
                self._run("STARTING the demo hall", self._open_demo)
            case "typed":
                self._run("OPENING a typed visit", self._open_typed)
            case _:
                pass

    def close(self) -> None:
        """Let go of ports and radio; what is being opened is waited for, so that nothing is half made."""
        if self._thread is not None:
            self._thread.join(STOP_S)
        self._finding.scan.stop(STOP_S)

    def _open_recording(self) -> None:
        from logger.app import open_recording
        from logger.desktop.live import Live

        title = f"Visit of {datetime.now().astimezone():%Y-%m-%d}"
        plan = self._finding.plan
        setup = plan.setup(self._finding.listening(), title)
        text = msgspec.toml.encode(setup).decode()
        folder = self._folder("visit")
        recording = open_recording(setup, text, folder, beside=Path(), card_text=plan.card_text)
        self._finding.scan.stop(STOP_S)
        live = Live(recording, self.preset, card=recording.card, curves=recording.curves)
        live.start()
        self.opened = live

    def _open_last(self) -> None:
        from logger.desktop.review import Review
        from logger.replay import open_session

        if not self._settings.last_session:
            raise CommandError("There is no last session yet; the demo hall shows what one looks like.")
        review = Review.open(open_session(self._settings.last_session, tell=False), self.preset)
        self._finding.scan.stop(STOP_S)
        self.opened = review

    def _open_demo(self) -> None:
        from logger.demo import HALL, open_visit, simulated_machine
        from logger.desktop.live import Live

        folder = self._folder("demo")
        visit = HALL.visits[0]
        address, _ = self._stack.enter_context(simulated_machine(HALL.name, visit.phase, speed=1.0))
        recording = open_visit(HALL, visit, address, folder, live=True)
        self._finding.scan.stop(STOP_S)
        live = Live(recording, self.preset, simulated=True, card=recording.card, curves=recording.curves)
        live.start()
        self.opened = live

    def _open_typed(self) -> None:
        from logger.desktop.typing_visit import TypingVisit
        from logger.typed_sheet import declare

        plan = self._finding.plan
        if not plan.refrigerant:
            raise CommandError("Say first which refrigerant is in the machine.")
        sheet = declare(refrigerant=plan.refrigerant, mode=plan.mode, fluid=plan.fluid)
        visit = TypingVisit(sheet, self._folder("typed"), self.preset)
        self._finding.scan.stop(STOP_S)
        self.opened = visit

    def _folder(self, what: str) -> Path:
        return self._out or fresh_session_folder(what)

    def _run(self, busy: str, work: Callable[[], None]) -> None:
        self._busy = busy
        self._thread = threading.Thread(target=self._guarded, args=(work,), name="opening", daemon=True)
        self._thread.start()

    def _guarded(self, work: Callable[[], None]) -> None:
        """Work; whatever is refused is a sentence, and the page stays as it was."""
        try:
            work()
        except CommandError as refused:
            self.notice = plain(str(refused)).rstrip(".")
        except Exception as error:
            _log.exception("Nothing could be opened")
            self.notice = f"a fault in the program ({type(error).__name__}); nothing was lost"
        finally:
            self._busy = ""

    def _not_yet(self) -> None:
        self.notice = "nothing is recorded yet: take a device, then START RECORDING"

    def mark(self, text: str = "", ago_s: float = 0.0) -> None:
        """Say why there are no marks yet."""
        self._not_yet()

    def name(self, text: str, t_us: int | None = None) -> None:
        """Do nothing: there are no marks yet."""

    def undo(self) -> None:
        """Say why there is nothing to take back."""
        self._not_yet()

    def back_date(self, seconds: float) -> None:
        """Do nothing: there are no marks yet."""

    def alarm(self, text: str) -> None:
        """Do nothing: nothing raises an alarm yet."""

    def assign(self, channel: str, point: str) -> None:
        """Do nothing: channels are joined on the page."""

    def stop(self, reason: str) -> None:
        """Do nothing: nothing is recorded."""


def visit_words(folder: str) -> str:
    """Say what was recorded in a visit whose set-up can be used again; empty where it cannot be."""
    if not _folder_words(folder):
        return ""
    try:
        plan = plan_again(Path(folder))
    except CommandError:
        return ""
    count = f"{len(plan.devices)} device{'s' if len(plan.devices) > 1 else ''}"
    return plain(", ".join(filter(None, (count, plan.refrigerant))))


def _folder_words(folder: str) -> str:
    """Name a session that is still there; empty where it is not."""
    return plain(Path(folder).name) if folder and (Path(folder) / "datapackage.json").is_file() else ""
