"""Values of standard Bluetooth characteristics.

Check rows: the Bluetooth SIG's GATT Specification Supplement and Assigned Numbers (format, factor, range and
the raw numbers that mean "not known" and "not valid" per characteristic); Health Thermometer Service 1.0 and
IEEE 11073-20601 for the medical floating-point number. Marked ones are from memory.
"""

from __future__ import annotations

import math
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure import Channel, Quality
from analysis.units import Quantity, unit
from drivers import gatt_descriptors as descriptors
from drivers.base import ProfileError
from drivers.gatt_formats import Decoded, FloatFormat, IntegerFormat
from drivers.gatt_layout import Offered, layout_by_itself
from drivers.gatt_profile import NAMED_FORMATS, profile_decoder
from drivers.gatt_values import (
    CHARACTERISTICS,
    averaging_time,
    long_uuid,
    short_uuid,
    text_value,
)
from drivers.profile_sections import ChannelProfile

OK, UNKNOWN, INVALID = Quality.OK, Quality.NOT_KNOWN, Quality.INVALID
RANGE, MALFORMED = Quality.OUT_OF_RANGE, Quality.MALFORMED

#: Characteristic, bytes, value in the characteristic's unit, quality.
ROWS: list[tuple[int, str, float | None, Quality]] = [
    (0x2A6E, "6608", 21.50, OK),
    (0x2A6E, "00fe", -5.12, OK),
    (0x2A6E, "0080", None, UNKNOWN),
    (0x2A6E, "0180", -327.67, RANGE),  # below absolute zero
    (0x2A6E, "ff7f", 327.67, OK),
    (0x2A6D, "f9698300", 861_234.5, OK),
    (0x2A6D, "d5750f00", 101_320.5, OK),
    (0x2A6D, "ffffffff", 429_496_729.5, OK),  # this characteristic has no sentinel
    (0x2A6F, "bf13", 50.55, OK),
    (0x2A6F, "ffff", None, UNKNOWN),
    (0x2A6F, "1127", 100.01, RANGE),
    (0x2A7B, "f8", -8.0, OK),
    (0x2B0D, "2b", 21.5, OK),
    (0x2B0D, "7f", None, UNKNOWN),
    (0x2BDF, "c800", 100.0, OK),
    (0x2BDF, "0080", None, UNKNOWN),
    (0x2BDF, "0180", None, INVALID),
    (0x2C1B, "65", 50.5, OK),
    (0x2C1B, "ff", None, UNKNOWN),
    (0x2B18, "a039", 230.5, OK),
    (0x2B18, "ffff", None, UNKNOWN),
    (0x2BE0, "006400", 400.0, OK),
    (0x2BE0, "ffffff", None, UNKNOWN),
    (0x2AEE, "d204", 12.34, OK),
    (0x2AEE, "ffff", None, UNKNOWN),
    (0x2B05, "d95c00", 2376.9, OK),
    (0x2B05, "31300c", 79_876.9, OK),
    (0x2B05, "ffffff", None, UNKNOWN),
    (0x2B05, "feffff", None, INVALID),
    (0x2B8A, "d95c00", 2376.9, OK),
    (0x2AF2, "d20400", 1234.0, OK),
    (0x2AF2, "ffffff", None, UNKNOWN),
    (0x2BA8, "d2029649", 1_234_567.890, OK),
    (0x2BA8, "ffffffff", None, UNKNOWN),
    (0x2BA8, "feffffff", None, INVALID),
    (0x2B1B, "4c02", 0.588, OK),
    (0x2B1B, "ffff", None, UNKNOWN),
    (0x2B02, "4c02", 588.0, OK),
    (0x2B02, "ffff", None, UNKNOWN),
    (0x2BE8, "3200", 50.0, OK),
    (0x2BE8, "0000", 0.0, OK),  # direct current
    (0x2BE8, "ffff", None, UNKNOWN),
    (0x2BE8, "feff", None, INVALID),
    (0x2C09, "ac0d0000", 3500.0, OK),
    (0x2C09, "ffffff7f", None, UNKNOWN),
    (0x2A19, "57", 87.0, OK),
    (0x2A19, "64", 100.0, OK),
    (0x2A19, "65", 101.0, RANGE),  # reserved
    (0x2AE1, "a03940", 230.5, OK),
    (0x2AE1, "ffff40", None, UNKNOWN),
    (0x2AE0, "d20440", 12.34, OK),
    (0x2A1C, "006c0100ff", 36.4, OK),
    (0x2A1C, "006a0e00fe", 36.90, OK),
    (0x2A1C, "00e0fffffe", -0.32, OK),
    (0x2A1C, "01d40300ff", 36.666666666666664, OK),  # 98.0 degF
    (0x2A1C, "066c0100ffe907010f0c1e0002", 36.4, OK),  # with time stamp and type
    (0x2A1C, "026c0100ff", None, MALFORMED),  # flags promise a time stamp
    (0x2A1C, "00ffff7f00", None, UNKNOWN),
    (0x2A1C, "0000008000", None, UNKNOWN),
    (0x2A1C, "0001008000", None, UNKNOWN),
    (0x2A1C, "00feff7f00", None, RANGE),  # over range
    (0x2A1C, "0002008000", None, RANGE),  # under range
    (0x2A1E, "006c0100ff", 36.4, OK),
]


