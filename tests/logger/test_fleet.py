"""Summaries of many sessions: incremental, resumable, damaged ones named; SQL that sees nothing else."""

from __future__ import annotations

import argparse
import csv
import json
import shutil
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import pyarrow.parquet
import pytest

from logger.cli import main
from logger.commands import fleet as command
from logger.commands import mark
from logger.comparison import study
from logger.errors import CommandError
from logger.fleet import ask, executor_for
from logger.replay import open_session
from logger.summaries import SUMMARY, summarise, summary_schema, update
from tests.logger.hall_sessions import AS_FOUND, AS_LEFT, hall_session


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Path:
    top = tmp_path_factory.mktemp("fleet")
    hall_session(top / "one" / "as-found", AS_FOUND, seconds=900)
    hall_session(top / "two" / "as-left", AS_LEFT, seconds=900, seed=2)
    return top


@pytest.fixture
def fleet(two: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(two, tmp_path / "fleet"))


def run(folder: Path, executor: Executor | None = None, **more: object) -> object:
    with executor or ThreadPoolExecutor(1) as pool:
        return update(folder, folder / SUMMARY, pool, 1, **more)  # type: ignore[arg-type]


def test_a_row_holds_what_analyse_says(fleet: Path) -> None:
    folder = fleet / "one" / "as-found"
    (row,) = summarise(str(folder))
    studied = study(open_session(str(folder)))
    (stretch,) = studied.stretches
    assert row["steady"] is stretch.steady
    assert row["superheat"] == stretch.derived["superheat"].value
    assert row["u_superheat"] == stretch.derived["superheat"].u
    assert row["suction_pressure"] == stretch.points["suction_pressure"].value
    assert row["refrigerant"] == "R410A"


def test_only_new_and_changed_sessions_are_worked_out(fleet: Path) -> None:
    first = run(fleet)
    assert (first.sessions, first.done, first.kept) == (2, 2, 0)
    again = run(fleet)
    assert (again.done, again.kept) == (0, 2)
    folder = fleet / "one" / "as-found"
    mark.run(argparse.Namespace(session=str(folder), text="looked", at="0:00:05"))
    changed = run(fleet)
    assert (changed.done, changed.kept) == (1, 1)
    shutil.rmtree(fleet / "two")
    gone = run(fleet)
    assert (gone.sessions, gone.done, gone.gone) == (1, 0, 1)
    assert pyarrow.parquet.read_table(fleet / SUMMARY).num_rows == 1


def test_what_was_done_before_a_break_is_kept(fleet: Path) -> None:
    def stop(done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(fleet, progress=stop)
    after = run(fleet)
    assert (after.done, after.kept) == (1, 1)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("datapackage.json", b"{torn"),
        ("datapackage.json", b"[]"),
        (
            "events.csv",
            b"elapsed_s,time_utc,kind,subject,text\r\n0.000000,2026-01-14T08:00:00Z,offset,water/si,x\r\n",
        ),
        ("readings.csv", b"\x00\xff" * 5000),
    ],
)
def test_a_damaged_session_is_named_and_the_others_go_on(fleet: Path, name: str, content: bytes) -> None:
    (fleet / "one" / "as-found" / name).write_bytes(content)
    outcome = run(fleet)
    assert outcome.done == 2
    assert len(outcome.faults) == 1
    assert "as-found" in outcome.faults[0]
    _, rows = ask(fleet / SUMMARY, "select count(*) from summary where fault is null")
    assert rows == [(1,)]


def test_processes_and_threads_give_the_same(fleet: Path, tmp_path: Path) -> None:
    run(fleet)
    before = pyarrow.parquet.read_table(fleet / SUMMARY)
    (fleet / SUMMARY).unlink()
    with executor_for(1, "") as (pool, workers):
        assert isinstance(pool, ProcessPoolExecutor)
        update(fleet, fleet / SUMMARY, pool, workers)
    assert pyarrow.parquet.read_table(fleet / SUMMARY).equals(before)


@pytest.mark.filterwarnings("ignore")
def test_a_dask_cluster_gives_the_same(fleet: Path) -> None:
    distributed = pytest.importorskip("distributed", reason="a cluster needs evenrun[fleet]")
    run(fleet)
    before = pyarrow.parquet.read_table(fleet / SUMMARY)
    (fleet / SUMMARY).unlink()
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
        ) as cluster,
        executor_for(0, cluster.scheduler_address) as (pool, workers),
    ):
        assert workers == 1
        update(fleet, fleet / SUMMARY, pool, workers)
    assert pyarrow.parquet.read_table(fleet / SUMMARY).equals(before)


