"""Serve a running plant as text lines on a local socket."""

from __future__ import annotations

import contextlib
import select
import socket
import sys
import time

from drivers.plant.lines import format_line
from drivers.plant.simulation import Plant

PATIENCE = 10.0
"""How long [s] a client may leave its lines unread at a set speed."""


def serve(plant: Plant, seconds: int, speed: float, port: int, start_at: int, wait: float = 600.0) -> int:
    """Listen on 127.0.0.1, wait for the first client, then stream one line per plant second.

    Parameters
    ----------
    plant : Plant
    seconds : int [s]
        Length of the stream, counted from `start_at`.
    speed : float [-]
        Plant seconds per second; 0: as fast as the slowest client reads.
    port : int
        0: the system chooses.
    start_at : int [s]
        Plant time run through before the first line.
    wait : float [s]
        How long to wait for the first client, so that a forgotten process ends by itself.

    Returns
    -------
    int
        Exit status: 0 at the end of the phase or when every client has gone; 4 when none came.

    Raises
    ------
    OSError
        If the port cannot be used.
    """
    with socket.create_server(("127.0.0.1", port)) as listener, contextlib.ExitStack() as stack:
        sys.stdout.write(f"listening 127.0.0.1:{listener.getsockname()[1]}\n")
        sys.stdout.flush()
        for _ in range(start_at):
            plant.step()
        if not select.select([listener], [], [], wait)[0]:
            sys.stderr.write(f"plant: no client came within {wait:g} s; start it again when one is ready.\n")
            return 4
        clients = [stack.enter_context(_accept(listener, speed))]
        began = time.monotonic()
        for k in range(1, seconds + 1):
            line = format_line((row := plant.step()).t, row.readings)
            if speed > 0.0:
                time.sleep(max(0.0, began + k / speed - time.monotonic()))
            if select.select([listener], [], [], 0.0)[0]:
                clients.append(stack.enter_context(_accept(listener, speed)))
            for client in list(clients):
                try:
                    client.sendall(line)
                except OSError:
                    clients.remove(client)
            if not clients:
                return 0
        for client in clients:
            with contextlib.suppress(OSError):
                client.shutdown(socket.SHUT_WR)
    return 0


def _accept(listener: socket.socket, speed: float) -> socket.socket:
    client, _ = listener.accept()
    client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    # At a set speed a client that has stopped reading is let go, so that it cannot hold up the others;
    # as fast as read, the plant waits for it however long it takes.
    client.settimeout(PATIENCE if speed > 0.0 else None)
    return client
