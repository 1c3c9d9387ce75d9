"""What a device says before a recording begins: its channels, their newest values, how its link stands.

Nothing is stored. It is the same adapter under the same supervisor as in a recording.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from dataclasses import dataclass

from analysis.measure import UNUSABLE, Channel, Quality
from drivers.base import Adapter, ChannelsFound, LinkEvent, LinkState, StreamItem
from drivers.profile import Profile
from drivers.registry import Context
from drivers.supervise import Counts, supervise


@dataclass(frozen=True, slots=True)
class Spoken:
    """The newest reading of a channel."""

    value: float | None
    """As indicated, in the channel's unit; None where it gave none that may be used."""
    at_s: float


class Listening:
    """One device that is listened to.

    Parameters
    ----------
    adapter
        Of the device.
    profile
        What it speaks; None where the device describes itself.
    """

    def __init__(
        self, adapter: Adapter, profile: Profile | None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.name = adapter.name
        parts = profile.channel if profile is not None else ()
        self.channels = tuple(part.channel(adapter.name) for part in parts)
        self.optional = frozenset(f"{adapter.name}/{part.name}" for part in parts if part.optional)
        """Channels that such a device may have, and may not."""
        self.newest: dict[str, Spoken] = {}
        """Channel to its newest reading."""
        self.event: LinkEvent | None = None
        self._counts = Counts()
        self._linked = False
        self._adapter, self._clock = adapter, clock

    async def run(self, context: Context) -> None:
        """Listen until this is cancelled or the device has ended by itself."""
        await supervise(self._adapter, context.clock, context.timing, self._take, counts=self._counts)

    @property
    def failed(self) -> str:
        """The sentence of what needs a person; empty where nothing does."""
        lost = (LinkState.FAILED, LinkState.WAITING)
        return self.event.reason if self.event is not None and self.event.state in lost else ""

    @property
    def misread(self) -> bool:
        """Whether it sends, and nothing of it fits its profile."""
        given_up = self.event is not None and self.event.state is LinkState.FAILED and self._linked
        return not self.newest and (self._counts.faults > 0 or given_up)

    def heard(self) -> tuple[Channel, ...]:
        """Give the channels that have spoken, in the device's order."""
        spoken = dict(self.newest)
        return tuple(channel for channel in self.channels if channel.id in spoken)

    def _take(self, item: StreamItem) -> None:
        if isinstance(item, ChannelsFound):
            self.channels = item.channels
        elif isinstance(item, LinkEvent):
            self.event = item
            self._linked = self._linked or item.state is LinkState.LIVE
        elif isinstance(item, list):
            now = self._clock()
            for reading in item:
                usable = reading.value is not None and not Quality(reading.quality) & UNUSABLE
                self.newest[reading.channel] = Spoken(reading.value if usable else None, now)


async def listen_to(listening: Listening, context: Context) -> None:
    """Listen; a fault in one device ends nothing but its own listening."""
    try:
        await listening.run(context)
    except asyncio.CancelledError:
        raise
    except Exception as error:
        told = f"{listening.name} cannot be read: a fault in the program ({type(error).__name__})"
        listening.event = LinkEvent(context.clock.monotonic_ns(), LinkState.FAILED, told)
