"""BTHome v2 broadcasts: the service data of UUID FCD2 in, objects out; and which broadcast is news.

Source: the published pages of BTHome v2 (bthome.io, format and encryption, 2026-04-30). Nothing here sees
a radio, a clock or a log; a key is held so that it appears in no text.
"""

from __future__ import annotations

import string
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, NamedTuple

from drivers.bthome_objects import COMMAND, OBJECTS, PACKET_ID, RAW, TEXT

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.ciphers.aead import AESCCM

SERVICE = 0xFCD2
_ENCRYPTED, _RESERVED, _TRIGGERED = 0x01, 0x02, 0x04
_VERSION = 2
_COUNTER_SIZE = _TAG_SIZE = 4

SILENCE_NS = 4_000_000_000
"""After so long without a broadcast a device may have restarted: any packet id is news then."""
WINDOW = 64
"""A packet id ahead of the last by less than this, modulo 256, is news; the others are late or repeated."""

RefusalKind = Literal["empty", "version", "reserved_bits", "truncated", "needs_key", "needs_address", "key"]


class Refused(NamedTuple):
    """A broadcast that could not be read at all."""

    kind: RefusalKind

    @property
    def text(self) -> str:
        """One sentence for a person."""
        return _REFUSALS[self.kind]


_REFUSALS: dict[RefusalKind, str] = {
    "empty": "The broadcast carries no data.",
    "version": "The broadcast is of another version of BTHome than 2.",
    "reserved_bits": "The broadcast uses a part of BTHome that is not published.",
    "truncated": "The broadcast is cut short.",
    "needs_key": "The broadcast is encrypted: give the device's key of 32 hexadecimal digits.",
    "needs_address": "An encrypted broadcast needs the device's true address; this system hides it.",
    "key": "The key does not fit this device's broadcasts.",
}


class BroadcastKey:
    """The 16-byte key of an encrypted broadcaster; it never shows itself."""

    __slots__ = ("_cipher",)

    def __init__(self, text: str) -> None:
        digits = "".join(sign for sign in text if not (sign.isspace() or sign in ":-"))
        if len(digits) != 32 or not set(digits) <= set(string.hexdigits):
            raise ValueError("The key of a broadcaster has 32 hexadecimal digits.")
        # Imported here: only encrypted devices pay for it.
        from cryptography.hazmat.primitives.ciphers.aead import AESCCM

        self._cipher: AESCCM = AESCCM(bytes.fromhex(digits), tag_length=_TAG_SIZE)

    def __repr__(self) -> str:
        return "BroadcastKey(hidden)"

    def __reduce__(self) -> str:
        raise TypeError("The key of a broadcaster is not written anywhere.")

    def decrypt(self, nonce: bytes, sealed: bytes) -> bytes | None:
        """Open a sealed payload (AES-CCM, 4-byte tag); None if the tag does not fit."""
        from cryptography.exceptions import InvalidTag

        try:
            return self._cipher.decrypt(nonce, sealed, None)
        except (InvalidTag, ValueError):  # ValueError: longer than any broadcast
            return None


class BroadcastObject(NamedTuple):
    """One object of a frame."""

    number: int
    name: str
    value: float | None
    """In the unit of the object's kind; None for text and other objects that are no numbers."""
    raw: bytes


@dataclass(frozen=True, slots=True)
class Frame:
    """One broadcast, read."""

    objects: tuple[BroadcastObject, ...]
    trigger_based: bool = False
    """The device speaks on an event only; silence is normal."""
    counter: int | None = None
    """Of an encrypted broadcast."""
    rest: bytes = b""
    """What could not be read: an object cut short, or one of unknown length and all behind it."""

    @property
    def packet_id(self) -> int | None:
        """The device's own number of this measurement, 0 to 255; None where it gives none."""
        return next((part.raw[0] for part in self.objects if part.number == PACKET_ID), None)

    @property
    def numbers(self) -> tuple[int, ...]:
        """Which objects the frame carries, without the packet id."""
        return tuple(part.number for part in self.objects if part.number != PACKET_ID)

    def measurements(self) -> list[tuple[str, BroadcastObject]]:
        """Give the objects that are channels, by name; the second of a name is ``..._2``.

        Examples
        --------
        >>> frame = decode(bytes.fromhex("4002ca09020a0003bf13"))
        >>> [(name, part.value) for name, part in frame.measurements()]
        [('temperature', 25.06), ('temperature_2', 0.1), ('humidity', 50.55)]
        """
        seen: dict[str, int] = {}
        found = []
        for part in self.objects:
            kind = OBJECTS.get(part.number)
            if kind is None or kind.quantity is None:
                continue
            seen[kind.name] = count = seen.get(kind.name, 0) + 1
            found.append((kind.name if count == 1 else f"{kind.name}_{count}", part))
        return found


