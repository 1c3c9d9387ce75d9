"""Profiles are read strictly, refused by key path with the way out, and proven by their own examples."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import profile_sections, scaling
from drivers.base import ProfileError
from drivers.profile import Profile, find_profile, load_profile, shipped_profiles
from drivers.profile_check import check_profile

GOOD = """
title = "Probe"
kind = "serial_lines"
[line]
pattern = 'T=(?P<t>[+-]?\\d+(?:\\.\\d+)?)'
[[channel]]
name = "t"
quantity = "temperature"
unit = "degC"
"""


@pytest.mark.parametrize("name", shipped_profiles())
def test_shipped_profiles_pass_their_own_examples(name: str) -> None:
    report = check_profile(find_profile(name))
    assert report.good, report.failures
    assert report.passed >= 2 or find_profile(name).kind in ("typed", "ble_gatt", "ble_broadcast")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("unit =", "unti ="), "'channel[1].unti' is not a key here; known are unit"),
        (
            ('"degC"', '"psi"'),
            "channel 1 ('t'): 'psi' is not a unit of temperature; known are K, degC, degF.",
        ),
        (('"temperature"', '"heat"'), "'channel[1].quantity': Invalid enum value 'heat'"),
        (("[line]", "[lines]"), "'lines' is not a key here; known are line"),
        (('title = "Probe"', ""), "required field 'title'"),
        (("(?P<t>", "(?P<u>"), "there is no field 't'; the fields are u."),
        (("(?P<t>[+-]?\\d+(?:\\.\\d+)?)", "(?P<t>(\\d+)+)"), "a repeat inside a repeat"),
        (("[line]", "[line]\njson = true"), "exactly one of pattern, pairs = true, columns and json = true"),
        (("[line]", '[line]\ndelimiter = ""'), "delimiter needs one or more ASCII characters"),
        (('name = "t"', 'name = "a b"'), "write its name with letters"),
        (
            ("[[channel]]", "[link]\nbaud = 1\n[[channel]]"),
            "'link.baud': Expected `int` >= 50".replace("`", "'"),
        ),
        (('unit = "degC"', 'unit = "degC"\nvalid = [3.0, 1.0]'), "valid needs the lower value first"),
        (('unit = "degC"', 'unit = "degC"\nscale = 0.0'), "scale must be a number other than 0"),
        (('unit = "degC"', 'unit = "degC"\nuncertainty = { fixed = 0.5 }'), "required field 'source'"),
        (('unit = "degC"', 'unit = "degC"\nuncertainty = { fixed = -1.0, source = "x" }'), "zero or more"),
        (('unit = "degC"', 'unit = "degC"\ncurve = { kind = "beta", beta = 3950.0 }'), "required field 'r0'"),
        (('unit = "degC"', 'unit = "degC"\n[[example]]\nhex = "5"'), "pairs of hexadecimal digits"),
        (('unit = "degC"', 'unit = "degC"\n[[example]]\nvalues = { x = 1.0 }'), "there is no channel 'x'"),
        (("title =", "title = ="), "TOML"),
    ],
)
def test_what_is_wrong_is_said_with_the_way_out(change: tuple[str, str], words: str) -> None:
    text = GOOD.replace(*change)
    assert text != GOOD
    with pytest.raises(ProfileError) as refused:
        load_profile(text, "probe")
    assert words in str(refused.value)
    assert "probe" in str(refused.value)
    assert str(refused.value).endswith(".")


def test_two_channels_of_one_name_and_none_at_all() -> None:
    channel = GOOD[GOOD.index("[[channel]]") :]
    with pytest.raises(ProfileError, match="already taken"):
        load_profile(GOOD + channel, "x")
    with pytest.raises(ProfileError, match="there is no channel; describe at least one"):
        load_profile(GOOD.replace(channel, ""), "x")


def test_finding(tmp_path: Path) -> None:
    assert find_profile("probe_board").name == "probe_board"
    own = tmp_path / "mine.toml"
    own.write_text(GOOD)
    assert find_profile(str(own)).name == "mine"
    with pytest.raises(ProfileError, match=r"no shipped profile 'probe_bord'; there are probe_board"):
        find_profile("probe_bord")
    with pytest.raises(ProfileError, match="There is no profile file"):
        find_profile(str(tmp_path / "none.toml"))
    own.write_bytes(b"\xff\xfe")
    with pytest.raises(ProfileError, match="is no text file; write it in UTF-8"):
        find_profile(str(own))


def test_channels_carry_what_is_promised() -> None:
    channel = find_profile("probe_board").channels("hall")[0]
    assert channel.id == "hall/suction_pressure"
    assert channel.label == "suction pressure"
    assert channel.uncertainty is not None
    assert channel.source == "transducer data sheet, total error band"
    # 1 % of 20 bar as a rectangular bound, and the resolution's own term (GUM 4.3.7, F.2.2.1).
    assert channel.standard_uncertainty(5.0) == pytest.approx(0.2 / 3**0.5, rel=1e-4)


def test_a_false_example_is_named_and_bytes_are_shown() -> None:
    text = (
        GOOD
        + '[[example]]\ntext = "T=21.5"\nvalues = { t = 21.6 }\n[[example]]\ntext = "x"\nvalues = { t = 1.0 }'
    )
    report = check_profile(load_profile(text, "probe"), b"T=-3")
    assert report.failures == [
        "Example 1: 't' is 21.5 and should be 21.6.",
        "Example 2: the fault is 'no_match' and should be 'none'.",
    ]
    assert report.decoded == ["t = -3.0 degC"]
    assert not report.good
    assert any("no checksum" in remark for remark in report.remarks)
    assert check_profile(load_profile(GOOD, "probe"), b"\xff").decoded == [
        "refused: it holds bytes that are no plain text (fault 'non_ascii')"
    ]


@settings(derandomize=True, deadline=None, max_examples=500)
@given(st.integers(0, len(GOOD)), st.integers(0, 20), st.text(max_size=12))
def test_any_text_loads_or_is_refused_in_a_sentence(place: int, cut: int, put: str) -> None:
    text = GOOD[:place] + put + GOOD[place + cut :]
    with contextlib.suppress(ProfileError):  # anything else would be a traceback for the person
        load_profile(text, "x")


def test_the_page_on_profiles_names_every_key() -> None:
    """A key that is added to a profile and not to the page fails here."""
    page = (Path(load_profile.__code__.co_filename).parent / "profiles" / "README.md").read_text(
        encoding="utf-8"
    )
    parts: list[type[msgspec.Struct]] = [
        Profile, profile_sections.Match, profile_sections.Link, profile_sections.Poll, profile_sections.Line,
        profile_sections.ChannelProfile, profile_sections.Uncertainty, profile_sections.Register,
        profile_sections.Example, scaling.Piecewise, scaling.Beta, scaling.SteinhartHart, scaling.LiveZero,
        scaling.Divider,
    ]  # fmt: skip
    keys = {field.encode_name for part in parts for field in msgspec.structs.fields(part)}
    named = set(re.findall(r"[a-z_0-9]+", " ".join(re.findall(r"`([^`]*)`", page))))
    assert keys <= named, f"not on the page: {sorted(keys - named)}"
