"""BTHome v2 broadcasts: the rows of the published format page, an independent decoder, and what is news.

Published source: bthome.io, pages "format" and "encryption" (2026-04-30). Independent decoder: bthome-ble.
"""

from __future__ import annotations

import copy
import pickle
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import bthome
from drivers.bthome import BroadcastKey, Frame, Freshness, Refused, decode
from drivers.bthome_objects import OBJECTS

KEY = "231d39c1d7cc1ab1aee224cd096db932"
ADDRESS = bytes.fromhex("5448E68F80A5")
SEALED = bytes.fromhex("41e445f3c9962b332211006c7c4519")

#: Object as on the page (number and bytes), name, value in our unit.
ROWS: list[tuple[str, str, float]] = [
    ("0009", "packet_id", 9),
    ("0161", "battery", 97),
    ("02CA09", "temperature", 25.06),
    ("451101", "temperature", 27.3),
    ("57EA", "temperature", -22),
    ("58EA", "temperature", -7.7),
    ("03BF13", "humidity", 50.55),
    ("2E23", "humidity", 35),
    ("04138A01", "pressure", 1008.83),
    ("08CA06", "dew_point", 17.38),
    ("0A138A14", "energy", 1346.067),
    ("4D12138A14", "energy", 344593.170),
    ("0B021B00", "power", 69.14),
    ("5C02FBFFFF", "power", -12.78),
    ("0C020C", "voltage", 3.074),
    ("4A020C", "voltage", 307.4),
    ("434E34", "current", 13.390),
    ("5D02EA", "current", -5.630),
    ("49DC87", "volume_flow", 34.780),
    ("478756", "volume", 2215.1),
    ("48DC87", "volume", 34.780),  # the page says 34780 mL
    ("4E87562A01", "volume", 19551.879),
    ("4F87562A01", "water_volume", 19551.879),
    ("424E3400", "duration", 13.390),
    ("61AC0D", "rotation", 3500),
    ("6001", "channel", 1),
    ("505D396164", "device_time", 1684093277),
]


@pytest.mark.parametrize(("sent", "name", "value"), ROWS)
def test_published_rows(sent: str, name: str, value: float) -> None:
    frame = decode(bytes.fromhex(f"40{sent}"))
    assert isinstance(frame, Frame)
    (part,) = frame.objects
    assert (part.name, part.value, frame.rest) == (name, value, b"")


def test_firmware_and_text_keep_their_bytes() -> None:
    frame = decode(bytes.fromhex("44530548656c6c6ff100010204"))
    assert isinstance(frame, Frame)
    assert frame.trigger_based
    assert [(part.name, part.value, part.raw) for part in frame.objects] == [
        ("text", None, b"Hello"),
        ("firmware", 0x04020100, b"\x00\x01\x02\x04"),
    ]


def test_published_encrypted_example() -> None:
    frame = decode(SEALED, BroadcastKey(KEY), ADDRESS)
    assert isinstance(frame, Frame)
    assert frame.counter == 0x00112233
    assert [(name, part.value) for name, part in frame.measurements()] == [
        ("temperature", 25.06),
        ("humidity", 50.55),
    ]


@pytest.mark.parametrize(
    ("payload", "key", "address", "kind"),
    [
        (b"", None, None, "empty"),
        (bytes.fromhex("2002ca09"), None, None, "version"),
        (bytes.fromhex("4202ca09"), None, None, "reserved_bits"),
        (SEALED[:8], BroadcastKey(KEY), ADDRESS, "truncated"),
        (SEALED, None, ADDRESS, "needs_key"),
        (SEALED, BroadcastKey(KEY), None, "needs_address"),
        (SEALED, BroadcastKey("00" * 16), ADDRESS, "key"),
        (SEALED, BroadcastKey(KEY), bytes(6), "key"),
        (SEALED[:-1] + b"\x00", BroadcastKey(KEY), ADDRESS, "key"),
    ],
)
def test_what_cannot_be_read_is_named(
    payload: bytes, key: BroadcastKey | None, address: bytes | None, kind: str
) -> None:
    refused = decode(payload, key, address)
    assert refused == Refused(kind)  # type: ignore[arg-type]
    assert isinstance(refused, Refused)
    assert refused.text.endswith(".")


@pytest.mark.parametrize(
    ("payload", "values", "rest"),
    [
        ("40", [], ""),
        ("4002", [], "02"),
        ("4002ca", [], "02ca"),
        ("4002ca09ff01", [25.06], "ff01"),
        ("4002ca0902ca0902ca09", [25.06, 25.06, 25.06], ""),
        ("405305416c", [], "5305416c"),
    ],
)
def test_odd_payloads(payload: str, values: list[float], rest: str) -> None:
    frame = decode(bytes.fromhex(payload))
    assert isinstance(frame, Frame)
    assert [part.value for part in frame.objects] == values
    assert frame.rest.hex() == rest


