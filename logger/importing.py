"""A foreign table becomes a session: readings as indicated, declarations as events, all refusals told."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from analysis.barometer import parse_barometer
from analysis.import_checks import Check
from analysis.measure import Channel
from analysis.rows import Rows
from analysis.settings import Settings, SettingsError, settings_over_time
from drivers.clock import FollowedClock
from logger.app import version
from logger.descriptor import SessionHeader
from logger.dropouts import DropoutWatch
from logger.errors import DamagedInputError, NotAvailableError
from logger.import_merge import Lateness, merged
from logger.import_original import keep_originals
from logger.import_sample import Sample, run_checks
from logger.import_source import Batch, Source, open_source
from logger.mapping import Mapping
from logger.mapping_time import start_utc_us
from logger.session_errors import SessionError
from logger.session_summary import keep_summary
from logger.session_writer import SessionWriter
from logger.setup_file import find_curve

_FLUSH_S = 60.0


@dataclass(slots=True)
class ImportReport:
    """What an import has done."""

    folder: Path
    sources: list[Source]
    rows: int = 0
    readings: int = 0
    late: int = 0
    backwards: int = 0
    first_late_s: float | None = None
    dropouts: int = 0
    utc_start_us: int | None = None
    seconds: float = 0.0
    checks: list[Check] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    @property
    def refused(self) -> int:
        """How much was refused or flagged."""
        return sum(source.counted for source in self.sources) + self.late

    @property
    def repeated_times(self) -> int:
        """Rows with the same time as the row before; kept, in their order."""
        return sum(source.repeated_times for source in self.sources)

    @property
    def broken(self) -> list[str]:
        """Files that could not be read to their end, each as one sentence."""
        return [source.broken for source in self.sources if source.broken]


def import_tables(
    paths: Sequence[Path],
    mapping: Mapping,
    map_text: str,
    folder: Path,
    progress: Callable[[int], None] = lambda rows: None,
) -> ImportReport:
    """Turn files into one session.

    Parameters
    ----------
    paths
        Foreign tables; several are merged by time.
    mapping, map_text
        What their columns are, and the map as the person wrote it; it is kept in the session.
    folder
        Of the new session; must not exist.
    progress
        Called with the number of rows so far.

    Raises
    ------
    CommandError
        One sentence with the way out, and nothing is made: exit status 2 for a wrong map, 3 where not one
        reading can be taken, 4 where a file or folder is not available.
    """
    sources = [open_source(path, mapping) for path in paths]
    _check_all_found(sources, mapping)
    samples = [Sample() for _ in sources]
    streams = [_watched(source, sample) for source, sample in zip(sources, samples, strict=True)]
    firsts = [next(stream, None) for stream in streams]
    t0_us = min((int(first.t_us[0]) for first in firsts if first is not None), default=None)
    if t0_us is None:
        raise DamagedInputError(_nothing(sources))
    _set_intervals(sources, firsts)
    held = _settings(sources, mapping)
    utc_us = t0_us if sources[0].rule.wall else start_utc_us(mapping.time)
    writer, clock = _begin(folder, mapping, map_text, utc_us)
    report = ImportReport(folder, sources, utc_start_us=utc_us)
    try:
        _declare(writer, mapping, sources, utc_us, t0_us)
        rejoined = [
            (itertools.chain([first] if first is not None else [], stream), [c.id for c in source.channels])
            for first, stream, source in zip(firsts, streams, sources, strict=True)
        ]
        _write(writer, clock, rejoined, t0_us, report, progress)
        _tell(writer, report, mapping)
        for source, sample in zip(sources, samples, strict=True):
            columns = [column for _, column in source.columns]
            report.checks += run_checks(sample, columns, source.channels, held, mapping)
        for check in report.checks:
            writer.note("check", check.name, check.statement, from_us=0)
        report.warnings += keep_originals(writer, sources, folder, mapping)
        report.warnings += writer.close("imported to the end" if not report.broken else "the file broke off")
    except SessionError as error:
        raise NotAvailableError(f"{error}.") from None
    finally:
        writer.abandon()  # does nothing once it is closed
    keep_summary(folder)
    return report


def _check_all_found(sources: list[Source], mapping: Mapping) -> None:
    found = {id(column) for source in sources for _, column in source.columns}
    for number, column in enumerate(mapping.column, 1):
        if id(column) not in found:
            names = ", ".join(f"'{name}'" for name in sources[0].table.header[:40])
            raise DamagedInputError(
                f"column[{number}].header: no file has a column '{column.header}'; there are {names}."
            )


def _watched(source: Source, sample: Sample) -> Iterator[Batch]:
    for batch in source.batches():
        sample.take(batch)
        yield batch


def _nothing(sources: list[Source]) -> str:
    source = sources[0]
    why = source.broken or "; ".join(source.refusals.sentences()) or "the mapped columns are empty"
    return (
        f"{source.table.path}: not one reading can be taken: {why.rstrip('.')}. Correct the map or the file."
    )


def _set_intervals(sources: list[Source], firsts: Sequence[Batch | None]) -> None:
    """Say for each channel how often it comes, from the first batch: what is held, and when it is silent."""
    for source, first in zip(sources, firsts, strict=True):
        for number, channel in enumerate(source.channels):
            steps = np.empty(0)
            if first is not None:
                steps = np.diff(first.t_us[first.present[:, number]]) / 1e6
            steps = steps[steps > 0]
            interval = float(np.median(steps)) if steps.size else 1.0
            source.channels[number] = replace(channel, expected_interval_s=interval)


def _settings(sources: list[Source], mapping: Mapping) -> Settings:
    """Give what the map declares, as the analyser will understand it.

    Raises
    ------
    CommandError
        If it does not fit together, or two files give one channel in two units.
    """
    known: dict[str, Channel] = {}
    for source in sources:
        for channel in source.channels:
            before = known.setdefault(channel.id, channel)
            if (before.quantity, before.unit) != (channel.quantity, channel.unit):
                raise DamagedInputError(
                    f"{source.name}: '{channel.id}' comes in {channel.unit} here and in {before.unit} in "
                    "another file; give it a [[column]] of its own with file and channel."
                )
    try:
        return settings_over_time(mapping.events(0), known)[0]
    except SettingsError as refused:
        raise DamagedInputError(str(refused)) from None


def _begin(
    folder: Path, mapping: Mapping, map_text: str, utc_us: int | None
) -> tuple[SessionWriter, FollowedClock]:
    clock = FollowedClock((utc_us or 0) * 1000)
    curves = [find_curve(mapping.refrigerant)] if mapping.refrigerant else []
    header = SessionHeader(
        title=mapping.title,
        software=f"evenrun {version()} (imported)",
        libraries={f"saturation of {curve.name}": curve.source for curve in curves},
        setup=map_text,
        barometer_pa=parse_barometer(mapping.barometer) if mapping.barometer else None,
    )
    try:
        return SessionWriter.create(folder, header, clock), clock
    except SessionError as error:
        raise NotAvailableError(f"{error}.") from None


def _known(sources: list[Source]) -> dict[str, Channel]:
    return {channel.id: channel for source in sources for channel in source.channels}


def _declare(
    writer: SessionWriter, mapping: Mapping, sources: list[Source], utc_us: int | None, t0_us: int
) -> None:
    """Write channels and everything that the map declares."""
    for source in sources:
        writer.channels(source.channels)
    for event in mapping.events(utc_us or 0):
        writer.event(event)
    if utc_us is None:
        writer.note("date", "", "the date of t = 0 is not known; 1970-01-01 stands in its place", from_us=0)
    if t0_us and not sources[0].rule.wall:
        writer.note("date", "", f"t = 0 is {t0_us / 1e6:g} s of the file's own time", from_us=0)
    for source in sources:
        for words in source.overruled:
            writer.note("unit", source.name, words, from_us=0)


def _write(
    writer: SessionWriter,
    clock: FollowedClock,
    streams: Sequence[tuple[Iterator[Batch], Sequence[str]]],
    t0_us: int,
    report: ImportReport,
    progress: Callable[[int], None],
) -> None:
    known = _known(report.sources)
    lateness, dropouts = Lateness(), DropoutWatch()
    for rows, count in merged(streams, tuple(known)):
        t_us = rows.t_us - t0_us
        rows = lateness.mark(Rows(rows.ids, t_us, rows.channel, rows.value, rows.quality))
        writer.add(rows)
        if len(rows):
            clock.follow(int(t_us.max()) * 1000)
        for event in dropouts.take(rows, known, clock.utc_ns() // 1000):
            writer.event(event)
            report.dropouts += 1
        report.rows += count
        report.readings += len(rows)
        progress(report.rows)
        # The journal's memory is bounded: wait for the disk rather than lose rows.
        if not writer.flush(_FLUSH_S):
            raise NotAvailableError(writer.status().trouble or "The disk does not answer; try again.")
    report.late, report.backwards = lateness.late, lateness.backwards
    report.first_late_s = None if lateness.first_us is None else lateness.first_us / 1e6
    report.seconds = writer.now_us() / 1e6


def _tell(writer: SessionWriter, report: ImportReport, mapping: Mapping) -> None:
    """Write what was read and what was refused as events beside the readings."""
    for source in report.sources:
        table = source.table
        zone = mapping.time.zone or "UTC"
        words = f"{table.facts}; {table.rows} rows; time zone {zone}"
        writer.note("imported", source.name, "; ".join([words, *table.found.doubts, *table.notes]), from_us=0)
        for sentence in source.refusals.sentences():
            writer.note("rejected", source.name, sentence, from_us=0)
        if source.broken:
            writer.note("broken", source.name, source.broken)
    if report.late:
        writer.note("late", "", f"{report.late} readings came behind a later one: stored, flagged, left out")
