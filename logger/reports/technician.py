"""The technician's page: everything that was measured, worked out, assumed and not tested."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from analysis.compare import MODES, Compared, Comparison, Verdict
from analysis.presets import PresetName
from analysis.steadiness import CONFIRM_S, SETTLE_S
from analysis.unit_card import UnitCard
from analysis.visit import VisitRecord
from analysis.windows import Stretch
from logger.comparison import (
    ShownChange,
    ShownCondition,
    Studied,
    between_line,
    compare_between,
    comparison_notes,
    count_verdicts,
    not_tested_lines,
    shown_changes,
    shown_conditions,
    stretch_line,
    verdict_line,
)
from logger.comparison_bands import BandRow, band_rows
from logger.replay import curves_for
from logger.reports import session_pages as pages
from logger.reports.paper import Paper, made_by, page_of, together
from logger.reports.photos import photos_of
from logger.reports.session_charts import Seen, charts, shared_ranges
from logger.reports.support import support_of
from logger.reports.visit_lines import visit_lines
from logger.shown_values import plain
from logger.visit_file import PHOTOS

__all__ = ["Seen", "technician_page"]
_TRACK, _STRIPE = 114.0, 38.0


@dataclass(frozen=True, slots=True)
class Track:
    """A change drawn in multiples of its own uncertainty."""

    x: float
    beyond: int
    """-1 or 1 where the change lies beyond the end of the track."""


@dataclass(frozen=True, slots=True)
class ComparisonPart:
    """A comparison as shown."""

    mode: str
    fair: bool
    verdict: str
    counted: str
    conditions: list[ShownCondition]
    rows: list[tuple[ShownChange, Track | None]]
    as_found: str
    as_left: str
    between: str
    """Where the middle column comes from; blank where there is none."""


def technician_page(
    seen: Sequence[Seen],
    compared: Compared | None,
    preset: PresetName,
    *,
    written_us: int,
    paper: Paper = "a4",
    card: UnitCard | None = None,
    record: VisitRecord | None = None,
    photo_folder: Path | None = None,
    between: Studied | None = None,
) -> str:
    """Write the page.

    Parameters
    ----------
    seen
        One session, or as found and as left.
    compared
        Where there are two.
    preset
        Units.
    written_us
        UTC of writing, since 1970 [us].
    paper
        Page size when it is printed.
    card
        The machine's card; without it nothing is judged against limits of the machine.
    record
        The visit's record.
    photo_folder
        Folder of the record, whose photos are shown.
    between
        The machine between two repairs.

    Returns
    -------
    str
        HTML that needs no other file and no network.
    """
    limits = shared_ranges(seen, preset)
    middle = compare_between(seen[0].studied, between)
    facts = dict(
        heading=seen[0].studied.title,
        sub=seen[1].studied.title if len(seen) > 1 and seen[1].studied.title != seen[0].studied.title else "",
        pair=compared is not None,
        comparisons=[
            _comparison(c, middle.get(c.mode), preset) for c in (compared.comparisons if compared else ())
        ],
        not_tested=_not_tested(seen, compared),
        steady_lines=[
            f"{_declared(stretch)}: {stretch_line(stretch)}"
            for stretch in _chosen(seen[0].studied.stretches)
            if stretch.steady
        ],
        notes=comparison_notes(preset) if compared else [],
        sessions=[
            _session(one, number, limits, preset) | {"support": support_of(one.studied, card, preset)}
            for number, one in enumerate(seen, 1)
        ],
        card=plain(card.title) if card is not None else "",
        bands=_bands(seen, compared, middle, card, preset),
        visit=visit_lines(record, preset),
        photos=photos_of(photo_folder / PHOTOS, record.photos) if record and photo_folder else [],
        sources=_sources(seen),
        settle_minutes=round(SETTLE_S / 60.0),
        confirm_minutes=round(CONFIRM_S / 60.0),
        preset={"si": "SI: °C, K, bar(g), kPa, L/s, kW", "us": "US: °F, psig, psi, gpm, Btu/h"}[preset],
        track=_TRACK,
        stripe=_STRIPE,
        **made_by(written_us),
    )
    return page_of("technician.html", facts, paper)


def _bands(
    seen: Sequence[Seen],
    compared: Compared | None,
    middle: Mapping[str, Comparison],
    card: UnitCard | None,
    preset: PresetName,
) -> list[tuple[str, list[BandRow]]]:
    """Hold each compared pair, or the one session, against the card."""
    if card is None:
        return []
    if compared is not None:
        return [
            (
                c.mode or "mode not declared",
                _kept(
                    band_rows(
                        [c.as_found, *([middle[c.mode].as_left] if c.mode in middle else []), c.as_left],
                        card,
                        preset,
                    )
                ),
            )
            for c in compared.comparisons
        ]
    return [
        (stretch_line(stretch), _kept(band_rows([stretch], card, preset)))
        for stretch in _chosen(seen[0].studied.stretches)
        if stretch.steady
    ]


def _kept(rows: Sequence[BandRow]) -> list[BandRow]:
    return [replace(row, limits=together(row.limits)) for row in rows]


def _comparison(comparison: Comparison, between: Comparison | None, preset: PresetName) -> ComparisonPart:
    counts = count_verdicts(comparison.changes)
    return ComparisonPart(
        comparison.mode or "mode not declared",
        comparison.fairness.fair,
        verdict_line(comparison, preset),
        ", ".join(f"{counts[verdict]} {verdict.value}" for verdict in Verdict if counts[verdict]),
        [replace(shown, text=together(shown.text)) for shown in shown_conditions(comparison, preset)],
        [(row, _track(row)) for row in shown_changes(comparison, preset, between)],
        stretch_line(comparison.as_found),
        stretch_line(comparison.as_left),
        between_line(between) if between is not None else "",
    )


def _track(row: ShownChange) -> Track | None:
    if row.multiple is None or row.verdict == Verdict.NOT_COMPARABLE.value:
        return None
    x = _TRACK / 2.0 + row.multiple * _STRIPE / 2.0
    edge = 9.0
    beyond = -1 if x < edge else 1 if x > _TRACK - edge else 0
    return Track(min(max(x, edge), _TRACK - edge), beyond)


def _not_tested(seen: Sequence[Seen], compared: Compared | None) -> list[str]:
    if compared is not None:
        return not_tested_lines(compared)
    modes = {stretch.settings.mode for stretch in seen[0].studied.stretches if stretch.steady}
    return [f"{mode.capitalize()}: not tested, no steady stretch." for mode in MODES if mode not in modes]


def _session(
    one: Seen, number: int, limits: Mapping[str, tuple[float, float] | None], preset: PresetName
) -> dict[str, object]:
    session, studied = one.studied.session, one.studied
    total, flags, unreadable = pages.quality_counts(session)
    notes, more_notes = pages.shortened(pages.happenings(session))
    faults, more_faults = pages.shortened(pages.faults(session))
    chosen = _chosen(studied.stretches)
    return {
        "role": one.role,
        "number": number,
        "facts": pages.facts(studied),
        "charts": charts(one, number, limits, preset),
        "stretches": [
            {
                "line": stretch_line(stretch),
                "steady": stretch.steady,
                "declared": _declared(stretch),
                "barometer": pages.barometer_text(stretch.settings, preset),
                "values": pages.value_rows(stretch, studied.side.channels, preset),
                "lacking": pages.lacking(stretch),
            }
            for stretch in chosen
        ],
        "others": len(studied.stretches) - len(chosen),
        "probes": pages.probe_rows(chosen[-1].settings, studied.side.channels) if chosen else [],
        "notes": notes,
        "more_notes": more_notes,
        "dropouts": pages.dropout_rows(session),
        "faults": faults,
        "more_faults": more_faults,
        "readings": total,
        "flags": flags,
        "unreadable": unreadable,
    }


def _declared(stretch: Stretch) -> str:
    held = stretch.settings
    words = [held.mode or "mode not declared", held.refrigerant or "refrigerant not declared"]
    return plain(", ".join(words))


def _chosen(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Take the longest stretch of each mode and phase, in the order of time."""
    best: dict[tuple[str, str], Stretch] = {}
    for stretch in stretches:
        key = (stretch.settings.mode, stretch.settings.phase)
        if key not in best or stretch.seconds >= best[key].seconds:
            best[key] = stretch
    return sorted(best.values(), key=lambda stretch: stretch.from_us)


def _sources(seen: Sequence[Seen]) -> list[tuple[str, str]]:
    """Name where properties come from, as of now and as recorded."""
    found: dict[str, str] = {}
    for one in seen:
        for name, text in one.studied.session.header.libraries.items():
            found[f"{plain(name)}, when recorded"] = plain(text)
        for name, curve in curves_for(one.studied.session).items():
            found[f"saturation of {name}"] = curve.source
    return list(found.items())
