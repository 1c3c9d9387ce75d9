"""What is told when a recording has ended: what did not work, and devices that gave nothing."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from logger.errors import DONE, NOT_AVAILABLE

if TYPE_CHECKING:
    from logger.engine import Link


def tell_warnings(warnings: tuple[str, ...]) -> None:
    """Print what did not work at the end although all rows are stored."""
    for warning in warnings:
        print(f"All rows are stored, but {warning}.", file=sys.stderr)


def say_silent(links: Sequence[Link]) -> int:
    """Name the devices that gave no reading, since an empty recording looks like a good one from afar.

    Returns
    -------
    int
        Exit status: not available where no device gave any.
    """
    silent = [link for link in links if link.counts.readings == 0]
    for link in silent:
        why = link.event.reason.rstrip(".") if link.event is not None else ""
        print(f"{link.name} gave no reading{': ' + why if why else ''}.", file=sys.stderr)
    if not silent or len(silent) < len(links):
        return DONE
    print("Nothing was read at all; look at power, plug and address ('evenrun scan').", file=sys.stderr)
    return NOT_AVAILABLE
