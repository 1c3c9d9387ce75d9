"""Instruments that send lines of text over a serial port or a network connection."""

from __future__ import annotations

import asyncio
from collections import Counter, deque
from collections.abc import AsyncGenerator, Callable
from contextlib import aclosing

from analysis.measure import Reading
from drivers.base import (
    ChannelsFound,
    Clock,
    DriverError,
    Found,
    LinkEvent,
    LinkState,
    NeedsPersonError,
    Rejected,
    StreamItem,
    Timing,
)
from drivers.clock import FollowedClock
from drivers.daemon_call import daemon_call
from drivers.decode import Decoded, Decoder, Fault, LineDecoder
from drivers.framing import LineFramer
from drivers.port_reader import PortReader, reading
from drivers.ports import MissingPortError, list_ports
from drivers.profile import Profile, find_profile, shipped_profiles
from drivers.profile_sections import Example
from drivers.registry import Context, Kind, Outcome, Wanted, said
from drivers.serial_link import ByteLink, link_to

_JUDGED = 20
"""Lines over which the share that can be read is judged."""
_NO_LINE_BYTES = 256
"""More bytes than this without one line end are no lines of an instrument."""


class SerialLines:
    """Reads one instrument's lines by its profile.

    Parameters
    ----------
    name
        How the person calls the instrument.
    profile
        With a ``[line]`` section.
    address
        Port, ``usb:VID:PID[:SERIAL]``, ``socket://HOST:PORT`` or ``rfc2217://HOST:PORT``.
    """

    def __init__(
        self,
        name: str,
        profile: Profile,
        address: str,
        *,
        decoder: Decoder | None = None,
        make_link: Callable[[Timing], ByteLink] | None = None,
    ) -> None:
        self.name = name
        self.profile = profile
        self.address = address
        self._decoder: Decoder = decoder or LineDecoder(profile)
        self._make_link = make_link or self._link

    def _link(self, timing: Timing) -> ByteLink:
        return link_to(
            self.address,
            self.profile.link,
            read_timeout=timing.read_timeout,
            open_deadline=timing.connect_deadline,
        )

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        """Open, then yield readings and what was refused; waits for a port that is not there."""
        yield ChannelsFound(self.profile.channels(self.name))
        missing = ""
        while True:
            try:
                async with reading(lambda: self._make_link(timing), clock, timing, self.name) as reader:
                    yield LinkEvent(clock.monotonic_ns(), LinkState.LIVE)
                    async with aclosing(self._read(reader, clock, timing)) as items:
                        async for item in items:
                            yield item
            except MissingPortError as error:
                if str(error) != missing:
                    missing = str(error)
                    yield LinkEvent(clock.monotonic_ns(), LinkState.SEARCHING, missing)
            await asyncio.sleep(timing.port_poll)

    async def _read(
        self, reader: PortReader, clock: Clock, timing: Timing
    ) -> AsyncGenerator[StreamItem, None]:
        session = _Session(self.name, self.profile, self._decoder, clock)
        loop = asyncio.get_running_loop()
        opened = loop.time()
        while True:
            lost: Exception | None = None
            try:
                for t_ns, data in reader.collect():
                    session.take(t_ns, data, lead_in=loop.time() - opened < timing.banner)
            except DriverError as error:
                lost = error
                session.cut_off()
            session.overrun(reader)
            for item in session.items():
                yield item
            if lost is not None:
                raise lost
            session.judge(loop.time() - opened >= timing.banner)
            if reader.failure is None:  # else what it had read is out now, and the loss is told at once
                await asyncio.sleep(timing.drain_interval)


