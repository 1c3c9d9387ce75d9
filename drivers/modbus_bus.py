"""One Modbus RTU bus with its stations: one request at a time, and no late reply taken for another's.

RTU has no transaction number. A reply that comes after its time-out is therefore indistinguishable from the
answer to the next request: read register 5 in vain, ask for register 7, and 5's value arrives as 7's. After
a time-out the bus stays quiet for a while, and what arrives meanwhile is dropped. However late a reply is:
the next question to that station asks for a number of registers that no reply still owed can have. Its own
reply is the last one owed, since a station answers in turn; only then does polling go on.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from pymodbus import FramerType, ModbusException
from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient
from pymodbus.pdu import ExceptionResponse

from drivers.base import Clock, DriverError, LinkLostError, NeedsPersonError, Timing
from drivers.daemon_call import daemon_call
from drivers.profile_sections import Link
from drivers.serial_link import PortLink, opening_failure

_log = logging.getLogger(__name__)
# Each failure is told and counted by us; the library would print it once more at every time-out.
logging.getLogger("pymodbus.logging").setLevel(logging.CRITICAL)
_RENEW_AFTER = 5
"""Failures in a row, of whichever station, after which the library's client is made anew."""
_TRIES = 5
_QUIET = 2.0
"""Silence after a time-out, in time-outs."""


class SilentStationError(LinkLostError):
    """A station did not answer in time."""


class MisfitError(SilentStationError):
    """A reply came that is not that of the question."""


class StationRefusedError(DriverError):
    """A station answered that it cannot: ``code`` as in the Modbus application protocol, section 7."""

    def __init__(self, station: int, code: int) -> None:
        words = {
            1: "illegal function",
            2: "illegal address",
            3: "illegal value",
            4: "device failure",
            6: "busy",
        }
        super().__init__(f"Station {station} refuses: {words.get(code, f'code {code}')}.")
        self.code = code


@dataclass(frozen=True, slots=True)
class Answer:
    """The registers of one request, with the moments around it."""

    registers: tuple[int, ...]
    sent_ns: int
    received_ns: int


