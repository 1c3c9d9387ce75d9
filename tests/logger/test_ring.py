"""The ring: many readers, one writer; what is lost is counted, never mixed up."""

from __future__ import annotations

import threading

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.rows import Rows
from logger.ring import Ring


def batch(start: int, n: int, ids: tuple[str, ...] = ("a", "b")) -> Rows:
    k = np.arange(start, start + n, dtype=np.int64)
    return Rows(ids, k, (k % len(ids)).astype(np.int32), k.astype(np.float64), np.zeros(n, np.uint16))


@settings(derandomize=True, deadline=None, max_examples=100)
@given(sizes=st.lists(st.tuples(st.integers(0, 40), st.booleans()), max_size=30))
def test_a_reader_gets_everything_in_order_or_is_told_how_much_is_lost(sizes: list[tuple[int, bool]]) -> None:
    ring = Ring(capacity=32)
    cursor = ring.cursor()
    got: list[int] = []
    written = 0
    for size, reads in sizes:
        ring.write(batch(written, size))
        written += size
        if reads:
            got += ring.read(cursor).t_us.tolist()
    got += ring.read(cursor).t_us.tolist()
    assert len(got) + cursor.lost == written == ring.written
    assert got == sorted(set(got))
    assert got[-1:] == ([written - 1] if written else [])


def test_names_that_come_later_do_not_change_earlier_readings() -> None:
    ring = Ring(capacity=100)
    cursor = ring.cursor()
    ring.write(batch(0, 4, ("a",)))
    ring.write(batch(4, 4, ("b", "a")))
    rows = ring.read(cursor)
    names = [rows.ids[index] for index in rows.channel]
    assert names == ["a"] * 4 + ["b", "a"] * 2


def test_a_new_reader_may_begin_with_what_will_come() -> None:
    ring = Ring(capacity=16)
    ring.write(batch(0, 5))
    cursor = ring.cursor(newest=True)
    assert len(ring.read(cursor)) == 0
    ring.write(batch(5, 2))
    assert ring.read(cursor).t_us.tolist() == [5, 6]


def test_a_slow_reader_in_another_thread_never_sees_a_mixture() -> None:
    ring = Ring(capacity=4096)
    cursor = ring.cursor()
    wrong: list[int] = []
    done = threading.Event()

    def read() -> None:
        while not done.is_set():
            rows = ring.read(cursor)
            # In an unmixed copy the value is the moment, and moments ascend without a hole.
            if len(rows) and not (
                np.array_equal(rows.t_us, rows.value.astype(np.int64)) and (np.diff(rows.t_us) == 1).all()
            ):
                wrong.append(int(rows.t_us[0]))

    thread = threading.Thread(target=read)
    thread.start()
    for start in range(0, 400_000, 500):
        ring.write(batch(start, 500))
    done.set()
    thread.join()
    assert not wrong
