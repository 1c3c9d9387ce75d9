"""Which characteristics of a device feed which channels: from its own descriptors, or from a profile.

Nothing here sees a link: what a device offers comes in as plain data, what to read and how goes out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from analysis.measure import Channel, Quality
from analysis.units import Quantity
from drivers import gatt_descriptors as descriptors
from drivers.gatt_formats import Decoded
from drivers.gatt_profile import PRESSURES, Decode, profile_decoder, same_uuid
from drivers.gatt_values import CHARACTERISTICS, short_uuid, text_value
from drivers.profile import Profile
from drivers.profile_sections import ChannelProfile

BATTERY, MEASUREMENT_INTERVAL, THERMOMETER = 0x2A19, 0x2A21, 0x2A1C
BATTERY_INTERVAL_S = 60.0


@dataclass(frozen=True, slots=True)
class Offered:
    """One characteristic as a device offers it."""

    handle: int
    uuid: str
    properties: frozenset[str]
    described: dict[int, tuple[bytes, ...]] = field(default_factory=dict)
    """16-bit number of a descriptor -> contents."""
    service: int | None = None

    @property
    def number(self) -> int | None:
        """The 16-bit number, None for a maker's own UUID."""
        return short_uuid(self.uuid)

    @property
    def notifies(self) -> bool:
        """Whether it sends by itself."""
        return bool(self.properties & {"notify", "indicate"})

    def first(self, descriptor: int) -> bytes:
        """Contents of a descriptor, empty where there is none."""
        return next(iter(self.described.get(descriptor, ())), b"")


@dataclass(frozen=True, slots=True)
class Feed:
    """One characteristic that feeds one or more channels."""

    handle: int
    notify: bool
    interval_s: float
    """How often it is read, where it does not notify."""
    channels: tuple[tuple[Channel, Decode], ...]
    read_first: bool = False
    """Sends on change only: its present value is read once before it is subscribed."""


@dataclass(frozen=True, slots=True)
class Layout:
    """What to subscribe and read on one device."""

    feeds: tuple[Feed, ...]
    notes: tuple[str, ...] = ()
    """What a person should know, for example what a pressure was taken for."""
    missing: tuple[str, ...] = ()
    """Channels of the profile that the device does not offer."""

    @property
    def channels(self) -> tuple[Channel, ...]:
        """All channels, by handle."""
        return tuple(channel for feed in self.feeds for channel, _ in feed.channels)


def layout_by_itself(
    device: str, offered: list[Offered], default_interval_s: float, measurement_interval_s: float = 0.0
) -> Layout:
    """Offer what the device describes itself: standard characteristics, and any with a Presentation Format.

    Parameters
    ----------
    device : str
        How the person calls it.
    offered : list of Offered
        With the descriptors that were read.
    default_interval_s, measurement_interval_s : float
        Expected interval [s] where no descriptor states one; of a thermometer, what it says itself.
    """
    feeds: list[Feed] = []
    notes: list[str] = []
    taken: set[str] = set()
    for part in sorted(offered, key=lambda each: each.handle):
        meaning = CHARACTERISTICS.get(part.number or 0) or descriptors.presentation_format(
            part.first(descriptors.PRESENTATION_FORMAT)
        )
        if meaning is None or meaning.quantity is None or not (part.notifies or "read" in part.properties):
            continue
        said = text_value(part.first(descriptors.USER_DESCRIPTION))
        name = _untaken(_slug(said) or meaning.name, taken)
        stated = descriptors.expected_interval(
            part.first(descriptors.ES_MEASUREMENT), part.described.get(descriptors.ES_TRIGGER, ())
        )
        if part.number == BATTERY:
            stated = stated or BATTERY_INTERVAL_S
        if part.number == THERMOMETER:
            stated = stated or measurement_interval_s or None
        channel = Channel(
            id=f"{device}/{name}",
            quantity=meaning.quantity,
            unit=meaning.unit,
            label=said or name.replace("_", " "),
            resolution=meaning.format.resolution,
            expected_interval_s=stated or default_interval_s,
        )
        if meaning.quantity in PRESSURES:
            notes.append(_pressure_note(name, meaning.quantity))
        limits = descriptors.valid_range(part.first(descriptors.VALID_RANGE), meaning.format)
        feeds.append(
            Feed(
                part.handle,
                part.notifies,
                channel.expected_interval_s,
                ((channel, _within(meaning.format.decode, limits)),),
                read_first=_on_change(part),
            )
        )
    return Layout(tuple(feeds), tuple(notes))


def layout_by_profile(device: str, offered: list[Offered], profile: Profile) -> Layout:
    """Find the characteristics that a profile names, by UUID and order of handle.

    Raises
    ------
    ProfileError
        If neither the profile nor a standard nor the device says how a characteristic is read.
    """
    grouped: dict[int, list[tuple[ChannelProfile, Decode]]] = {}
    by_handle = {part.handle: part for part in offered}
    missing: list[str] = []
    for wanted in profile.channel:
        same = sorted(
            (part for part in offered if same_uuid(wanted.uuid, part.uuid)), key=lambda part: part.handle
        )
        if wanted.order >= len(same):
            missing.append(wanted.name)
            continue
        part = same[wanted.order]
        decode = profile_decoder(wanted, part.first(descriptors.PRESENTATION_FORMAT))
        grouped.setdefault(part.handle, []).append((wanted, decode))
    feeds = []
    for handle, group in sorted(grouped.items()):
        part = by_handle[handle]
        asked = any(wanted.access == "read" for wanted, _ in group) and "read" in part.properties
        notify = part.notifies and not asked
        if not notify and "read" not in part.properties:
            missing += [wanted.name for wanted, _ in group]
            continue
        channels = tuple((wanted.channel(device), decode) for wanted, decode in group)
        interval = min(channel.expected_interval_s for channel, _ in channels)
        feeds.append(Feed(handle, notify, interval, channels, read_first=notify and _on_change(part)))
    return Layout(tuple(feeds), missing=tuple(missing))


def _within(decode: Decode, limits: tuple[float, float] | None) -> Decode:
    if limits is None:
        return decode
    low, high = limits

    def checked(payload: bytes) -> Decoded:
        found = decode(payload)
        if found.value is None or low <= found.value <= high:
            return found
        return found._replace(quality=found.quality | Quality.OUT_OF_RANGE)

    return checked


def _on_change(part: Offered) -> bool:
    triggers = part.described.get(descriptors.ES_TRIGGER, ())
    return part.notifies and "read" in part.properties and any(each[:1] >= b"\x03" for each in triggers)


def _pressure_note(name: str, quantity: Quantity) -> str:
    if quantity is Quantity.ABSOLUTE_PRESSURE:
        return f"{name} is taken as absolute, as the standard means it; a profile can say gauge"
    return f"{name} does not say gauge or absolute: a profile must, before it is used as such"


def _untaken(base: str, taken: set[str]) -> str:
    """Give a name that no other channel of the device has: the second ``liquid`` is ``liquid_2``."""
    name = next(
        each for each in (base, *(f"{base}_{n}" for n in range(2, len(taken) + 3))) if each not in taken
    )
    taken.add(name)
    return name


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")[:40]