@pytest.mark.parametrize(("number", "payload", "value", "quality"), ROWS)
def test_published_rows(number: int, payload: str, value: float | None, quality: Quality) -> None:
    assert CHARACTERISTICS[number].format.decode(bytes.fromhex(payload)) == Decoded(value, quality)


def test_every_characteristic_has_a_row_and_a_unit_of_its_quantity() -> None:
    assert {number for number, *_ in ROWS} == set(CHARACTERISTICS)
    for meaning in CHARACTERISTICS.values():
        if meaning.quantity is not None:
            unit(meaning.unit, meaning.quantity)


def test_volume_flow_in_the_trade_s_units() -> None:
    value = CHARACTERISTICS[0x2B1B].format.decode(bytes.fromhex("4c02")).value
    assert value is not None
    assert value * 60 == pytest.approx(35.28)


def test_averaging_time_of_an_average() -> None:
    # Time Exponential 8: 1.1^(N - 64) s
    assert averaging_time(bytes.fromhex("a03940")) == 1.0
    assert averaging_time(bytes.fromhex("a03900")) == 0.0
    assert averaging_time(bytes.fromhex("a039ff")) is None
    assert averaging_time(bytes.fromhex("a039")) is None
    assert averaging_time(bytes((0, 0, 128))) == pytest.approx(1.1**64)


#: IEEE 11073-20601 FLOAT and SFLOAT (special values from memory for the 16-bit one).
@pytest.mark.parametrize(
    ("kind", "payload", "expected"),
    [
        ("medfloat32", "6c0100ff", Decoded(36.4)),
        ("medfloat32", "00000001", Decoded(0.0)),
        ("medfloat32", "01000002", Decoded(100.0)),
        ("medfloat16", "72f0", Decoded(11.4)),
        ("medfloat16", "ff07", Decoded(None, UNKNOWN)),
        ("medfloat16", "0008", Decoded(None, UNKNOWN)),
        ("medfloat16", "fe07", Decoded(None, RANGE)),
        ("medfloat16", "0208", Decoded(None, RANGE)),
        ("float32", "0000ac41", Decoded(21.5)),
        ("float32", "0000c07f", Decoded(None, UNKNOWN)),
        ("float32", "0000807f", Decoded(None, RANGE)),
        ("float64", "0000000000803540", Decoded(21.5)),
    ],
)
def test_floating_point_formats(kind: str, payload: str, expected: Decoded) -> None:
    assert FloatFormat(kind).decode(bytes.fromhex(payload)) == expected  # type: ignore[arg-type]


