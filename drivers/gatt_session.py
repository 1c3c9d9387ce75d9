"""One connection of a Bluetooth probe: learn what it offers, subscribe, read, and pass on what arrives.

Every callback belongs to one session and dies with it; every request has a deadline.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator, Awaitable
from typing import TYPE_CHECKING

from analysis.measure import Quality, Reading
from drivers import gatt_descriptors as descriptors
from drivers.arrivals import Arrivals
from drivers.base import Clock, DriverError, LinkLostError, NeedsPersonError, Timing
from drivers.bluetooth_hub import BluetoothHub
from drivers.gatt_layout import (
    MEASUREMENT_INTERVAL,
    Feed,
    Layout,
    Offered,
    layout_by_itself,
    layout_by_profile,
)
from drivers.gatt_values import DEVICE_INFORMATION, short_uuid, text_value
from drivers.profile import Profile

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.characteristic import BleakGATTCharacteristic

_log = logging.getLogger(__name__)
_READ_DESCRIPTORS = (
    descriptors.USER_DESCRIPTION, descriptors.PRESENTATION_FORMAT, descriptors.VALID_RANGE,
    descriptors.ES_MEASUREMENT, descriptors.ES_TRIGGER,
)  # fmt: skip
_ECHO_NS = 50_000_000
"""A notification so soon after a read, with the same bytes, is the operating system's echo of that read."""
_SLOW_NS = 1_000_000_000
"""A reply slower than this leaves the moment of measurement open."""