def decode(payload: bytes, key: BroadcastKey | None = None, address: bytes | None = None) -> Frame | Refused:
    """Read the service data of one BTHome v2 broadcast.

    Parameters
    ----------
    payload : bytes
        Service data of FCD2: device byte, objects (encrypted: sealed objects, counter, tag).
    key : BroadcastKey, optional
        Needed for encrypted devices.
    address : bytes, optional
        The device's true address, 6 bytes, as printed; part of the nonce of encrypted devices.

    Returns
    -------
    Frame or Refused
        Never raises, whatever the bytes.

    Examples
    --------
    >>> frame = decode(bytes.fromhex("4000090161"))
    >>> frame.packet_id, frame.measurements()[0][1].value
    (9, 97.0)
    >>> decode(bytes.fromhex("200161")).text
    'The broadcast is of another version of BTHome than 2.'
    """
    if not payload:
        return Refused("empty")
    info = payload[0]
    if info >> 5 != _VERSION:
        return Refused("version")
    if info & _RESERVED:
        # Some programs take this bit for "an address follows"; the published page reserves it. Guessing
        # wrongly would shift every byte and turn it into false values.
        return Refused("reserved_bits")
    counter = None
    body = payload[1:]
    if info & _ENCRYPTED:
        if len(body) < _COUNTER_SIZE + _TAG_SIZE:
            return Refused("truncated")
        if key is None:
            return Refused("needs_key")
        if address is None or len(address) != 6:
            return Refused("needs_address")
        sealed, tail, tag = body[:-8], body[-8:-4], body[-4:]
        nonce = address + SERVICE.to_bytes(2, "little") + payload[:1] + tail
        opened = key.decrypt(nonce, sealed + tag)
        if opened is None:
            return Refused("key")
        body, counter = opened, int.from_bytes(tail, "little")
    objects, rest = _objects(body)
    return Frame(objects, bool(info & _TRIGGERED), counter, rest)


def _objects(body: bytes) -> tuple[tuple[BroadcastObject, ...], bytes]:
    found: list[BroadcastObject] = []
    at = 0
    while at < len(body):
        number = body[at]
        kind = OBJECTS.get(number)
        start = at + 1
        if number in (TEXT, RAW, COMMAND):
            if start == len(body):
                break
            # A command's length byte counts only its arguments, in its lower five bits.
            size = body[start] if number != COMMAND else 1 + (body[start] & 0x1F)
            start += 1
        elif kind is not None:
            size = kind.format.size
        else:
            break
        raw = body[start : start + size]
        if len(raw) < size:
            break
        if kind is None:
            found.append(
                BroadcastObject(number, {TEXT: "text", RAW: "raw"}.get(number, "command"), None, raw)
            )
        else:
            found.append(BroadcastObject(number, kind.name, kind.format.decode(raw).value, raw))
        at = start + size
    return tuple(found), body[at:]


News = Literal["new", "repeat", "old"]


@dataclass(slots=True)
class Freshness:
    """Tells a new measurement from one that is heard again; one per device.

    A device sends every measurement several times, and an operating system may hand over its last broadcast
    again when only the signal strength has changed. Rules: the same bytes are never news. With a packet id,
    news is an id ahead by 1 to 63 modulo 256; the same id with objects that it has not carried yet (one
    measurement in two frames); or anything else after four seconds without a broadcast (new battery).
    An encrypted device's counter only rises, or restarts after such a silence. Without packet id and
    counter, other bytes are news.
    """

    _heard_ns: int | None = None
    _last_id: int | None = None
    _last_counter: int | None = None
    _under_id: set[int] = field(default_factory=set)
    _last_bytes: dict[tuple[int, ...], bytes] = field(default_factory=dict)

    def judge(self, frame: Frame, payload: bytes, t_ns: int) -> News:
        """Say what one broadcast is: a new measurement, a repeated one, or one older than the last."""
        quiet = self._heard_ns is None or t_ns - self._heard_ns > SILENCE_NS
        self._heard_ns = t_ns
        if self._last_bytes.get(frame.numbers) == payload:
            return "repeat"
        news = self._by_number(frame, quiet)
        if news == "new":
            self._last_bytes[frame.numbers] = payload
        return news

    def _by_number(self, frame: Frame, quiet: bool) -> News:
        if frame.counter is not None:
            if self._last_counter is not None and frame.counter <= self._last_counter and not quiet:
                return "repeat" if frame.counter == self._last_counter else "old"
            self._last_counter = frame.counter
        number = frame.packet_id
        if number is None:
            return "new"
        ahead = (number - self._last_id) % 256 if self._last_id is not None else 1
        if ahead == 0 and not quiet:
            if self._under_id.issuperset(frame.numbers):
                return "repeat"
        elif 0 < ahead < WINDOW or quiet:
            self._under_id.clear()
        else:
            return "old"
        self._last_id = number
        self._under_id.update(frame.numbers)
        return "new"
