"""A CSV file of 2 GB (100 columns, two of them mapped) becomes a session with bounded memory."""

from __future__ import annotations

import json
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.campaign.record import record
from tests.logger.import_files import MAP

pytestmark = pytest.mark.campaign
SEED, BYTES, MOST_MB = 20260114, 2_000_000_000, 300
_CODE = (
    "import resource, sys; from logger.cli import main; status = main(sys.argv[1:]); "
    "print(status, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
)


def _write(path: Path) -> int:
    """Write the file; gives its number of rows."""
    numbers = random.Random(SEED)
    tails = [",".join(f"{numbers.uniform(-5, 95):.2f}" for _ in range(99)) for _ in range(997)]
    size = rows = 0
    with path.open("w") as file:
        file.write("t,in,out," + ",".join(f"c{n}" for n in range(97)) + "\n")
        while size < BYTES:
            chunk = "".join(f"{rows + n},{tail}\n" for n, tail in enumerate(tails))
            file.write(chunk)
            rows, size = rows + len(tails), size + len(chunk)
    return rows


def test_two_gigabytes(tmp_path: Path) -> None:
    rows = _write(tmp_path / "log.csv")
    (tmp_path / "map.toml").write_text('keep = "mapped"\n' + MAP)
    begun = time.monotonic()
    words = ["log.csv", "--map", "map.toml", "--out", "session", "--json"]
    try:
        done = subprocess.run(
            [sys.executable, "-c", _CODE, "import", *words],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=True,
        )
    finally:
        (tmp_path / "log.csv").unlink()
    facts, last = done.stdout.splitlines()
    status, peak_kb = map(int, last.split())
    found = json.loads(facts)
    seconds = time.monotonic() - begun
    record(
        "import-two-gigabytes", SEED, seconds,
        {"rows": rows, "readings": found["readings"], "peak_mb": round(peak_kb / 1024), "limit_mb": MOST_MB},
    )  # fmt: skip
    assert status == 0
    assert (found["rows"], found["readings"]) == (rows, 2 * rows)
    assert peak_kb / 1024 < MOST_MB
