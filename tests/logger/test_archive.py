"""The archive: the same readings to the bit, by channel and time, and never half a file."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pyarrow.parquet
import pytest
from hypothesis import given, settings

from analysis.measure import Quality
from analysis.rows import Rows
from logger.archive import ARCHIVE, GROUP_ROWS, read_archive, write_archive
from logger.descriptor import read_descriptor
from logger.session_errors import DamagedSessionError, NotASessionError
from tests.logger.session_factory import IDS, any_rows, recorded, regular_rows


def by_channel_and_time(rows: Rows) -> Rows:
    return rows.take(np.lexsort((np.arange(len(rows)), rows.t_us, rows.channel)))


@settings(derandomize=True, deadline=None, max_examples=15)
@given(rows=any_rows())
def test_it_holds_the_same_readings_to_the_bit(tmp_path_factory: pytest.TempPathFactory, rows: Rows) -> None:
    folder = recorded(tmp_path_factory.mktemp("archive") / "s", rows, part_s=600)
    got = Rows.concatenate([Rows.empty(IDS), *read_archive(folder / ARCHIVE)])
    assert got.equals(by_channel_and_time(rows))


@pytest.mark.parametrize("late", [False, True])
def test_row_groups_hold_one_channel_and_are_picked_by_it(tmp_path: Path, late: bool) -> None:
    rows = regular_rows(70_000)
    if late:  # a reading from before the others makes the channel's file order differ from time's
        rows = Rows.concatenate([rows, Rows.of([(5, "water/in", 1.0, Quality.LATE)], IDS)])
    folder = recorded(tmp_path / "s", rows, part_s=10**6, batch=10_000)
    with pyarrow.parquet.ParquetFile(folder / ARCHIVE) as file:
        sizes = [file.metadata.row_group(n).num_rows for n in range(file.metadata.num_row_groups)]
        encodings = file.metadata.row_group(0).column(0).encodings
        units = {
            key: value for key, value in file.schema_arrow.metadata.items() if key.startswith(b"unit of ")
        }
    assert sizes == [GROUP_ROWS, 70_000 - GROUP_ROWS + late] + [GROUP_ROWS, 70_000 - GROUP_ROWS] * 2
    assert "DELTA_BINARY_PACKED" in encodings
    assert units[b"unit of water/in"] == b"degC"
    assert Rows.concatenate(list(read_archive(folder / ARCHIVE))).equals(by_channel_and_time(rows))
    two = list(read_archive(folder / ARCHIVE, ("clamp/current",)))
    assert [len(batch) for batch in two] == sizes[4:]
    assert Rows.concatenate(two).equals(rows.only("clamp/current"))


@pytest.mark.parametrize("cut", [1, 8, 100, 10**9])
def test_a_file_without_its_footer_is_refused_with_a_sentence(tmp_path: Path, cut: int) -> None:
    folder = recorded(tmp_path / "s", regular_rows(20))
    path = folder / ARCHIVE
    path.write_bytes(path.read_bytes()[:-cut])
    with pytest.raises(
        DamagedSessionError, match=r"readings\.parquet: this is no whole Parquet file.*recover makes it"
    ):
        list(read_archive(path))


def test_a_flipped_bit_is_noticed(tmp_path: Path) -> None:
    folder = recorded(tmp_path / "s", regular_rows(2000))
    path = folder / ARCHIVE
    content = bytearray(path.read_bytes())
    content[2000] ^= 1  # in the pages of the first row group
    path.write_bytes(content)
    with pytest.raises(DamagedSessionError, match="no whole Parquet file"):
        list(read_archive(path))


def test_no_archive_is_refused_with_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(NotASessionError, match=r"readings\.parquet is missing"):
        list(read_archive(tmp_path / ARCHIVE))


def test_a_failure_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = recorded(tmp_path / "s", regular_rows(20))
    before = (folder / ARCHIVE).read_bytes()

    def refuse(number: int) -> None:
        raise OSError("full")

    monkeypatch.setattr("logger.archive.os.fsync", refuse)
    with pytest.raises(OSError, match="full"):
        write_archive(folder, read_descriptor(folder))
    assert (folder / ARCHIVE).read_bytes() == before
    assert not list(folder.glob(".*"))


DAY = """
import sys
import numpy as np
from pathlib import Path
from analysis.rows import Rows
from analysis.measure import Channel
from analysis.units import Quantity
from drivers.clock import FollowedClock
from logger.archive import write_archive
from logger.descriptor import SessionHeader, read_descriptor
from logger.session_writer import SessionWriter
folder, hours = Path(sys.argv[1]), int(sys.argv[2])
if hours:
    ids = tuple(f"plant/{n}" for n in range(20))
    writer = SessionWriter.create(folder, SessionHeader(), FollowedClock(0))
    writer.channels(Channel(name, Quantity.TEMPERATURE, "degC") for name in ids)
    noise = np.random.default_rng(1).normal(20, 0.3, 100_000).round(1)
    for start in range(0, hours * 720_000, 20_000):
        n = start + np.arange(20_000)
        writer.add(Rows(ids, n // 20 * 100_000, (n % 20).astype(np.int32), noise[n * 7919 % 100_000],
                        np.zeros(20_000, np.uint16)))
        writer.flush(60)
    writer.abandon()
else:
    write_archive(folder, read_descriptor(folder))
    # Not ru_maxrss: it is inherited from the process that starts this one, however large that is.
    lines = Path("/proc/self/status").read_text().splitlines()
    print(next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) // 1024)
"""


def archive_memory(folder: Path, hours: int) -> int:
    """Record hours of 20 channels at 10 Hz and archive them in a fresh process; its peak memory [MiB]."""
    if not Path("/proc/self/status").exists():
        pytest.skip("the operating system does not tell a process's peak memory in /proc")
    for count in (hours, 0):
        done = subprocess.run(
            [sys.executable, "-c", DAY, str(folder), str(count)],
            capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2],
        )  # fmt: skip
    return int(done.stdout)


def test_memory_does_not_grow_with_the_session(tmp_path: Path) -> None:
    assert archive_memory(tmp_path / "s", 1) < 250


@pytest.mark.campaign
def test_a_day_of_twenty_channels_at_ten_hertz_fits_in_250_mb(tmp_path: Path) -> None:
    folder = tmp_path / "s"
    memory = archive_memory(folder, 24)
    assert memory < 250
    results = Path(__file__).parents[1] / "campaign" / "results"
    results.mkdir(exist_ok=True)
    today = datetime.now(UTC).date().isoformat()
    summary = {
        "date": today,
        "readings": 24 * 720_000,
        "csv_bytes": sum(path.stat().st_size for path in folder.glob("readings*.csv")),
        "archive_bytes": (folder / ARCHIVE).stat().st_size,
        "peak_memory_mib": memory,
    }
    (results / f"archive-{today}.json").write_text(json.dumps(summary, indent=1) + "\n")