class GattSession:
    """What one connection does; it sends nothing but requests to read and to subscribe."""

    def __init__(
        self,
        who: str,
        hub: BluetoothHub,
        client: BleakClient,
        arrivals: Arrivals,
        clock: Clock,
        timing: Timing,
    ) -> None:
        self._who, self._hub, self._client = who, hub, client
        self._arrivals, self._clock, self._timing = arrivals, clock, timing
        self._last_read: dict[int, tuple[int, bytes]] = {}

    async def learn(self, profile: Profile | None) -> tuple[Layout, str]:
        """Read what the device says about itself.

        Returns
        -------
        Layout, str
            What to subscribe and read; and who the device says it is.

        Raises
        ------
        DriverError
            If the link is lost, or the profile cannot be applied.
        """
        found = self._characteristics()
        offered = [await self._offered(each) for each in found]
        identity: dict[str, str] = {}
        interval_s = 0.0
        for each in found:
            number = short_uuid(each.uuid)
            if number is None or "read" not in each.properties:
                continue
            if number in DEVICE_INFORMATION:
                identity[DEVICE_INFORMATION[number]] = text_value(await self._told(each))
            elif number == MEASUREMENT_INTERVAL:
                interval_s = float(int.from_bytes((await self._told(each))[:2], "little"))
        if profile is not None:
            layout = layout_by_profile(self._who, offered, profile)
        else:
            layout = layout_by_itself(self._who, offered, self._timing.default_interval, interval_s)
        return layout, _identity_text(identity)

    def _characteristics(self) -> list[BleakGATTCharacteristic]:
        from bleak.exc import BleakError

        try:
            found = self._client.services.characteristics.values()
        except BleakError as error:
            raise LinkLostError(f"The link to {self._who} broke off.") from error
        # The library keeps them in sets; only the handle gives an order that is the same every time.
        return sorted(found, key=lambda each: each.handle)

    async def _offered(self, each: BleakGATTCharacteristic) -> Offered:
        described: dict[int, tuple[bytes, ...]] = {}
        for descriptor in sorted(each.descriptors, key=lambda part: part.handle):
            number = short_uuid(descriptor.uuid)
            if number in _READ_DESCRIPTORS:
                content = await self._optional(self._client.read_gatt_descriptor(descriptor))
                if content is not None:
                    described[number] = (*described.get(number, ()), content)
        return Offered(each.handle, each.uuid, frozenset(each.properties), described)

    async def _told(self, each: BleakGATTCharacteristic) -> bytes:
        return await self._optional(self._client.read_gatt_char(each)) or b""

    async def _optional(self, reply: Awaitable[bytearray]) -> bytes | None:
        """Read what may be refused without harm; silence or a lost link is still an error."""
        try:
            return bytes(await self._hub.within(reply, self._who))
        except DriverError as error:
            if not _refused(error):
                raise
            _log.debug("%s refused to describe itself: %s", self._who, error)
            return None

    @contextlib.asynccontextmanager
    async def running(self, layout: Layout) -> AsyncIterator[None]:
        """Subscribe, and read what does not send by itself, for as long as the context lasts."""
        for feed in layout.feeds:
            if feed.notify and feed.read_first:
                await self._read(feed)  # before the subscription: afterwards it would arrive twice
            if feed.notify:
                await self._subscribe(feed)
        polled = [feed for feed in layout.feeds if not feed.notify]
        poller = asyncio.create_task(self._poll(polled), name=f"{self._who} reads") if polled else None
        try:
            yield
        finally:
            if poller is not None:
                poller.cancel()
                await asyncio.wait({poller})

    async def _subscribe(self, feed: Feed) -> None:
        def notified(_who: BleakGATTCharacteristic, payload: bytearray) -> None:
            now = self._clock.monotonic_ns()
            self._take(feed, bytes(payload), now, self._echo(feed.handle, bytes(payload), now))

        # The routing is complete before the request: the first value may arrive before the reply.
        await self._hub.within(self._client.start_notify(feed.handle, notified), self._who)

    def _echo(self, handle: int, payload: bytes, now: int) -> Quality:
        at, read = self._last_read.get(handle, (-_ECHO_NS, b""))
        return Quality.DUPLICATE if payload == read and now - at < _ECHO_NS else Quality.OK

    def _take(self, feed: Feed, payload: bytes, t_mono_ns: int, flags: Quality = Quality.OK) -> None:
        for channel, decode in feed.channels:
            try:
                value, quality = decode(payload)
            except Exception:
                # An error in a callback would only reach the library's log: it is counted instead.
                _log.exception("decoding %s of %s", payload.hex(), channel.id)
                self._arrivals.reject("decoder", payload)
                continue
            self._arrivals.put(Reading(t_mono_ns, channel.id, value, quality | flags))

    async def _poll(self, feeds: list[Feed]) -> None:
        loop = asyncio.get_running_loop()
        due = {feed.handle: loop.time() for feed in feeds}
        try:
            while True:
                feed = min(feeds, key=lambda each: due[each.handle])
                await asyncio.sleep(due[feed.handle] - loop.time())
                await self._read(feed)
                due[feed.handle] = max(due[feed.handle] + feed.interval_s, loop.time())
        except DriverError as failure:
            self._arrivals.fail(failure)

    async def _read(self, feed: Feed) -> None:
        """Read once; the moment is the middle between request and reply."""
        asked = self._clock.monotonic_ns()
        try:
            payload = bytes(await self._hub.within(self._client.read_gatt_char(feed.handle), self._who))
        except DriverError as error:
            if not _refused(error) or isinstance(error, NeedsPersonError):
                raise
            self._arrivals.reject("read_refused")
            return
        replied = self._clock.monotonic_ns()
        self._last_read[feed.handle] = (replied, payload)
        slow = Quality.ESTIMATED_TIME if replied - asked > _SLOW_NS else Quality.OK
        self._take(feed, payload, (asked + replied) // 2, slow)


def _refused(error: DriverError) -> bool:
    """Whether the device itself answered with a refusal, so that the link still stands."""
    from bleak.exc import BleakGATTProtocolError

    return isinstance(error.__cause__, BleakGATTProtocolError)


def _identity_text(identity: dict[str, str]) -> str:
    named = [identity[key] for key in ("maker", "model") if identity.get(key)]
    return " ".join(named + [f"{key} {identity[key]}" for key in ("serial", "firmware") if identity.get(key)])
