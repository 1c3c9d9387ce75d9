"""The contract of every device adapter: what it yields, how it fails, and which intervals it obeys.

An adapter is any object with a ``name`` and a ``stream``; there is no base class. It connects inside the
stream, yields what arrives, raises on loss and cleans up in ``finally``. Reconnecting, silence, epochs and
back-off are the supervisor's (:mod:`drivers.supervise`), so that every kind of link behaves alike.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

from analysis.measure import Channel, Reading


class Clock(Protocol):
    """Where moments come from; see :mod:`drivers.clock`."""

    def monotonic_ns(self) -> int:
        """Nanoseconds that never run backwards."""
        ...

    def utc_ns(self) -> int:
        """Nanoseconds since 1970-01-01 UTC, as the computer believes."""
        ...


class LinkState(StrEnum):
    """How a link to a device stands."""

    SEARCHING = "searching"
    CONNECTING = "connecting"
    LIVE = "live"
    SILENT = "silent"
    """Linked, but nothing has come for three expected intervals."""
    WAITING = "waiting"
    """Lost; the next attempt is in ``retry_in_s``."""
    FAILED = "failed"
    """Needs a person: permission, port taken, wrong instrument."""
    ENDED = "ended"


@dataclass(frozen=True, slots=True)
class LinkEvent:
    """A change of a link's state, with its reason in words."""

    t_mono_ns: int
    state: LinkState
    reason: str = ""
    retry_in_s: float | None = None
    attempt: int = 0
    epoch: int = 0


@dataclass(frozen=True, slots=True)
class ChannelsFound:
    """The channels a device gives; they may be known only after connecting."""

    channels: tuple[Channel, ...]


@dataclass(frozen=True, slots=True)
class Rejected:
    """What a decoder refused since the last such item, counted by kind; never dropped silently."""

    t_mono_ns: int
    counts: Mapping[str, int]
    """Kind of fault (``truncated``, ``checksum``, ...) to how many frames."""
    sample: bytes = b""
    """The first refused frame, as it came."""


StreamItem = list[Reading] | ChannelsFound | LinkEvent | Rejected
"""What a stream yields; readings come in batches: all that arrived since the last turn."""


@dataclass(frozen=True, slots=True)
class Timing:
    """Every interval, time-out and back-off of the drivers [s], together so that a test can scale time."""

    drain_interval: float = 0.03
    """How often the loop collects what a reader thread has read."""
    read_timeout: float = 0.1
    """How long a reader thread blocks before it looks whether it should stop."""
    open_deadline: float = 15.0
    connect_deadline: float = 10.0
    discovery_deadline: float = 10.0
    request_timeout: float = 2.0
    close_deadline: float = 5.0
    default_interval: float = 10.0
    """Expected interval of a channel that states none and has not been heard often enough to tell."""
    silent_after_intervals: float = 3.0
    reconnect_after_intervals: float = 10.0
    silent_at_least: float = 1.0
    backoff_first: float = 0.5
    backoff_factor: float = 2.0
    backoff_most: float = 30.0
    backoff_jitter: float = 0.2
    backoff_reset_after: float = 30.0
    """Seconds of data after which the next loss counts as the first."""
    remind_after: float = 300.0
    """When a probe has not been heard for so long, one plain line says so."""
    scan_watchdog: float = 30.0
    port_poll: float = 0.5
    """How often a missing serial port is looked for again."""
    banner: float = 2.0
    """Lines within this time after opening a port may be a boot message and are not faults."""

    def scaled(self, factor: float) -> Timing:
        """Give the same timing with every duration multiplied by ``factor``.

        Examples
        --------
        >>> Timing().scaled(0.1).backoff_first
        0.05
        """
        plain = ("silent_after_intervals", "reconnect_after_intervals", "backoff_factor", "backoff_jitter")
        return Timing(
            **{
                name: getattr(self, name) * (1.0 if name in plain else factor)
                for name in self.__dataclass_fields__
            }
        )


class Adapter(Protocol):
    """One device behind one link.

    An adapter whose silence is no fault (readings typed by hand) also has ``watched = False``.
    """

    name: str
    """How the person calls the device; its channels are named ``<name>/<channel>``."""

    def stream(self, clock: Clock, timing: Timing) -> AsyncIterator[StreamItem]:
        """Connect and yield what arrives; raises LinkLostError or NeedsPersonError on loss."""
        ...


@dataclass(frozen=True, slots=True)
class Found:
    """A device that discovery came across."""

    kind: str
    address: str
    """What to write into the set-up to reach it again."""
    label: str
    evidence: str
    confidence: float = 0.5
    profiles: tuple[str, ...] = field(default=())
    strength_dbm: float | None = None
    """How strongly a radio was heard; None where there is no radio, or none that says."""


class DriverError(Exception):
    """Something went wrong with a device; the text is one sentence for a person."""


class LinkLostError(DriverError):
    """The link is gone or could not be made; trying again may help."""


class NeedsPersonError(DriverError):
    """Trying again will not help before a person acts: permission, port taken, another instrument."""


class ProfileError(DriverError):
    """A profile is wrong; the text names the key and what to write."""


class ProfileMissingError(ProfileError):
    """There is no such profile, or its file cannot be opened."""
