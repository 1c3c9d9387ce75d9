"""Devices around: looked for and listened to in a thread with a loop of its own, so that nobody waits."""

from __future__ import annotations

import asyncio
import logging
import threading
import time
from collections.abc import AsyncGenerator, Callable, Coroutine
from contextlib import aclosing
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, SimpleQueue

from drivers.base import Found
from drivers.discover import Trouble, discover
from drivers.profile import find_profile
from drivers.registry import Context
from logger.app import make_adapters
from logger.listening import Listening, listen_to
from logger.setup_file import DeviceTable, Setup

_log = logging.getLogger(__name__)
SECONDS = 8.0
"""How long is looked, as by ``evenrun scan``."""
Look = Callable[[Context, float], AsyncGenerator[Found | Trouble, None]]


@dataclass(frozen=True, slots=True)
class Seen:
    """A device with the moment at which it was found."""

    found: Found
    at_s: float
    """By the scan's clock [s]."""


class Scan:
    """What is around: found by looking, and heard by listening to what was taken.

    Parameters
    ----------
    look
        What looks; nothing is sent to a device that is not known.
    seconds
        How long a look takes.
    clock
        Gives seconds.
    """

    def __init__(
        self, look: Look = discover, seconds: float = SECONDS, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.clock = clock
        self.until_s = clock()
        """When the present look will end, or has ended."""
        self.looking = False
        self.seen: tuple[Seen, ...] = ()
        """In the order in which they were found first; a device keeps its place."""
        self.troubles: tuple[Trouble, ...] = ()
        """Why a kind could not look, with the act that mends it."""
        self.listening: dict[str, Listening] = {}
        """What is listened to, by the device's name."""
        self._look, self._seconds = look, seconds
        self._tasks: dict[str, asyncio.Task[None]] = {}
        self._calls: SimpleQueue[Callable[[Context], object]] = SimpleQueue()
        """What is to be done in the loop; kept until the loop is there."""
        self._loop: asyncio.AbstractEventLoop | None = None
        self._end = asyncio.Event()
        self._thread = threading.Thread(target=self._run, name="scan", daemon=True)

    def start(self) -> None:
        """Begin to look."""
        self.looking, self.until_s = True, self.clock() + self._seconds
        self._thread.start()

    def again(self) -> None:
        """Look anew; what was found stays, and its age begins anew where it is found again."""
        if not self.looking:
            self.looking, self.until_s, self.troubles = True, self.clock() + self._seconds, ()
            self._in_loop(lambda context: self._begin("look", self._looked(context)))

    def hear(self, device: DeviceTable) -> None:
        """Listen to a device that was taken.

        Raises
        ------
        CommandError
            If its profile or its address cannot be used.
        """
        context = Context()  # the adapter is made anew in the loop; here only what is wrong with it is told
        make_adapters(Setup(device=(device,)), Path(), context)
        self._in_loop(lambda context: self._hear(device, context))

    def leave(self, name: str) -> None:
        """Listen to a device no longer."""
        self._in_loop(lambda _: self._leave(name))

    def stop(self, timeout: float) -> bool:
        """End, so that a recording has ports and radio to itself; gives whether it has ended in time."""
        if self._thread.ident is None:
            return True
        self._in_loop(lambda _: self._end.set())
        self._thread.join(timeout)
        return not self._thread.is_alive()

    def _in_loop(self, call: Callable[[Context], object]) -> None:
        """Let something be done in the loop; nothing where it has ended."""
        self._calls.put(call)
        if self._loop is not None:
            try:
                self._loop.call_soon_threadsafe(self._drain)
            except RuntimeError:
                _log.debug("The scan has ended already")

    def _drain(self) -> None:
        while True:
            try:
                call = self._calls.get_nowait()
            except Empty:
                return
            call(self._context)

    def _run(self) -> None:
        """Look and listen; whatever goes wrong is a sentence, since there is nobody else to tell it."""
        try:
            asyncio.run(self._main())
        except Exception as error:
            self._tell(error)
        finally:
            self.looking = False

    def _tell(self, error: Exception) -> None:
        _log.error("Looking for devices failed.", exc_info=error)
        said = f"Looking for devices failed ({type(error).__name__}): look again, or name them in a set-up."
        self.troubles = (*self.troubles, Trouble("scan", said))

    async def _main(self) -> None:
        self._context = Context()
        self._begin("look", self._looked(self._context))
        self._loop = asyncio.get_running_loop()
        self._drain()
        try:
            await self._end.wait()
        finally:
            for task in self._tasks.values():
                task.cancel()
            await asyncio.gather(*self._tasks.values(), return_exceptions=True)
            await self._context.aclose()

    def _begin(self, name: str, work: Coroutine[None, None, None]) -> None:
        self._cancel(name)
        self._tasks[name] = asyncio.get_running_loop().create_task(work, name=name)

    def _cancel(self, name: str) -> None:
        task = self._tasks.pop(name, None)
        if task is not None:
            task.cancel()

    def _hear(self, device: DeviceTable, context: Context) -> None:
        (adapter,) = make_adapters(Setup(device=(device,)), Path(), context)
        profile = find_profile(device.profile) if device.profile else None
        self.listening[device.name] = Listening(adapter, profile, self.clock)
        self._begin(f"device {device.name}", listen_to(self.listening[device.name], context))

    def _leave(self, name: str) -> None:
        self._cancel(f"device {name}")
        self.listening.pop(name, None)

    async def _looked(self, context: Context) -> None:
        try:
            async with aclosing(self._look(context, self._seconds)) as items:
                async for item in items:
                    self._found(item)
        except Exception as error:
            self._tell(error)
        finally:
            self.looking, self.until_s = False, self.clock()

    def _found(self, item: Found | Trouble) -> None:
        """Take what was found; several thermometers of one bus are one address, which is read as a whole."""
        if isinstance(item, Trouble):
            self.troubles = (*self.troubles, item)
            return
        fresh = Seen(item, self.clock())
        places = [(s.found.kind, s.found.address) for s in self.seen]
        if (item.kind, item.address) in places:
            at = places.index((item.kind, item.address))
            self.seen = (*self.seen[:at], fresh, *self.seen[at + 1 :])
        else:
            self.seen = (*self.seen, fresh)
