"""Speed of summarising sessions, against simply reading their files with pyarrow in the same run.

python -m tests.bench.fleet [--sessions N] [--hours H]

Reading is the floor of any tool that looks into each file. A session closed by this program keeps its summary
beside it, which is taken over when all digests match; without it the session is worked out: its text read,
assigned, converted, judged row by row, the uncertainties propagated.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import pyarrow.csv
import pyarrow.parquet

from logger.fleet import ask, executor_for
from logger.replay import open_session
from logger.session_summary import keep_summary, work_out
from logger.summaries import SUMMARY, summarise, update
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, hall_session


def seconds(call: Callable[[], object]) -> float:
    """Time one call."""
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def main() -> None:
    """Print one line for each way."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sessions", type=int, default=60)
    parser.add_argument("--hours", type=float, default=1.0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as top:
        folder = Path(top)
        first = [
            hall_session(folder / f"first{n}", levels, seconds=round(3600 * asked.hours))
            for n, levels in enumerate((AS_FOUND, AS_LEFT))
        ]
        for path in first:
            keep_summary(path)  # as recording and importing do when they close a session
        for n in range(2, asked.sessions):
            shutil.copytree(first[n % 2], folder / f"copy{n:05}")
        count, cores = asked.sessions, os.cpu_count() or 1
        archives = sorted(folder.rglob("readings.parquet"))
        texts = sorted(folder.rglob("readings.csv"))

        def pooled() -> None:
            with executor_for(0, "") as (pool, workers):
                update(folder, folder / SUMMARY, pool, workers)

        def again() -> None:
            with executor_for(1, "") as (pool, workers):
                update(folder, folder / SUMMARY, pool, workers)

        ways = {
            "read readings.parquet, pyarrow, one thread": lambda: [
                pyarrow.parquet.read_table(path, use_threads=False) for path in archives
            ],
            "read readings.csv, pyarrow, one thread": lambda: [
                pyarrow.csv.read_csv(path, pyarrow.csv.ReadOptions(use_threads=False)) for path in texts
            ],
            "work out anew, one process": lambda: [
                work_out(open_session(str(path.parent))) for path in texts
            ],
            "summarise as kept at closing, one process": lambda: [
                summarise(str(path.parent)) for path in texts
            ],
            f"the same, {cores} processes, start included": pooled,
            "nothing changed, start included": again,
            "SQL on the summary": lambda: ask(
                folder / SUMMARY, "select mode, median(superheat), count(*) from summary group by mode"
            ),
        }
        rows = 7 * round(3600 * asked.hours)
        print(f"{count} sessions of {rows} readings; {cores} cores; load {os.getloadavg()[0]:.1f}")
        for name, call in ways.items():
            took = seconds(call)
            print(f"{name:46} {took:8.2f} s {count / took:9.1f} sessions/s")


if __name__ == "__main__":
    main()
