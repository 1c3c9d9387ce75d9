"""Readings that a person enters: gauges read by eye, a container timed by hand, a meter without a link."""

from __future__ import annotations

import asyncio
import difflib
import math
from collections.abc import AsyncGenerator, Iterable
from dataclasses import replace
from queue import Empty, SimpleQueue

from analysis.measure import Channel, Quality, Reading
from drivers.base import ChannelsFound, Clock, LinkEvent, LinkState, StreamItem, Timing
from drivers.registry import Context, Kind, Wanted

HOLD_S = 900.0
"""How long a typed reading stands where its channel does not say: common practice, no source."""


class EntryError(ValueError):
    """An entry that cannot be taken; the text says what to write."""


class Typed:
    """Takes entries from the application, in any thread, and gives them out like any other adapter.

    Examples
    --------
    >>> from analysis.units import Quantity
    >>> typed = Typed("hand", [Channel("hand/suction", Quantity.GAUGE_PRESSURE, "psig")])
    >>> typed.enter("suction", 128.0)
    >>> typed.enter("sucton", 128.0)
    Traceback (most recent call last):
    drivers.typed.EntryError: There is no channel 'sucton' to type into; there is suction.
    """

    watched = False
    """Silence of a person is no fault: the supervisor does not watch for it."""

    def __init__(self, name: str, channels: Iterable[Channel] = ()) -> None:
        self.name = name
        self._channels: dict[str, Channel] = {channel.id: channel for channel in channels}
        self._entries: SimpleQueue[tuple[int | None, str, float | None]] = SimpleQueue()
        self._told = 0

    @property
    def channels(self) -> tuple[Channel, ...]:
        """What can be typed into."""
        return tuple(self._channels.values())

    def add(self, channel: Channel) -> None:
        """Offer one more channel; its id begins with the adapter's name and a stroke."""
        if not channel.id.startswith(f"{self.name}/"):
            raise EntryError(f"The channel's id must begin with '{self.name}/'.")
        self._channels[channel.id] = channel

    def enter(self, channel: str, value: float | None, *, t_mono_ns: int | None = None) -> None:
        """Take one reading.

        Parameters
        ----------
        channel
            Its id, or the part after the adapter's name.
        value
            As the instrument indicates, in the channel's unit; None if it showed nothing.
        t_mono_ns
            When it was read; now by default.

        Raises
        ------
        EntryError
            If there is no such channel or the value is not a number.
        """
        identity = channel if channel in self._channels else f"{self.name}/{channel}"
        if identity not in self._channels:
            names = [known.removeprefix(f"{self.name}/") for known in self._channels]
            near = (
                ", ".join(difflib.get_close_matches(channel, names, n=3, cutoff=0.5) or names) or "none yet"
            )
            raise EntryError(f"There is no channel '{channel}' to type into; there is {near}.")
        if value is not None and not math.isfinite(value):
            raise EntryError("A reading must be a number; leave it out if there is none.")
        self._entries.put((t_mono_ns, identity, value))

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        """Give the entries as they come."""
        self._told = 0
        yield LinkEvent(clock.monotonic_ns(), LinkState.LIVE)
        while True:
            if self._told != len(self._channels):
                self._told = len(self._channels)
                yield ChannelsFound(self.channels)
            batch: list[Reading] = []
            while True:
                try:
                    moment, identity, value = self._entries.get_nowait()
                except Empty:
                    break
                # A person looks, then types: the moment is known to about a second.
                quality = Quality.ESTIMATED_TIME | (Quality.NOT_KNOWN if value is None else Quality.OK)
                batch.append(
                    Reading(clock.monotonic_ns() if moment is None else moment, identity, value, quality)
                )
            if batch:
                yield batch
            await asyncio.sleep(timing.drain_interval)


def _make(wanted: Wanted, context: Context) -> Typed:
    channels = []
    for part in wanted.profile.channel:
        channel = part.channel(wanted.name)
        hold = channel.hold_s or float(wanted.options.get("hold_s", HOLD_S))
        channels.append(replace(channel, hold_s=hold))
    return Typed(wanted.name, channels)


KIND = Kind("typed", "readings typed by hand", _make)
