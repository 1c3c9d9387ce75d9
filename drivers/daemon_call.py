"""Run a blocking call beside the loop in a thread that nobody has to wait for.

The loop's own pool of threads is joined when the loop ends: one port that hangs in the operating system would
then hold the whole program. A daemon thread is left to itself instead.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable
from typing import TypeVar

from drivers.base import LinkLostError

_T = TypeVar("_T")


async def daemon_call(call: Callable[[], _T], deadline: float, what: str) -> _T:
    """Give what a blocking call returns, or raise what it raises.

    Parameters
    ----------
    call
        Runs in a thread of its own.
    deadline
        Longest wait [s].
    what
        Names the call in the message, as ``opening /dev/ttyUSB0``.

    Raises
    ------
    LinkLostError
        If it takes too long; its result is then thrown away.
    """
    loop = asyncio.get_running_loop()
    outcome: asyncio.Future[_T] = loop.create_future()

    def give(result: _T | None, error: Exception | None) -> None:
        if outcome.done():
            return
        if error is not None:
            outcome.set_exception(error)
        else:
            outcome.set_result(result)  # type: ignore[arg-type]

    def run() -> None:
        result, failure = None, None
        try:
            result = call()
        except Exception as error:
            failure = error
        with contextlib.suppress(RuntimeError):  # the loop has ended meanwhile
            loop.call_soon_threadsafe(give, result, failure)

    threading.Thread(target=run, name=what, daemon=True).start()
    try:
        async with asyncio.timeout(deadline):
            return await outcome
    except TimeoutError:
        raise LinkLostError(f"{what[0].upper()}{what[1:]} took longer than {deadline:g} s.") from None
