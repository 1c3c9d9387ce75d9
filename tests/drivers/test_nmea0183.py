"""NMEA 0183 against pynmea2, an independent reader and writer of the standard's sentences."""

from __future__ import annotations

import asyncio
import random
from pathlib import Path

import pynmea2  # type: ignore[import-untyped]
import pytest

from analysis.measure import Quality
from drivers.base import ProfileError, Timing
from drivers.decode import Fault
from drivers.nmea0183 import Measurement, NmeaDecoder, measurements
from drivers.profile import load_profile
from drivers.serial_lines import SerialLines
from tests.drivers.peers.ports import FakePort
from tests.drivers.peers.watching import Supervised

PROFILE = """
title = "Water probe of a vessel"
kind = "nmea0183"
[link]
baud = 4800
[[channel]]
name = "water"
quantity = "temperature"
unit = "degC"
talker = "MTW"
valid = [-5.0, 60.0]
[[channel]]
name = "suction"
quantity = "gauge_pressure"
unit = "bar(g)"
talker = "XDR:SUCTION"
"""


def read(line: bytes) -> tuple[Measurement, ...]:
    got = measurements(line)
    assert not isinstance(got, Fault)
    return got


def test_sentences_agree_with_the_oracle() -> None:
    rng = random.Random(2)
    for _ in range(500):
        value = f"{rng.uniform(-5, 60):.{rng.randrange(0, 3)}f}"
        sentence = pynmea2.MTW("II", "MTW", (value, "C"))
        (got,) = read(str(sentence).encode())
        parsed = pynmea2.parse(str(sentence), check=True)
        assert (got.source, got.unit) == ("MTW", "degC")
        assert float(got.text) == float(parsed.temperature)
        pressure = f"{rng.uniform(0, 40):.3f}"
        both = pynmea2.XDR("II", "XDR", ("C", value, "C", "LINE", "P", pressure, "B", "SUCTION"))
        line, suction = read(str(both).encode())
        again = pynmea2.parse(str(both), check=True)
        assert again.num_transducers == 2
        assert (line.text, line.unit, line.source) == (value, "degC", "XDR:LINE")
        assert (suction.text, suction.unit, suction.source) == (pressure, "bar", "XDR:SUCTION")


def test_damage_is_refused_where_the_oracle_refuses_it() -> None:
    rng = random.Random(4)
    good = str(pynmea2.MTW("II", "MTW", ("17.9", "C"))).encode()
    assert not isinstance(measurements(good), Fault)
    for _ in range(500):
        place = rng.randrange(1, len(good))
        damaged = good[:place] + bytes([rng.randrange(33, 127)]) + good[place + 1 :]
        if damaged.upper() == good.upper():
            continue
        assert isinstance(measurements(damaged), Fault)
        with pytest.raises(pynmea2.ParseError):
            pynmea2.parse(damaged.decode(), check=True)


@pytest.mark.parametrize(
    ("line", "outcome"),
    [
        (b"$IIMTW,17.9,C", Fault.TRUNCATED),  # a checksum is required, unlike in many readers
        (b"$GPGLL,5057.970,N,00146.110,E,142451,A*27", ()),
        (b"IIMTW,17.9,C*1C", Fault.NO_MATCH),
        (b"$IIMTW,17.9,C*1C$IIMTW,17.9,C*1C", Fault.JOINED),
        (b"", Fault.TRUNCATED),
    ],
)
def test_forms(line: bytes, outcome: object) -> None:
    assert measurements(line) == outcome


def test_a_wrong_unit_is_a_fault_and_an_empty_value_is_not_known() -> None:
    decoder = NmeaDecoder(load_profile(PROFILE, "vessel"))
    assert decoder.decode(str(pynmea2.MTW("II", "MTW", ("64.2", "F"))).encode()).fault is Fault.NO_MATCH
    assert (
        decoder.decode(str(pynmea2.XDR("II", "XDR", ("P", "5", "P", "SUCTION"))).encode()).fault
        is Fault.NO_MATCH
    )
    empty = decoder.decode(str(pynmea2.MTW("II", "MTW", ("", "C"))).encode()).values
    assert [(v.value, v.quality) for v in empty] == [(None, Quality.NOT_KNOWN)]
    high = decoder.decode(str(pynmea2.MTW("II", "MTW", ("99", "C"))).encode()).values
    assert [(v.value, v.quality) for v in high] == [(99.0, Quality.OUT_OF_RANGE)]


def test_over_a_port_other_sentences_are_no_faults(tmp_path: Path) -> None:
    async def main() -> None:
        port = FakePort(tmp_path / "vessel")
        profile = load_profile(PROFILE, "vessel")
        adapter = SerialLines("sea", profile, str(port.link), decoder=NmeaDecoder(profile))
        async with Supervised(adapter, Timing()) as run:
            await run.live()
            port.send(b"$GPGLL,5057.970,N,00146.110,E,142451,A*27\r\n")
            port.send(str(pynmea2.MTW("II", "MTW", ("8.5", "C"))).encode() + b"\r\n")
            port.send(b"$IIMTW,8.6,C*00\r\n")
            await run.until(lambda: run.counts.rejected.total() == 1)
            assert [r.value for r in run.seen.readings] == [8.5]
            assert run.counts.rejected == {"checksum": 1}

    asyncio.run(main())


def test_a_channel_without_talker_is_refused() -> None:
    with pytest.raises(ProfileError, match="talker"):
        NmeaDecoder(load_profile(PROFILE.replace('talker = "MTW"', ""), "vessel"))
