"""Speed of the journal, the archive and reading, each against a peer on the same data in the same run.

python -m tests.bench.journal [--quick]
"""

from __future__ import annotations

import argparse
import csv
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet

from analysis.measure import Channel, Quality
from analysis.rows import Rows
from analysis.units import Quantity
from drivers.clock import FollowedClock
from logger.archive import ARCHIVE, read_archive, write_archive
from logger.archive_ahead import Prepared
from logger.descriptor import Descriptor, SessionHeader, SessionState, read_descriptor
from logger.events import EVENTS, EVENTS_HEADER
from logger.readings_format import READINGS_HEADER, LineWriter, part_name, parts_in
from logger.session import Session
from logger.session_writer import SessionWriter, finish

IDS = tuple(f"plant/{number}" for number in range(20))
UNITS = dict.fromkeys(IDS, "degC")


def seconds(call: Callable[[], object], repeats: int) -> float:
    """Return the median of several runs."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def sample(count: int) -> Rows:
    """Twenty channels at 10 Hz, as probes of 0.1 resolution indicate them (favourable to a dictionary)."""
    number = np.arange(count)
    noise = np.random.default_rng(1).normal(0, 0.2, count)
    value = (20 + number % 20 + np.sin(number / 1e5) + noise).round(1)
    return Rows(
        IDS, number // 20 * 100_000, (number % 20).astype(np.int32), value, np.zeros(count, np.uint16)
    )


def record(folder: Path, rows: Rows) -> SessionWriter:
    """Record rows in batches of a quarter of a second (50 rows); all are with the operating system."""
    writer = SessionWriter.create(folder, SessionHeader(), FollowedClock(0))
    writer.channels(Channel(name, Quantity.TEMPERATURE, unit) for name, unit in UNITS.items())
    for start in range(0, len(rows), 50):
        writer.add(rows.take(slice(start, start + 50)))
    if not writer.flush(120):
        raise SystemExit("the journal did not take the rows")
    return writer


def recorded_hours(folder: Path, hours: int) -> Descriptor:
    """Make the files of readings of so many hours as recording leaves them; gives their descriptor."""
    folder.mkdir()
    (folder / EVENTS).write_bytes(EVENTS_HEADER)
    lines, an_hour = LineWriter(UNITS), 36_000 * len(IDS)
    rows = sample(an_hour)
    for hour in range(hours):
        later = replace(rows, t_us=rows.t_us + hour * 3_600_000_000)
        with (folder / part_name(hour + 1)).open("wb") as file:
            file.write(READINGS_HEADER)
            for start in range(0, an_hour, 50_000):
                file.write(lines.encode(later.take(slice(start, start + 50_000))))
    channels = [Channel(name, Quantity.TEMPERATURE, unit) for name, unit in UNITS.items()]
    described = Descriptor(SessionHeader()).with_channels(channels)
    return replace(
        described, state=SessionState.CLOSED, rows=hours * an_hour, duration_us=hours * 3_600_000_000
    )


def closing(folder: Path, descriptor: Descriptor) -> tuple[float, float]:
    """Seconds to close a session, its parts but the last prepared while recording, and with none prepared."""
    prepared = Prepared(folder, descriptor)
    for part in parts_in(folder)[:-1]:
        prepared.take(part)
    ahead = seconds(lambda: finish(folder, descriptor, prepared), 1)
    return ahead, seconds(lambda: finish(folder, descriptor), 1)


def by_csv_module(path: Path, rows: Rows) -> None:
    """Write the same lines the way the library does it, flushed each quarter of a second."""
    words = {0: Quality.OK.text()}
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(("elapsed_s", "channel", "value", "unit", "quality"))
        for start in range(0, len(rows), 50):
            part = rows.take(slice(start, start + 50))
            columns = zip(
                part.t_us.tolist(),
                part.channel.tolist(),
                part.value.tolist(),
                part.quality.tolist(),
                strict=True,
            )
            writer.writerows(
                (f"{t / 1e6:.6f}", IDS[channel], value, UNITS[IDS[channel]], words[quality])
                for t, channel, value, quality in columns
            )
            file.flush()


def by_pyarrow(path: Path, table: pa.Table) -> None:
    """Write the same columns, already in memory and sorted, as the library does it by itself."""
    pyarrow.parquet.write_table(table, path, compression="zstd", compression_level=3, row_group_size=65_536)


def run(quick: bool) -> list[dict[str, Any]]:
    """Measure; each row has name, value and peer [s], ratio (peer over ours) and goal (at least)."""
    count, repeats = (100_000, 3) if quick else (1_000_000, 5)
    rows = sample(count)
    found = []
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        number = iter(range(10**6))

        def row(name: str, ours: float, peer: float, goal: float) -> None:
            found.append({"name": name, "value": ours, "peer": peer, "ratio": peer / ours, "goal": goal})

        peer = seconds(lambda: by_csv_module(folder / "peer.csv", rows), repeats)
        lines = LineWriter(UNITS)
        batches = [rows.take(slice(start, start + 50)) for start in range(0, count, 50)]
        row(
            "lines of 50 rows each, in memory, against the csv module with its writing",
            seconds(lambda: [lines.encode(batch) for batch in batches], repeats), peer, 1.0,
        )  # fmt: skip
        row(
            "journal with thread and sync, batches of 50 rows, against the csv module flushed as often",
            seconds(lambda: record(folder / f"r{next(number)}", rows).abandon(), repeats), peer, 0.5,
        )  # fmt: skip
        session = folder / "session"
        record(session, rows).close("done")
        descriptor = read_descriptor(session)
        order = np.lexsort((rows.t_us, rows.channel))
        table = pa.table(
            {
                "elapsed_us": rows.t_us[order],
                "channel": pa.DictionaryArray.from_arrays(rows.channel[order], list(IDS)),
                "value": rows.value[order],
            }
        )
        row(
            "archive from the journal (reading, sorting, writing), against writing the sorted table alone",
            seconds(lambda: write_archive(session, descriptor), repeats),
            seconds(lambda: by_pyarrow(folder / "peer.parquet", table), repeats), 0.05,
        )  # fmt: skip
        hours = 4 if quick else 24
        described = recorded_hours(folder / "hours", hours)
        row(
            f"closing {hours} h of twenty channels at 10 Hz, prepared meanwhile, against all at the end",
            *closing(folder / "hours", described), 1.5 if quick else 3.0,
        )  # fmt: skip
        columns = pyarrow.csv.ConvertOptions(include_columns=["elapsed_s", "channel", "value"])
        by_csv = seconds(
            lambda: pyarrow.csv.read_csv(session / "readings.csv", convert_options=columns), repeats
        )
        two = (IDS[3], IDS[17])
        row(
            "two of twenty channels from the archive, against reading the CSV by columns with all cores",
            seconds(lambda: list(read_archive(session / ARCHIVE, two)), repeats), by_csv, 6.0,
        )  # fmt: skip
        reader = Session.open(session)
        one_core = pyarrow.csv.ReadOptions(use_threads=False)
        row(
            "all rows of the CSV, each checked whole, against the library's unchecked reading on one core",
            seconds(lambda: list(reader.rows()), repeats),
            seconds(lambda: pyarrow.csv.read_csv(session / "readings.csv", one_core), repeats), 0.2,
        )  # fmt: skip
        sizes = sum(part.stat().st_size for part in reader.parts), (session / ARCHIVE).stat().st_size
        found.append(
            {"name": "bytes of the CSV over bytes of the archive", "value": sizes[1], "peer": sizes[0],
             "ratio": sizes[0] / sizes[1], "goal": 8.0}
        )  # fmt: skip
    return found


def main() -> int:
    """Print the rows; 1 if one misses its goal."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    rows = run(parser.parse_args().quick)
    for row in rows:
        verdict = "ok" if row["ratio"] >= row["goal"] else "MISSED"
        print(f"{row['ratio']:8.2f} x  (goal {row['goal']:g}) {verdict:7s}{row['name']}: {row['value']:.4g}")
    return int(any(row["ratio"] < row["goal"] for row in rows))


if __name__ == "__main__":
    raise SystemExit(main())
