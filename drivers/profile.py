"""Profiles: what a kind of instrument sends and what it promises, in TOML, without a line of code.

A profile is read strictly: an unknown key is refused by its key path, a unit must belong to its quantity,
and the profile's own examples (bytes in, values out) are its tests.
"""

from __future__ import annotations

import difflib
import importlib.resources
import math
import re
from pathlib import Path

import msgspec

from analysis.measure import Channel
from analysis.units import UnitError
from drivers import strict_toml
from drivers.base import ProfileError, ProfileMissingError
from drivers.pattern import PatternError, check_pattern
from drivers.profile_sections import ChannelProfile, Example, Line, Link, Match, Poll

__all__ = [
    "ChannelProfile",
    "Example",
    "Line",
    "Link",
    "Match",
    "Poll",
    "Profile",
    "find_profile",
    "load_profile",
    "shipped_profiles",
]


class Profile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A kind of instrument."""

    title: str
    kind: str = ""
    """Which adapter reads it: ``serial_lines``, ``ble_gatt``, ``modbus_rtu``, ``scpi`` ..."""
    notes: str = ""
    match: Match = Match()
    link: Link = Link()
    poll: Poll = Poll()
    line: Line | None = None
    channel: tuple[ChannelProfile, ...] = ()
    example: tuple[Example, ...] = ()
    name: str = ""
    """File name without its ending; set on loading."""

    def channels(self, device: str) -> tuple[Channel, ...]:
        """Give all channels as a device of this name has them."""
        return tuple(part.channel(device) for part in self.channel)

    def channel_named(self, name: str) -> ChannelProfile:
        """Find a channel by its name (KeyError if there is none)."""
        for part in self.channel:
            if part.name == name:
                return part
        raise KeyError(name)


def load_profile(text: str, name: str) -> Profile:
    """Read a profile.

    Parameters
    ----------
    text
        TOML.
    name
        How the profile is called in messages and set-ups.

    Raises
    ------
    ProfileError
        If anything in it is wrong; one sentence with the key path and the way out.
    """
    try:
        profile = strict_toml.decode(text, Profile)
    except strict_toml.TomlError as refused:
        raise ProfileError(f"Profile {name}: {refused}") from None
    profile = msgspec.structs.replace(profile, name=name)
    for place, problem in _problems(profile):
        raise ProfileError(f"Profile {name}, {place}: {problem}")
    return profile


def find_profile(reference: str) -> Profile:
    """Load a shipped profile by its name, or a file by its path.

    Raises
    ------
    ProfileMissingError
        If there is none.
    ProfileError
        If it is wrong.
    """
    path = Path(reference)
    if path.suffix == ".toml" or len(path.parts) > 1:
        try:
            return load_profile(strict_toml.read_text(path), path.stem)
        except FileNotFoundError:
            raise ProfileMissingError(
                f"There is no profile file {reference}; check its name and folder."
            ) from None
        except OSError as error:
            raise ProfileMissingError(
                f"The profile file {reference} cannot be opened: {error.strerror or 'refused'}."
            ) from None
        except UnicodeDecodeError:
            raise ProfileError(f"The profile file {reference} is no text file; write it in UTF-8.") from None
    shipped = shipped_profiles()
    if reference not in shipped:
        near = difflib.get_close_matches(reference, shipped, n=3, cutoff=0.4) or shipped
        raise ProfileMissingError(
            f"There is no shipped profile '{reference}'; there are {', '.join(near)}, "
            "or give the path of a .toml file."
        )
    return load_profile((_SHIPPED / f"{reference}.toml").read_text(encoding="utf-8"), reference)


_SHIPPED = importlib.resources.files("drivers") / "profiles"


def shipped_profiles() -> list[str]:
    """Names of the profiles that come with evenrun, sorted."""
    return sorted(item.name[:-5] for item in _SHIPPED.iterdir() if item.name.endswith(".toml"))


_NEED_CHANNELS = ("", "serial_lines", "nmea0183", "scpi", "modbus_rtu", "onewire")
"""Kinds whose devices do not describe themselves."""


def _problems(profile: Profile) -> list[tuple[str, str]]:
    """List what is wrong beyond types: place, and a sentence with the way out."""
    found: list[tuple[str, str]] = []
    if not profile.channel and profile.kind in _NEED_CHANNELS:
        found.append(("[[channel]]", "there is no channel; describe at least one."))
    names: set[str] = set()
    for number, part in enumerate(profile.channel, 1):
        place = f"channel {number} ('{part.name}')"
        if not re.fullmatch(r"[A-Za-z0-9_.\-]+", part.name):
            found.append((place, "write its name with letters, digits, '_', '-' and '.' only."))
        if part.name in names:
            found.append((place, "its name is already taken; give each channel a name of its own."))
        names.add(part.name)
        try:
            part.channel("x")
        except (UnitError, ValueError) as refused:
            found.append((place, f"{str(refused).rstrip('.')}."))
        if part.valid and not (part.valid[0] < part.valid[1] and all(map(math.isfinite, part.valid))):
            found.append((place, "valid needs the lower value first, as [-40, 125]."))
        if part.scale == 0 or not math.isfinite(part.scale) or not math.isfinite(part.offset):
            found.append((place, "scale must be a number other than 0, and offset a number."))
    if profile.line is not None:
        found += [("[line]", problem) for problem in _line_problems(profile, profile.line)]
    for number, example in enumerate(profile.example, 1):
        place = f"example {number}"
        try:
            example.payload()
        except ValueError:
            found.append((place, "hex needs pairs of hexadecimal digits."))
        for name in example.values:
            if name not in names:
                found.append((place, f"there is no channel '{name}'."))
    return found


def _line_problems(profile: Profile, line: Line) -> list[str]:
    forms = [bool(line.pattern), line.pairs, bool(line.columns), line.json]
    if sum(forms) != 1:
        return ["say exactly one of pattern, pairs = true, columns and json = true."]
    if not line.delimiter or not line.delimiter.isascii():
        return ['delimiter needs one or more ASCII characters, as "\\n".']
    if (line.pairs or line.columns) and not line.separator:
        return ["separator cannot be empty."]
    if line.pairs and not line.assign:
        return ["assign cannot be empty."]
    fields: set[str] | None = None
    if line.pattern:
        try:
            fields = check_pattern(line.pattern)
        except PatternError as refused:
            return [f"pattern: {refused}"]
    elif line.columns:
        fields = set(line.columns) - {"-"}
    if fields is None:
        return []
    known = ", ".join(sorted(fields)) or "none"
    wanted = [part.source_field for part in profile.channel] + ([line.time] if line.time else [])
    return [f"there is no field '{name}'; the fields are {known}." for name in wanted if name not in fields]
