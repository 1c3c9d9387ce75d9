"""A drafted profile loads, decodes the lines it was drafted from, and says what is guessed."""

from __future__ import annotations

import asyncio
import random
import threading
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.base import Timing
from drivers.clock import SystemClock
from drivers.find_speed import find_speed
from drivers.learn import Draft, LineLearner, learn
from drivers.profile import load_profile
from drivers.profile_check import check_profile
from drivers.profile_sections import Link
from tests.drivers.peers.lines import line
from tests.drivers.peers.ports import FakePort


def drafted(lines: list[bytes]) -> Draft:
    learner = LineLearner()
    learner.feed(b"".join(text + b"\r\n" for text in lines))
    return learner.draft(10.0, Link(baud=9600))


def several(form: str) -> list[bytes]:
    rng = random.Random(1)
    return [(form % (rng.uniform(-9, 40), rng.uniform(0, 30))).encode() for _ in range(20)]


@pytest.mark.parametrize(
    ("lines", "channels", "quantities"),
    [
        ([line(i) for i in range(20)], ["t", "ps", "ts"], ["temperature", "gauge_pressure", "temperature"]),
        (several("temp:%.2f,press:%.3f"), ["temp", "press"], ["temperature", "gauge_pressure"]),
        (several('{"temp":%.2f,"a":[{"flow":%.1f}]}'), ["temp", "a_flow"], ["temperature", "volume_flow"]),
        (several("T=%.2fC P=%.1f kPa"), ["t", "c_p"], ["temperature", "ratio"]),
        (several("%.2f;%.2f"), ["value1", "value2"], ["ratio", "ratio"]),
        ([b"$IIMTW,17.9,C*1C"] * 9, ["mtw"], ["temperature"]),
    ],
)
def test_forms_are_recognised(lines: list[bytes], channels: list[str], quantities: list[str]) -> None:
    draft = drafted(lines)
    profile = load_profile(draft.profile, "draft")
    assert [part.name for part in profile.channel] == channels
    assert [part.quantity.value for part in profile.channel] == quantities
    assert profile.link.baud == 9600
    report = check_profile(profile, lines[-1])
    assert report.good, report.failures
    assert len(report.decoded) == len(channels)
    assert any("guesses" in sentence for sentence in draft.evidence)
    if lines[0] == line(0):
        assert profile.line is not None
        assert profile.line.checksum == "crc16"


def test_noise_gives_no_profile_but_a_reason() -> None:
    draft = drafted([bytes(range(128, 200))] * 30)
    assert draft.profile == ""
    assert "is 9600 baud right" in draft.evidence[-1]
    assert drafted([b"hello", b"one two", b"again", b"x"]).profile == ""


@settings(derandomize=True, deadline=None, max_examples=300)
@given(
    st.lists(st.text(alphabet='ab=:;,. 0123456789-{}[]"$*', max_size=30), min_size=4, max_size=8),
    st.booleans(),
)
def test_whatever_is_drafted_loads(texts: list[str], same: bool) -> None:
    lines = [text.encode() for text in ([texts[0]] * 6 if same else texts)]
    draft = drafted(lines)
    if draft.profile:
        report = check_profile(load_profile(draft.profile, "draft"))
        assert report.good, (draft.profile, report.failures)


def test_over_a_port(tmp_path: Path) -> None:
    port = FakePort(tmp_path / "p")
    stop = threading.Event()

    def send() -> None:
        i = 0
        while not stop.wait(0.01):
            port.send(line(i) + b"\r\n")
            i += 1

    thread = threading.Thread(target=send)
    thread.start()
    draft = asyncio.run(learn(str(port.link), Link(), SystemClock(), Timing(), seconds=0.5))
    stop.set()
    thread.join()
    assert load_profile(draft.profile, "d").line is not None


class _AtSpeed:
    """A line that is text at one speed and noise at every other."""

    def __init__(self, speed: int, right: int) -> None:
        self.chunk = line(3) + b"\r\n" if speed == right else bytes(range(150, 200)) + b"\n"

    def open(self) -> None:
        pass

    def read_some(self) -> bytes:
        time.sleep(0.005)
        return self.chunk

    def write(self, data: bytes) -> None:
        raise AssertionError("nothing may be sent to an unknown instrument")

    def close(self) -> None:
        pass

    def describe(self) -> str:
        return "a line"


@pytest.mark.parametrize("right", [19200, 38400, 300])
def test_the_speed_is_found_by_listening(right: int) -> None:
    found = asyncio.run(
        find_speed(
            lambda speed: _AtSpeed(speed, right), SystemClock(), Timing(drain_interval=0.01), seconds=0.1
        )
    )
    assert found == (right if right != 300 else None)
