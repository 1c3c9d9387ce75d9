"""Find devices of all kinds at once; nothing is ever sent to a device that is not known."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncGenerator
from contextlib import aclosing
from dataclasses import dataclass
from typing import Any, cast

from drivers.base import DriverError, Found
from drivers.registry import Context, Kind, Kinds, load_kinds

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why one kind could not look, with the act that mends it; the other kinds went on."""

    kind: str
    sentence: str


async def discover(
    context: Context, seconds: float = 8.0, *, kinds: Kinds | None = None
) -> AsyncGenerator[Found | Trouble, None]:
    """Look for devices with all kinds together and give each as it is found.

    Parameters
    ----------
    context
        What adapters share, such as the one Bluetooth scanner.
    seconds
        How long each kind looks.
    kinds
        By default all that are installed.
    """
    known = await asyncio.to_thread(load_kinds) if kinds is None else kinds
    results: asyncio.Queue[Found | Trouble | None] = asyncio.Queue()
    looking = [kind for kind in known.known.values() if kind.discover is not None]
    for name, sentence in known.broken.items():
        yield Trouble(name, sentence)
    tasks = [
        asyncio.create_task(_look(kind, context, seconds, results), name=f"discover {kind.name}")
        for kind in looking
    ]
    try:
        left = len(tasks)
        while left:
            item = await results.get()
            if item is None:
                left -= 1
            else:
                yield item
    finally:
        for task in tasks:
            task.cancel()
        if tasks:
            await asyncio.wait(tasks, timeout=context.timing.close_deadline)


async def _look(
    kind: Kind, context: Context, seconds: float, results: asyncio.Queue[Found | Trouble | None]
) -> None:
    assert kind.discover is not None
    seen: set[tuple[str, str]] = set()
    try:
        async with asyncio.timeout(seconds + context.timing.connect_deadline):
            stream = cast("AsyncGenerator[Any, None]", kind.discover(context, seconds))
            async with aclosing(stream) as found:
                async for item in found:
                    if (item.kind, item.address + item.label) not in seen:
                        seen.add((item.kind, item.address + item.label))
                        results.put_nowait(item)
    except DriverError as error:
        results.put_nowait(Trouble(kind.name, str(error)))
    except TimeoutError:
        results.put_nowait(Trouble(kind.name, f"Looking for {kind.title} took too long and was given up."))
    except Exception as error:
        _log.warning("Discovery of %s failed.", kind.name, exc_info=True)
        words = f"{type(error).__name__}: {error}"
        results.put_nowait(Trouble(kind.name, f"Looking for {kind.title} failed ({words})."))
    finally:
        results.put_nowait(None)
