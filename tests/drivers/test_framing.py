"""Bytes to lines, in whatever pieces they come."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.framing import LIMIT, LineFramer


def fed(chunks: list[bytes], delimiter: bytes = b"\n", limit: int = LIMIT) -> tuple[list[bytes], int]:
    framer = LineFramer(delimiter, limit)
    lines = [line for chunk in chunks for line in framer.feed(chunk)]
    assert framer.pending <= limit + len(delimiter)
    return lines, framer.over_long


@pytest.mark.parametrize(
    ("chunks", "lines"),
    [
        ([b"ab", b"c\r", b"\nde\r\n"], [b"abc", b"de"]),
        ([b"\r\n\r\n\n"], []),
        ([b"a\nb"], [b"a"]),
        ([b""], []),
    ],
)
def test_pieces(chunks: list[bytes], lines: list[bytes]) -> None:
    assert fed(chunks) == (lines, 0)


def test_an_endless_line_is_dropped_counted_once_and_the_next_is_whole() -> None:
    assert fed([b"x" * 1000] * 50 + [b"\nnext\n"]) == ([b"next"], 1)
    assert fed([b"x" * 50_000 + b"\nnext\n"]) == ([b"next"], 1)
    assert fed([b"a" * LIMIT + b"\n"]) == ([b"a" * LIMIT], 0)
    assert fed([b"a" * (LIMIT + 1) + b"\n"]) == ([], 1)


def test_a_delimiter_of_several_bytes_may_be_cut() -> None:
    assert fed([b"a;", b";b", b";;", b";"], b";;") == ([b"a", b"b"], 0)


def test_nothing_is_no_delimiter() -> None:
    with pytest.raises(ValueError, match="at least one byte"):
        LineFramer(b"")


@settings(derandomize=True, deadline=None, max_examples=500)
@given(
    st.lists(st.sampled_from([b"a", b"bc", b"\n", b"\r\n", b"\r", b"ddddddddd", b"|", b"#|"]), max_size=60),
    st.sampled_from([b"\n", b"|", b"\r\n", b"#|"]),
    st.data(),
)
def test_any_cutting_gives_the_same_lines(pieces: list[bytes], delimiter: bytes, data: st.DataObject) -> None:
    stream = b"".join(pieces)
    places = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=20)))
    chunks = [stream[a:b] for a, b in zip([0, *places], [*places, len(stream)], strict=True)]
    assert fed(chunks, delimiter, limit=12) == fed([stream], delimiter, limit=12)