def test_a_key_shows_itself_nowhere() -> None:
    key = BroadcastKey("23:1d:39:c1:d7:cc:1a:b1:ae:e2:24:cd:09:6d:b9:32")
    assert decode(SEALED, key, ADDRESS) == decode(SEALED, BroadcastKey(KEY), ADDRESS)
    shown = f"{key!r} {key} {vars(type(key)).get('__dict__')}"
    assert KEY[:8] not in shown
    assert not hasattr(key, "__dict__")
    for copier in (pickle.dumps, copy.copy, copy.deepcopy):
        with pytest.raises(TypeError, match="not written anywhere"):
            copier(key)
    for wrong in ("", "12", KEY + "0", "g" * 32):
        with pytest.raises(ValueError, match="32 hexadecimal digits") as refused:
            BroadcastKey(wrong)
        assert wrong == "" or wrong not in str(refused.value)


# -- news ------------------------------------------------------------------------------------------------


def play(*steps: tuple[float, str]) -> list[str]:
    """Judge frames, given as seconds and payload, one after another."""
    fresh = Freshness()
    said: list[str] = []
    for seconds, payload in steps:
        frame = decode(bytes.fromhex(payload))
        assert isinstance(frame, Frame)
        said.append(fresh.judge(frame, bytes.fromhex(payload), round(seconds * 1e9)))
    return said


def numbered(number: int, temperature: int = 2506) -> str:
    return f"4000{number % 256:02x}02{temperature.to_bytes(2, 'little').hex()}"


def test_a_repeated_packet_is_no_news_and_an_older_one_neither() -> None:
    said = play(
        (0, numbered(9)), (0.1, numbered(9)), (0.2, numbered(9)), (0.5, numbered(10)), (0.9, numbered(8))
    )
    assert said == ["new", "repeat", "repeat", "new", "old"]
    # nine seconds later a smaller or an equal id is taken: the device may have restarted
    assert play((0, numbered(9, 2506)), (9, numbered(9, 2507))) == ["new", "new"]
    assert play((0, numbered(10)), (9, numbered(8))) == ["new", "new"]


def test_the_window_is_one_to_sixty_three_and_wraps() -> None:
    assert play((0, numbered(250)), (1, numbered(250 + 63))) == ["new", "new"]
    assert play((0, numbered(250)), (1, numbered(250 + 64))) == ["new", "old"]
    assert play((0, numbered(255)), (1, numbered(0))) == ["new", "new"]


def test_the_same_bytes_are_no_news_even_after_a_long_silence() -> None:
    # An operating system hands over its last broadcast again when only the signal strength has changed.
    assert play((0, numbered(9)), (600, numbered(9)), (600.5, numbered(9))) == ["new", "repeat", "repeat"]
    assert play((0, "4002ca09"), (600, "4002ca09")) == ["new", "repeat"]


def test_one_measurement_in_two_frames_shares_its_packet_id() -> None:
    first, second = "40000902ca09", "40000904138a01"
    assert play((0, first), (0.1, second), (0.2, first), (0.3, second)) == ["new", "new", "repeat", "repeat"]
    assert play((0, first), (0.1, "40000902cb09")) == [
        "new",
        "repeat",
    ]  # same id, same object: not counted twice


def test_without_a_packet_id_other_bytes_are_news() -> None:
    assert play((0, "4002ca09"), (1, "4002cb09"), (2, "4002ca09")) == ["new", "new", "new"]
    # two kinds of frames in turn do not make each other new
    assert play((0, "4002ca09"), (1, "4003bf13"), (2, "4002ca09"), (3, "4003bf13")) == [
        "new", "new", "repeat", "repeat",
    ]  # fmt: skip


def test_an_encrypted_counter_only_rises_or_restarts_after_silence() -> None:
    def frame(counter: int) -> Frame:
        return Frame((bthome.BroadcastObject(2, "temperature", 1.0, b"\x64\x00"),), counter=counter)

    fresh = Freshness()
    seconds_and_counters = [(0, 5), (1, 6), (2, 6), (3, 4), (20, 1), (21, 2)]
    said = [fresh.judge(frame(c), bytes([s, c]), s * 10**9) for s, c in seconds_and_counters]
    assert said == ["new", "new", "repeat", "old", "new", "new"]


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.lists(st.tuples(st.integers(0, 8), st.integers(0, 3), st.booleans()), max_size=60))
def test_every_measurement_is_news_exactly_once(plan: list[tuple[int, int, bool]]) -> None:
    # A device numbers its measurements and sends each several times; late repeats of the one before mix in.
    steps: list[tuple[float, str]] = []
    number, now = 0, 0.0
    for advance, repeats, late in plan:
        previous = number
        number += 1 + advance % 3
        for _ in range(1 + repeats):
            now += 0.05
            steps.append((now, numbered(number, 2000 + number)))
        if late and previous:
            now += 0.05
            steps.append((now, numbered(previous, 2000 + previous)))
    news = [payload for (_, payload), said in zip(steps, play(*steps), strict=True) if said == "new"]
    assert len(news) == len(plan)
    assert len(set(news)) == len(news) or number > 255


# -- an independent decoder ------------------------------------------------------------------------------


