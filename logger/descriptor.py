"""datapackage.json: what the session's files hold, as a Frictionless Data Package (profile of version 1).

The resources are described with the standard's own keys, so that any tool that knows it can open and check
them. What the standard has no key for is below ``evenrun``.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import msgspec

from analysis.measure import Channel
from analysis.timeline import KINDS
from logger.events import EVENTS
from logger.moments import parse_utc, utc_text
from logger.readings_format import READINGS_HEADER, check_channel_id, part_name
from logger.results_format import RESULTS
from logger.session_errors import DamagedSessionError, NotASessionError, SessionError, reason_of
from logger.session_files import MOST_DESCRIPTOR, PLAIN_NAME, check_files

_Count = Annotated[int, msgspec.Meta(ge=0, le=2**53)]
_Moment = Annotated[int, msgspec.Meta(ge=-(2**60), le=2**60)]
DESCRIPTOR = "datapackage.json"
FORMAT = 1


class SessionState(StrEnum):
    """How a session's files came to their present state."""

    RECORDING = "recording"
    """Being written, or its writer ended without closing it."""
    CLOSED = "closed"
    RECOVERED = "recovered"


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionHeader:
    """What is known about a session when it begins."""

    utc_start_us: int = 0
    """UTC of t = 0, since 1970-01-01 [us]; set from the clock when a recording begins."""
    title: str = ""
    software: str = ""
    """Name and version of the program that records."""
    libraries: dict[str, str] = field(default_factory=dict)
    """Versions of what properties come from."""
    setup: str = ""
    """The set-up as the person wrote it, whole."""
    unit_card: str = ""
    """The machine's unit card, whole."""
    pressure_tables: dict[str, str] = field(default_factory=dict)
    """Pressure-temperature tables that the person gave, by refrigerant, whole."""
    barometer_pa: float | None = None
    """Absolute pressure of the site [Pa], for gauge readings."""
    part_us: int = 3_600_000_000
    """Session time in one file of readings [us]."""
    lateness_us: int = 60_000_000
    """How far a reading may lie behind the newest one before it [us]."""


@dataclass(frozen=True, slots=True)
class Part:
    """A finished file of the session."""

    path: str
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Descriptor:
    """Everything that datapackage.json says."""

    header: SessionHeader
    channels: tuple[Channel, ...] = ()
    state: SessionState = SessionState.RECORDING
    readings: tuple[str, ...] = (part_name(1),)
    parts: tuple[Part, ...] = ()
    """Size and digest of each file, once the session is closed."""
    rows: int | None = None
    duration_us: int | None = None

    def with_channels(self, channels: Iterable[Channel]) -> Descriptor:
        """Add channels, or newer statements about known ones.

        Raises
        ------
        SessionError
            If a known channel comes with another quantity or unit.
        """
        known = {channel.id: channel for channel in self.channels}
        for channel in channels:
            check_channel_id(channel.id)
            before = known.get(channel.id, channel)
            if (before.quantity, before.unit) != (channel.quantity, channel.unit):
                raise SessionError(
                    f"the channel '{channel.id}' is recorded in {before.unit} here and now comes in "
                    f"{channel.unit}; give it another name or begin a new session"
                )
            known[channel.id] = channel
        return replace(self, channels=tuple(known.values()))

    def encode(self, multipart: tuple[int, str] | None = None) -> bytes:
        """Write it as JSON.

        Parameters
        ----------
        multipart
            Bytes and SHA-256 of all readings as one stream; with it each resource states its size and digest.
        """
        readings = _readings_resource(self.readings)
        events, shown = _events_resource(), _results_resource()
        if multipart is not None:
            readings |= {"bytes": multipart[0], "hash": f"sha256:{multipart[1]}"}
            for resource in (events, shown):
                for part in self.parts:
                    if part.path == resource["path"]:
                        resource |= {"bytes": part.bytes, "hash": f"sha256:{part.sha256}"}
        own = {"format": FORMAT, "state": self.state.value, "header": msgspec.to_builtins(self.header)}
        own["header"]["utc_start"] = utc_text(self.header.utc_start_us)
        del own["header"]["utc_start_us"]
        own["channels"] = [msgspec.to_builtins(channel) for channel in self.channels]
        own["parts"] = [msgspec.to_builtins(part) for part in self.parts]
        own["kinds_of_events"] = KINDS
        own |= {"rows": self.rows, "duration_us": self.duration_us}
        package: dict[str, Any] = {
            "profile": "tabular-data-package",
            "name": "evenrun-session",
            "title": self.header.title or "evenrun session",
            "created": utc_text(self.header.utc_start_us),
            "resources": [readings, events, *([shown] if "hash" in shown else [])],
            "evenrun": own,
        }
        return json.dumps(package, ensure_ascii=False, indent=1).encode() + b"\n"


def _field(name: str, kind: str, description: str, **more: object) -> dict[str, Any]:
    return {"name": name, "type": kind, "description": description, **more}


def _resource(name: str, path: object, fields: Sequence[dict[str, Any]]) -> dict[str, Any]:
    return {
        "name": name,
        "profile": "tabular-data-resource",
        "path": path,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "lineTerminator": "\r\n", "quoteChar": '"', "header": True},
        "schema": {"fields": list(fields), "missingValues": [""]},
    }


def _readings_resource(paths: Sequence[str]) -> dict[str, Any]:
    return _resource(
        "readings",
        list(paths) if len(paths) > 1 else paths[0],
        (
            _field("elapsed_s", "number", "monotonic time since t = 0 in seconds", unit="s"),
            _field("channel", "string", "which channel; described under evenrun.channels"),
            _field("value", "number", "as indicated, in the unit of the row; empty where it is not known"),
            _field("unit", "string", "unit of the value; (g) gauge, (a) absolute pressure"),
            _field("quality", "string", "ok, or what is known against the reading, as words"),
        ),
    )


