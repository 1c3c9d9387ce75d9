"""Lines to values: every form, every fault, and that garbage gives no value a checksum or range forbids."""

from __future__ import annotations

import math
import struct
import time
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measure import Quality
from drivers.decode import Decoded, Fault, LineDecoder, number
from drivers.modbus_rtu import register_value
from drivers.nmea0183 import NmeaDecoder
from drivers.onewire import parse_slave
from drivers.profile import Profile, load_profile
from drivers.profile_sections import ChannelProfile, Register
from drivers.scpi import interpret
from tests.drivers import test_nmea0183
from tests.drivers.peers.lines import PROFILE, line
from tests.drivers.peers.mutating import mutants
from tests.drivers.peers.results import keep

TEMPERATURE = """
[[channel]]
name = "t"
quantity = "temperature"
unit = "degC"
valid = [-60.0, 150.0]
sentinels = [-999.0, "ERR"]
"""


def profile(line_section: str, channels: str = TEMPERATURE) -> Profile:
    return load_profile(f'title = "x"\n[line]\n{line_section}\n{channels}', "x")


CHECKSUMMED = LineDecoder(load_profile(PROFILE, "b"))
PATTERN = LineDecoder(profile(r"pattern = 'T=(?P<t>[+-]?\d+(?:\.\d+)?|ERR) C'"))
COLUMNS = LineDecoder(profile('columns = ["-", "t"]\nseparator = ","'))
JSON = LineDecoder(profile("json = true", TEMPERATURE + 'field = "probe.0.t"\n'))
PAIRS = LineDecoder(profile("pairs = true"))
NMEA = NmeaDecoder(load_profile(test_nmea0183.PROFILE, "v"))


def crc16_by_bits(data: bytes) -> int:
    """CRC-16 by long division, independent of the library: polynomial 1021h, start FFFFh."""
    crc = 0xFFFF
    for byte in data:
        for bit in range(7, -1, -1):
            top = crc >> 15 ^ byte >> bit & 1
            crc = (crc << 1 & 0xFFFF) ^ (0x1021 if top else 0)
    return crc


def test_the_crc_is_the_published_one() -> None:
    """Check value 29B1h of "123456789", as CRC catalogues give it for IBM-3740 (from memory)."""
    assert crc16_by_bits(b"123456789") == 0x29B1
    assert CHECKSUMMED.decode(b"t=1;ps=5;ts=2*%04X" % crc16_by_bits(b"t=1;ps=5;ts=2")).fault is None


@pytest.mark.parametrize(
    ("decoder", "sent", "value"),
    [
        (PATTERN, b"T=-2.41 C", -2.41),
        (COLUMNS, b"17,21.5", 21.5),
        (JSON, b'{"probe":[{"t":-3,"x":null}],"id":"a"}', -3.0),
        (JSON, b'{"probe":[{"t":"12.5"}]}', 12.5),
        (PAIRS, b"t = 4.5", 4.5),
    ],
)
def test_forms(decoder: LineDecoder, sent: bytes, value: float) -> None:
    decoded = decoder.decode(sent)
    assert [(v.value, v.quality) for v in decoded.values] == [(value, Quality.UNVERIFIED)]


@pytest.mark.parametrize(
    ("decoder", "sent", "fault"),
    [
        (CHECKSUMMED, line(5)[:-1], Fault.TRUNCATED),
        (CHECKSUMMED, line(5)[:9], Fault.TRUNCATED),
        (CHECKSUMMED, line(5) + line(6), Fault.JOINED),
        (CHECKSUMMED, line(5).replace(b"5", b"6", 1), Fault.CHECKSUM),
        (CHECKSUMMED, line(5)[:3] + b"\xb0" + line(5)[4:], Fault.NON_ASCII),
        (CHECKSUMMED, b"a=1*%04X" % crc16_by_bits(b"a=1"), Fault.TRUNCATED),
        (PATTERN, b"T=1.0 CT=2.0 C", Fault.JOINED),
        (PATTERN, b"T=1.0 F", Fault.NO_MATCH),
        (PATTERN, b"T=1.0 C" * 100, Fault.OVER_LONG),
        (COLUMNS, b"17", Fault.TRUNCATED),
        (COLUMNS, b"17,21.5,17", Fault.JOINED),
        (COLUMNS, b"17,2l.5", Fault.NO_MATCH),
        (JSON, b'{"probe":[{"t":-3', Fault.TRUNCATED),
        (JSON, b'{"probe":[{"t":1}]}{"probe":[{"t":1}]}', Fault.JOINED),
        (JSON, b'{"probe":[{"t":true}]}', Fault.NO_MATCH),
        (JSON, b'{"probe":[{"t":1e400}]}', Fault.NO_MATCH),
        (JSON, b'{"probe":[]}', Fault.TRUNCATED),
        (JSON, b"[1]", Fault.NO_MATCH),
        (JSON, b'{"a":' * 700 + b"}", Fault.NO_MATCH),
        (PAIRS, b"t=1;t=2", Fault.JOINED),
        (PAIRS, b"t=nan", Fault.NO_MATCH),
        (PAIRS, b"hello", Fault.NO_MATCH),
    ],
)
def test_faults(decoder: LineDecoder, sent: bytes, fault: Fault) -> None:
    decoded = decoder.decode(sent)
    assert decoded.fault is fault
    assert decoded.values == ()


def test_sentinels_and_range() -> None:
    none, out = PAIRS.decode(b"t=-999").values[0], PAIRS.decode(b"t=151").values[0]
    assert (none.value, none.quality) == (None, Quality.NOT_KNOWN | Quality.UNVERIFIED)
    assert (out.value, out.quality) == (151.0, Quality.OUT_OF_RANGE | Quality.UNVERIFIED)
    assert PAIRS.decode(b"t=err").values[0].value is None


