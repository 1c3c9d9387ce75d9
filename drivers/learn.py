"""Watch an unknown instrument's lines and draft a profile for it; a person then names what it measures."""

from __future__ import annotations

import asyncio
import binascii
import re
from collections import Counter
from dataclasses import dataclass

import msgspec

from drivers.base import Clock, LinkLostError, Timing
from drivers.decode import number, xor8_payload
from drivers.drafting import (
    by_unit,
    channel_names,
    channel_text,
    example_text,
    guess,
    numbers_in,
    plain,
    quoted,
    split_pairs,
)
from drivers.framing import LineFramer
from drivers.nmea0183 import measurements
from drivers.pattern import LINE_LIMIT, PatternError, check_pattern
from drivers.port_reader import reading
from drivers.profile_sections import Link
from drivers.serial_link import link_to

_KEPT = 500
_NUMBER_IN_TEXT = re.compile(r"[+-]?\d+(?:\.\d+)?")
_GROUP = r"[+-]?\d+(?:\.\d+)?"


@dataclass(frozen=True, slots=True)
class Draft:
    """What watching gave."""

    profile: str
    """TOML that loads and decodes the lines seen; empty where no form was recognised."""
    evidence: list[str]
    """What was seen, in sentences."""


class LineLearner:
    """Takes the bytes of a stream and drafts a profile of them. No port, clock or loop."""

    def __init__(self, delimiter: bytes = b"\n") -> None:
        self._framer = LineFramer(delimiter)
        self._lines: list[str] = []
        self._count = self._unreadable = 0

    def feed(self, data: bytes) -> None:
        """Take what was read."""
        for line in self._framer.feed(data):
            self._count += 1
            if self._count == 1:
                continue  # it may be the rest of a cut line
            if len(line) <= LINE_LIMIT and line.isascii() and line.decode("ascii").isprintable():
                if len(self._lines) < _KEPT:
                    self._lines.append(line.decode("ascii"))
            else:
                self._unreadable += 1

    def draft(self, seconds: float, link: Link) -> Draft:
        """Draft a profile from what was seen in so many seconds."""
        evidence = [f"{self._count} lines in {seconds:g} s, {self._unreadable} of them not readable as text."]
        if len(self._lines) < 3 or self._unreadable > len(self._lines):
            evidence.append(
                f"Too few lines to draft a profile: is {link.baud} baud right, and is the instrument sending?"
            )
            return Draft("", evidence)
        interval = max(seconds / max(self._count, 1), 0.001)
        for form in (self._nmea, self._json, self._pairs, self._skeleton):
            found = form(interval)
            if found is not None:
                text, words = found
                head = f'title = "Drafted: name it"\n{text[0]}[link]\nbaud = {link.baud}\n'
                evidence.append(words)
                evidence.append(
                    "Quantities and units are guesses from the names: hold each against the display."
                )
                return Draft(head + text[1], evidence)
        evidence.append("The lines have no form in common that holds numbers.")
        return Draft("", evidence)

    def _most(self, good: list[bool]) -> bool:
        return sum(good) >= 0.8 * len(self._lines)

    def _nmea(self, interval: float) -> tuple[tuple[str, str], str] | None:
        found = [measurements(line.encode()) for line in self._lines]
        if not self._most([isinstance(item, tuple) for item in found]):
            return None
        sources = {
            m.source: m
            for item in found
            if isinstance(item, tuple)
            for m in item
            if number(m.text) is not None
        }
        if not sources:
            return None
        text = ""
        for source, measurement in sources.items():
            quantity, unit = by_unit(measurement.unit)
            name = plain(source.removeprefix("XDR:")) or "transducer"
            text += channel_text(name, quantity, unit, interval, f'talker = "{source}"\n')
        return ('kind = "nmea0183"\n', text), "NMEA 0183 sentences with checksums."

    def _json(self, interval: float) -> tuple[tuple[str, str], str] | None:
        objects = []
        for line in self._lines:
            try:
                found = msgspec.json.decode(line)
            except (msgspec.DecodeError, RecursionError):
                continue
            if isinstance(found, dict):
                objects.append((line, found))
        if not self._most([True] * len(objects)):
            return None
        paths = Counter(path for _, found in objects for path in numbers_in(found))
        fields = [path for path, seen in paths.items() if seen >= 0.9 * len(objects)]
        if not fields:
            return None
        line, found = next((line, found) for line, found in objects if set(fields) <= set(numbers_in(found)))
        names = channel_names(fields)
        values = numbers_in(found)
        text = "[line]\njson = true\n"
        for name, path in zip(names, fields, strict=True):
            text += channel_text(name, *guess(path.rsplit(".", 1)[-1]), interval, f"field = {quoted(path)}\n")
        text += example_text(line, {name: values[path] for name, path in zip(names, fields, strict=True)})
        return ('kind = "serial_lines"\n', text), "One JSON object per line."

    def _checksummed(self) -> tuple[str, list[str]]:
        """Say which checksum the lines carry, and give them without it."""
        crc = re.compile(r"([^*]*)\*([0-9A-Fa-f]{4})")
        matches = [crc.fullmatch(line) for line in self._lines]
        good = [m for m in matches if m and binascii.crc_hqx(m[1].encode(), 0xFFFF) == int(m[2], 16)]
        if self._most([True] * len(good)):
            return "crc16", [m[1] for m in good]
        payloads = [xor8_payload(line.encode()) for line in self._lines]
        kept = [payload.decode("ascii") for payload in payloads if isinstance(payload, bytes)]
        if self._most([True] * len(kept)):
            return "xor8", kept
        return "none", self._lines

    def _pairs(self, interval: float) -> tuple[tuple[str, str], str] | None:
        checksum, payloads = self._checksummed()
        for separator in (";", ",", "\t", " "):
            for assign in ("=", ":"):
                split = [split_pairs(text, separator, assign) for text in payloads]
                good = [pairs for pairs in split if pairs]
                if len(good) < 0.8 * len(payloads):
                    continue
                seen = Counter(name for pairs in good for name in pairs)
                fields = [name for name, times in seen.items() if times >= 0.9 * len(good)]
                index = next(
                    (i for i, pairs in enumerate(split) if pairs and set(pairs) == set(fields)), None
                )
                if index is None or not fields:
                    continue
                return self._pairs_text(
                    checksum, separator, assign, fields, payloads[index], split[index], interval
                )
        return None

    def _pairs_text(
        self,
        checksum: str,
        separator: str,
        assign: str,
        fields: list[str],
        payload: str,
        values: dict[str, float] | None,
        interval: float,
    ) -> tuple[tuple[str, str], str]:
        assert values is not None
        line = next(line for line in self._lines if payload in line)
        text = f'[line]\npairs = true\nchecksum = "{checksum}"\n'
        text += f"separator = {quoted(separator)}\nassign = {quoted(assign)}\n"
        names = channel_names(fields)
        for name, field in zip(names, fields, strict=True):
            text += channel_text(name, *guess(field), interval, f"field = {quoted(field)}\n")
        text += example_text(line, {name: values[field] for name, field in zip(names, fields, strict=True)})
        return ('kind = "serial_lines"\n', text), f"Pairs of name and value; checksum: {checksum}."

    def _skeleton(self, interval: float) -> tuple[tuple[str, str], str] | None:
        """Lines that are the same but for their numbers."""
        checksum, payloads = self._checksummed()
        shapes = Counter(_NUMBER_IN_TEXT.sub("\0", text) for text in payloads)
        shape, times = shapes.most_common(1)[0]
        pieces = shape.split("\0")
        if times < 0.8 * len(payloads) or len(pieces) < 2 or any(not piece for piece in pieces[1:-1]):
            return None
        names = channel_names(pieces[:-1])
        pattern = "".join(
            f"{re.escape(piece)}(?P<{name}>{_GROUP})" for piece, name in zip(pieces, names, strict=False)
        )
        pattern += re.escape(pieces[-1])
        try:
            check_pattern(pattern)
        except PatternError:
            return None
        payload = next(text for text in payloads if _NUMBER_IN_TEXT.sub("\0", text) == shape)
        line = next(line for line in self._lines if payload in line)
        match = re.fullmatch(pattern, payload)
        if match is None or any(number(match[name]) is None for name in names):
            return None
        text = f'[line]\npattern = {quoted(pattern)}\nchecksum = "{checksum}"\n'
        for name in names:
            text += channel_text(name, *guess(name), interval, "")
        text += example_text(line, {name: float(match[name]) for name in names})
        return (
            'kind = "serial_lines"\n',
            text,
        ), f"Lines that differ only in {len(names)} numbers; checksum: {checksum}."


async def learn(address: str, link: Link, clock: Clock, timing: Timing, seconds: float = 10.0) -> Draft:
    """Watch a stream, without sending anything, and draft a profile.

    Raises
    ------
    LinkLostError, NeedsPersonError
        If the port cannot be opened or is lost before anything has come.
    """
    learner = LineLearner()
    loop = asyncio.get_running_loop()
    begun = loop.time()
    make = lambda: link_to(  # noqa: E731
        address, link, read_timeout=timing.read_timeout, open_deadline=timing.connect_deadline
    )
    async with reading(make, clock, timing, address) as reader:
        begun = loop.time()
        try:
            while loop.time() - begun < seconds:
                for _, data in reader.collect():
                    learner.feed(data)
                await asyncio.sleep(timing.drain_interval)
        except LinkLostError:
            if not learner._count:
                raise
    return learner.draft(loop.time() - begun, link)
