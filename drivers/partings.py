"""Closing what may hang in the operating system: wait a while, then go on without it."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable

_log = logging.getLogger(__name__)


class Partings:
    """Closing actions under way; one that hangs keeps nobody waiting."""

    def __init__(self) -> None:
        self._tasks: set[asyncio.Task[None]] = set()
        self.abandoned = 0
        """How many did not end in time."""

    async def wait(self, action: Awaitable[None], limit: float) -> None:
        """Wait for a closing action, at most ``limit`` seconds; what it raises is only logged.

        When the waiting itself is cancelled, the action still goes on.
        """
        task = asyncio.create_task(_quietly(action))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        _, pending = await asyncio.wait({task}, timeout=limit)
        if pending:
            self.abandoned += 1
            _log.warning("A Bluetooth link or scan did not close within %g s; it is left to itself.", limit)
            task.cancel()


async def _quietly(action: Awaitable[None]) -> None:
    try:
        await action
    except Exception as error:
        _log.debug("closing a link or scan: %r", error)