#: Presentation Format: format number, exponent, unit number, raw bytes, value, unit.
@pytest.mark.parametrize(
    ("number", "exponent", "unit_number", "payload", "value", "unit_name"),
    [
        (0x0E, -2, 0x272F, "6608", 21.5, "degC"),
        (0x0E, -1, 0x27AC, "c302", 70.7, "degF"),
        (0x08, -1, 0x2724, "f9698300", 861_234.5, "Pa"),
        (0x06, -2, 0x2780, "5d03", 8.61, "bar"),
        (0x06, 0, 0x27A5, "7600", 118.0, "psi"),
        (0x06, -1, 0x2728, "0109", 230.5, "V"),
        (0x0F, -3, 0x2704, "4e3400", 13.39, "A"),
        (0x10, 0, 0x2726, "49090000", 2377.0, "W"),
        (0x14, 0, 0x27C2, "0681163f", struct.unpack("<f", bytes.fromhex("0681163f"))[0], "L/s"),
        (0x04, 0, 0x27AD, "37", 55.0, "%"),
        (0x17, 0, 0x272F, "6c0100ff", 36.4, "degC"),
        (0x0C, 1, 0x2700, "ff", -10.0, "1"),
    ],
)
def test_presentation_format(
    number: int, exponent: int, unit_number: int, payload: str, value: float, unit_name: str
) -> None:
    described = struct.pack("<BbHBH", number, exponent, unit_number, 1, 0)
    found = descriptors.presentation_format(described)
    assert found is not None
    assert found.unit == unit_name
    assert found.format.decode(bytes.fromhex(payload)) == Decoded(value)


@pytest.mark.parametrize("payload", ["", "0efe2f270100", "19fe2f27010000", "0efe0b27010000"])
def test_a_presentation_format_that_makes_no_channel(payload: str) -> None:
    assert descriptors.presentation_format(bytes.fromhex(payload)) is None


def test_es_descriptors() -> None:
    # ES Measurement of 11 bytes as an open-source example of the service sends it
    stated = descriptors.es_measurement(bytes.fromhex("0000013c00000a00001c04"))
    assert stated == descriptors.EsMeasurement(1, 60, 10, 0.02)
    assert descriptors.es_measurement(bytes(12)) is None
    assert descriptors.trigger_interval(bytes.fromhex("0278000000")) is None
    assert descriptors.trigger_interval(bytes.fromhex("02780000")) == 120.0
    assert descriptors.trigger_interval(b"\x05\x66\x08") == descriptors.ON_CHANGE_INTERVAL_S
    assert descriptors.trigger_interval(b"\x0a") is None
    assert descriptors.expected_interval(b"") is None
    assert descriptors.valid_range(bytes.fromhex("88138813"), IntegerFormat(2)) == (5000.0, 5000.0)
    assert descriptors.valid_range(bytes.fromhex("88130000"), IntegerFormat(2)) is None


def test_text() -> None:
    assert text_value("Tauchfühler\0rest".encode()) == "Tauchfühler"
    assert text_value(b"\xff\x1b[31mA") == "\ufffd[31mA"
    assert len(text_value(b"x" * 500)) == 64


def test_uuids() -> None:
    assert short_uuid(long_uuid(0x2A6E)) == 0x2A6E
    assert short_uuid(long_uuid(0x2A6E).upper()) == 0x2A6E
    assert short_uuid("0000zzzz-0000-1000-8000-00805f9b34fb") is None
    assert short_uuid("12345678-0000-1000-8000-00805f9b34fb") is None


def test_pressure_without_a_profile_is_absolute_and_says_so() -> None:
    layout = layout_by_itself("gauge", [Offered(3, long_uuid(0x2A6D), frozenset({"notify"}))], 10.0)
    (channel,) = layout.channels
    assert (channel.quantity, channel.unit) == (Quantity.ABSOLUTE_PRESSURE, "Pa(a)")
    assert "a profile can say gauge" in layout.notes[0]


def test_apparent_power_is_decoded_and_not_offered() -> None:
    offered = [Offered(3, long_uuid(0x2B8A), frozenset({"notify"}))]
    assert layout_by_itself("meter", offered, 10.0).channels == ()


def test_names_of_channels_never_collide() -> None:
    described = [b"pipe", b"pipe 2", b"pipe", b"pipe", b""]
    offered = [
        Offered(handle, long_uuid(0x2A6E), frozenset({"notify"}), {0x2901: (said,)})
        for handle, said in enumerate(described)
    ]
    names = [channel.id for channel in layout_by_itself("x", offered, 10.0).channels]
    assert names == ["x/pipe", "x/pipe_2", "x/pipe_3", "x/pipe_4", "x/temperature"]


def part(**keys: object) -> ChannelProfile:
    return ChannelProfile(**{"name": "x", "quantity": Quantity.TEMPERATURE, "unit": "degC", **keys})  # type: ignore[arg-type]


