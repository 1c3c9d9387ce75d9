"""A meter that answers queries over a fake port: slow, late, mute, over range, at the test's wish."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from tests.drivers.peers.ports import FakePort

Answer = bytes | tuple[float, bytes] | None
"""What to answer, or after how many seconds, or nothing."""


class FakeMeter:
    """Answers each line by a function of it; keeps every line it was sent."""

    def __init__(self, port: FakePort, answer: Callable[[str], Answer]) -> None:
        self._port, self._answer = port, answer
        self.asked: list[str] = []
        self._stop = False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        buffer = b""
        while not self._stop:
            buffer += self._port.receive(0.02)
            while b"\n" in buffer:
                line, _, buffer = buffer.partition(b"\n")
                self.asked.append(line.decode("ascii"))
                answer = self._answer(self.asked[-1])
                if answer is None:
                    continue
                if isinstance(answer, tuple):
                    time.sleep(answer[0])
                    answer = answer[1]
                self._port.send(answer + b"\n")

    def close(self) -> None:
        self._stop = True
        self._thread.join(5)
