"""Meters that answer SCPI queries: one query in flight, and no late reply taken for another's."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import AsyncGenerator, Callable

from analysis.measure import Quality, Reading
from drivers.base import (
    ChannelsFound,
    Clock,
    LinkEvent,
    LinkLostError,
    LinkState,
    NeedsPersonError,
    ProfileError,
    Rejected,
    StreamItem,
    Timing,
)
from drivers.decode import Fault, number
from drivers.framing import LineFramer
from drivers.port_reader import PortReader, reading
from drivers.profile import Profile
from drivers.profile_sections import ChannelProfile, Example, Link
from drivers.registry import Context, Kind, Outcome, Wanted, said
from drivers.serial_link import ByteLink, link_to

OVER_RANGE = 9.9e37
NOT_A_NUMBER = 9.91e37
"""SCPI-99 volume 1, 7.2.1: these two stand for infinity and not-a-number (from memory)."""
_OVER_WORDS = frozenset(
    {"O.L", "OL", "O.L.", "-O.L", "-OL", "OVLD", "OVER", "OVERLOAD", "+INF", "-INF", "INF"}
)
_NONE_WORDS = frozenset({"NAN", "----", "---", ""})
_GIVE_UP_AFTER = 5
"""Queries without an answer, one after the other, before the link is made anew."""
_IDENTITY = "*IDN?"


def interpret(part: ChannelProfile, text: str) -> tuple[float | None, Quality] | Fault:
    """Give what one answered field means.

    Examples
    --------
    >>> volts = ChannelProfile(name="u", quantity="voltage", unit="V", query="MEAS:VOLT:AC?")
    >>> interpret(volts, "+2.31400000E+02")[0], interpret(volts, "+9.90000000E+37")
    (231.4, (None, <Quality.OUT_OF_RANGE: 4>))
    """
    word = text.strip().upper().strip('"')
    read = number(word)
    if read is None:
        if word in _OVER_WORDS:
            return None, Quality.OUT_OF_RANGE
        if word in _NONE_WORDS or part.conversion().is_sentinel(word):
            return None, Quality.NOT_KNOWN
        return Fault.NO_MATCH
    if abs(read) >= NOT_A_NUMBER * (1 - 1e-6):
        return None, Quality.NOT_KNOWN
    if abs(read) >= OVER_RANGE * (1 - 1e-6):
        return None, Quality.OUT_OF_RANGE
    return part.conversion()(read)


class _Timeout(Exception):  # noqa: N818  internal: no answer in time
    pass


class ScpiMeter:
    """Asks one meter its profile's queries in turn.

    Raises
    ------
    ProfileError
        If a channel has no query.
    """

    def __init__(
        self,
        name: str,
        profile: Profile,
        address: str,
        *,
        make_link: Callable[[Timing], ByteLink] | None = None,
    ) -> None:
        self.name, self.profile, self.address = name, profile, address
        self._make_link = make_link or self._link
        self._queries: dict[str, list[ChannelProfile]] = {}
        for part in profile.channel:
            if not part.query.endswith("?") or not part.query.isascii() or set(part.query) & set("\r\n;"):
                raise ProfileError(
                    f"Profile {profile.name}, channel '{part.name}': query must be one question, "
                    'such as "MEAS:VOLT:AC?"; evenrun sends nothing else.'
                )
            self._queries.setdefault(part.query, []).append(part)

    def _link(self, timing: Timing) -> ByteLink:
        return link_to(
            self.address,
            self.profile.link,
            read_timeout=min(timing.read_timeout, 0.02),  # also the longest wait before a query is sent
            open_deadline=timing.connect_deadline,
        )

    async def stream(self, clock: Clock, timing: Timing) -> AsyncGenerator[StreamItem, None]:
        """Open, identify if the profile says so, then poll."""
        yield ChannelsFound(self.profile.channels(self.name))
        async with reading(lambda: self._make_link(timing), clock, timing, self.name) as reader:
            talk = _Conversation(reader, clock, timing)
            if self.profile.poll.identify:
                await talk.identify(self.profile.match.identity, self.name)
            yield LinkEvent(clock.monotonic_ns(), LinkState.LIVE)
            loop = asyncio.get_running_loop()
            due = loop.time()
            unanswered = 0
            while True:
                for query, parts in self._queries.items():
                    try:
                        sent_ns, answer, t_ns = await talk.ask(query)
                    except _Timeout:
                        unanswered += 1
                        yield Rejected(clock.monotonic_ns(), {"timeout": 1}, query.encode())
                        if unanswered >= _GIVE_UP_AFTER:
                            raise LinkLostError(
                                f"{self.name} does not answer; is it on, and set to remote?"
                            ) from None
                        await talk.drain()
                        continue
                    unanswered = 0
                    batch, faults = self._read(parts, sent_ns, answer, t_ns)
                    if batch:
                        yield batch
                    if faults:
                        yield Rejected(t_ns, dict(faults), answer)
                due += self.profile.poll.interval_s
                if due < loop.time():
                    due = loop.time()  # the meter is slower than asked: no burst to catch up
                await asyncio.sleep(due - loop.time())
                talk.drop_unasked()

    def _read(
        self, parts: list[ChannelProfile], sent_ns: int, answer: bytes, t_ns: int
    ) -> tuple[list[Reading], Counter[str]]:
        faults: Counter[str] = Counter()
        if not answer.isascii():
            faults[Fault.NON_ASCII] += 1
            return [], faults
        fields = answer.decode("ascii").split(",")
        batch = []
        moment = (sent_ns + t_ns) // 2
        slow = Quality.ESTIMATED_TIME if t_ns - sent_ns > 1_000_000_000 else Quality.OK
        for part in parts:
            index = int(part.field) if part.field.isdigit() else 0
            if index >= len(fields) or (len(parts) == 1 and not part.field and len(fields) != 1):
                faults[Fault.NO_MATCH] += 1
                continue
            found = interpret(part, fields[index])
            if isinstance(found, Fault):
                faults[found] += 1
                continue
            value, quality = found
            batch.append(
                Reading(moment, f"{self.name}/{part.name}", value, quality | slow | Quality.UNVERIFIED)
            )
        return batch, faults


class _Conversation:
    """Question and answer over a port reader."""

    def __init__(self, reader: PortReader, clock: Clock, timing: Timing) -> None:
        self._reader, self._clock, self._timing = reader, clock, timing
        self._framer = LineFramer()
        self._loop = asyncio.get_running_loop()
        self._known_identity = b""

    async def ask(self, query: str) -> tuple[int, bytes, int]:
        """Send a query; give the moment of sending, the answer and the moment it came."""
        sent_ns = self._clock.monotonic_ns()
        self._reader.send(query.encode("ascii") + b"\n")
        deadline = self._loop.time() + self._timing.request_timeout
        while self._loop.time() < deadline:
            for t_ns, data in self._reader.collect():
                lines = self._framer.feed(data)
                if lines:
                    return sent_ns, lines[0], t_ns
            await asyncio.sleep(min(self._timing.drain_interval, 0.01))
        raise _Timeout

    def drop_unasked(self) -> None:
        """Throw away what came without a question."""
        self._reader.collect()
        self._framer.reset()

    async def drain(self) -> None:
        """Wait until a late answer can no longer come, so that it is not taken for the next one's."""
        quiet_since = begun = self._loop.time()
        timing = self._timing
        while self._loop.time() - quiet_since < 2.0 * timing.request_timeout:
            if self._reader.collect():
                quiet_since = self._loop.time()
            if self._loop.time() - begun > 20.0 * timing.request_timeout:
                raise LinkLostError("The meter sends without being asked; switch off its continuous sending.")
            await asyncio.sleep(min(timing.drain_interval, 0.01))
        self._framer.reset()
        if self._known_identity:
            try:
                _, answer, _ = await self.ask(_IDENTITY)
            except _Timeout:
                return
            if answer != self._known_identity:
                raise LinkLostError(
                    "The meter's answers are out of step with the questions; connecting anew."
                )

    async def identify(self, expected: str, name: str) -> None:
        """Ask who it is.

        Raises
        ------
        NeedsPersonError
            If another instrument answers.
        """
        try:
            _, answer, _ = await self.ask(_IDENTITY)
        except _Timeout:
            raise LinkLostError(f"{name} does not answer {_IDENTITY}; is it on, and set to remote?") from None
        text = answer.decode("ascii", "replace")
        if expected and not text.upper().startswith(expected.upper()):
            raise NeedsPersonError(
                f"Another instrument answers for {name}: '{text[:60]}' instead of '{expected}'; "
                "connect the right one or choose this one."
            )
        self._known_identity = answer