def test_a_profile_that_contradicts_the_standard_is_refused() -> None:
    with pytest.raises(ProfileError, match="2A6D is pressure, not temperature"):
        profile_decoder(part(uuid="2A6D"))
    with pytest.raises(ProfileError, match="no standard says how 2A00 is read; give struct"):
        profile_decoder(part(uuid="2A00"))
    for wrong in ("<hh", "h h", "4s", "?", "nonsense", ""):
        with pytest.raises(ProfileError):
            profile_decoder(part(uuid="2A00", struct=wrong))


@pytest.mark.parametrize(
    ("code", "at", "payload", "value"),
    [("<h", 0, "6608", 2150.0), ("<H", 1, "ff6608", 2150.0), (">f", 0, "41ac0000", 21.5),
     ("s24", 0, "ffffff", -1.0), ("u24", 2, "0000d95c00", 23769.0), ("medfloat32", 0, "6c0100ff", 36.4),
     ("medfloat16", 1, "0072f0", 11.4)],
)  # fmt: skip
def test_formats_of_a_profile(code: str, at: int, payload: str, value: float) -> None:
    decode = profile_decoder(part(uuid="2A00", struct=code, at=at))
    assert decode(bytes.fromhex(payload)) == Decoded(value)
    assert decode(bytes.fromhex(payload)[:-1]) == Decoded(None, MALFORMED)


def well_formed(found: Decoded) -> bool:
    """Whether a value is a finite number or missing, and missing exactly with a reason."""
    if found.value is None:
        return bool(found.quality & (UNKNOWN | INVALID | MALFORMED | RANGE))
    return isinstance(found.value, float) and math.isfinite(found.value) and not found.quality & (
        UNKNOWN | INVALID | MALFORMED
    )  # fmt: skip


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.binary(max_size=24))
def test_any_bytes_give_a_declared_result(payload: bytes) -> None:
    for meaning in CHARACTERISTICS.values():
        assert well_formed(meaning.format.decode(payload))
    for code in ("<h", ">d", "<Q", "<e", *NAMED_FORMATS):
        assert well_formed(profile_decoder(part(uuid="2A00", struct=code, at=1))(payload))
    assert isinstance(text_value(payload), str)
    assert descriptors.expected_interval(payload, (payload,)) is None or (
        descriptors.expected_interval(payload, (payload,)) > 0  # type: ignore[operator]
    )


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.binary(min_size=7, max_size=7), st.binary(max_size=16))
def test_any_presentation_format_gives_a_declared_result(described: bytes, payload: bytes) -> None:
    found = descriptors.presentation_format(described)
    if found is not None:
        assert well_formed(found.format.decode(payload))


@settings(derandomize=True, deadline=None, max_examples=200)
@given(
    st.lists(
        st.tuples(
            st.sampled_from([*CHARACTERISTICS, 0x2A00, 0x2A21]),
            st.sets(st.sampled_from(["read", "notify", "indicate", "write"])),
            st.dictionaries(
                st.sampled_from([0x2901, 0x2904, 0x2906, 0x290C, 0x290D]),
                st.tuples(st.binary(max_size=12)),
            ),
        ),
        max_size=6,
    ),
    st.binary(max_size=8),
)
def test_any_device_gives_distinct_channels(
    found: list[tuple[int, set[str], dict[int, tuple[bytes]]]], payload: bytes
) -> None:
    offered = [
        Offered(handle, long_uuid(number), frozenset(properties), dict(described))
        for handle, (number, properties, described) in enumerate(found)
    ]
    layout = layout_by_itself("device", offered, 10.0)
    names = [channel.id for channel in layout.channels]
    assert len(set(names)) == len(names)
    assert layout.channels == layout_by_itself("device", offered[::-1], 10.0).channels  # order is by handle
    for feed in layout.feeds:
        for channel, decode in feed.channels:
            assert isinstance(channel, Channel)
            assert channel.expected_interval_s > 0
            assert well_formed(decode(payload))


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.integers(-(2**15) + 1, 2**15 - 1))
def test_temperature_round_trip(raw: int) -> None:
    found = CHARACTERISTICS[0x2A6E].format.decode(raw.to_bytes(2, "little", signed=True))
    assert found.value is not None
    assert round(found.value * 100) == raw
    assert f"{found.value:.2f}" == f"{raw / 100:.2f}"
