"""Clocks: the computer's own, and one that follows a simulated machine.

Time in a session is monotonic. UTC is stored beside it in pairs, so that a jump of the wall clock never
reorders or loses a reading. Monotonic time may stand still while the computer sleeps; where the system tells
for how long it did, a sleep is known apart from a jump of the wall clock.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from drivers.base import Clock

SLEEP_NS = 1_000_000_000
"""A shorter sleep is none: no reading is missed that a probe would not miss by itself."""
JUMP_NS = 2_000_000_000
"""A change of (UTC - monotonic) beyond this is an event; wall clocks drift less between two looks."""


@runtime_checkable
class KnowsSleep(Protocol):
    """A clock that knows how long the computer has slept."""

    def slept_ns(self) -> int:
        """Nanoseconds in all."""
        ...


class SystemClock:
    """The computer's monotonic and wall clocks."""

    def monotonic_ns(self) -> int:
        """Nanoseconds that never run backwards."""
        return time.monotonic_ns()

    def utc_ns(self) -> int:
        """Nanoseconds since 1970-01-01 UTC."""
        return time.time_ns()

    def slept_ns(self) -> int:
        """Nanoseconds that the computer has slept and monotonic time has left out; 0 where it is not told.

        Linux keeps a second monotonic clock, which goes on in sleep.
        """
        if sys.platform != "linux":
            return 0
        for _ in range(5):  # a pause between the looks at both clocks is no sleep
            before, boot_ns, after = (
                time.monotonic_ns(), time.clock_gettime_ns(time.CLOCK_BOOTTIME), time.monotonic_ns()
            )  # fmt: skip
            if after - before < SLEEP_NS // 10:
                break
        return boot_ns - after


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
    slept_ns: int = 0

    @classmethod
    def now(cls, clock: Clock) -> ClockPair:
        """Read both clocks, and how long the computer has slept if the clock knows."""
        slept_ns = clock.slept_ns() if isinstance(clock, KnowsSleep) else 0
        return cls(clock.monotonic_ns(), clock.utc_ns(), slept_ns)

    def slept_since(self, earlier: ClockPair) -> int:
        """Say how long the computer slept since an earlier pair [ns]; 0 if it did not.

        Examples
        --------
        >>> ClockPair(10, 60_000_000_010, 60_000_000_000).slept_since(ClockPair(0, 0)) // 10**9
        60
        """
        slept = self.slept_ns - earlier.slept_ns
        return slept if slept > SLEEP_NS else 0

    def jump_since(self, earlier: ClockPair) -> int:
        """Say by how much UTC moved since an earlier pair beyond what time passed [ns]; 0 if it is no jump.

        Examples
        --------
        >>> ClockPair(10, 3_600_000_000_010).jump_since(ClockPair(0, 0)) // 10**9
        3600
        """
        passed = self.mono_ns - earlier.mono_ns + self.slept_since(earlier)
        moved = (self.utc_ns - earlier.utc_ns) - passed
        return moved if abs(moved) > JUMP_NS else 0