class _Session:
    """What is known about the lines of one connection."""

    def __init__(self, name: str, profile: Profile, decoder: Decoder, clock: Clock) -> None:
        self._profile = profile
        self._decoder = decoder
        self._framer = LineFramer(decoder.delimiter)
        self._follows = clock if decoder.has_time and isinstance(clock, FollowedClock) else None
        self._ids = {part.name: f"{name}/{part.name}" for part in profile.channel}
        self._first_unsure = not decoder.guarded
        self._good_seen = False
        self._bytes = self._lines = 0
        self._outcomes: deque[bool] = deque(maxlen=_JUDGED)
        self._readings: list[Reading] = []
        self.rejected: Counter[str] = Counter()
        self._sample = b""
        self._t_ns = 0
        self._warned = ""
        self._event: LinkEvent | None = None

    def take(self, t_ns: int, data: bytes, *, lead_in: bool) -> None:
        """Decode what was read at one moment."""
        self._t_ns = t_ns
        self._bytes += len(data)
        over_long = self._framer.over_long
        lines = self._framer.feed(data)
        for _ in range(self._framer.over_long - over_long):
            self._refuse(Fault.OVER_LONG, b"", lead_in=lead_in)
        for line in lines:
            self._lines += 1
            decoded = self._decoder.decode(line)
            if decoded.fault is not None:
                self._refuse(decoded.fault, line, lead_in=lead_in)
            elif self._first_unsure and self._lines == 1:
                self.rejected[Fault.LEAD_IN] += 1
            else:
                self._good_seen = True
                self._outcomes.append(True)
                moment = t_ns
                if decoded.time_s is not None and self._follows is not None:
                    moment = round(decoded.time_s * 1e9)
                    self._follows.follow(moment)
                ids = self._ids
                self._readings += [
                    Reading(moment, ids[name], value, quality) for name, value, quality in decoded.values
                ]

    def cut_off(self) -> None:
        """Count the line that the loss of the link cut short."""
        if self._framer.pending:
            self._refuse(Fault.TRUNCATED, b"", lead_in=False)
            self._framer.reset()

    def overrun(self, reader: PortReader) -> None:
        """Count the bytes that nobody collected in time."""
        if reader.overrun_bytes:
            self.rejected[Fault.OVERRUN] += reader.overrun_bytes
            reader.overrun_bytes = 0

    def _refuse(self, fault: Fault, line: bytes, *, lead_in: bool) -> None:
        self._outcomes.append(False)
        if not self._good_seen and (lead_in or self._lines <= 1):
            fault = Fault.LEAD_IN
        elif not self._sample:
            self._sample = line
        self.rejected[fault] += 1

    def items(self) -> list[StreamItem]:
        """Give what has gathered since the last call."""
        found: list[StreamItem] = []
        if self._readings:
            found.append(self._readings)
            self._readings = []
        if self.rejected:
            found.append(Rejected(self._t_ns, dict(self.rejected), self._sample))
            self.rejected.clear()
            self._sample = b""
        if self._event is not None:
            found.append(self._event)
            self._event = None
        return found

    def judge(self, settled: bool) -> None:
        """Say when the lines cannot be read.

        Raises
        ------
        NeedsPersonError
            If no line could ever be read and most cannot, as with a wrong speed.
        """
        if settled and not self._lines and self._bytes > _NO_LINE_BYTES:
            raise NeedsPersonError(
                f"{self._bytes} bytes have come without one line end: wrong speed? {self._speed()}"
            )
        if len(self._outcomes) < _JUDGED:
            return
        good = sum(self._outcomes)
        if good * 2 >= _JUDGED:
            self._warned = ""
            return
        sentence = f"Fewer than half of {_JUDGED} lines can be read ({good}): wrong speed? {self._speed()}"
        if not self._good_seen:
            raise NeedsPersonError(sentence)
        if not self._warned:
            self._warned = sentence
            self._event = LinkEvent(self._t_ns, LinkState.LIVE, sentence)

    def _speed(self) -> str:
        return f"Profile {self._profile.name} says {self._profile.link.baud} baud."


def _make(wanted: Wanted, context: Context) -> SerialLines:
    return SerialLines(wanted.name, wanted.profile, wanted.address)


def outcome(decoded: Decoded) -> Outcome:
    """Put what a line gave into the words of a profile's example."""
    return {part.channel: said(part.value, part.quality) for part in decoded.values}, str(decoded.fault or "")


def _example(profile: Profile, example: Example) -> Outcome:
    return outcome(LineDecoder(profile).decode(example.payload()))


async def discover(context: Context, seconds: float) -> AsyncGenerator[Found, None]:
    """List the serial ports; a port is neither opened nor written to, which could restart a small board."""
    # Listing takes seconds per Bluetooth port on some systems.
    ports = await daemon_call(
        list_ports, seconds + context.timing.connect_deadline, "listing the serial ports"
    )
    by_usb: dict[str, list[str]] = {}
    for name in shipped_profiles():
        for usb in find_profile(name).match.usb:
            by_usb.setdefault(usb.lower(), []).append(name)
    for port in ports:
        profiles = tuple(by_usb.get(port.usb, ())) if port.usb else ()
        evidence = f"serial port, USB {port.usb}" if port.usb else "serial port"
        confidence = 0.7 if profiles else 0.4 if port.usb else 0.1
        label = f"{port.path} {port.label}".strip()
        yield Found("serial_lines", port.address, label, evidence, confidence, profiles)


KIND = Kind(
    "serial_lines", "text lines over a serial port or the network", _make, discover=discover, example=_example
)
