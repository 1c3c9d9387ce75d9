"""The office's page: plate data, work, parts, refrigerant as weighed, times, calibration, readings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from analysis.card_file import CardFile
from analysis.compare import Compared
from analysis.marks import standing_marks
from analysis.presets import PresetName, duration, number, show
from analysis.refrigerant_ledger import Ledger, mass_balance
from analysis.units import Quantity
from analysis.visit import CoilCleaning, Purge, VisitRecord, Work
from logger.comparison import Studied, shown_changes, stretch_line, verdict_line
from logger.moments import utc_text
from logger.reports.owner import temporary_lines, untested_lines
from logger.reports.paper import made_by
from logger.reports.photos import photos_of
from logger.reports.session_pages import value_rows
from logger.shown_values import plain
from logger.visit_file import PHOTOS

Facts = list[tuple[str, str]]


def office_facts(
    studied: Sequence[Studied],
    compared: Compared | None,
    record: VisitRecord | None,
    photo_folder: Path | None,
    card: CardFile | None,
    preset: PresetName,
    *,
    written_us: int,
) -> dict[str, object]:
    """Gather what the page says.

    Parameters
    ----------
    studied
        One session, or as found and as left.
    compared
        Where there are two.
    record
        The visit's record.
    photo_folder
        Folder of the record, whose photos are shown.
    card
        The machine's card as written, for its plate.
    """
    return {
        "heading": f"Visit report {plain(record.report)}" if record and record.report else "Visit report",
        "sub": plain(", ".join(filter(None, (record.site, record.machine) if record else ())))
        or studied[-1].title,
        "recorded": record is not None,
        "customer_words": plain(record.customer_words) if record else "",
        "plate": _plate(card, preset),
        "times": _times(record, studied),
        "isolations": record.isolations if record else (),
        "actions": [(plain(a.found), plain(a.did)) for a in record.actions] if record else [],
        "parts": record.parts if record else (),
        "cleanings": [_cleaning(c) for c in record.cleanings] if record else [],
        "purges": [_purge(p, preset) for p in record.purges] if record else [],
        "refrigerant": plain(record.ledger.refrigerant) if record else "",
        "transfers": _transfers(record.ledger, preset) if record else [],
        "ledger": _ledger(record.ledger, preset) if record else [],
        "work": _work(record.work, preset) if record else [],
        "calibrations": _calibrations(record, studied),
        "readings": _readings(studied, compared, preset),
        "untested": untested_lines(record, compared, [s for one in studied for s in one.stretches]),
        "temporary": temporary_lines(record),
        "marks": _marks(record, studied),
        "photos": photos_of(photo_folder / PHOTOS, record.photos) if record and photo_folder else [],
        **made_by(written_us),
    }


def _kept(facts: Sequence[tuple[str, str]]) -> Facts:
    return [(name, plain(text)) for name, text in facts if text]


def _plate(card: CardFile | None, preset: PresetName) -> Facts:
    if card is None:
        return []
    unit, side = card.unit, card.source_side
    return _kept(
        [
            ("machine", unit.title), ("kind", unit.kind), ("serial number", unit.serial),
            ("supply", unit.supply), ("circuits", str(unit.circuits)),
            ("refrigerant", card.refrigerant.name), ("charge on the plate", card.refrigerant.charge),
            ("source side", f"{side.loop}, {side.fluid.replace('_', ' ')}"), ("source of these", unit.source),
        ]
    )  # fmt: skip


def _times(record: VisitRecord | None, studied: Sequence[Studied]) -> Facts:
    facts = [
        (
            f"recording {one.session.folder.name}",
            f"{utc_text(one.session.header.utc_start_us)[:16].replace('T', ' ')} UTC, "
            f"{duration(one.session.duration_us / 1e6)} long",
        )
        for one in studied
    ]
    if record is not None:
        facts = [
            ("technician", record.technician), ("arrived", record.arrived), ("left", record.left),
            ("callback on report", record.linked_callback), *facts,
        ]  # fmt: skip
    return _kept(facts)


def _amount(value: float, decimals: int, unit: str) -> str:
    return f"{number(value, decimals)} {unit}" if math.isfinite(value) else ""


def _work(work: Work, preset: PresetName) -> Facts:
    """Write plain figures; a price only where the rate is given."""
    currency = plain(work.currency) or "in the currency of the rate"
    distance = work.distance_m / (1609.344 if preset == "us" else 1000.0)
    return _kept(
        [
            ("labour", _amount(work.labour_h, 1, "h")),
            ("travel", _amount(work.travel_h, 1, "h")),
            ("distance", _amount(distance, 0, "mi" if preset == "us" else "km")),
            (
                "difficult access",
                f"factor {number(work.access_factor, 2)}"
                + (f": {work.access_why}" if work.access_why else "")
                if math.isfinite(work.access_factor)
                else "",
            ),
            ("labour, with the rate given", _amount(work.labour_price, 2, currency)),
            ("travel, with the rate given", _amount(work.travel_price, 2, currency)),
        ]
    )


def _cleaning(cleaning: CoilCleaning) -> str:
    parts = [f"agent: {cleaning.agent_class}", _amount(cleaning.minutes, 0, "min")]
    ph = f"pH at the end {number(cleaning.end_ph, 1)}" if math.isfinite(cleaning.end_ph) else ""
    parts += [ph or "pH at the end not measured", f"rinsed {cleaning.rinsed}" if cleaning.rinsed else ""]
    return plain("; ".join(filter(None, parts)))


def _purge(purge: Purge, preset: PresetName) -> str:
    drop = purge.dead_head_drop * 1000.0 / (25.4 if preset == "us" else 1.0)
    parts = [
        purge.what,
        _amount(purge.minutes_forward, 0, "min forward"),
        _amount(purge.minutes_reverse, 0, "min reverse"),
        f"dead-head drop {_amount(drop, 1 if preset == 'us' else 0, 'in' if preset == 'us' else 'mm')}"
        if math.isfinite(drop)
        else "",
        *(f"{show(Quantity.GAUGE_PRESSURE, p, preset)} after {m:g} min" for m, p in purge.static_pressures),
    ]
    return plain("; ".join(filter(None, parts)))


def _transfers(ledger: Ledger, preset: PresetName) -> list[tuple[str, str, str]]:
    return [
        (
            transfer.kind,
            show(Quantity.MASS, transfer.weighed, preset)
            if math.isfinite(transfer.weighed)
            else "not weighed, no mass",
            plain(transfer.cylinder) or "not stated",
        )
        for transfer in ledger.transfers
    ]


def _ledger(ledger: Ledger, preset: PresetName) -> list[str]:
    """Say whether the mass balance closes, or what is missing for it."""
    lines = [
        f"{name}: {plain(text)}"
        for name, text in (("Leak test", ledger.leak_test), ("Vacuum", ledger.vacuum))
        if text
    ]
    if not ledger.transfers:
        return [*lines, "No refrigerant was moved, or none is entered."]
    balance = mass_balance(ledger)
    if balance.closes is None:
        lines.append(f"Mass balance cannot be closed; never weighed: {', '.join(balance.missing)}.")
    else:
        residual = show(Quantity.MASS, balance.residual, preset)
        u = show(Quantity.MASS, 2.0 * balance.u, preset)
        said = "closes" if balance.closes else "does NOT close"
        lines.append(f"Mass balance {said}: {residual} unaccounted for, ± {u} (k = 2).")
    return [plain(line) for line in lines]


def _calibrations(record: VisitRecord | None, studied: Sequence[Studied]) -> list[tuple[str, str, str]]:
    rows = [(c.instrument, c.id, c.date) for c in record.calibrations] if record else []
    named = {
        (channel.calibration, channel.id)
        for one in studied
        for channel in one.session.channels
        if channel.calibration
    }
    rows += [(f"channel {channel}", name, "") for name, channel in sorted(named)]
    return [(plain(a), plain(b), plain(c) or "date not stated") for a, b, c in rows]


def _marks(record: VisitRecord | None, studied: Sequence[Studied]) -> list[tuple[str, str]]:
    rows = [
        (f"{one.session.folder.name}, {duration(event.t_us / 1e6)}", plain(event.text))
        for one in studied
        for event in standing_marks(one.session.events)
    ]
    if record is not None:
        rows += [
            (duration(note.at_s) if math.isfinite(note.at_s) else "", plain(note.text))
            for note in record.notes
        ]
    return rows


def _readings(studied: Sequence[Studied], compared: Compared | None, preset: PresetName) -> dict[str, object]:
    """Give every value that the report rests on: compared, or of the one session."""
    if compared is not None and compared.comparisons:
        one = compared.comparisons[0]
        return {
            "heads": ("as found", "as left", "change ± U", "verdict"),
            "title": f"{one.mode.capitalize() or 'Mode not declared'}: {verdict_line(one, preset)}",
            "rows": [
                (r.label, r.as_found, r.as_left, r.change, r.verdict) for r in shown_changes(one, preset)
            ],
            "lines": [
                f"As found {stretch_line(one.as_found)}.",
                f"As left {stretch_line(one.as_left)}.",
            ],
        }
    last = studied[-1]
    if not last.stretches:
        return {"heads": (), "title": "There are no readings of a measuring point.", "rows": [], "lines": []}
    best = max(last.stretches, key=lambda stretch: (stretch.steady, stretch.seconds))
    title = f"{best.settings.mode.capitalize() or 'Mode not declared'}: {stretch_line(best)}"
    return {
        "heads": ("value", "± U", "route"),
        "title": title,
        "rows": [(r.label, r.value, r.u, r.route) for r in value_rows(best, last.side.channels, preset)],
        "lines": ["The two sessions have no mode in common."] if compared is not None else [],
    }
