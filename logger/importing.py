"""A foreign table becomes a session: readings as indicated, declarations as events, all refusals told."""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from analysis.barometer import parse_barometer
from analysis.import_checks import Check
from analysis.measure import Channel
from analysis.rows import Rows
from analysis.settings import SettingsError, settings_over_time
from drivers.clock import FollowedClock
from logger.app import version
from logger.descriptor import SessionHeader
from logger.dropouts import DropoutWatch
from logger.errors import CommandError, DamagedInputError, NotAvailableError
from logger.import_merge import Lateness, merged
from logger.import_sample import Sample, run_checks
from logger.import_source import Batch, Source, open_source
from logger.mapping import Mapping
from logger.mapping_time import start_utc_us
from logger.session_errors import SessionError, reason_of
from logger.session_writer import SessionWriter
from logger.setup_file import find_curve

ORIGINAL = "original"
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
    repeated_times: int = 0
    """Rows with the same time as the row before; kept, in their order."""
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
    def broken(self) -> list[str]:
        """Files that could not be read to their end, each as one sentence."""
        return [source.broken for source in self.sources if source.broken]


def import_tables(paths: Sequence[Path], mapping: Mapping, map_text: str, folder: Path) -> ImportReport:
    """Turn files into one session.

    Parameters
    ----------
    paths
        Foreign tables; several are merged by time.
    mapping, map_text
        What their columns are, and the map as the person wrote it; it is kept in the session.
    folder
        Of the new session; must not exist.

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
    utc_us = t0_us if sources[0].rule.wall else start_utc_us(mapping.time)
    writer, clock = _begin(folder, mapping, map_text, utc_us)
    report = ImportReport(folder, sources, utc_start_us=utc_us)
    try:
        _declare(writer, mapping, sources, utc_us)
        rejoined = [
            (itertools.chain([first] if first is not None else [], stream), [c.id for c in source.channels])
            for first, stream, source in zip(firsts, streams, sources, strict=True)
        ]
        _write(writer, clock, rejoined, t0_us, report)
        _tell(writer, report, mapping)
        settings = settings_over_time(mapping.events(0), _known(sources))[0]
        for source, sample in zip(sources, samples, strict=True):
            columns = [column for _, column in source.columns]
            report.checks += run_checks(sample, columns, source.channels, settings, mapping)
        for check in report.checks:
            writer.note("check", check.name, check.statement, from_us=0)
        report.warnings += _keep_originals(writer, sources, folder, mapping)
        report.warnings += writer.close("imported to the end" if not report.broken else "the file broke off")
    except SessionError as error:
        raise NotAvailableError(f"{error}.") from None
    finally:
        writer.abandon()  # does nothing once it is closed
    return report


def _check_all_found(sources: list[Source], mapping: Mapping) -> None:
    found = {id(column) for source in sources for _, column in source.columns}
    for number, column in enumerate(mapping.column, 1):
        if id(column) not in found:
            names = ", ".join(f"'{name}'" for name in sources[0].table.header[:40])
            raise CommandError(
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


def _declare(writer: SessionWriter, mapping: Mapping, sources: list[Source], utc_us: int | None) -> None:
    """Write channels and everything that the map declares."""
    try:
        settings_over_time(mapping.events(0), _known(sources))
    except SettingsError as refused:
        raise CommandError(str(refused)) from None
    for source in sources:
        writer.channels(source.channels)
    for event in mapping.events(utc_us or 0):
        writer.event(event)
    if utc_us is None:
        writer.note("date", "", "the date of t = 0 is not known; 1970-01-01 stands in its place", from_us=0)
    for source in sources:
        for words in source.overruled:
            writer.note("unit", source.name, words, from_us=0)


def _write(
    writer: SessionWriter,
    clock: FollowedClock,
    streams: Sequence[tuple[Iterator[Batch], Sequence[str]]],
    t0_us: int,
    report: ImportReport,
) -> None:
    known = _known(report.sources)
    lateness, dropouts = Lateness(), DropoutWatch()
    last_row_us = -(2**62)
    for rows, count in merged(streams, tuple(known)):
        t_us = rows.t_us - t0_us
        rows = lateness.mark(Rows(rows.ids, t_us, rows.channel, rows.value, rows.quality))
        writer.add(rows)
        if len(rows):
            clock.follow(int(t_us.max()) * 1000)
            report.repeated_times += _repeats(rows, last_row_us)
            last_row_us = int(t_us[-1])
        for event in dropouts.take(rows, known, clock.utc_ns() // 1000):
            writer.event(event)
            report.dropouts += 1
        report.rows += count
        report.readings += len(rows)
        # The journal's memory is bounded: wait for the disk rather than lose rows.
        if not writer.flush(_FLUSH_S):
            raise NotAvailableError(writer.status().trouble or "The disk does not answer; try again.")
    report.late, report.backwards = lateness.late, lateness.backwards
    report.first_late_s = None if lateness.first_us is None else lateness.first_us / 1e6
    report.seconds = writer.now_us() / 1e6


def _repeats(rows: Rows, before_us: int) -> int:
    """Count rows of a file that have the time of the row before: a channel comes again at the same time."""
    pairs = rows.t_us[1:] == rows.t_us[:-1]
    back = rows.channel[1:] <= rows.channel[:-1]
    return int(np.count_nonzero(pairs & back)) + int(rows.t_us[0] == before_us)


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


def _keep_originals(
    writer: SessionWriter, sources: list[Source], folder: Path, mapping: Mapping
) -> Iterator[str]:
    """Copy the files beside the readings, as the map says, and note their digests."""
    taken: set[str] = set()
    for number, source in enumerate(sources, 1):
        path = source.table.path
        name = path.name if path.name not in taken else f"{number}-{path.name}"
        taken.add(name)
        try:
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
            if mapping.keep != "mapped":
                (folder / ORIGINAL).mkdir(exist_ok=True)
                with contextlib.ExitStack() as stack:
                    stack.callback(_remove_part, folder / ORIGINAL / f"{name}.part")
                    shutil.copyfile(path, folder / ORIGINAL / f"{name}.part")
                    (folder / ORIGINAL / f"{name}.part").replace(folder / ORIGINAL / name)
            kept = f"kept as {ORIGINAL}/{name}" if mapping.keep != "mapped" else "not kept, as the map says"
            writer.note("original", source.name, f"{kept}; sha256 {digest}", from_us=0)
        except OSError as error:
            writer.note("original", source.name, f"could not be kept: {reason_of(error)}", from_us=0)
            yield f"{path} could not be copied into the session: {reason_of(error)}"


def _remove_part(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)
