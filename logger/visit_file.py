"""``visit.toml``: the record of a visit, a strict file beside the session that a person can write by hand."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

from analysis import visit as said
from analysis.refrigerant_ledger import COVERAGE, SCALE_U_KG, Ledger, Transfer
from analysis.units import Quantity, UnitError, parse_amount
from drivers.strict_toml import TomlError, decode
from logger.errors import DamagedInputError
from logger.visit_tables import PurgeTable, RefrigerantTable, VisitFile
from logger.written_file import read_written

VISIT = "visit.toml"
PHOTOS = "photos"
"""Folder of the photos, beside the record."""
_AT = re.compile(r"(\d{1,4}):([0-5]\d):([0-5]\d)(?:\.\d+)?", re.ASCII)


def decode_visit(text: str) -> said.VisitRecord:
    r"""Read the text of a visit record.

    Raises
    ------
    TomlError
        Naming the key path that is wrong, with the way out.

    Examples
    --------
    >>> decode_visit('[visit]\nsite = "hall"').site
    'hall'
    >>> decode_visit('[[temporary_repair]]\nwhat = "clamp"\nsince = "14.1.2026"')
    Traceback (most recent call last):
    drivers.strict_toml.TomlError: 'temporary_repair[1].since': '14.1.2026' is no date; write "2026-01-14".
    """
    written = decode(text, VisitFile)
    visit, work, owner = written.visit, written.work, written.owner
    return said.VisitRecord(
        report=visit.report,
        site=visit.site,
        machine=visit.machine,
        customer_words=visit.customer_words,
        technician=visit.technician,
        arrived=_moment(visit.arrived, "visit.arrived"),
        left=_moment(visit.left, "visit.left"),
        linked_callback=visit.linked_callback,
        isolations=tuple(
            said.Isolation(
                i.who, _moment(i.when, f"isolation[{n}].when"), i.what, i.second_supplies, i.proven_dead
            )
            for n, i in enumerate(written.isolation, 1)
        ),
        notes=tuple(
            said.Note(m.text, _elapsed(m.at, f"mark[{n}].at"), _photos(m.photos, f"mark[{n}].photos"))
            for n, m in enumerate(written.mark, 1)
        ),
        actions=tuple(said.Action(a.found, a.did) for a in written.action),
        cleanings=tuple(
            said.CoilCleaning(
                c.agent_class,
                _least(c.minutes, f"coil_cleaning[{n}].minutes"),
                _within(c.end_ph, 0.0, 14.0, f"coil_cleaning[{n}].end_ph"),
                c.rinsed,
            )
            for n, c in enumerate(written.coil_cleaning, 1)
        ),
        purges=tuple(_purge(p, f"purge[{n}]") for n, p in enumerate(written.purge, 1)),
        leak_checks=tuple(
            said.LeakCheck(c.place, c.found, c.method, c.tried_on) for c in written.leak_check
        ),
        parts=tuple(said.Part(p.what, p.before, p.after, p.number) for p in written.part),
        ledger=_ledger(written.refrigerant),
        work=said.Work(
            _least(work.labour_hours, "work.labour_hours"),
            _least(work.travel_hours, "work.travel_hours"),
            1000.0 * _least(work.distance_km, "work.distance_km"),
            _within(work.access_factor, 1.0, 10.0, "work.access_factor"),
            work.access_why,
            _least(work.labour_rate, "work.labour_rate"),
            _least(work.travel_rate, "work.travel_rate"),
            work.currency,
        ),
        temporary_repairs=tuple(
            said.TemporaryRepair(
                t.what, *(_date(getattr(t, key), f"temporary_repair[{n}].{key}") for key in _DATES)
            )
            for n, t in enumerate(written.temporary_repair, 1)
        ),
        calibrations=tuple(
            said.Calibration(c.instrument, c.id, _date(c.date, f"calibration[{n}].date"))
            for n, c in enumerate(written.calibration, 1)
        ),
        untested=tuple(said.Untested(u.what, u.why) for u in written.not_tested),
        owner=said.ForOwner(
            owner.broken, owner.broken_how, owner.fixed, owner.not_fixed, owner.watch,
            owner.watch_approved_by, owner.to_do,
        ),
    )  # fmt: skip


_DATES = ("since", "until", "replaced")


def _purge(written: PurgeTable, path: str) -> said.Purge:
    return said.Purge(
        written.what,
        _least(written.minutes_forward, f"{path}.minutes_forward"),
        _least(written.minutes_reverse, f"{path}.minutes_reverse"),
        _amount(written.dead_head_drop, f"{path}.dead_head_drop", Quantity.LENGTH),
        tuple(
            (s.minutes, _amount(s.pressure, f"{path}.static[{n}].pressure", Quantity.GAUGE_PRESSURE))
            for n, s in enumerate(written.static, 1)
        ),
        _least(_amount(written.flow, f"{path}.flow", Quantity.VOLUME_FLOW), f"{path}.flow"),
        _least(_amount(written.bore, f"{path}.bore", Quantity.LENGTH), f"{path}.bore"),
    )


def _ledger(written: RefrigerantTable) -> Ledger:
    path = "refrigerant"
    transfers = []
    for n, one in enumerate(written.transfer, 1):
        at = f"{path}.transfer[{n}]"
        transfer = Transfer(
            one.kind, _mass(one.mass, f"{at}.mass"), one.cylinder,
            _mass(one.cylinder_before, f"{at}.cylinder_before"),
            _mass(one.cylinder_after, f"{at}.cylinder_after"),
        )  # fmt: skip
        _check_transfer(transfer, at)
        transfers.append(transfer)
    expanded = _mass(written.weighing_uncertainty, f"{path}.weighing_uncertainty")
    return Ledger(
        written.name,
        tuple(transfers),
        _mass(written.mass_before, f"{path}.mass_before"),
        _mass(written.mass_after, f"{path}.mass_after"),
        expanded / COVERAGE if math.isfinite(expanded) else SCALE_U_KG,
        written.leak_test,
        written.vacuum,
    )


def _check_transfer(transfer: Transfer, at: str) -> None:
    """Refuse a cylinder that changed the wrong way, or by another mass than stated."""
    by_cylinder = Transfer(transfer.kind, math.nan, "", transfer.cylinder_before, transfer.cylinder_after)
    moved = by_cylinder.weighed
    if math.isfinite(moved) and moved < 0.0:
        way = "gains" if transfer.kind == "recovered" else "loses"
        raise TomlError(f"'{at}': the cylinder {way} what is {transfer.kind}; look at before and after.")
    if math.isfinite(moved) and math.isfinite(transfer.mass) and abs(moved - transfer.mass) > 0.02:
        raise TomlError(
            f"'{at}.mass': {transfer.mass:g} kg is stated and the cylinder changed by {moved:.2f} kg; "
            "put one of them right."
        )


def _mass(text: str, path: str) -> float:
    return _least(_amount(text, path, Quantity.MASS), path)


def _amount(text: str, path: str, quantity: Quantity) -> float:
    if not text:
        return math.nan
    try:
        return parse_amount(text, quantity).si
    except UnitError as refused:
        raise TomlError(f"'{path}': {refused}") from None


def _least(value: float, path: str) -> float:
    return _within(value, 0.0, math.inf, path)


def _within(value: float, low: float, high: float, path: str) -> float:
    if math.isinf(value) or value < low or value > high:
        words = f"from {low:g} on" if math.isinf(high) else f"from {low:g} to {high:g}"
        raise TomlError(f"'{path}': {value:g} cannot be; write a number {words}.")
    return value


def _date(text: str, path: str) -> str:
    try:
        return text and date.fromisoformat(text).isoformat()
    except ValueError:
        raise TomlError(f"'{path}': '{text}' is no date; write \"2026-01-14\".") from None


def _moment(text: str, path: str) -> str:
    """Check a date with or without a time; it is kept as written, since it is a person's entry."""
    try:
        if text:
            datetime.fromisoformat(text)
    except ValueError:
        raise TomlError(f"'{path}': '{text}' is no moment; write \"2026-01-14 10:02\".") from None
    return text


