"""The sections of a profile; each is strict, so that a misspelt key is refused instead of ignored."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from analysis.measure import Channel, Distribution, Specification
from analysis.units import Quantity
from drivers.scaling import Conversion, Curve

Positive = Annotated[float, msgspec.Meta(gt=0)]
Checksum = Literal["none", "crc16", "xor8"]
RegisterType = Literal["int16", "uint16", "int32", "uint32", "int64", "uint64", "float32", "float64"]


class Match(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How such an instrument can be recognised; discovery uses it, a set-up may override it."""

    usb: tuple[str, ...] = ()
    """``VID:PID`` in hexadecimal digits, as ``1209:00cd``."""
    serial: str = ""
    names: tuple[str, ...] = ()
    """Advertised or reported names; ``*`` stands for any text."""
    services: tuple[str, ...] = ()
    """Bluetooth services, 4 hexadecimal digits or a full UUID."""
    identity: str = ""
    """Beginning of the answer to an identity query."""


class Link(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How the link is opened."""

    baud: Annotated[int, msgspec.Meta(ge=50, le=4_000_000)] = 9600
    data_bits: Literal[5, 6, 7, 8] = 8
    parity: Literal["none", "even", "odd", "mark", "space"] = "none"
    stop_bits: Literal[1, 2] = 1
    flow_control: Literal["none", "hardware", "software"] = "none"
    dtr: bool | None = None
    """Level of the DTR line, set before opening; false keeps many small boards from restarting."""
    rts: bool | None = None


class Poll(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """For instruments that speak only when asked."""

    interval_s: Positive = 1.0
    station: Annotated[int, msgspec.Meta(ge=1, le=247)] = 1
    """Modbus station address."""
    identify: bool = False
    """Whether to ask for the identity (``*IDN?``) after opening and hold it against ``match.identity``."""


class Line(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    r"""How one line of text is cut into fields; exactly one of pattern, pairs, columns and json."""

    delimiter: str = "\n"
    pattern: str = ""
    """A regular expression for the whole line, with a named group per channel."""
    pairs: bool = False
    """``name=value;name=value`` with ``separator`` and ``assign``."""
    columns: tuple[str, ...] = ()
    """Names of the columns of ``value;value``; ``-`` skips one."""
    json: bool = False
    """One object per line; a channel's ``field`` is a path such as ``probe.0.t``."""
    separator: str = ";"
    assign: str = "="
    checksum: Checksum = "none"
    """``crc16``: ``payload*HHHH``, CRC-16 (1021h, FFFFh) of it; ``xor8``: ``$payload*HH`` as NMEA 0183."""
    time: str = ""
    """Name of the field that carries the instrument's own time."""
    time_unit: Literal["s", "ms"] = "s"
    skip: str = ""
    """Lines that begin so are comments of the instrument, not readings."""


class Uncertainty(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the maker or a calibration promises, in the channel's unit."""

    fixed: float = 0.0
    of_reading: float = 0.0
    of_span: float = 0.0
    span: float = 0.0
    shared: float = 0.0
    """What probes of one calibration have in common; it cancels in their difference."""
    k: float = 2.0
    distribution: Distribution = "normal"
    calibration: str = ""
    """Name of the calibration that probes share, such as one cup."""
    contact: float = 0.0
    """For a clamp: the largest share of pipe less ambient by which it may read too near to ambient."""
    source: str


class Register(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where a value lies in a Modbus station."""

    function: Literal[3, 4] = 3
    """3 holding registers, 4 input registers; evenrun has no others, since it never writes."""
    address: Annotated[int, msgspec.Meta(ge=0, le=65535)]
    type: RegisterType = "int16"
    word_order: Literal["big", "little"] = "big"
    """Which word comes first where a value takes several; a wrong guess gives plausible nonsense."""

    @property
    def count(self) -> int:
        """Number of 16-bit registers."""
        return int(self.type.lstrip("uintfloa")) // 16


class ChannelProfile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One channel of an instrument."""

    name: str
    quantity: Quantity
    unit: str
    label: str = ""
    field: str = ""
    """Name of the group, pair, column or path, where it differs from ``name``."""
    optional: bool = False
    """Whether a line may come without it."""
    scale: float = 1.0
    offset: float = 0.0
    curve: Curve | None = None
    sentinels: tuple[float | str, ...] = ()
    """Numbers or words that mean "no value"; numbers as sent, before scale and offset."""
    valid: tuple[float, float] | None = None
    """Range beyond which an indication cannot be right, in the channel's unit."""
    resolution: Annotated[float, msgspec.Meta(ge=0)] = 0.0
    uncertainty: Uncertainty | None = None
    expected_interval_s: Positive = 1.0
    hold_s: Annotated[float, msgspec.Meta(ge=0)] = 0.0
    uuid: str = ""
    """Bluetooth characteristic: 4 hexadecimal digits or a full UUID."""
    order: Annotated[int, msgspec.Meta(ge=0)] = 0
    """Which of several characteristics of the same UUID, counted by handle from 0."""
    struct: str = ""
    """How a characteristic's bytes are read where no standard says it, as ``<h``."""
    at: Annotated[int, msgspec.Meta(ge=0)] = 0
    """Where in the bytes ``struct`` begins."""
    access: Literal["notify", "read"] = "notify"
    object: int | None = None
    """Object number of a broadcast (BTHome)."""
    register: Register | None = None
    query: str = ""
    """What to ask a meter, as ``MEAS:VOLT:DC?``."""
    talker: str = ""
    """NMEA 0183: sentence and transducer, as ``MTW`` or ``XDR:SUCTION``."""

    @property
    def source_field(self) -> str:
        """The field it is read from."""
        return self.field or self.name

    def channel(self, device: str) -> Channel:
        """Give the channel as a device of this name has it."""
        promised = self.uncertainty
        return Channel(
            id=f"{device}/{self.name}",
            quantity=self.quantity,
            unit=self.unit,
            label=self.label or self.name.replace("_", " "),
            resolution=self.resolution,
            uncertainty=None if promised is None else _specification(promised),
            expected_interval_s=self.expected_interval_s,
            hold_s=self.hold_s,
            source="" if promised is None else promised.source,
            calibration="" if promised is None else promised.calibration,
            contact=0.0 if promised is None else promised.contact,
        )

    def conversion(self) -> Conversion:
        """Give the function from what is sent to what is indicated."""
        return Conversion(
            self.quantity,
            self.unit,
            scale=self.scale,
            offset=self.offset,
            curve=self.curve,
            sentinels=self.sentinels,
            valid=self.valid,
        )


class Example(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One test of the profile: what comes in, and what must come out."""

    text: str = ""
    """A line without its delimiter."""
    hex: str = ""
    """The same as bytes; needed where they are not text."""
    uuid: str = ""
    """The characteristic that the bytes come from."""
    values: dict[str, float | str] = {}
    """Channel to value in its unit; a word of quality (``not_known``) where there is none."""
    fault: str = ""
    """The kind of fault that this line must be refused for."""

    def payload(self) -> bytes:
        """Give the bytes that come in."""
        return bytes.fromhex(self.hex) if self.hex else self.text.encode()


def _specification(promised: Uncertainty) -> Specification:
    return Specification(
        fixed=promised.fixed,
        of_reading=promised.of_reading,
        of_span=promised.of_span,
        span=promised.span,
        shared=promised.shared,
        k=promised.k,
        distribution=promised.distribution,
    )
