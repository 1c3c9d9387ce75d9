"""Start the plant's process and read its stream, for the tests."""

from __future__ import annotations

import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def running_plant(*arguments: str) -> Iterator[tuple[subprocess.Popen[str], int]]:
    process = subprocess.Popen(
        [sys.executable, "-m", "drivers.plant", *arguments], stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        word, _, address = process.stdout.readline().strip().partition(" ")
        assert word == "listening"
        host, _, port = address.partition(":")
        assert host == "127.0.0.1"
        yield process, int(port)
    finally:
        process.kill()
        process.wait()
        if process.stdout is not None:
            process.stdout.close()


def stream(port: int, stop_after: int | None = None) -> list[bytes]:
    lines: list[bytes] = []
    with socket.create_connection(("127.0.0.1", port), timeout=20) as link, link.makefile("rb") as file:
        for line in file:
            lines.append(line)
            if stop_after is not None and len(lines) >= stop_after:
                break
    return lines
