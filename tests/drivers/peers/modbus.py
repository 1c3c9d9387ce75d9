"""A Modbus RTU station from the protocol's description, slow at random; independent of the library."""

from __future__ import annotations

import os
import random
import struct
import threading
import time
import tty
from collections.abc import Callable


def crc16_modbus(data: bytes) -> int:
    """CRC-16 of the serial line (polynomial A001h reflected), Modbus over Serial Line V1.02, 6.2.2."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc


def framed(body: bytes) -> bytes:
    return body + struct.pack("<H", crc16_modbus(body))


class Stations:
    """Answers functions 3 and 4 with register n holding 1000 + n; counts what it was sent."""

    def __init__(self, port: str, delay: Callable[[random.Random], float | None], seed: int = 1) -> None:
        self._delay, self._rng = delay, random.Random(seed)
        self.present = {1}
        self.requests = 0
        self.late = 0
        self.other_functions = 0
        self._handle = os.open(port, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(self._handle)
        self._stop = False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        import select

        buffer = b""
        while not self._stop:
            if not select.select([self._handle], [], [], 0.05)[0]:
                buffer = b""  # a pause ends a frame
                continue
            buffer += os.read(self._handle, 256)
            while len(buffer) >= 8:
                frame, buffer = buffer[:8], buffer[8:]
                self._answer(frame)

    def _answer(self, frame: bytes) -> None:
        station, function, address, count, _ = struct.unpack(">BBHHH", frame)
        if framed(frame[:6]) != frame:
            return
        self.requests += 1
        if function not in (3, 4):
            self.other_functions += 1
            return
        if station not in self.present:
            return
        if address >= 9000:
            reply = framed(bytes([station, function | 0x80, 2]))
        else:
            values = struct.pack(f">{count}H", *(1000 + address + i for i in range(count)))
            reply = framed(bytes([station, function, 2 * count]) + values)
        delay = self._delay(self._rng)
        if delay is None:
            return
        time.sleep(delay)  # a station answers one question after the other, however late
        os.write(self._handle, reply)

    def close(self) -> None:
        self._stop = True
        self._thread.join(5)
        os.close(self._handle)