def _events_resource() -> dict[str, Any]:
    return _resource(
        "events",
        EVENTS,
        (
            _field(
                "elapsed_s",
                "number",
                "the moment from which the event holds, in seconds since t = 0",
                unit="s",
            ),
            _field("time_utc", "string", "when it was written, UTC, ISO 8601"),
            _field(
                "kind",
                "string",
                "a later line overrules earlier lines of the same kind and subject from its elapsed_s on",
            ),
            _field("subject", "string", "what it is about: a channel, a device, or nothing"),
            _field("text", "string", "what holds or happened, with units"),
        ),
    )


def _results_resource() -> dict[str, Any]:
    return _resource(
        "results",
        RESULTS,
        (
            _field("elapsed_s", "number", "time since t = 0 in seconds", unit="s"),
            _field("symbol", "string", "which derived value, or state for the machine as a whole"),
            _field("value", "number", "as shown while recording, SI units"),
            _field("u", "number", "its standard uncertainty (k = 1), SI units; empty where not known"),
            _field("state", "string", "word of steadiness that it was shown with"),
        ),
    )


def digest_of(path: Path) -> Part:
    """Measure a finished file."""
    with path.open("rb") as file:
        return Part(path.name, path.stat().st_size, hashlib.file_digest(file, "sha256").hexdigest())


class ReadingsDigest:
    """Sizes and digests of the files of readings, each by itself and all as one stream; each is read once."""

    def __init__(self) -> None:
        self.parts: list[Part] = []
        self._bytes, self._stream = 0, hashlib.sha256()

    @classmethod
    def of(cls, paths: Iterable[Path]) -> ReadingsDigest:
        """Measure finished files."""
        digest = cls()
        for path in paths:
            digest.add(path)
        return digest

    def add(self, path: Path) -> None:
        """Measure one more file."""
        own, size = hashlib.sha256(), 0
        # In the one stream of a multipart resource the later headers are left out.
        skip = len(READINGS_HEADER) if self.parts else 0
        with path.open("rb") as file:
            while block := file.read(1 << 20):
                own.update(block)
                self._stream.update(memoryview(block)[max(skip - size, 0) :])
                self._bytes += max(len(block) - max(skip - size, 0), 0)
                size += len(block)
        self.parts.append(Part(path.name, size, own.hexdigest()))

    @property
    def stream(self) -> tuple[int, str]:
        """Size and digest of all readings as one stream."""
        return self._bytes, self._stream.hexdigest()


def decode_descriptor(content: bytes, path: Path) -> Descriptor:
    """Read a datapackage.json.

    Raises
    ------
    DamagedSessionError
        Naming the key that is wrong.
    """
    try:
        package = json.loads(content)
    except (ValueError, RecursionError) as error:
        line = error.lineno if isinstance(error, json.JSONDecodeError) else None
        raise DamagedSessionError("not readable as JSON; run recover on the session", path, line) from None
    try:
        own = dict(package["evenrun"])
        if own["format"] != FORMAT:
            raise DamagedSessionError(f"format {own['format']} is not known here; use a newer evenrun", path)
        header = dict(own["header"])
        header["utc_start_us"] = parse_utc(header.pop("utc_start"))
        paths = next(resource for resource in package["resources"] if resource["name"] == "readings")["path"]
        return Descriptor(
            msgspec.convert(header, SessionHeader),
            msgspec.convert(own["channels"], tuple[Channel, ...]),
            SessionState(own["state"]),
            _plain_names(msgspec.convert([paths] if isinstance(paths, str) else paths, tuple[str, ...])),
            _plain_parts(msgspec.convert(own["parts"], tuple[Part, ...])),
            msgspec.convert(own["rows"], _Count | None),
            msgspec.convert(own["duration_us"], _Moment | None),
        )
    except (KeyError, StopIteration) as error:
        raise DamagedSessionError(f"the key {error} is missing; run recover on the session", path) from None
    except (msgspec.ValidationError, ValueError, TypeError, AttributeError) as error:
        raise DamagedSessionError(f"{error}; run recover on the session", path) from None


def _plain_names(names: tuple[str, ...]) -> tuple[str, ...]:
    """Refuse what is no name of a session's own file: no path may lead out of the folder."""
    for name in names:
        if PLAIN_NAME.fullmatch(name) is None:
            raise ValueError(f"'{name[:80]}' is no name of a session's file")
    return names


def _plain_parts(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    _plain_names(tuple(part.path for part in parts))
    return parts


def read_descriptor(folder: Path) -> Descriptor:
    """Read the descriptor of a session folder.

    Raises
    ------
    NotASessionError
        If the folder is missing or holds no session, or cannot be opened.
    DamagedSessionError
        If the descriptor is missing beside readings, or damaged.
    """
    path = folder / DESCRIPTOR
    check_files(folder)
    try:
        if path.stat().st_size > MOST_DESCRIPTOR:
            raise DamagedSessionError(
                f"more than {MOST_DESCRIPTOR >> 20} MB; run recover on the session", path
            )
        content = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        if (folder / part_name(1)).exists():
            missing = f"{DESCRIPTOR} is missing; run recover on the session"
            raise DamagedSessionError(missing, folder) from None
        raise NotASessionError(
            "here is no session; name a folder that evenrun has recorded", folder
        ) from None
    except OSError as error:
        raise NotASessionError(f"{DESCRIPTOR} cannot be read: {reason_of(error)}", folder) from None
    return decode_descriptor(content, path)
