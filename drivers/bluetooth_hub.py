"""One Bluetooth adapter for the whole program: one scan that stays on, one connection made at a time.

Two scans in one program disturb each other, starting and stopping can leave a system's service stuck, and
parallel connections fail: so everything that uses the radio goes through the hub.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from drivers.base import Clock, DriverError, LinkLostError, Timing
from drivers.bluetooth_radio import BleakRadio, Radio
from drivers.bluetooth_words import NOBODY_HEARD, explain
from drivers.clock import SystemClock
from drivers.partings import Partings

if TYPE_CHECKING:
    from bleak import BleakClient, BleakScanner
    from bleak.backends.device import BLEDevice
    from bleak.backends.scanner import AdvertisementData

    from drivers.registry import Context

_log = logging.getLogger(__name__)
_T = TypeVar("_T")

MOST_LINKS = 5
"""Many adapters carry five to seven links at once; the next one would fail in odd ways."""
_START_ATTEMPTS = 3
_TABLE_SIZE = 1000
"""Devices remembered; in a busy place phones change their address every few minutes."""


@dataclass(frozen=True, slots=True)
class Heard:
    """The newest broadcast of one device."""

    device: BLEDevice
    advert: AdvertisementData
    t_mono_ns: int


@dataclass(frozen=True, slots=True, eq=False)
class _Listener:
    heard: Callable[[Heard], None]
    fault: Callable[[DriverError], None]


class BluetoothHub:
    """Scans all the time, remembers who was heard, and makes links one after another.

    It belongs to one event loop. Adapters start it on first use; the program closes it at its end.
    """

    def __init__(
        self,
        timing: Timing | None = None,
        clock: Clock | None = None,
        radio: Radio | None = None,
        most_links: int = MOST_LINKS,
    ) -> None:
        self.radio = radio or BleakRadio()
        self.heard: dict[str, Heard] = {}
        """Address in capital letters -> newest broadcast."""
        self._timing = timing or Timing()
        self._clock = clock or SystemClock()
        self._most_links = most_links
        self._links = 0
        self._scanner: BleakScanner | None = None
        self._watch: asyncio.Task[None] | None = None
        self._starting = asyncio.Lock()
        self._connecting = asyncio.Lock()
        self._listeners: dict[str, set[_Listener]] = {}
        self._everyone: set[_Listener] = set()
        self._last_ns = 0
        self._quiet = False
        self._partings = Partings()

    @classmethod
    def of(cls, context: Context) -> BluetoothHub:
        """Give the one hub of an application, made at the first call."""
        return context.shared("bluetooth", lambda: cls(context.timing))

    # -- the scan ----------------------------------------------------------------------------------------

    @property
    def scanning(self) -> bool:
        """Whether the scan is on."""
        return self._scanner is not None

    async def start(self) -> None:
        """Begin to scan, if that is not going on already.

        Raises
        ------
        DriverError
            One sentence: Bluetooth is off, denied, absent or busy, and what to do.
        """
        async with self._starting:
            if self._scanner is None:
                await self._begin_scan()
            if self._watch is None or self._watch.done():
                self._watch = asyncio.create_task(self._watch_scan(), name="bluetooth watchdog")

    async def aclose(self) -> None:
        """Stop scanning; links are closed by those who hold them."""
        if self._watch is not None:
            self._watch.cancel()
            await asyncio.wait({self._watch})
            self._watch = None
        async with self._starting:
            await self._end_scan()
        self.heard.clear()

    async def _begin_scan(self) -> None:
        for attempt in range(_START_ATTEMPTS):
            if attempt:
                await asyncio.sleep(self._timing.backoff_first * self._timing.backoff_factor**attempt)
            scanner = self.radio.scanner(self._on_advert)
            try:
                await asyncio.wait_for(scanner.start(), self._timing.connect_deadline)
            except TimeoutError as error:
                raise LinkLostError("Bluetooth does not answer: switch it off and on again.") from error
            except Exception as error:
                failure = explain(error, "Bluetooth", self.radio.system)
                if not isinstance(failure, LinkLostError) or attempt == _START_ATTEMPTS - 1:
                    raise failure from error
            else:
                self._scanner = scanner
                self._last_ns = self._clock.monotonic_ns()
                return

    async def _end_scan(self) -> None:
        scanner, self._scanner = self._scanner, None
        if scanner is not None:
            await self._partings.wait(scanner.stop(), self._timing.close_deadline)

    async def _watch_scan(self) -> None:
        """Begin the scan anew when nobody is heard any more: adapters fall silent without an error."""
        limit_ns = self._timing.scan_watchdog * 1e9
        while True:
            await asyncio.sleep(self._timing.scan_watchdog / 4)
            if self._clock.monotonic_ns() - self._last_ns < limit_ns or not self._awaited():
                continue
            _log.info("no broadcast heard for %.0f s; scanning anew", self._timing.scan_watchdog)
            self.heard.clear()
            async with self._starting:
                await self._end_scan()
                try:
                    await self._begin_scan()
                except DriverError as failure:
                    self._tell(failure)
                    return
            if self._quiet:
                self._tell(LinkLostError(NOBODY_HEARD))
            self._quiet = True

    def _awaited(self) -> bool:
        """Whether anybody waits for a broadcast; linked probes often send none."""
        return bool(self._everyone) or any(self._listeners.values())

    def _tell(self, failure: DriverError) -> None:
        for listener in self._everyone.union(*self._listeners.values()):
            listener.fault(failure)

    def _on_advert(self, device: BLEDevice, advert: AdvertisementData) -> None:
        now = self._clock.monotonic_ns()
        self._last_ns, self._quiet = now, False
        address = device.address.upper()
        heard = self.heard[address] = Heard(device, advert, now)
        if len(self.heard) > _TABLE_SIZE:
            del self.heard[min(self.heard, key=lambda key: self.heard[key].t_mono_ns)]
        for listener in (*self._listeners.get(address, ()), *self._everyone):
            try:
                listener.heard(heard)
            except Exception:
                _log.exception("a listener failed on a broadcast of %s", address)

    # -- who is heard ------------------------------------------------------------------------------------

    @contextlib.contextmanager
    def listening(
        self, address: str | None, heard: Callable[[Heard], None], fault: Callable[[DriverError], None]
    ) -> Iterator[None]:
        """Get every broadcast of one address (None: of everyone), and word when the scan fails."""
        listener = _Listener(heard, fault)
        group = self._everyone if address is None else self._listeners.setdefault(address.upper(), set())
        group.add(listener)
        try:
            yield
        finally:
            group.discard(listener)

    async def find(self, address: str, who: str) -> Heard:
        """Wait until a device has been heard lately.

        Raises
        ------
        DriverError
            If it is not heard within the connection deadline, or Bluetooth cannot be used.
        """
        await self.start()
        fresh_ns = self._timing.connect_deadline / 2 * 1e9
        known = self.heard.get(address.upper())
        if known is not None and self._clock.monotonic_ns() - known.t_mono_ns < fresh_ns:
            return known
        found: asyncio.Future[Heard] = asyncio.get_running_loop().create_future()

        def heard(item: Heard) -> None:
            if not found.done():
                found.set_result(item)

        def fault(failure: DriverError) -> None:
            if not found.done():
                found.set_exception(failure)

        with self.listening(address, heard, fault):
            try:
                return await asyncio.wait_for(found, self._timing.connect_deadline)
            except TimeoutError:
                reason = NOBODY_HEARD if self._quiet else f"{who} is not heard: near? battery? on?"
                raise LinkLostError(reason) from None

    # -- links -------------------------------------------------------------------------------------------

    @contextlib.asynccontextmanager
    async def link(
        self, address: str, who: str, lost: Callable[[], None], *, fresh_services: bool = False
    ) -> AsyncIterator[BleakClient]:
        """Connect to a device that :meth:`find` has heard, and part from it at the end.

        Parameters
        ----------
        address : str
            As the operating system names the device.
        who : str
            How the person calls it.
        lost : callable
            Called when the link is gone; also on our own parting.
        fresh_services : bool
            Whether to leave aside what the operating system remembers of the device.

        Raises
        ------
        DriverError
            If the link cannot be made; one sentence.
        """
        if self._links >= self._most_links:
            raise LinkLostError(
                f"{who} has to wait: Bluetooth already holds {self._links} links, few adapters carry more."
            )
        self._links += 1
        try:
            client = await self._connect(address, who, lost, fresh_services=fresh_services)
            try:
                yield client
            finally:
                await self._part(client)
        finally:
            self._links -= 1

    async def _connect(
        self, address: str, who: str, lost: Callable[[], None], *, fresh_services: bool
    ) -> BleakClient:
        limit = self._timing.connect_deadline + self._timing.discovery_deadline
        async with self._connecting:
            known = self.heard.get(address.upper())
            if known is None:
                raise LinkLostError(f"{who} is no longer heard; waiting for it to show itself again.")
            client = self.radio.client(known.device, lost, limit, fresh_services=fresh_services)
            try:
                await asyncio.wait_for(client.connect(), limit + self._timing.request_timeout)
            except Exception as error:
                # The device object may be gone: only a fresh broadcast makes the next attempt worthwhile.
                self.heard.pop(address.upper(), None)
                await self._part(client)
                raise explain(error, who, self.radio.system) from error
            except BaseException:
                await self._part(client)
                raise
        return client

    async def _part(self, client: BleakClient) -> None:
        # Earlier than the supervisor's own limit, so that it sees a tidy end.
        await self._partings.wait(client.disconnect(), 0.8 * self._timing.close_deadline)

    async def within(self, action: Awaitable[_T], who: str) -> _T:
        """Wait for one request to a device, at most for the request time-out.

        Raises
        ------
        DriverError
            If it fails or does not answer; a reply that never comes would be waited for without end.
        """
        try:
            return await asyncio.wait_for(action, self._timing.request_timeout)
        except Exception as error:
            raise explain(error, who, self.radio.system) from error
