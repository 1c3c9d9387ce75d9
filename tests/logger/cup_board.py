"""A board whose probes stand in a cup: lines on a local socket, with a time of their own that never waits."""

from __future__ import annotations

import math
import socket
import threading
from queue import SimpleQueue
from types import TracebackType

from drivers.plant.lines import format_line

SETUP = """title = "bench"  # of the workshop
clock = "device"
barometer = "94.32 kPa(a)"

[[device]]
name = "board"
profile = "simulated_machine"
address = "socket://127.0.0.1:{port}"

[assign]
source_entering_temperature = "board/si"
source_leaving_temperature = "board/so"
suction_pressure = "board/ps"
"""


class Board:
    """One listener; what is sent before somebody reads waits in a queue."""

    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        self._lines: SimpleQueue[bytes] = SimpleQueue()
        self._t = 0
        self._thread = threading.Thread(target=self._serve, daemon=True)

    def __enter__(self) -> Board:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._lines.put(b"")
        self._listener.close()

    def send(self, seconds: int, *, late: float = 0.0, **reads: float) -> None:
        """Send a line a second; ``late`` is by how much the probe ``si`` begins off and then closes in."""
        for _ in range(seconds):
            now = dict(reads)
            now["si"] = reads["si"] + late * math.exp(-self._t / 20.0)
            self._lines.put(format_line(float(self._t), now))
            self._t += 1

    def _serve(self) -> None:
        try:
            connection, _ = self._listener.accept()
            with connection:
                while line := self._lines.get():
                    connection.sendall(line)
        except OSError:
            return
