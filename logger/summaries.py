"""Many sessions as one small table: a row for each stretch, in Parquet, worked out anew only where changed.

Two stages. :func:`summarise` is a pure function of one session folder, behind the interface of
``concurrent.futures``: processes on this computer, or a running dask cluster. The table that it fills is a
few megabytes for thousands of sessions and is asked with SQL (:mod:`logger.fleet`).
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pyarrow
import pyarrow.parquet

from analysis.derived import BY_SYMBOL
from analysis.points import POINTS
from logger.append_file import sync_folder
from logger.descriptor import DESCRIPTOR
from logger.errors import CommandError, NotAvailableError
from logger.events import EVENTS
from logger.history import session_folders
from logger.readings_format import parts_in
from logger.replay import open_session
from logger.session_errors import reason_of
from logger.session_summary import SessionSummary, kept_summary, made_by, work_out

SUMMARY = "evenrun-summary.parquet"
SAVE_EVERY = 250
"""Sessions after which what is done is on disk, so that a break costs little."""
IN_FLIGHT = 4
"""Sessions handed out ahead, for each worker."""
Row = dict[str, Any]
_SYMBOLS = {*BY_SYMBOL, *POINTS}
_DIED = (
    "A worker process ended while it worked on {path} or a neighbour (out of memory?); what was done is "
    "kept: run the command again, with fewer --workers."
)


def summary_schema() -> pyarrow.Schema:
    """Give the columns: what a session is, then value and standard uncertainty of each symbol (SI)."""
    text, number = pyarrow.string(), pyarrow.float64()
    columns = [
        ("folder", text), ("key", text), ("fault", text), ("title", text),
        ("utc", pyarrow.timestamp("us", "UTC")),
        ("from_s", number), ("to_s", number), ("steady", pyarrow.bool_()), ("mode", text), ("phase", text),
        ("refrigerant", text), ("barometer", number), ("dropouts", pyarrow.int64()),
    ]  # fmt: skip
    for symbol in (*BY_SYMBOL, *POINTS):
        columns += [(symbol, number), (f"u_{symbol}", number)]
    about = {
        "units": "SI; u_ is the standard uncertainty (k = 1); null where not known",
        "made by": made_by(),
    }
    return pyarrow.schema(columns, metadata=about)


def key_of(folder: Path) -> str:
    """Give what changes whenever a session or the program does.

    The descriptor of a closed session holds the digests of all its files; sizes and times serve one that was
    broken off.
    """
    digest = hashlib.sha256(made_by().encode())
    for path in [folder / DESCRIPTOR, folder / EVENTS, *parts_in(folder)]:
        try:
            found = path.stat()
            digest.update(f"{path.name} {found.st_size} {found.st_mtime_ns}\n".encode())
        except OSError:
            digest.update(f"{path.name} -\n".encode())
    return digest.hexdigest()[:32]


def summarise(folder: str) -> list[Row]:
    """Give a row for each stretch of a session; one that cannot be read gives its fault.

    The summary that was made when the session was closed is taken while all is as it was then
    (:mod:`logger.session_summary`); otherwise the session is worked out.

    Examples
    --------
    >>> summarise("/no/such/folder")[0]["fault"]
    '/no/such/folder: here is no session; name a folder that evenrun has recorded.'
    """
    path = Path(folder)
    common: Row = {"folder": folder, "key": key_of(path)}
    try:
        summary = kept_summary(path) or work_out(open_session(folder, tell=False))
    except CommandError as refused:
        return [common | {"fault": str(refused)}]
    except Exception as error:  # whatever a damaged file does, the other sessions go on
        return [common | {"fault": f"{folder}: {type(error).__name__}: {error}"}]
    rows = [common | row for row in _rows(summary)]
    return rows or [common | {"fault": f"{folder}: there are no readings of a measuring point."}]


def _rows(summary: SessionSummary) -> Iterator[Row]:
    for stretch in summary.stretches:
        row: Row = {
            "title": summary.title, "dropouts": summary.dropouts, "utc": stretch.utc_us,
            "from_s": stretch.from_s, "to_s": stretch.to_s, "steady": stretch.steady,
            "mode": stretch.mode or None, "phase": stretch.phase or None,
            "refrigerant": stretch.refrigerant or None, "barometer": stretch.barometer,
        }  # fmt: skip
        for symbol in stretch.values.keys() & _SYMBOLS:  # a file from anybody may name other columns
            row[symbol], row[f"u_{symbol}"] = stretch.values[symbol]
        yield row


@dataclass(slots=True)
class Outcome:
    """What a run of :func:`update` did."""

    sessions: int = 0
    kept: int = 0
    """Sessions that had not changed."""
    done: int = 0
    gone: int = 0
    """Sessions that are no longer there."""
    faults: list[str] = field(default_factory=list)


def update(
    folder: Path,
    summary: Path,
    executor: Executor,
    workers: int,
    progress: Callable[[int, int], None] | None = None,
) -> Outcome:
    """Bring a summary up to date: new and changed sessions are worked out, the others kept.

    Parameters
    ----------
    folder
        Holds the sessions, in folders below it too.
    summary
        The Parquet file; it is replaced as a whole each time, so that there is always the old or the new one.
    executor
        Where the work is done.
    workers
        How many sessions are worked on at a time.
    progress
        Told how many sessions are done, of how many to do.

    Raises
    ------
    NotAvailableError
        If the folder is not there, or the summary cannot be read or written.
    """
    folders = [str(path.resolve()) for path in session_folders(folder)]
    rows = _read(summary)
    outcome = Outcome(len(folders))
    wanted = [path for path in folders if path not in rows or rows[path][0]["key"] != key_of(Path(path))]
    outcome.kept = len(folders) - len(wanted)
    for gone in set(rows) - set(folders):
        del rows[gone]
        outcome.gone += 1
    unsaved = 0
    try:
        for path, found in _work(wanted, executor, IN_FLIGHT * max(workers, 1)):
            rows[path] = found
            outcome.done += 1
            unsaved += 1
            if progress is not None:
                progress(outcome.done, len(wanted))
            if unsaved >= SAVE_EVERY:
                _write(summary, rows)
                unsaved = 0
    finally:
        # Also when it is stopped: what is done is kept, and the next run goes on from there.
        if unsaved or outcome.gone or not summary.exists():
            _write(summary, rows)
    outcome.faults = [row["fault"] for found in rows.values() for row in found if row.get("fault")]
    return outcome


def _work(folders: Sequence[str], executor: Executor, most: int) -> Iterator[tuple[str, list[Row]]]:
    """Hand sessions out, never more than ``most`` at a time, and give them as they come."""
    waiting = iter(folders)
    flying: dict[Future[list[Row]], str] = {}
    try:
        while True:
            for path in waiting:
                try:
                    flying[executor.submit(summarise, path)] = path
                except BrokenExecutor:
                    raise NotAvailableError(_DIED.format(path=path)) from None
                if len(flying) >= most:
                    break
            if not flying:
                return
            done, _ = wait(flying, return_when=FIRST_COMPLETED)
            for future in done:
                path = flying.pop(future)
                try:
                    found = future.result()
                except BrokenExecutor:
                    raise NotAvailableError(_DIED.format(path=path)) from None
                except Exception as error:
                    fault = f"{path}: the worker failed: {type(error).__name__}: {error}"
                    found = [{"folder": path, "key": "", "fault": fault}]
                yield path, found
    finally:
        for future in flying:
            future.cancel()


def _read(summary: Path) -> dict[str, list[Row]]:
    """Read the summary by session; one of an older program is worked out anew."""
    if not summary.exists():
        return {}
    try:
        table = pyarrow.parquet.read_table(summary)
    except (pyarrow.ArrowException, OSError):
        raise NotAvailableError(
            f"{summary} is no summary that can be read; delete it, it is made anew."
        ) from None
    if table.schema.names != summary_schema().names:
        if "evenrun" not in str(table.schema.metadata):
            raise NotAvailableError(f"{summary} is another table; name a new file with --summary.")
        return {}
    rows: dict[str, list[Row]] = {}
    for row in table.to_pylist():
        rows.setdefault(row["folder"], []).append(row)
    return rows


def _write(summary: Path, rows: Mapping[str, list[Row]]) -> None:
    ordered = [row for path in sorted(rows) for row in rows[path]]
    table = pyarrow.Table.from_pylist(ordered, schema=summary_schema())
    part = summary.with_name(f".{summary.name}.part")
    try:
        part.unlink(missing_ok=True)  # never through a link that somebody left there
        pyarrow.parquet.write_table(table, part, compression="zstd")
        os.replace(part, summary)
        sync_folder(summary.parent)
    except OSError as error:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise NotAvailableError(f"{summary} cannot be written: {reason_of(error)}.") from None
