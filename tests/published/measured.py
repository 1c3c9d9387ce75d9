"""Finds measured series outside the project; a test that needs one skips with a named reason without it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


def measured(name: str) -> Path:
    """Give the path of a measured series, or skip."""
    folder = os.environ.get("EVENRUN_LAB_DATA")
    if not folder:
        pytest.skip("EVENRUN_LAB_DATA does not name the folder of measured series")
    path = Path(folder) / name
    if not path.exists():
        pytest.skip(f"the measured series {name} is not in EVENRUN_LAB_DATA")
    return path
