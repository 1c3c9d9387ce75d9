"""Asking the summary of many sessions with SQL, and where the summary is worked out."""

from __future__ import annotations

import importlib
import multiprocessing
import os
import re
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from logger.errors import CommandError, NotAvailableError

_ADDRESS = re.compile(r"(tcp|tls|ws|wss|inproc)://[^\s/]+(:[0-9]{1,5}|/[^\s]*)", re.ASCII)
EXTRA = "install evenrun[fleet]"


@contextmanager
def executor_for(workers: int, scheduler: str) -> Iterator[tuple[Executor, int]]:
    """Give where the work is done, and how many sessions at a time.

    Parameters
    ----------
    workers
        Processes on this computer; 0 for one a core.
    scheduler
        Address of a running dask scheduler, whose workers have evenrun installed and see the same folders;
        empty for this computer.

    Raises
    ------
    CommandError
        If the cluster is not reachable, or its library is not installed.
    """
    if not scheduler:
        count = workers or os.cpu_count() or 1
        # Fresh processes: a fork would copy locks that threads of this one hold.
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(count, mp_context=context) as pool:
            yield pool, count
        return
    if _ADDRESS.fullmatch(scheduler) is None:
        raise CommandError(f"--scheduler {scheduler} is no address; write it like tcp://HOST:8786.")
    try:
        distributed = importlib.import_module("distributed")
    except ImportError:
        raise CommandError(f"--scheduler needs the library distributed: {EXTRA}.") from None
    try:
        client = distributed.Client(scheduler, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise NotAvailableError(f"The scheduler {scheduler} does not answer: {error}.") from None
    try:
        count = workers or sum(client.nthreads().values())
        if not count:
            raise NotAvailableError(
                f"The scheduler {scheduler} has no workers; start some with evenrun installed."
            )
        yield client.get_executor(), count
    finally:
        client.close()


def ask(summary: Path, sql: str) -> tuple[list[str], list[tuple[Any, ...]]]:
    """Run a query on the table ``summary``; gives column names and rows.

    The query sees this one table and nothing else: no file, no network.

    Raises
    ------
    CommandError
        If the library is not installed or the query is refused.
    """
    try:
        duckdb = importlib.import_module("duckdb")
    except ImportError:
        raise CommandError(f"--sql needs the library duckdb: {EXTRA}.") from None
    connection = duckdb.connect(":memory:")
    try:
        connection.execute("CREATE TABLE summary AS SELECT * FROM read_parquet(?)", [str(summary)])
        connection.execute("SET enable_external_access = false")
        connection.execute("SET lock_configuration = true")
        answer = connection.execute(sql)
        if answer.description is None:
            return [], []
        return [column[0] for column in answer.description], answer.fetchall()
    except duckdb.Error as refused:
        first = str(refused).strip().splitlines()[0]
        raise CommandError(f"The query is refused: {first.rstrip('.')}.") from None
    finally:
        connection.close()
