"""What a visit is going to record: devices taken, what was declared, and which channel feeds what."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import msgspec

from analysis.measure import Channel
from drivers.base import Found, ProfileError
from drivers.profile import find_profile
from drivers.strict_toml import TomlError, decode
from logger.app import DESCRIBE_THEMSELVES
from logger.descriptor import read_descriptor
from logger.errors import CommandError
from logger.listening import Listening
from logger.proposed_points import proposed_points
from logger.session_errors import SessionError
from logger.setup_file import DeviceTable, Setup

Mode = Literal["", "heating", "cooling"]


def device_name(found: Found, profile: str, taken: Mapping[str, DeviceTable]) -> str:
    """Give a found device a short name of its own, as channels and files carry it.

    Examples
    --------
    >>> device_name(Found("ble_gatt", "54:48", "Clamp pair A", "environmental sensing"), "", {})
    'clamp-pair-a'
    >>> device_name(Found("serial_lines", "/dev/ttyUSB0", "/dev/ttyUSB0", "port"), "probe_board", {})
    'probe_board'
    """
    words = profile.rpartition("/")[2].removesuffix(".toml") or found.label
    name = re.sub(r"[^a-z0-9_]+", "-", words.lower()).strip("-")[:24].strip("-") or "device"
    unique, number = name, 1
    while unique in taken:
        number += 1
        unique = f"{name}-{number}"
    return unique


def lacks_profile(found: Found) -> bool:
    """Whether a person must say which profile a device speaks: none or several fit."""
    return len(found.profiles) != 1 and found.kind not in DESCRIBE_THEMSELVES


@dataclass(frozen=True, slots=True)
class VisitPlan:
    """A visit that has not begun."""

    base: Setup = field(default_factory=Setup)
    """What is kept from the visit before to the same machine."""
    card_text: str = ""
    devices: Mapping[str, DeviceTable] = field(default_factory=dict)
    """By name."""
    refrigerant: str = ""
    mode: Mode = ""
    fluid: str = ""
    joined: Mapping[str, str] = field(default_factory=dict)
    """Channel to the measuring point that the person chose; empty for none."""

    def named(self, found: Found) -> str:
        """Give the name under which a device was taken; empty where it was not."""
        for name, device in self.devices.items():
            if device.address == found.address and (device.kind or found.kind) == found.kind:
                return name
        return ""

    def take(self, found: Found, profile: str = "") -> tuple[VisitPlan, DeviceTable]:
        """Take a device with a profile, by default the one that fits it."""
        if not profile and len(found.profiles) == 1:
            profile = found.profiles[0]
        kind = found.kind if not profile else ""
        name = device_name(found, profile, self.devices)
        device = DeviceTable(name=name, kind=kind, address=found.address, profile=profile)
        return replace(self, devices={**self.devices, name: device}), device

    def leave(self, name: str) -> VisitPlan:
        """Give a device back."""
        joined = {c: p for c, p in self.joined.items() if c.partition("/")[0] != name}
        base = msgspec.structs.replace(self.base, device=tuple(d for d in self.base.device if d.name != name))
        others = {known: device for known, device in self.devices.items() if known != name}
        return replace(self, base=base, devices=others, joined=joined)

    def join(self, channel: str, point: str, held: Mapping[str, str]) -> VisitPlan:
        """Let a channel feed a measuring point, which no other one feeds then.

        Parameters
        ----------
        held
            Measuring point to channel as it stands, proposals among them.
        """
        before = held.get(point, "") if point else ""
        freed = {before: ""} if before and before != channel else {}
        return replace(self, joined={**self.joined, **freed, channel: point})

    def assign(self, listening: Mapping[str, Listening]) -> dict[str, str]:
        """Give measuring point to channel: what the person chose, then what the channels' words propose."""
        known = [channel for name in self.devices for channel in offered(listening.get(name))]
        chosen = {point: channel for channel, point in self.joined.items() if point}
        as_before = {device.name for device in self.base.device}
        open_ones = [
            channel for channel in known
            if channel.id not in self.joined and channel.id.partition("/")[0] not in as_before
        ]  # fmt: skip
        proposed = {p: c for p, c in proposed_points(open_ones).items() if p not in chosen}
        return {**proposed, **chosen}

    def setup(self, listening: Mapping[str, Listening], title: str) -> Setup:
        """Write the set-up with which it is recorded."""
        names = set(self.devices)
        offset = {c: text for c, text in self.base.offset.items() if c.partition("/")[0] in names}
        return msgspec.structs.replace(
            self.base, title=self.base.title or title, refrigerant=self.refrigerant, mode=self.mode,
            fluid=self.fluid, device=tuple(self.devices.values()), assign=self.assign(listening),
            offset=offset, card="",
        )  # fmt: skip


def offered(listening: Listening | None) -> tuple[Channel, ...]:
    """Give the channels of a device that can be joined: those that were heard; all that its profile promises
    where it has not spoken yet, and promises fewer than it may send.
    """  # noqa: D205
    if listening is None:
        return ()
    heard = listening.heard()
    return heard if heard else tuple(c for c in listening.channels if c.id not in listening.optional)


def plan_again(folder: Path) -> VisitPlan:
    """Read the visit before from its session: same machine, same devices, nothing declared anew.

    Raises
    ------
    CommandError
        If its set-up cannot be used again from the window; one sentence with the way out.
    """
    way_out = "open it with evenrun desktop --setup SETUP.toml"
    try:
        header = read_descriptor(folder).header
        setup = decode(header.setup, Setup)
    except (SessionError, TomlError) as refused:
        raise CommandError(f"The set-up of {folder.name} cannot be used again: {refused}") from None
    if not setup.device:
        raise CommandError(f"{folder.name} was recorded without a set-up of devices; take them one by one.")
    for device in setup.device:
        if device.profile.endswith(".toml") and not Path(device.profile).is_absolute():
            raise CommandError(f"{device.name} needs {device.profile}, a file beside its set-up; {way_out}.")
        if "not kept" in device.options.values():
            raise CommandError(f"{device.name} needs its key, which no session keeps; {way_out}.")
    if setup.pressure_table:
        raise CommandError(f"It needs {setup.pressure_table}, a file beside its set-up; {way_out}.")
    joined = {channel: point for point, channel in setup.assign.items()}
    return VisitPlan(
        msgspec.structs.replace(setup, phase="", card=""), header.unit_card,
        {device.name: device for device in setup.device}, setup.refrigerant, setup.mode, setup.fluid, joined,
    )  # fmt: skip


def profile_title(reference: str) -> str:
    """Give a profile's title; its name where it cannot be read."""
    try:
        return find_profile(reference).title
    except ProfileError:
        return reference
