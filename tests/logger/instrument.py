"""An instrument in a process of its own: lines over a pseudo-terminal, some damaged, unplugged for a while.

``python -m tests.logger.instrument LINK SECONDS UNPLUG_AT UNPLUG_FOR`` prints what it sent as JSON.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

from tests.drivers.peers.lines import DamagedStream, line
from tests.drivers.peers.ports import FakePort

LINES_PER_S = 20
LAST_WORDS_S = 0.4
"""The computer gets so long to read what is in the wire before the plug is pulled."""
PATIENCE_S = 60.0


def main(link: str, seconds: float, unplug_at: float, unplug_for: float) -> None:
    """Send, unplug, plug in again, send on."""
    port = FakePort(Path(link))
    print("ready", flush=True)
    _opened(port)
    stream = DamagedStream(seed=11)
    chunks = stream.chunks(round((seconds - unplug_for) * LINES_PER_S))
    whole = {line(i) + b"\r\n" for i in stream.good}
    pulled, away = round(unplug_at * LINES_PER_S), 0.0
    # The first line after opening is not judged (it may be the rest of a cut one): let it be a good one.
    while chunks[pulled] not in whole:
        pulled += 1
    for number, chunk in enumerate(chunks):
        if number == pulled:
            time.sleep(LAST_WORDS_S)
            last = time.monotonic() - LAST_WORDS_S
            port.unplug()
            time.sleep(unplug_for)
            port.plug()
            _opened(port)
            away = time.monotonic() - last
        port.send(chunk)
        time.sleep(1.0 / LINES_PER_S)
    time.sleep(LAST_WORDS_S)
    sent = {"good": len(stream.good), "refused": dict(stream.refused), "away": away}
    print(json.dumps(sent), flush=True)
    time.sleep(30.0)


def _opened(port: FakePort) -> None:
    """Wait until the computer listens, however slow it is; an instrument knows no such thing."""
    if not port.wait_open(PATIENCE_S):
        raise SystemExit("nobody opened the port")
    time.sleep(LAST_WORDS_S)  # what a computer finds on opening is thrown away


if __name__ == "__main__":
    main(sys.argv[1], *map(float, sys.argv[2:]))
