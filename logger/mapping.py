"""MAP.toml: what the columns of a foreign table are, so that it becomes a session."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import msgspec

from analysis.measure import Channel, Distribution, Specification
from analysis.points import Point, point
from analysis.timeline import Event
from analysis.units import Quantity, UnitError, quantity_of, unit
from drivers.table_dialect import Dialect


class TableTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """``[table]``: how the file is written; what is left out is found."""

    delimiter: Literal["", ",", ";", "tab"] = ""
    decimal: Literal["", ".", ","] = ""
    thousands: Literal["", ".", ",", " ", "'"] = ""
    encoding: str = ""
    header_row: int | None = None
    """Number of the row with the names; 0 where there is none."""
    units_row: int | None = None
    comment: str = ""
    """What a line begins with that is no row."""
    sheet: str = ""
    missing: tuple[str, ...] = ()
    """Words that stand for "no value", as ``["n/a", "---"]``."""


class TimeTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """``[time]``: exactly one of ``elapsed``, ``format`` and ``every``."""

    column: str | tuple[str, ...] = ()
    elapsed: Literal["", "us", "ms", "s", "min", "h", "d", "h:mm:ss"] = ""
    """Unit of a time that runs from the start."""
    format: str = ""
    """``iso``, ``serial`` (a spreadsheet's days), ``serial1904``, ``unix``, ``unix ms``, or of strptime."""
    every: str = ""
    """Step of the rows where none states its time, ``10 s``."""
    year: int | None = None
    """For a format without year."""
    zone: str = ""
    """``UTC``, ``+01:00`` or a name as ``Europe/Oslo``."""
    start: str = ""
    """Date and time of the first row for ``elapsed`` and ``every``, with its zone."""


class UncertaintyTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is promised about an indication, in the column's unit."""

    fixed: float = 0.0
    of_reading: float = 0.0
    of_span: float = 0.0
    span: float = 0.0
    k: float = 2.0
    distribution: Distribution = "normal"


class ColumnTable(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One ``[[column]]``."""

    header: str
    """The column's name in the file, with blanks as single ones."""
    unit: str
    """What the numbers are in; it overrules what the header says."""
    channel: str = ""
    """The header's name by default."""
    quantity: Quantity | None = None
    """May be left out where ``assign`` says it."""
    label: str = ""
    file: str = ""
    """Pattern of file names, where several files have a column of this name."""
    assign: str = ""
    """The measuring point that it feeds."""
    scale: float = 1.0
    offset: str = ""
    sentinels: tuple[float, ...] = ()
    """Numbers that the instrument gives where it has no value."""
    uncertainty: UncertaintyTable | None = None
    resolution: float = 0.0
    source: str = ""
    """Where the uncertainty comes from."""
    heat_of: Literal["", "source", "load"] = ""
    """For a heat rate that the log has worked out itself: of which water."""
    saturation_of: str = ""
    """For a saturation temperature that the log has worked out itself: from the pressure at which point."""


class Mapping(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Everything that an import needs to know."""

    column: tuple[ColumnTable, ...]
    title: str = ""
    refrigerant: str = ""
    barometer: str = ""
    fluid: str = ""
    """What flows on the source side, ``propylene_glycol 25 % mass``; plain water by default in the checks."""
    load_fluid: str = ""
    mode: Literal["", "heating", "cooling"] = ""
    phase: str = ""
    keep: Literal["original", "all", "mapped"] = "original"
    """``original``: the file is copied beside; ``all``: and unmapped columns taken; ``mapped``: neither."""
    table: TableTable = TableTable()
    time: TimeTable

    @property
    def dialect(self) -> Dialect:
        """How the files are written, as far as it is declared."""
        declared = self.table
        time = (self.time.column,) if isinstance(self.time.column, str) else self.time.column
        names = frozenset(" ".join(name.split()) for name in (*time, *(c.header for c in self.column)))
        delimiter = "\t" if declared.delimiter == "tab" else declared.delimiter
        return Dialect(
            delimiter, declared.decimal, declared.thousands, declared.encoding, declared.header_row,
            declared.units_row, declared.comment, declared.sheet, declared.missing, names,
        )  # fmt: skip

    def events(self, utc_us: int) -> Iterable[Event]:
        """Give what is declared as events that hold from the start."""
        for kind in ("refrigerant", "barometer", "fluid", "load_fluid", "mode", "phase"):
            text = getattr(self, kind)
            if text:
                yield Event(0, utc_us, kind, "", text)
        for column in self.column:
            name = channel_id(column)
            if column.assign:
                yield Event(0, utc_us, "assign", name, column.assign)
            if column.scale != 1.0:
                yield Event(0, utc_us, "scale", name, repr(column.scale))
            if column.offset:
                yield Event(0, utc_us, "offset", name, column.offset)


def channel_id(column: ColumnTable) -> str:
    """Give the channel's id of a column."""
    return column.channel or column.header


def channel_of(column: ColumnTable, interval_s: float = 1.0) -> Channel:
    """Describe the channel of a column."""
    stated = column.uncertainty
    return Channel(
        channel_id(column),
        quantity_of_column(column),
        column.unit,
        column.label or column.header,
        resolution=column.resolution,
        uncertainty=None if stated is None else Specification(**msgspec.structs.asdict(stated)),
        expected_interval_s=interval_s,
        source=column.source,
    )


def quantity_of_column(column: ColumnTable) -> Quantity:
    """Say what a column measures.

    Raises
    ------
    UnitError
        If the unit does not fit, or nothing says the quantity.
    """
    if column.quantity is not None:
        unit(column.unit, column.quantity)
        return column.quantity
    if column.assign:
        return quantity_of(column.unit, accepted(point(column.assign)))
    if column.heat_of:
        return quantity_of(column.unit, (Quantity.HEAT_RATE,))
    if column.saturation_of:
        return quantity_of(column.unit, (Quantity.TEMPERATURE,))
    raise UnitError("nothing says what it measures; add quantity (as temperature) or assign.")


def accepted(place: Point) -> tuple[Quantity, ...]:
    """List the quantities that may feed a measuring point."""
    return tuple(quantity for quantity in Quantity if place.accepts(quantity))