class _Dying(Executor):
    """A pool whose worker dies over the second session."""

    def __init__(self) -> None:
        self._given = 0

    def submit(self, fn: object, /, *args: object, **_: object) -> Future[object]:
        self._given += 1
        future: Future[object] = Future()
        if self._given == 1:
            assert callable(fn)
            future.set_result(fn(*args))
        else:
            future.set_exception(BrokenExecutor("died"))
        return future


def test_a_worker_that_dies_is_one_sentence_and_what_was_done_is_kept(fleet: Path) -> None:
    with pytest.raises(CommandError, match="run the command again"):
        run(fleet, _Dying())
    assert run(fleet).sessions == 2


@pytest.mark.parametrize(
    "sql",
    [
        "select * from read_csv('/etc/hostname')",
        "copy summary to '/tmp/out.csv'",
        "attach '/tmp/x.db'",
        "set enable_external_access = true",
        "install httpfs",
        "selekt",
    ],
)
def test_a_query_sees_the_summary_and_nothing_else(fleet: Path, sql: str) -> None:
    pytest.importorskip("duckdb", reason="SQL needs evenrun[fleet]")
    run(fleet)
    with pytest.raises(CommandError, match=r"^The query is refused: .*\.$"):
        ask(fleet / SUMMARY, sql)


def test_the_command_answers_in_words_and_in_json(fleet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("duckdb", reason="SQL needs evenrun[fleet]")
    asked = argparse.Namespace(
        folder=str(fleet), sql="", summary="", workers=1, scheduler="", json=False, columns=False
    )  # fmt: skip
    assert command.run(asked) == 0
    assert "2 sessions, 2 worked out" in capsys.readouterr().out
    asked.json, asked.sql = True, "select folder, superheat, cop from summary order by superheat"
    assert command.run(asked) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["unchanged"] == 2
    assert answer["columns"] == ["folder", "superheat", "cop"]
    assert answer["rows"][0][1] == pytest.approx(5.8, abs=0.2)
    assert answer["rows"][0][2] is None


def test_in_a_pipe_the_answer_is_csv_with_all_digits(fleet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("duckdb", reason="SQL needs evenrun[fleet]")
    asked = ["fleet", str(fleet), "--workers", "1", "--sql"]
    assert main([*asked, "select '=1+1' as a, superheat, cop from summary order by superheat limit 1"]) == 0
    (row,) = csv.DictReader(capsys.readouterr().out.splitlines())
    (found,) = summarise(str(fleet / "one" / "as-found"))
    assert row["a"] == "'=1+1"  # never a formula in a spreadsheet
    assert float(row["superheat"]) == found["superheat"]
    assert row["cop"] == ""


def test_the_columns_are_named_with_their_units(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fleet", ".", "--columns"]) == 0
    told = list(csv.DictReader(capsys.readouterr().out.splitlines()))
    assert [row["column"] for row in told] == summary_schema().names
    assert next(row for row in told if row["column"] == "suction_pressure")["unit"] == "Pa(a)"


def test_wrong_use_is_one_sentence(fleet: Path, tmp_path: Path) -> None:
    asked = argparse.Namespace(
        folder=str(fleet), sql="", summary="x.csv", workers=1, scheduler="", json=False, columns=False
    )
    with pytest.raises(CommandError, match=r"ends in \.parquet"):
        command.run(asked)
    foreign = tmp_path / "foreign.parquet"
    pyarrow.parquet.write_table(pyarrow.table({"a": [1]}), foreign)
    asked.summary = str(foreign)
    with pytest.raises(CommandError, match="is another table"):
        command.run(asked)
    foreign.write_bytes(b"torn")
    with pytest.raises(CommandError, match="delete it"):
        command.run(asked)
    asked.summary, asked.scheduler = "", "nonsense"
    with pytest.raises(CommandError, match="write it like tcp://HOST:8786"):
        command.run(asked)
    asked.folder, asked.scheduler = str(tmp_path / "none"), ""
    with pytest.raises(CommandError, match="is no folder"):
        command.run(asked)
