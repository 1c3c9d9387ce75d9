"""A probe set on a network port that costs nothing to start: the hall's readings as checksummed lines."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

VALUES = {
    "ps": 5.15, "pd": 24.59, "ts": -2.4, "td": 85.0, "tl": 30.6, "si": 4.0, "so": -2.4, "dp": 9.8, "li": 30.0,
    "lo": 35.1, "lf": 0.53, "pw": 3000.0, "pa": 1.16, "vs": 229.0, "vc": 26.1,
}  # fmt: skip


def line(t_s: float) -> bytes:
    """Write one line of the simulated machine's profile."""
    payload = f"t={t_s:.3f};" + ";".join(f"{name}={value}" for name, value in VALUES.items())
    crc = 0xFFFF
    for byte in payload.encode():
        crc ^= byte << 8
        for _ in range(8):
            crc = ((crc << 1) ^ 0x1021) & 0xFFFF if crc & 0x8000 else crc << 1
    return f"{payload}*{crc:04X}\n".encode()


@contextmanager
def line_probe(*, every_s: float = 0.02, step_s: float = 1.0) -> Iterator[str]:
    """Send lines to whoever connects, the first one first; gives the address for a set-up.

    Parameters
    ----------
    every_s
        Real time between two lines.
    step_s
        By how much the probe set's own time goes on from line to line.
    """
    done = threading.Event()
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.05)

        def send(link: socket.socket) -> None:
            t_s = 0.0
            with link, suppress(OSError):
                while not done.wait(every_s):
                    link.sendall(line(t_s))
                    t_s += step_s

        def serve() -> None:
            while not done.is_set():
                with suppress(TimeoutError):
                    link, _ = server.accept()
                    threads.append(threading.Thread(target=send, args=(link,)))
                    threads[-1].start()

        threads = [threading.Thread(target=serve)]
        threads[0].start()
        try:
            yield f"socket://127.0.0.1:{server.getsockname()[1]}"
        finally:
            done.set()
            for thread in threads:
                thread.join(60.0)
