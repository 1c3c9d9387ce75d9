"""NMEA 0183: water temperature (MTW) and transducers (XDR); a checksum is required.

Sentence forms and the transducer table follow the published descriptions of the standard; the standard
itself was not at hand. pynmea2 is the oracle of the tests.
"""

from __future__ import annotations

from typing import NamedTuple

from analysis.measure import Quality
from analysis.units import Quantity
from drivers.base import ProfileError
from drivers.decode import NOTHING, Decoded, Fault, Value, number, xor8_payload
from drivers.profile import Profile
from drivers.profile_sections import ChannelProfile, Example
from drivers.registry import Context, Kind, Outcome, Wanted
from drivers.serial_lines import SerialLines, outcome

#: Transducer type and unit letter -> unit as we write it; a pressure's letter does not say gauge or absolute.
_UNITS: dict[tuple[str, str], str] = {
    ("C", "C"): "degC",
    ("P", "B"): "bar",
    ("P", "P"): "Pa",
    ("H", "P"): "%",
    ("R", "l"): "L/s",
    ("F", "H"): "Hz",
    ("T", "R"): "rpm",
    ("V", "M"): "m3",
    ("U", "V"): "V",
    ("I", "A"): "A",
}
_PRESSURE_SUFFIX = {Quantity.GAUGE_PRESSURE: "(g)", Quantity.ABSOLUTE_PRESSURE: "(a)"}


class Measurement(NamedTuple):
    """One quantity of a sentence."""

    source: str
    """``MTW``, or ``XDR:`` with the transducer's name."""
    text: str
    """The number as sent; empty where the instrument had none."""
    unit: str
    """Our name of the unit, without gauge or absolute; empty where its letters are not known to us."""


def measurements(line: bytes) -> tuple[Measurement, ...] | Fault:
    """Read one sentence; sentences of other kinds give nothing.

    Examples
    --------
    >>> measurements(b"$IIMTW,17.9,C*1C")
    (Measurement(source='MTW', text='17.9', unit='degC'),)
    >>> str(measurements(b"$IIMTW,17.8,C*1C"))
    'checksum'
    """
    payload = xor8_payload(line)
    if isinstance(payload, Fault):
        return payload
    if not payload.isascii():
        return Fault.NON_ASCII
    sentence, *fields = payload.decode("ascii").split(",")
    if sentence.startswith("P") or len(sentence) != 5:  # a maker's own sentence
        return ()
    if sentence.endswith("MTW"):
        if len(fields) != 2:
            return Fault.NO_MATCH
        return (Measurement("MTW", fields[0], _UNITS.get(("C", fields[1]), "")),)
    if sentence.endswith("XDR"):
        if len(fields) % 4 or not fields:
            return Fault.NO_MATCH
        groups = [fields[i : i + 4] for i in range(0, len(fields), 4)]
        return tuple(
            Measurement(f"XDR:{name}", text, _UNITS.get((kind, unit), ""))
            for kind, text, unit, name in groups
        )
    return ()


class NmeaDecoder:
    """Decodes the sentences of a profile whose channels name their ``talker``.

    Raises
    ------
    ProfileError
        If a channel names none.
    """

    delimiter = b"\n"
    has_time = False
    guarded = True

    def __init__(self, profile: Profile) -> None:
        self._channels: dict[str, ChannelProfile] = {}
        for part in profile.channel:
            if part.talker != "MTW" and not part.talker.startswith("XDR:"):
                raise ProfileError(
                    f"Profile {profile.name}, channel '{part.name}': write talker = \"MTW\", "
                    'or "XDR:" and the transducer\'s name.'
                )
            self._channels[part.talker] = part
        self._convert = {talker: part.conversion() for talker, part in self._channels.items()}

    def decode(self, line: bytes) -> Decoded:
        """Decode one sentence; a unit other than the profile's is a fault, never a value."""
        found = measurements(line)
        if isinstance(found, Fault):
            return Decoded(fault=found)
        values = []
        for source, text, unit in found:
            part = self._channels.get(source)
            if part is None:
                continue
            if unit + _PRESSURE_SUFFIX.get(part.quantity, "") != part.unit:
                return Decoded(fault=Fault.NO_MATCH)
            read = number(text)
            if read is not None:
                value, quality = self._convert[source](read)
                values.append(Value(part.name, value, quality))
            elif not text or self._convert[source].is_sentinel(text):
                values.append(Value(part.name, None, Quality.NOT_KNOWN))
            else:
                return Decoded(fault=Fault.NO_MATCH)
        return Decoded(tuple(values)) if values else NOTHING


def _make(wanted: Wanted, context: Context) -> SerialLines:
    return SerialLines(wanted.name, wanted.profile, wanted.address, decoder=NmeaDecoder(wanted.profile))


def _example(profile: Profile, example: Example) -> Outcome:
    return outcome(NmeaDecoder(profile).decode(example.payload()))


KIND = Kind("nmea0183", "NMEA 0183 sentences over a serial port or the network", _make, example=_example)
