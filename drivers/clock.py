"""Clocks: the computer's own, and one that follows a simulated machine.

Time in a session is monotonic. UTC is stored beside it in pairs, so that a jump of the wall clock never
reorders or loses a reading, and so that a suspended computer is noticed.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

from drivers.base import Clock

JUMP_NS = 2_000_000_000
"""A change of (UTC - monotonic) beyond this is an event; wall clocks drift less between two looks."""


class SystemClock:
    """The computer's monotonic and wall clocks."""

    def monotonic_ns(self) -> int:
        """Nanoseconds that never run backwards."""
        return time.monotonic_ns()

    def utc_ns(self) -> int:
        """Nanoseconds since 1970-01-01 UTC."""
        return time.time_ns()


class FollowedClock:
    """A clock that stands at the newest moment a simulated device has sent.

    A simulated machine may run faster than real time; its lines carry its own time. A session that follows
    that time gets no jitter from the speed. The UTC of its start is fixed, and UTC runs along.
    """

    def __init__(self, start_utc_ns: int) -> None:
        self._start_utc_ns = start_utc_ns
        self._now_ns = 0

    def follow(self, t_ns: int) -> None:
        """Move on to a moment of the device; a moment in the past changes nothing."""
        self._now_ns = max(self._now_ns, t_ns)

    def monotonic_ns(self) -> int:
        """Nanoseconds of the followed device."""
        return self._now_ns

    def utc_ns(self) -> int:
        """UTC of the start plus the device's time."""
        return self._start_utc_ns + self._now_ns


@dataclass(frozen=True, slots=True)
class ClockPair:
    """One moment on both clocks."""

    mono_ns: int
    utc_ns: int

    @classmethod
    def now(cls, clock: Clock) -> ClockPair:
        """Read both clocks."""
        return cls(clock.monotonic_ns(), clock.utc_ns())

    def jump_since(self, earlier: ClockPair) -> int:
        """Say by how much UTC moved against monotonic time since an earlier pair [ns]; 0 if it is no jump.

        Examples
        --------
        >>> ClockPair(10, 3_600_000_000_010).jump_since(ClockPair(0, 0)) // 10**9
        3600
        """
        moved = (self.utc_ns - earlier.utc_ns) - (self.mono_ns - earlier.mono_ns)
        return moved if abs(moved) > JUMP_NS else 0