class ModbusBus:
    """A bus that several station adapters share; it is open while at least one uses it."""

    def __init__(self, address: str, settings: Link) -> None:
        self.address, self.settings = address, settings
        self._client: Any = None
        self._users = 0
        self._lock = asyncio.Lock()
        self._failures = 0
        self._timed_out_at: float | None = None
        self._owed: dict[int, set[int]] = {}
        """Station -> register counts of the requests whose replies have not come."""
        self._last_byte = 0.0

    @asynccontextmanager
    async def used(self, settings: Link) -> AsyncIterator[None]:
        """Keep the bus open inside.

        Raises
        ------
        NeedsPersonError
            If this station needs other port settings than those it is open with.
        """
        if settings != self.settings:
            raise NeedsPersonError(
                f"The stations on {self.address} have different [link] settings; a bus has but one speed."
            )
        self._users += 1
        try:
            yield
        finally:
            self._users -= 1
            if not self._users:
                self._drop()

    async def read(
        self, station: int, function: int, address: int, count: int, clock: Clock, timing: Timing
    ) -> Answer:
        """Read registers (function 3 or 4; nothing is ever written).

        Raises
        ------
        SilentStationError
            If no answer came in time, or one that does not fit the request.
        StationRefusedError
            If the station refuses.
        LinkLostError, NeedsPersonError
            If the port is gone or cannot be opened.
        """
        async with self._lock:
            await self._settle(timing)
            await self._resynchronise(station, function, address, clock, timing)
            return await self._ask(station, function, address, count, clock, timing)

    async def _ask(
        self, station: int, function: int, address: int, count: int, clock: Clock, timing: Timing
    ) -> Answer:
        client = await self._open(timing)
        request = client.read_holding_registers if function == 3 else client.read_input_registers
        owed = self._owed.setdefault(station, set())
        owed.add(count)  # until it has come; also if this is cancelled on the way
        sent_ns = clock.monotonic_ns()
        try:
            # The library has its own time-out; ours stands behind it, should it hang.
            reply = await asyncio.wait_for(
                request(address, count=count, device_id=station), 2.0 * timing.request_timeout + 1.0
            )
        except (ModbusException, TimeoutError) as error:
            raise self._failed(station, error) from None
        received_ns = clock.monotonic_ns()
        if isinstance(reply, ExceptionResponse):
            self._in_step(station)
            raise StationRefusedError(station, reply.exception_code)
        registers = tuple(reply.registers)
        if reply.isError() or len(registers) != count or reply.function_code != function:
            owed.discard(len(registers))
            raise self._failed(station, None)
        self._in_step(station)
        return Answer(registers, sent_ns, received_ns)

    def _in_step(self, station: int) -> None:
        self._failures = 0
        self._owed.pop(station, None)

    async def _resynchronise(
        self, station: int, function: int, address: int, clock: Clock, timing: Timing
    ) -> None:
        """Get in step with a station that owes replies, by a question no owed reply can answer."""
        for _ in range(_TRIES):
            owed = self._owed.get(station)
            if not owed:
                return
            count = next(n for n in range(1, 126) if n not in owed)
            try:
                await self._ask(station, function, address, count, clock, timing)
            except MisfitError:
                continue  # that was an owed one
            except StationRefusedError:
                return
        raise SilentStationError(f"Station {station} does not get in step with the questions.")

    def _failed(self, station: int, error: Exception | None) -> LinkLostError:
        self._timed_out_at = asyncio.get_running_loop().time()
        self._failures += 1
        lost = self._client is None or not self._client.connected
        if lost or self._failures >= _RENEW_AFTER:
            self._failures = 0
            self._drop()
        if lost:
            return LinkLostError(f"The port {self.address} was lost: unplugged?")
        if error is None:
            return MisfitError(f"Station {station} gave an answer that does not fit the question.")
        return SilentStationError(f"Station {station} does not answer; is it on, and is its address right?")

    async def _settle(self, timing: Timing) -> None:
        """After a time-out wait until a late reply can no longer come."""
        loop = asyncio.get_running_loop()
        while self._timed_out_at is not None:
            now = loop.time()
            until = max(
                self._timed_out_at + _QUIET * timing.request_timeout, self._last_byte + timing.request_timeout
            )
            if now >= until:
                self._timed_out_at = None
            else:
                await asyncio.sleep(until - now)

    async def _open(self, timing: Timing) -> Any:
        if self._client is not None and self._client.connected:
            return self._client
        self._drop()
        path = self.address
        try:
            if self.address.startswith("socket://"):
                parts = urlsplit(self.address)
                client: Any = AsyncModbusTcpClient(
                    parts.hostname or "", port=parts.port or 502, framer=FramerType.RTU,
                    timeout=timing.request_timeout, retries=0, reconnect_delay=0, trace_packet=self._trace,
                )  # fmt: skip
            else:
                settings = self.settings
                # The library opens in the loop, and keeps the reason of a failure to itself. Some ports take
                # many seconds to open: try it beside the loop first.
                probe = PortLink(self.address, settings, 0.0)
                path = await daemon_call(
                    lambda: _tried(probe), timing.open_deadline, f"opening {self.address}"
                )
                client = AsyncModbusSerialClient(
                    path, framer=FramerType.RTU, baudrate=settings.baud, bytesize=settings.data_bits,
                    parity=settings.parity[0].upper(), stopbits=settings.stop_bits,
                    timeout=timing.request_timeout, retries=0, reconnect_delay=0, trace_packet=self._trace,
                )  # fmt: skip
            connected = await asyncio.wait_for(client.connect(), timing.open_deadline)
        except (OSError, ValueError) as error:
            raise opening_failure(path, error) from None
        if not connected:
            client.close()
            raise LinkLostError(f"{path} does not answer or could not be opened.")
        self._client = client
        return client

    def _trace(self, sending: bool, data: bytes) -> bytes:
        if not sending:
            self._last_byte = asyncio.get_running_loop().time()
        return data

    def _drop(self) -> None:
        client, self._client = self._client, None
        if client is not None:
            try:
                client.close()
            except Exception:
                _log.info("The Modbus client did not close well.", exc_info=True)


def _tried(link: PortLink) -> str:
    """Open and close a port, and give its present name; raises the failure in words."""
    link.open()
    name = link.describe()
    link.close()
    return name
