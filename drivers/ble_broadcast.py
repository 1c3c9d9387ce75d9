"""Bluetooth probes that only broadcast (BTHome v2): nothing is connected, nothing is sent."""

from __future__ import annotations

import string
from collections.abc import AsyncGenerator
from typing import NamedTuple

from analysis.measure import Channel, Quality, Reading
from drivers import bthome
from drivers.arrivals import Arrivals
from drivers.base import (
    ChannelsFound,
    Clock,
    LinkEvent,
    LinkState,
    NeedsPersonError,
    ProfileError,
    StreamItem,
    Timing,
)
from drivers.ble_discover import discover_broadcast
from drivers.bluetooth_hub import BluetoothHub, Heard
from drivers.bthome_objects import OBJECTS
from drivers.gatt_values import long_uuid
from drivers.profile import Profile
from drivers.profile_sections import Example
from drivers.registry import Context, Kind, Wanted

_UUID = long_uuid(bthome.SERVICE)
_KEY_ATTEMPTS = 3
"""So many broadcasts in a row that the key does not open are no damage on the way."""
_ASK_PERSON: tuple[bthome.RefusalKind, ...] = ("needs_key", "needs_address")


class _Measured(NamedTuple):
    """One measurement of a frame, and the channel that it belongs to."""

    channel: Channel
    value: float | None
    quality: Quality


class BleBroadcast:
    """One broadcaster.

    Parameters
    ----------
    name
        How the person calls it.
    address
        As the operating system names it; encrypted devices need the true address.
    hub
        The computer's Bluetooth.
    key
        Of an encrypted device.
    profile
        Names its channels by object number and order; without one, every measurement is offered.
    """

    def __init__(
        self,
        name: str,
        address: str,
        hub: BluetoothHub,
        key: bthome.BroadcastKey | None = None,
        profile: Profile | None = None,
    ) -> None:
        self.name = name
        self.address = address
        self.profile = profile
        self._hub = hub
        self._key = key
        self._true_address = address_bytes(address)
        if profile is not None:
            _check_objects(profile)
        # These outlive a stream: a system may hand over an old broadcast again after the scan began anew.
        self._news = bthome.Freshness()
        self._channels: dict[str, Channel] = {}
        self._last_ns: dict[str, int] = {}

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        """Listen, and yield each measurement once.

        Raises
        ------
        LinkLostError, NeedsPersonError
            If the device is not heard, Bluetooth cannot be used, or the key is missing or wrong.
        """
        arrivals = Arrivals()
        known: tuple[Channel, ...] = ()
        refused = 0

        def heard(item: Heard) -> None:
            nonlocal refused
            now = clock.monotonic_ns()
            payload = item.advert.service_data.get(_UUID)
            if payload is None:
                return
            frame = bthome.decode(bytes(payload), self._key, self._true_address)
            if isinstance(frame, bthome.Frame):
                refused = 0
                self._take(frame, bytes(payload), now, timing, arrivals)
                return
            arrivals.reject(frame.kind, bytes(payload))
            refused += frame.kind == "key"
            if frame.kind in _ASK_PERSON or refused >= _KEY_ATTEMPTS:
                arrivals.fail(NeedsPersonError(f"{self.name}: {frame.text}"))

        yield LinkEvent(clock.monotonic_ns(), LinkState.SEARCHING)
        with self._hub.listening(self.address, heard, arrivals.fail):
            try:
                await self._hub.find(self.address, self.name)
                while True:
                    async for item in arrivals.taken(clock.monotonic_ns()):
                        found = tuple(self._channels.values())
                        if isinstance(item, list) and found != known:
                            known = found
                            yield ChannelsFound(found)
                        yield item
            finally:
                arrivals.close()

    def _take(
        self, frame: bthome.Frame, payload: bytes, now: int, timing: Timing, arrivals: Arrivals
    ) -> None:
        if frame.rest:
            arrivals.reject("unread_rest", payload)
        news = self._news.judge(frame, payload, now)
        numbered = frame.packet_id is not None or frame.counter is not None
        if news == "old" or (news == "repeat" and numbered):
            return
        measured = (
            _measured(self.name, frame, timing)
            if self.profile is None
            else _measured_by_profile(self.name, frame, self.profile)
        )
        for channel, value, quality in measured:
            self._channels.setdefault(channel.id, channel)
            if news == "repeat":
                # Without a number the same bytes may be a new measurement of the same value, or the last
                # one again: kept as a sign of life once per expected interval, and not used.
                if now - self._last_ns.get(channel.id, now) < channel.expected_interval_s * 1e9:
                    continue
                quality |= Quality.DUPLICATE
            self._last_ns[channel.id] = now
            arrivals.put(Reading(now, channel.id, value, quality))