def test_time_in_milliseconds_and_comments() -> None:
    decoder = LineDecoder(profile('pairs = true\ntime = "ms"\ntime_unit = "ms"\nskip = "#"'))
    assert decoder.decode(b"ms=1500;t=2").time_s == 1.5
    assert decoder.decode(b"# version 3") == Decoded()
    assert decoder.decode(b"t=2").fault is Fault.TRUNCATED


@pytest.mark.parametrize(
    "text", ["nan", "inf", "1_0", "0x10", "", "+", ".", "1e999", "\u0661", " 1", "1" * 40]
)
def test_what_is_no_number(text: str) -> None:
    assert number(text) is None


def test_a_digit_lost_without_a_checksum_cannot_be_told_and_is_marked() -> None:
    """The limit that the documentation states: this is why such readings are UNVERIFIED."""
    (value,) = PATTERN.decode(b"T=1.5 C").values  # was 21.5
    assert value.quality == Quality.UNVERIFIED


def check(decoder: LineDecoder | NmeaDecoder, sent: bytes) -> bool:
    """Decode anything; whatever comes out must be allowed to. Gives whether a value came."""
    decoded = decoder.decode(sent)
    assert not (decoded.values and decoded.fault)
    for value in decoded.values:
        assert value.value is None or math.isfinite(value.value)
        if value.value is not None and value.channel in ("t", "ts") and not -60 <= value.value <= 150:
            assert value.quality & Quality.OUT_OF_RANGE
    if decoded.values and decoder is CHECKSUMMED:
        payload, _, tail = sent.rpartition(b"*")
        assert int(tail, 16) == crc16_by_bits(payload), "a value without its checksum"
    if decoded.values and decoder is NMEA:
        payload, _, tail = sent.rpartition(b"*")
        total = 0
        for byte in payload[1:]:
            total ^= byte
        assert int(tail, 16) == total
    return bool(decoded.values)


def check_scpi(sent: bytes) -> bool:
    part = ChannelProfile(name="r", quantity="resistance", unit="ohm", query="R?", valid=(0.0, 1e6))  # type: ignore[arg-type]
    got = interpret(part, sent.decode("ascii", "replace"))
    if isinstance(got, Fault):
        return False
    assert got[0] is None or math.isfinite(got[0])
    assert got[0] is None or 0 <= got[0] <= 1e6 or got[1] & Quality.OUT_OF_RANGE
    return got[0] is not None


def check_slave(sent: bytes) -> bool:
    got = parse_slave(sent.decode("ascii", "replace"))
    assert isinstance(got, str) or abs(got) < 1000
    if isinstance(got, float):
        assert b"YES" in sent
    return isinstance(got, float)


def check_registers(sent: bytes) -> bool:
    words = struct.unpack(">2H", (sent + bytes(4))[:4])
    part = ChannelProfile(name="p", quantity="power", unit="W", valid=(0.0, 1e5))  # type: ignore[arg-type]
    value, quality = part.conversion()(register_value(Register(address=0, type="float32"), words))
    assert value is None or math.isfinite(value)
    assert value is None or 0 <= value <= 1e5 or quality & Quality.OUT_OF_RANGE
    return value is not None


SLAVE = b"50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=21500\n"
DECODERS: dict[str, tuple[Callable[[bytes], bool], list[bytes]]] = {
    "checksummed": (lambda sent: check(CHECKSUMMED, sent), [line(i) for i in range(50)]),
    "pattern": (lambda sent: check(PATTERN, sent), [b"T=21.5 C", b"T=-3 C", b"T=ERR C"]),
    "columns": (lambda sent: check(COLUMNS, sent), [b"17,21.5", b"18,-4"]),
    "json": (lambda sent: check(JSON, sent), [b'{"probe":[{"t":-3.25}]}', b'{"probe":[{"t":12}],"n":1}']),
    "pairs": (lambda sent: check(PAIRS, sent), [b"t=21.5", b"t=-999"]),
    "nmea0183": (lambda sent: check(NMEA, sent), [b"$IIMTW,17.9,C*1C"]),
    "scpi": (check_scpi, [b"+1.40000000E+01", b"9.9E37", b"O.L"]),
    "onewire": (check_slave, [SLAVE]),
    "modbus": (check_registers, [struct.pack(">f", 2376.9), struct.pack(">f", 1e30)]),
}


@pytest.mark.parametrize("name", DECODERS)
def test_mutants(name: str) -> None:
    decode, good = DECODERS[name]
    values = sum(map(decode, mutants(good, 2000, seed=11)))
    assert values > 0
    if name != "modbus":  # nearly any four bytes are a number; the bus's CRC stands before that decoder
        assert values < 2000


@pytest.mark.parametrize("name", DECODERS)
@settings(derandomize=True, deadline=None, max_examples=2000)
@given(data=st.data())
def test_anything(name: str, data: st.DataObject) -> None:
    decode, good = DECODERS[name]
    base = data.draw(st.sampled_from(good))
    cut, to = sorted(data.draw(st.tuples(*[st.integers(0, len(base))] * 2)))
    decode(base[:cut] + data.draw(st.binary(max_size=20)) + base[to:])


@pytest.mark.campaign
def test_a_million_mutants_of_each() -> None:
    figures = {}
    for name, (decode, good) in DECODERS.items():
        begun = time.perf_counter()
        values = sum(map(decode, mutants(good, 1_000_000, seed=12)))
        figures[name] = {
            "mutants": 1_000_000,
            "with_value": values,
            "seconds": round(time.perf_counter() - begun, 1),
        }
    keep("decoders", **figures)
