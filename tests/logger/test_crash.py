"""A recording process is killed at a random moment: every row it had acknowledged is there afterwards.

An independent process records as fast as it can and says on its output how many rows are flushed. Killing it
with SIGKILL stands for a crash of the program; a power cut is stood for by cutting or zeroing the file's end.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from analysis.rows import Rows
from logger.recover import DAMAGED, recover
from logger.session import Session
from logger.verify import verify
from tests.logger.session_factory import IDS, regular_rows

pytestmark = pytest.mark.skipif(
    not hasattr(signal, "SIGKILL"), reason="the system cannot kill without warning"
)
ROOT = Path(__file__).parents[2]
BATCH = 21
SECONDS = 40_000
PART_S = 500
BUSY = f"""
import sys
from pathlib import Path
from tests.logger.session_factory import begin, regular_rows
rows = regular_rows({SECONDS})
writer = begin(Path(sys.argv[1]), part_s={PART_S})
print("ready", flush=True)
for start in range(0, len(rows), {BATCH}):
    writer.add(rows.take(slice(start, start + {BATCH})))
    if not writer.flush():
        raise SystemExit("not flushed")
    print(min(start + {BATCH}, len(rows)), flush=True)
"""
ALL = regular_rows(SECONDS)


def killed_after(folder: Path, seconds: float) -> int:
    """Record and kill; gives how many rows the process had acknowledged."""
    with subprocess.Popen(
        [sys.executable, "-c", BUSY, str(folder)], stdout=subprocess.PIPE, cwd=ROOT
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        time.sleep(seconds)
        os.kill(process.pid, signal.SIGKILL)
        said = process.stdout.read().splitlines(keepends=True)
    assert process.returncode == -signal.SIGKILL, "the process ended before it was killed"
    whole = [line for line in said if line.endswith(b"\n")]
    return int(whole[-1]) if whole else 0


def check_recovered(folder: Path, at_least: int) -> int:
    """Recover, and compare with what was recorded; gives how many rows there are beyond ``at_least``."""
    before = {path.name: path.read_bytes() for path in folder.glob("*.csv")}
    done = recover(folder)
    rows = Rows.concatenate([Rows.empty(IDS), *Session.open(folder).rows()])
    assert len(rows) == done.rows >= at_least
    assert rows.equals(ALL.take(slice(0, len(rows))))
    for fault in done.cut:
        assert (folder / DAMAGED / fault.file).read_bytes() == before[fault.file]
    assert verify(folder) == []
    assert not recover(folder).changed
    return len(rows) - at_least


def kill_and_check(folder: Path, dice: random.Random) -> dict[str, int]:
    acknowledged = killed_after(folder, dice.uniform(0.0, 0.6))
    return {"acknowledged": acknowledged, "beyond": check_recovered(folder, acknowledged)}


@pytest.mark.parametrize("seed", range(5))
def test_a_killed_recording_keeps_every_acknowledged_row(tmp_path: Path, seed: int) -> None:
    kill_and_check(tmp_path / "s", random.Random(seed))


def test_a_killed_recording_with_its_end_torn_or_zeroed(tmp_path: Path) -> None:
    dice = random.Random(11)
    for number, zeroed in enumerate((False, True)):
        folder = tmp_path / f"s{number}"
        killed_after(folder, 0.2)
        last = max(folder.glob("readings*.csv"), key=lambda path: (len(path.name), path.name))
        content = last.read_bytes()
        cut = dice.randrange(1, 300)
        last.write_bytes(content[:-cut] + b"\0" * (cut if zeroed else 0))
        kept = Rows.concatenate(list(Session.open(folder).rows()))
        check_recovered(folder, len(kept))


@pytest.mark.campaign
def test_a_hundred_kills(tmp_path: Path) -> None:
    seed = time.time_ns() & 0xFFFFFFFF
    dice = random.Random(seed)
    kills = [kill_and_check(tmp_path / f"s{number}", dice) for number in range(100)]
    results = ROOT / "tests" / "campaign" / "results"
    results.mkdir(exist_ok=True)
    today = datetime.now(UTC).date().isoformat()
    summary = {"date": today, "seed": seed, "kills": kills, "acknowledged_rows_lost": 0}
    (results / f"crash-{today}.json").write_text(json.dumps(summary, indent=1) + "\n")
