"""``evenrun scan``: look for devices of all kinds together; nothing is sent to a device that is not known."""

from __future__ import annotations

import argparse
import asyncio
import json

from drivers.discover import Trouble, discover
from drivers.registry import Context
from logger.errors import DONE
from logger.lengths import parse_length
from logger.shown_values import plain


def run(args: argparse.Namespace) -> int:
    """Print what is found as it is found."""
    found = asyncio.run(_scan(parse_length(args.length), quiet=args.json))
    if args.json:
        print(json.dumps(found))
    elif not found["found"]:
        print("No device found. Is it switched on, near, and not linked to another program?")
    return DONE


async def _scan(seconds: float, *, quiet: bool) -> dict[str, list[dict[str, object]]]:
    context = Context()
    answer: dict[str, list[dict[str, object]]] = {"found": [], "troubles": []}
    try:
        async for item in discover(context, seconds):
            if isinstance(item, Trouble):
                answer["troubles"].append({"kind": item.kind, "sentence": item.sentence})
                line = f"{item.kind}: {item.sentence}"
            else:
                profiles = f"  profile: {', '.join(item.profiles)}" if item.profiles else ""
                answer["found"].append(
                    {"kind": item.kind, "address": item.address, "label": item.label,
                     "evidence": item.evidence, "profiles": list(item.profiles),
                     "strength_dbm": item.strength_dbm}
                )  # fmt: skip
                strength = f", {item.strength_dbm:.0f} dBm" if item.strength_dbm is not None else ""
                line = f"{item.kind:<14}{item.address:<32}{item.label}  ({item.evidence}{strength}){profiles}"
            if not quiet:
                print(plain(line), flush=True)
    finally:
        await context.aclose()
    return answer
