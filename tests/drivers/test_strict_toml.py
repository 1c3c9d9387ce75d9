"""Strict TOML: every refusal names the key and what is known there."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.strict_toml import MOST_BYTES, TomlError, decode


class _Line(msgspec.Struct, tag="line", tag_field="kind", forbid_unknown_fields=True):
    slope: float = 1.0


class _Table(msgspec.Struct, tag="table", tag_field="kind", forbid_unknown_fields=True):
    points: list[float] = []


class _Part(msgspec.Struct, forbid_unknown_fields=True):
    name: str
    curve: _Line | _Table | None = None


class _File(msgspec.Struct, forbid_unknown_fields=True):
    title: str = ""
    part: list[_Part] = []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("titel = 'a'", ("titel", "title")),
        ("title = 3", ("title", "str")),
        ("[[part]]\nname = 'a'\n[[part]]\nnome = 'b'", ("part[2].nome", "name")),
        ("[[part]]\nname = 'a'\ncurve = { kind = 'table', slop = 1.0 }", ("slop", "slope", "points")),
        ("title = ", ("TOML",)),
        ("a = " + "[" * 5000, ("TOML",)),
        ("#" * (MOST_BYTES + 1), ("no configuration",)),
    ],
)
def test_a_wrong_file_is_one_sentence(text: str, words: tuple[str, ...]) -> None:
    with pytest.raises(TomlError) as refused:
        decode(text, _File)
    assert "\n" not in str(refused.value).strip()
    for word in words[:1]:
        assert word in str(refused.value)
    assert any(word in str(refused.value) for word in words[1:] or words)


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    said = ""
    try:
        found = decode(text, _File)
    except TomlError as refused:
        said = str(refused)
    assert said or isinstance(found, _File)