async def ask_identity(address: str, settings: Link, clock: Clock, timing: Timing) -> str | None:
    """Ask an unknown instrument who it is, only ever at a person's request: the question is written to it.

    Returns
    -------
    str or None
        Its answer, or None if there was none in time.

    Raises
    ------
    LinkLostError, NeedsPersonError
        If the port cannot be opened.
    """

    def make() -> ByteLink:
        return link_to(address, settings, read_timeout=0.02, open_deadline=timing.connect_deadline)

    async with reading(make, clock, timing, address) as reader:
        try:
            _, answer, _ = await _Conversation(reader, clock, timing).ask(_IDENTITY)
        except _Timeout:
            return None
    return answer.decode("ascii", "replace")


def _make(wanted: Wanted, context: Context) -> ScpiMeter:
    return ScpiMeter(wanted.name, wanted.profile, wanted.address)


def _example(profile: Profile, example: Example) -> Outcome:
    values: dict[str, float | str] = {}
    for part in profile.channel:
        if part.name in example.values or len(profile.channel) == 1:
            found = interpret(part, example.payload().decode("ascii", "replace"))
            if isinstance(found, Fault):
                return {}, str(found)
            values[part.name] = said(*found)
    return values, ""


KIND = Kind(
    "scpi", "meters that answer SCPI queries over a serial port or the network", _make, example=_example
)