def parse_at(text: str) -> float:
    """Read a moment of a session, ``h:mm:ss`` [s].

    Raises
    ------
    ValueError
        If it is written otherwise.

    Examples
    --------
    >>> parse_at("0:42:00")
    2520.0
    """
    if _AT.fullmatch(text) is None:
        raise ValueError(f"'{text}' is no moment of a session; write it like 0:42:00.")
    hours, minutes, seconds = text.split(":")
    return 3600.0 * int(hours) + 60.0 * int(minutes) + float(seconds)


def _elapsed(text: str, path: str) -> float:
    try:
        return parse_at(text) if text else math.nan
    except ValueError as refused:
        raise TomlError(f"'{path}': {refused}") from None


def _photos(names: Sequence[str], path: str) -> tuple[str, ...]:
    """Photos lie in one folder beside the record; a path out of it is refused."""
    for name in names:
        if not name or name != Path(name).name or "\\" in name or ":" in name or name in (".", ".."):
            raise TomlError(f"'{path}': '{name}' is no plain file name; put the photo into {PHOTOS}/.")
    return tuple(names)


def read_visit(path: Path) -> said.VisitRecord:
    """Read a visit record.

    Raises
    ------
    CommandError
        With one sentence: the file is not there, or the key path that is wrong.
    """
    text = read_written(path, "visit record")
    try:
        return decode_visit(text)
    except TomlError as refused:
        raise DamagedInputError(f"{path}: {refused}") from None


def find_visit(folders: Sequence[Path], given: str = "") -> tuple[said.VisitRecord, Path] | None:
    """Find the record that belongs to sessions: the given one, else beside the first that has one.

    Parameters
    ----------
    folders
        Session folders, the newest first; a record may lie in one of them or beside them.
    given
        A file named by the person.

    Returns
    -------
    (record, file) or None
        None where there is none.
    """
    if given:
        return read_visit(Path(given)), Path(given)
    for path in [*(folder / VISIT for folder in folders), *(folder.parent / VISIT for folder in folders)]:
        if path.is_file():
            return read_visit(path), path
    return None
