"""Writes what a campaign found into a dated file, with what is needed to run it again."""

from __future__ import annotations

import json
import platform
import subprocess
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).parent / "results"


def record(name: str, seed: int, seconds: float, results: Mapping[str, Any]) -> Path:
    """Write one campaign's result.

    Parameters
    ----------
    name
        What was tried, as ``bluetooth-decoders``; part of the file's name.
    seed
        With which the inputs can be made again.
    seconds
        How long it took.
    results
        Counts and findings; anything that JSON can hold.

    Returns
    -------
    Path
        The file; a second run on the same day takes its place.
    """
    now = datetime.now(UTC)
    content = {
        "name": name,
        "date": now.isoformat(timespec="seconds"),
        "commit": _commit(),
        "python": platform.python_version(),
        "seed": seed,
        "seconds": round(seconds, 1),
        "results": dict(results),
    }
    RESULTS.mkdir(exist_ok=True)
    path = RESULTS / f"{name}-{now.date().isoformat()}.json"
    path.write_text(json.dumps(content, indent=2, sort_keys=False) + "\n", encoding="utf-8")
    return path


def _commit() -> str:
    """Give the commit the tests ran on; ``+`` says that files were changed since."""
    here = Path(__file__).parent

    def git(*words: str) -> str:
        done = subprocess.run(["git", *words], cwd=here, capture_output=True, text=True, check=False)
        return done.stdout.strip()

    commit = git("rev-parse", "--short=12", "HEAD")
    if not commit:
        return "unknown"
    return commit + ("+" if git("status", "--porcelain", "--untracked-files=no") else "")
