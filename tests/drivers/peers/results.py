"""Dated results of long runs."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "campaign" / "results"


def keep(name: str, **figures: object) -> None:
    """Write the figures of a campaign to ``tests/campaign/results/<name>-<date>.json``."""
    FOLDER.mkdir(exist_ok=True)
    day = datetime.now(UTC).date().isoformat()
    text = json.dumps({"date": day, **figures}, indent=1)
    (FOLDER / f"{name}-{day}.json").write_text(text + "\n", encoding="utf-8")