def _measured(device: str, frame: bthome.Frame, timing: Timing) -> list[_Measured]:
    """Offer every measurement of a frame."""
    found = []
    for name, part in frame.measurements():
        kind = OBJECTS[part.number]
        assert kind.quantity is not None, "measurements are what has a quantity"
        channel = Channel(
            id=f"{device}/{name}",
            quantity=kind.quantity,
            unit=kind.unit,
            label=name.replace("_", " "),
            resolution=kind.format.resolution,
            expected_interval_s=timing.default_interval,
        )
        found.append(_Measured(channel, part.value, Quality.OK))
    return found


def _measured_by_profile(device: str, frame: bthome.Frame, profile: Profile) -> list[_Measured]:
    """Pick the measurements that a profile names by object number and order."""
    found = []
    for part in profile.channel:
        same = [each for each in frame.objects if each.number == part.object]
        if part.order >= len(same):
            continue
        sent = same[part.order].value
        value, quality = part.conversion()(sent) if sent is not None else (None, Quality.NOT_KNOWN)
        found.append(_Measured(part.channel(device), value, quality))
    return found


def _check_objects(profile: Profile) -> None:
    for part in profile.channel:
        if part.object is None or part.object not in OBJECTS:
            raise ProfileError(
                f"Profile {profile.name}, channel '{part.name}': say the object's number, such as object = 2."
            )


def address_bytes(address: str) -> bytes | None:
    """Give the six bytes of a true Bluetooth address; None for an identifier of the operating system.

    Examples
    --------
    >>> (address_bytes("54:48:E6:8F:80:A5") or b"").hex(), address_bytes("A1B2-C3")
    ('5448e68f80a5', None)
    """
    digits = address.replace(":", "").replace("-", "")
    if len(digits) != 12 or not set(digits) <= set(string.hexdigits):
        return None
    return bytes.fromhex(digits)


def _make(wanted: Wanted, context: Context) -> BleBroadcast:
    if not wanted.address:
        raise ProfileError(f"{wanted.name} needs its Bluetooth address; 'evenrun scan' shows it.")
    if unknown := sorted(set(wanted.options) - {"key"}):
        raise ProfileError(f"{wanted.name}: '{unknown[0]}' is no option of a broadcaster; there is key.")
    key = wanted.options.get("key")
    if key is not None and not isinstance(key, bthome.BroadcastKey):
        try:
            key = bthome.BroadcastKey(str(key))
        except ValueError as refused:
            raise ProfileError(f"{wanted.name}: {refused}") from None
    profile = wanted.profile if wanted.profile.channel else None
    return BleBroadcast(wanted.name, wanted.address, BluetoothHub.of(context), key, profile)


def _example(profile: Profile, example: Example) -> tuple[dict[str, float | str], str]:
    frame = bthome.decode(example.payload())
    if isinstance(frame, bthome.Refused):
        return {}, frame.kind
    values: dict[str, float | str] = {}
    for channel, value, quality in _measured_by_profile("", frame, profile):
        values[channel.id.removeprefix("/")] = quality.text() if value is None else value
    return values, ""


KIND = Kind(
    "ble_broadcast",
    "Bluetooth probes that only broadcast (BTHome)",
    _make,
    discover=discover_broadcast,
    example=_example,
)
