"""How a profile's channel is read from a characteristic's bytes; and a profile's examples, decoded."""

from __future__ import annotations

import math
import re
import struct
from collections.abc import Callable

from analysis.measure import Quality
from analysis.units import Quantity, Unit, unit
from drivers.base import ProfileError
from drivers.gatt_descriptors import presentation_format
from drivers.gatt_formats import MALFORMED, Decoded, FloatFormat, IntegerFormat, ValueFormat
from drivers.gatt_values import CHARACTERISTICS, Characteristic, long_uuid, short_uuid
from drivers.profile import Profile
from drivers.profile_sections import ChannelProfile, Example

Decode = Callable[[bytes], Decoded]
PRESSURES = (Quantity.GAUGE_PRESSURE, Quantity.ABSOLUTE_PRESSURE, Quantity.PRESSURE_DIFFERENCE)

#: Formats that a profile may name beside the codes of Python's ``struct`` module.
NAMED_FORMATS: dict[str, ValueFormat] = {
    "u24": IntegerFormat(3),
    "s24": IntegerFormat(3, signed=True),
    "u48": IntegerFormat(6),
    "medfloat16": FloatFormat("medfloat16"),
    "medfloat32": FloatFormat("medfloat32"),
}


def same_uuid(written: str, uuid: str) -> bool:
    """Whether a UUID as written in a profile, short or full, is this one.

    Examples
    --------
    >>> same_uuid("2A6E", "00002a6e-0000-1000-8000-00805f9b34fb")
    True
    """
    written = written.lower().removeprefix("0x")
    return uuid.lower() == (f"0000{written}-0000-1000-8000-00805f9b34fb" if len(written) == 4 else written)


def profile_decoder(part: ChannelProfile, presentation: bytes = b"") -> Decode:
    """Give the function from a characteristic's bytes to a profile channel's value.

    The format is the profile's ``struct``, else the standard's, else the device's Presentation Format; then
    follow the profile's sentinels, scale, offset, curve and valid range.

    Raises
    ------
    ProfileError
        If no format is known, or the standard characteristic measures something else.
    """
    convert = part.conversion()
    if part.struct:
        read, step = _struct_decoder(part), None
    else:
        meaning = CHARACTERISTICS.get(_number_of(part.uuid)) or presentation_format(presentation)
        if meaning is None:
            raise ProfileError(
                f"Channel '{part.name}': no standard says how {part.uuid} is read; give struct, as '<h'."
            )
        read, step = meaning.format.decode, _between_units(part, meaning)

    def decode(payload: bytes) -> Decoded:
        found = read(payload)
        if found.value is None:
            return found
        value, quality = convert(found.value if step is None else step(found.value))
        return Decoded(value, quality | found.quality)

    return decode


def _struct_decoder(part: ChannelProfile) -> Decode:
    named = NAMED_FORMATS.get(part.struct)
    if named is not None:
        size = named.size if isinstance(named, IntegerFormat) else {"medfloat16": 2}.get(part.struct, 4)
        return lambda payload: named.decode(payload[part.at : part.at + size])
    try:
        form = struct.Struct(part.struct)
        plain = len(form.unpack(bytes(form.size))) == 1 and form.format[-1:] not in ("s", "p", "c", "?")
    except struct.error:
        plain = False
    if not plain:
        raise ProfileError(
            f"Channel '{part.name}': struct '{part.struct}' is not one number; write a code such as "
            f"'<h' or '<f', or one of {', '.join(NAMED_FORMATS)}."
        )

    def decode(payload: bytes) -> Decoded:
        if len(payload) < part.at + form.size:
            return MALFORMED
        value = float(form.unpack_from(payload, part.at)[0])
        return Decoded(value) if math.isfinite(value) else Decoded(None, Quality.NOT_KNOWN)

    return decode


def _between_units(part: ChannelProfile, meaning: Characteristic) -> Callable[[float], float] | None:
    """Give the step from the standard's unit to the profile's, None where they are the same."""
    both_pressures = part.quantity in PRESSURES and meaning.quantity in PRESSURES
    if meaning.quantity is None or not (both_pressures or part.quantity is meaning.quantity):
        raise ProfileError(
            f"Channel '{part.name}': {part.uuid} is {meaning.name.replace('_', ' ')}, not {part.quantity}."
        )
    sent: Unit = unit(meaning.unit, meaning.quantity)
    shown = unit(part.unit, part.quantity)
    if (sent.factor, sent.offset) == (shown.factor, shown.offset):
        return None
    return lambda value: (value * sent.factor + sent.offset - shown.offset) / shown.factor


def _number_of(uuid: str) -> int:
    text = uuid.lower().removeprefix("0x")
    if re.fullmatch("[0-9a-f]{4}", text):
        return int(text, 16)
    return short_uuid(text) or 0


def check_characteristics(profile: Profile) -> None:
    """Refuse a profile whose channels name no characteristic, or one that cannot be read as they say.

    Raises
    ------
    ProfileError
        With the channel and what to write.
    """
    for part in profile.channel:
        if not part.uuid:
            raise ProfileError(f"Profile {profile.name}, channel '{part.name}': say its uuid.")
        if part.struct or _number_of(part.uuid) in CHARACTERISTICS:
            profile_decoder(part)  # any other may still be described by the device itself


def decode_example(profile: Profile, example: Example) -> tuple[dict[str, float | str], str]:
    """Decode the bytes of one characteristic with all channels of a profile that name it.

    Without a UUID, every channel that can read the bytes does.

    Returns
    -------
    dict, str
        Channel to value, or to a word of quality where there is none; and the kind of fault, or empty.
    """
    values: dict[str, float | str] = {}
    for part in profile.channel:
        if example.uuid and not same_uuid(part.uuid, _full(example.uuid)):
            continue
        value, quality = profile_decoder(part)(example.payload())
        if not quality & Quality.MALFORMED:
            values[part.name] = quality.text() if value is None else value
        elif example.uuid:
            return {}, "malformed"
    return values, "" if values else "malformed"


def _full(uuid: str) -> str:
    number = _number_of(uuid)
    return long_uuid(number) if number else uuid.lower()