def oracle(payload: bytes, key: str = "") -> list[float]:
    """Give the numbers that the independent program finds in a broadcast, through its front door, sorted."""
    from bleak.backends.device import BLEDevice
    from bthome_ble import BTHomeBluetoothDeviceData
    from habluetooth import BluetoothServiceInfoBleak

    update = BTHomeBluetoothDeviceData(bindkey=bytes.fromhex(key) if key else None).update(
        BluetoothServiceInfoBleak(
            name="x", address="54:48:E6:8F:80:A5", rssi=-60, manufacturer_data={}, source="",
            device=BLEDevice("54:48:E6:8F:80:A5", "x", None), service_uuids=[], advertisement=None,
            service_data={"0000fcd2-0000-1000-8000-00805f9b34fb": payload},
            connectable=False, time=0.0, tx_power=None,
        )
    )  # fmt: skip
    return sorted(
        float(value.native_value)
        for key, value in update.entity_values.items()
        if key.key not in ("signal_strength", "packet_id") and isinstance(value.native_value, int | float)
    )


def ours(payload: bytes, key: BroadcastKey | None = None) -> list[float]:
    """Give the measurements that we find, sorted.

    Where we differ on purpose: 58h is in steps of 0.35 K, which the other program rounds to one decimal; and
    48h, sent in mL, is litres as the other volumes are.
    """
    frame = decode(payload, key, ADDRESS)
    assert isinstance(frame, Frame)
    found = []
    for _, part in frame.measurements():
        assert part.value is not None
        rounded = round(int.from_bytes(part.raw, signed=True) * 0.35, 1)
        found.append({0x58: rounded, 0x48: part.value * 1000}.get(part.number, part.value))
    return sorted(found)


MEASURED = [number for number, kind in OBJECTS.items() if kind.quantity is not None]
#: Of two objects that the other program calls alike, it may keep one: only one of them is put in a payload.
ALIKE = {"mass_lb": "mass", "distance_mm": "distance"}


def random_payload(rng: random.Random) -> bytes:
    """Well-formed measurements in any order, often cut short or with something unknown behind."""
    chosen: dict[str, int] = {}
    for number in rng.choices(MEASURED, k=rng.randint(0, 6)):
        chosen[ALIKE.get(OBJECTS[number].name, OBJECTS[number].name)] = number
    body = b"".join(bytes([n]) + rng.randbytes(OBJECTS[n].format.size) for n in chosen.values())
    if rng.random() < 0.3:
        body += bytes(
            [rng.choice([n for n in range(256) if n not in OBJECTS and n not in (0x3B, 0x53, 0x54)])]
        )
        body += rng.randbytes(rng.randint(0, 4))
    if rng.random() < 0.3:
        body = body[: rng.randint(0, len(body))]
    return b"\x40" + body


def disagreement(payload: bytes) -> str:
    """Say how ours differs from the independent program; empty if it does not."""
    mine, theirs = ours(payload), oracle(payload)
    return "" if mine == pytest.approx(theirs, rel=1e-9, abs=1e-9) else f"{payload.hex()}: {mine} {theirs}"


def test_agrees_with_an_independent_program_on_2000_payloads() -> None:
    rng = random.Random(20260114)
    differences = [text for _ in range(2000) if (text := disagreement(random_payload(rng)))]
    assert differences == []


def test_agrees_with_an_independent_program_on_the_encrypted_example() -> None:
    assert ours(SEALED, BroadcastKey(KEY)) == oracle(SEALED, KEY) == [25.06, 50.55]


def test_opens_what_an_independent_cipher_call_seals() -> None:
    """Random plain frames, sealed as the page says, open to the same objects."""
    from cryptography.hazmat.primitives.ciphers.aead import AESCCM

    rng = random.Random(7)
    for counter in range(300):
        plain = random_payload(rng)
        tail = counter.to_bytes(4, "little")
        sealed = AESCCM(bytes.fromhex(KEY), tag_length=4).encrypt(
            ADDRESS + b"\xd2\xfc\x41" + tail, plain[1:], None
        )
        opened = decode(b"\x41" + sealed[:-4] + tail + sealed[-4:], BroadcastKey(KEY), ADDRESS)
        expected = decode(plain)
        assert isinstance(opened, Frame)
        assert isinstance(expected, Frame)
        assert (opened.objects, opened.rest, opened.counter) == (expected.objects, expected.rest, counter)


@settings(derandomize=True, deadline=None, max_examples=500)
@given(st.binary(max_size=40), st.booleans())
def test_any_bytes_give_a_declared_result(payload: bytes, as_ours: bool) -> None:
    payload = b"\x40" + payload if as_ours else payload
    for key, address in ((None, None), (BroadcastKey(KEY), ADDRESS)):
        found = decode(payload, key, address)
        assert isinstance(found, Frame | Refused)
        if isinstance(found, Frame):
            assert all(part.value is None or isinstance(part.value, float) for part in found.objects)
            assert len({name for name, _ in found.measurements()}) == len(found.measurements())
            assert Freshness().judge(found, payload, 0) == "new"
