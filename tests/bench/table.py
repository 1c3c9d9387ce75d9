"""One table of all measurements: ours, the peer's in the same run, the ratio, the goal, and who is faster."""

from __future__ import annotations

import os
import platform
import sys
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class Row:
    """One measurement; ``ratio`` says how many times as good we are, or what we cost over a bare limit."""

    group: str
    what: str
    ours: float
    peer: float
    unit: str
    ratio: float
    goal: float
    at_most: bool = False
    """Whether the ratio is a cost (ours over the peer's) that must stay below the goal."""

    @property
    def met(self) -> bool:
        """Whether the goal is met."""
        return self.ratio <= self.goal if self.at_most else self.ratio >= self.goal

    @property
    def standing(self) -> str:
        """Who is better, in words."""
        if 0.95 <= self.ratio <= 1.05:
            return "as good as the peer"
        if self.at_most:
            return (
                "ours is better"
                if self.ratio < 1.0
                else f"THE PEER IS BETTER: ours costs {self.ratio:.1f} times as much"
            )
        return "ours is better" if self.ratio > 1.0 else "THE PEER IS BETTER"


def of_module(group: str, found: Mapping[str, Any]) -> Row:
    """Take a row as the modules of this folder give it."""
    name = str(found["name"])
    return Row(
        group,
        name.removesuffix(", at most").removesuffix(", at least"),
        float(found["value"]), float(found["peer"]), str(found.get("unit", "")),
        float(found["ratio"]), float(found["goal"]),
        name.endswith("at most"),
    )  # fmt: skip


def machine() -> dict[str, object]:
    """Say on what it was measured; absolute times belong to this machine only."""
    model = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        named = [
            line.split(":", 1)[1].strip() for line in info.read_text().splitlines() if "model name" in line
        ]
        model = named[0] if named else model
    return {
        "system": platform.system(),
        "kind": platform.machine(),
        "processor": model,
        "cores": os.cpu_count(),
        "python": sys.version.split()[0],
        "load": round(os.getloadavg()[0], 2) if hasattr(os, "getloadavg") else None,
    }


def as_text(rows: Iterable[Row], told: Mapping[str, str], troubles: Mapping[str, str], quick: bool) -> str:
    """Write the table; a line says so where a peer is faster or a goal is missed."""
    on = machine()
    lines = [
        f"{on['processor']}, {on['cores']} cores, {on['system']}, Python {on['python']}, load {on['load']}"
        f"{'; quick: short runs, shares of the cores with what else runs' if quick else ''}",
        "Ratios count; times are this machine's. 'at most' rows are costs over a bare limit.",
        f"{'ratio':>9} {'goal':>9}  {'':8}{'ours':>11} {'peer':>11} {'':6} what",
    ]
    group = ""
    for row in rows:
        if row.group != group:
            group = row.group
            lines.append(f"-- {group}")
        sign = "<=" if row.at_most else ">="
        lines.append(
            f"{row.ratio:9.2f} {sign}{row.goal:7g}  {'met' if row.met else 'MISSED':8}{row.ours:11.4g} "
            f"{row.peer:11.4g} {row.unit:6} {row.what}: {row.standing}"
        )
    for name, text in told.items():
        lines += [f"-- {name}, in its own words", *(f"   {line}" for line in text.splitlines())]
    lines += [f"-- {name}: not measured: {why}" for name, why in troubles.items()]
    return "\n".join(lines)


def as_facts(
    rows: Iterable[Row], told: Mapping[str, str], troubles: Mapping[str, str], quick: bool
) -> dict[str, object]:
    """Give the table as plain values."""
    found = [asdict(row) | {"met": row.met, "standing": row.standing} for row in rows]
    return {
        "machine": machine(),
        "quick": quick,
        "rows": found,
        "told": dict(told),
        "not_measured": dict(troubles),
    }
