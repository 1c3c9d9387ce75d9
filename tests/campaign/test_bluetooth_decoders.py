"""A million mutated inputs for each Bluetooth decoder: only declared results, and nothing invented."""

from __future__ import annotations

import math
import random
import time
from collections import Counter
from collections.abc import Callable

import pytest

from analysis.measure import Quality
from drivers import gatt_descriptors as descriptors
from drivers.bthome import BroadcastKey, Frame, Freshness, Refused, decode
from drivers.gatt_formats import Decoded
from drivers.gatt_layout import Offered, layout_by_itself
from drivers.gatt_values import CHARACTERISTICS, long_uuid, text_value
from tests.campaign.record import record
from tests.drivers import test_bthome, test_gatt_values

pytestmark = pytest.mark.campaign

SEED = 20260114
COUNT = 1_000_000
AGAINST_PEER = 100_000
"""Payloads held against the independent program, which is the slower of the two."""


def mutated(rng: random.Random, good: bytes) -> bytes:
    """Damage a good payload: bits, bytes, length, or the whole of it."""
    data = bytearray(good)
    for _ in range(rng.randint(1, 3)):
        match rng.randrange(6):
            case 0 if data:
                data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
            case 1 if data:
                data[rng.randrange(len(data))] = rng.choice((0, 0x7F, 0x80, 0xFF, rng.randrange(256)))
            case 2:
                data = data[: rng.randint(0, len(data))]
            case 3:
                data += rng.randbytes(rng.randint(1, 8))
            case 4 if data:
                at = rng.randrange(len(data))
                data[at:at] = data[: rng.randint(0, 4)]
            case _:
                data = bytearray(rng.randbytes(rng.randint(0, 31)))
    return bytes(data)


def outcome(found: Decoded) -> str:
    """Name a decoder's result; a result that is none of the declared ones fails."""
    assert isinstance(found, Decoded)
    assert isinstance(found.quality, Quality)
    if found.value is None:
        assert found.quality, "a missing value has its reason"
        return found.quality.text()
    assert isinstance(found.value, float)
    assert math.isfinite(found.value)
    assert not found.quality & (Quality.NOT_KNOWN | Quality.INVALID | Quality.MALFORMED)
    return found.quality.text()


def run(name: str, once: Callable[[random.Random], str], count: int = COUNT) -> None:
    """Try many inputs and write down how often each outcome came."""
    rng = random.Random(SEED)
    began = time.monotonic()
    outcomes = Counter(once(rng) for _ in range(count))
    path = record(
        f"bluetooth-{name}", SEED, time.monotonic() - began,
        {"inputs": outcomes.total(), "outcomes": dict(sorted(outcomes.items()))},
    )  # fmt: skip
    assert path.exists()
    assert outcomes.total() == count


GATT = [(number, bytes.fromhex(sent)) for number, sent, *_ in test_gatt_values.ROWS]


def test_standard_characteristics() -> None:
    def once(rng: random.Random) -> str:
        number, good = rng.choice(GATT)
        return outcome(CHARACTERISTICS[number].format.decode(mutated(rng, good)))

    run("characteristics", once)


def test_descriptors_and_what_they_make_of_a_device() -> None:
    good = {
        descriptors.USER_DESCRIPTION: b"liquid line",
        descriptors.PRESENTATION_FORMAT: bytes.fromhex("0efe2f27010000"),
        descriptors.VALID_RANGE: bytes.fromhex("60f08813"),
        descriptors.ES_MEASUREMENT: bytes.fromhex("0000000000000a00001c04"),
        descriptors.ES_TRIGGER: bytes.fromhex("021e0000"),
    }

    def once(rng: random.Random) -> str:
        described: dict[int, tuple[bytes, ...]] = {
            number: (mutated(rng, payload),) for number, payload in good.items() if rng.random() < 0.6
        }
        offered = Offered(3, long_uuid(rng.choice((0x2A00, 0x2A6E))), frozenset({"notify"}), described)
        text_value(described.get(descriptors.USER_DESCRIPTION, (b"",))[0])
        layout = layout_by_itself("x", [offered], 10.0)
        if not layout.feeds:
            return "no channel"
        ((channel, read),) = layout.feeds[0].channels
        assert channel.expected_interval_s > 0
        return outcome(read(mutated(rng, b"\x66\x08")))

    run("descriptors", once)


BTHOME = [bytes.fromhex(f"40{sent}") for sent, *_ in test_bthome.ROWS]
BTHOME += [bytes.fromhex("40000902ca0903bf13"), bytes.fromhex("44530548656c6c6ff100010204")]


def judged(found: Frame | Refused, payload: bytes, fresh: Freshness, now: int) -> str:
    if isinstance(found, Refused):
        assert found.text
        return found.kind
    for _, part in found.measurements():
        assert isinstance(part.value, float)
        assert math.isfinite(part.value)
    assert payload.endswith(found.rest) or found.counter is not None
    return fresh.judge(found, payload, now) + (" with a rest" if found.rest else "")


def test_broadcasts() -> None:
    fresh, now = Freshness(), 0

    def once(rng: random.Random) -> str:
        nonlocal now
        now += rng.randrange(6 * 10**9)
        payload = mutated(rng, rng.choice(BTHOME))
        return judged(decode(payload), payload, fresh, now)

    run("broadcasts", once)


def test_encrypted_broadcasts() -> None:
    key, fresh = BroadcastKey(test_bthome.KEY), Freshness()
    opened = decode(test_bthome.SEALED, key, test_bthome.ADDRESS)

    def once(rng: random.Random) -> str:
        payload = mutated(rng, test_bthome.SEALED)
        if payload[:1] and not payload[0] & 1:
            payload = bytes([payload[0] | 1]) + payload[1:]
        found = decode(payload, key, test_bthome.ADDRESS)
        if isinstance(found, Frame) and payload != test_bthome.SEALED:
            # A 4-byte tag lets one damaged broadcast in 2^32 pass; none is expected in a million.
            assert found == opened, "a damaged broadcast was taken"
        return judged(found, payload, fresh, 0)

    run("encrypted", once)


def test_broadcasts_against_an_independent_program() -> None:
    def once(rng: random.Random) -> str:
        text = test_bthome.disagreement(test_bthome.random_payload(rng))
        assert text == ""
        return "agrees"

    run("against-peer", once, AGAINST_PEER)
