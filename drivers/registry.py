"""The kinds of adapters there are: our own and those of plug-ins, found in the same way.

A plug-in names its kinds in its own package metadata, in the entry-point group ``evenrun.adapters``::

    [project.entry-points."evenrun.adapters"]
    my_kind = "my_package.my_module:KIND"

where ``KIND`` is a :class:`Kind`. One that cannot be loaded is reported and does not stop the others.
:mod:`drivers.conformance` holds the tests that a plug-in's author runs.
"""

from __future__ import annotations

import difflib
import importlib.metadata
import logging
from collections.abc import AsyncIterator, Callable, Hashable, Mapping
from dataclasses import dataclass, field
from importlib.metadata import EntryPoint
from typing import Any, TypeVar

from analysis.measure import UNUSABLE, Quality
from drivers.base import Adapter, Clock, Found, ProfileError, Timing
from drivers.clock import SystemClock
from drivers.profile import Profile
from drivers.profile_sections import Example

_log = logging.getLogger(__name__)
GROUP = "evenrun.adapters"
_BUILT_IN = {
    "serial_lines": "drivers.serial_lines:KIND",
    "nmea0183": "drivers.nmea0183:KIND",
    "scpi": "drivers.scpi:KIND",
    "modbus_rtu": "drivers.modbus_rtu:KIND",
    "onewire": "drivers.onewire:KIND",
    "typed": "drivers.typed:KIND",
    "ble_gatt": "drivers.ble_gatt:KIND",
    "ble_broadcast": "drivers.ble_broadcast:KIND",
}
"""Named here and not in our own metadata, so that they are there too where evenrun runs from its files."""
_T = TypeVar("_T")


class Context:
    """What adapters of one application share, such as the one Bluetooth scanner of a computer."""

    def __init__(self, clock: Clock | None = None, timing: Timing | None = None) -> None:
        self.clock = clock or SystemClock()
        self.timing = timing or Timing()
        self._shared: dict[object, Any] = {}

    def shared(self, key: Hashable, make: Callable[[], _T]) -> _T:
        """Give the one object of its kind, made at the first call."""
        if key not in self._shared:
            self._shared[key] = make()
        found: _T = self._shared[key]
        return found

    async def aclose(self) -> None:
        """Close what was shared, the newest first."""
        while self._shared:
            _, thing = self._shared.popitem()
            close = getattr(thing, "aclose", None)
            if close is not None:
                try:
                    await close()
                except Exception:
                    _log.warning("%s did not close well.", type(thing).__name__, exc_info=True)


@dataclass(frozen=True, slots=True)
class Wanted:
    """One device as a set-up asks for it."""

    name: str
    """How the person calls it."""
    profile: Profile
    address: str = ""
    options: Mapping[str, Any] = field(default_factory=dict, repr=False)
    """Keys of the set-up that only this kind knows."""


Outcome = tuple[dict[str, float | str], str]
"""What an example gave: channel to value or word of quality, and the kind of fault (or empty)."""


def said(value: float | None, quality: Quality) -> float | str:
    """Put a value into an example's terms: the number if it may be used, else its words of quality.

    Examples
    --------
    >>> said(21.5, Quality.UNVERIFIED), said(9e9, Quality.OUT_OF_RANGE | Quality.UNVERIFIED)
    (21.5, 'out_of_range')
    """
    flaws = quality & UNUSABLE
    return value if value is not None and not flaws else flaws.text()


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of adapter."""

    name: str
    title: str
    """In words for a person, as ``text lines over a serial port``."""
    make: Callable[[Wanted, Context], Adapter]
    """Raises ProfileError if the profile is not for this kind."""
    discover: Callable[[Context, float], AsyncIterator[Found]] | None = None
    """Looks for devices for some seconds; sends nothing to a device."""
    example: Callable[[Profile, Example], Outcome] | None = None
    """Decodes an example of a profile."""


@dataclass(frozen=True, slots=True)
class Kinds:
    """All kinds, and those that could not be loaded."""

    known: dict[str, Kind]
    broken: dict[str, str]
    """Entry-point name to a sentence."""

    def named(self, name: str) -> Kind:
        """Find a kind.

        Raises
        ------
        ProfileError
            If there is none of this name, or its plug-in is broken.
        """
        if name in self.known:
            return self.known[name]
        if name in self.broken:
            raise ProfileError(self.broken[name])
        near = difflib.get_close_matches(name, self.known, n=3, cutoff=0.5) or sorted(self.known)
        raise ProfileError(f"'{name}' is not a kind of adapter; there are {', '.join(near)}.")


def load_kinds(only: str | None = None, *, installed: list[EntryPoint] | None = None) -> Kinds:
    """Load the kinds of adapters.

    Parameters
    ----------
    only
        Load just the kind of this name, which spares the start-up of libraries that are not needed.
    installed
        Entry points of plug-ins; by default those of this Python environment.
    """
    plugins = list(importlib.metadata.entry_points(group=GROUP)) if installed is None else installed
    points = [EntryPoint(name, value, GROUP) for name, value in _BUILT_IN.items()]
    points += [point for point in plugins if _BUILT_IN.get(point.name) != point.value]
    known: dict[str, Kind] = {}
    broken: dict[str, str] = {}
    for point in points:
        if only is not None and point.name != only:
            continue
        try:
            kind = point.load()
        except Exception as error:
            what = f"The adapter '{point.name}' ({point.value})"
            broken[point.name] = f"{what} cannot be loaded: {type(error).__name__}: {error}."
            _log.info("Adapter %s is broken.", point.name, exc_info=True)
            continue
        if not isinstance(kind, Kind):
            broken[point.name] = f"The adapter '{point.name}' ({point.value}) is not a drivers.registry.Kind."
        elif point.name in known:
            broken[f"{point.name} ({point.value})"] = (
                f"A plug-in ({point.value}) takes the name '{point.name}', which is taken; it is left out."
            )
        else:
            known[point.name] = kind
    return Kinds(known, broken)


def make_adapter(wanted: Wanted, context: Context, *, kind: str = "", kinds: Kinds | None = None) -> Adapter:
    """Make the adapter for a device of a set-up.

    Parameters
    ----------
    wanted
        Name, profile, address, further keys.
    context
        What adapters share.
    kind
        Overrides the profile's own kind.

    Raises
    ------
    ProfileError
        If the kind is unknown, or the profile does not fit it.
    """
    name = kind or wanted.profile.kind
    if not name:
        raise ProfileError(
            f'Profile {wanted.profile.name} does not say its kind; write kind = "serial_lines".'
        )
    return (kinds or load_kinds(name)).named(name).make(wanted, context)
