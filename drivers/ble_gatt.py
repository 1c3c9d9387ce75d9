"""Bluetooth probes that hold a link: standard characteristics, self-described ones, or by a profile.

The only bytes ever sent are requests to read and to subscribe. Characteristics are addressed by handle, since
a probe with two sensors has two of the same UUID.
"""

from __future__ import annotations

from collections.abc import AsyncGenerator

from drivers.arrivals import Arrivals
from drivers.base import (
    ChannelsFound,
    Clock,
    LinkEvent,
    LinkLostError,
    LinkState,
    NeedsPersonError,
    ProfileError,
    StreamItem,
    Timing,
)
from drivers.ble_discover import discover_gatt
from drivers.bluetooth_hub import BluetoothHub
from drivers.gatt_layout import Layout
from drivers.gatt_profile import check_characteristics, decode_example
from drivers.gatt_session import GattSession
from drivers.profile import Profile
from drivers.registry import Context, Kind, Wanted


class BleGatt:
    """One Bluetooth probe behind a link.

    Parameters
    ----------
    name
        How the person calls it.
    address
        As the operating system names it: an address, or on some systems an identifier of this computer's own.
    hub
        The computer's Bluetooth.
    profile
        What it sends; without one, standard and self-described characteristics are offered.

    Raises
    ------
    ProfileError
        If the profile names no characteristic, or one that cannot be read as it says.
    """

    def __init__(self, name: str, address: str, hub: BluetoothHub, profile: Profile | None = None) -> None:
        if profile is not None:
            check_characteristics(profile)
        self.name = name
        self.address = address
        self.profile = profile
        self._hub = hub

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        """Find, connect, learn the channels, subscribe, and yield what comes until the link is lost.

        Raises
        ------
        LinkLostError, NeedsPersonError
            On loss; one sentence.
        """
        layout = Layout(())
        for fresh_services in (False, True):
            yield LinkEvent(clock.monotonic_ns(), LinkState.SEARCHING)
            await self._hub.find(self.address, self.name)
            yield LinkEvent(clock.monotonic_ns(), LinkState.CONNECTING)
            # Its own per connection: what an old connection's callbacks still bring goes nowhere.
            arrivals = Arrivals()

            def lost(arrivals: Arrivals = arrivals) -> None:
                arrivals.fail(LinkLostError(f"The link to {self.name} broke off."))

            async with self._hub.link(self.address, self.name, lost, fresh_services=fresh_services) as client:
                try:
                    session = GattSession(self.name, self._hub, client, arrivals, clock, timing)
                    try:
                        layout, identity = await session.learn(self.profile)
                    except ProfileError as error:
                        raise NeedsPersonError(str(error)) from error
                    if layout.missing or not layout.feeds:
                        continue  # the system may remember an older state of the device: once more, afresh
                    yield ChannelsFound(layout.channels)
                    async with session.running(layout):
                        reason = "; ".join(filter(None, (identity, *layout.notes)))
                        yield LinkEvent(clock.monotonic_ns(), LinkState.LIVE, reason)
                        while True:
                            async for item in arrivals.taken(clock.monotonic_ns()):
                                yield item
                finally:
                    arrivals.close()
        raise NeedsPersonError(self._nothing(layout))

    def _nothing(self, layout: Layout) -> str:
        if layout.missing:
            return (
                f"{self.name} does not offer {', '.join(layout.missing)}: check the profile; if the device "
                "has changed, remove it from the system's Bluetooth list and start again."
            )
        return f"{self.name} offers nothing that can be read without a profile: give one for it."


def _make(wanted: Wanted, context: Context) -> BleGatt:
    if not wanted.address:
        raise ProfileError(f"{wanted.name} needs its Bluetooth address; 'evenrun scan' shows it.")
    if wanted.options:
        raise ProfileError(f"{wanted.name}: a Bluetooth probe with a link takes no options; leave them out.")
    # A profile without channels only says that the device describes itself.
    profile = wanted.profile if wanted.profile.channel else None
    return BleGatt(wanted.name, wanted.address, BluetoothHub.of(context), profile)


KIND = Kind(
    "ble_gatt", "Bluetooth probes that hold a link", _make, discover=discover_gatt, example=decode_example
)
