"""What an import has done, in words and as plain values."""

from __future__ import annotations

import math

from analysis.presets import duration
from logger.import_source import Source
from logger.importing import ImportReport
from logger.moments import utc_text


def import_text(report: ImportReport) -> str:
    """Say what was read, how, and what the checks found."""
    lines: list[str] = []
    for source in report.sources:
        lines += _source_lines(source)
    start = "date not known" if report.utc_start_us is None else f"from {utc_text(report.utc_start_us)}"
    lines.append(
        f"{report.readings} readings in {report.rows} rows over {duration(report.seconds)}, {start}."
    )
    if report.repeated_times:
        lines.append(f"{report.repeated_times} rows have the time of the row before; kept in their order.")
    if report.dropouts:
        lines.append(f"{report.dropouts} dropouts: spans without reading (events.csv).")
    for check in report.checks:
        words = {True: "check", False: "CHECK", None: "check"}[check.agrees]
        lines.append(f"{words}: {check.statement}")
    if not report.checks:
        lines.append(
            "check: nothing to hold the readings against (see heat_of and saturation_of in the map)."
        )
    lines += [f"But {warning}." for warning in report.warnings]
    lines.append(f"Session: {report.folder}")
    return "\n".join(lines)


def _source_lines(source: Source) -> list[str]:
    table = source.table
    lines = [f"{source.name}: {table.facts}; {table.rows} rows, {len(source.columns)} columns taken."]
    lines += [f"  unit overruled: {words}" for words in source.overruled]
    lines += [f"  note: {words}" for words in (*table.found.doubts, *table.notes)]
    if source.rule.wall and source.rule.kind != "unix" and not source.rule.zone_stated:
        lines.append("  note: no time zone is declared; the times are taken as UTC (time.zone in the map)")
    if source.repeated_hour:
        lines.append(
            f"  {source.repeated_hour} rows lie in the second of two hours of the same name (autumn)"
        )
    if source.empty:
        lines.append(f"  {source.empty} empty cells: no reading")
    if source.missing:
        lines.append(f"  {source.missing} cells hold a declared sign for 'no value': stored as not known")
    lines += [f"  rejected: {sentence}" for sentence in source.refusals.sentences()]
    taken = {place for place, _ in source.columns} | set(source.times)
    left = [name for place, name in enumerate(table.header) if place not in taken]
    if left:
        shown = ", ".join(left[:8]) + (f" and {len(left) - 8} more" if len(left) > 8 else "")
        lines.append(f"  not mapped: {shown}")
    return lines


def refusal_sentence(report: ImportReport) -> str:
    """Say in one sentence that something was refused; empty where nothing was."""
    if report.broken:
        rows = f"the {report.rows} rows before it are in {report.folder}"
        return f"{report.broken[0].rstrip('.')}; {rows}."
    parts = [f"{source.name}: {words}" for source in report.sources for words in source.refusals.sentences()]
    if report.late:
        parts.append(
            f"time goes backwards {report.backwards} times; {report.late} readings came late, first at "
            f"{report.first_late_s:.0f} s, stored and left out of the analysis"
        )
    if not parts:
        return ""
    return f"{'; '.join(parts)}. The rest is in {report.folder}; every refusal is in its events.csv."


def import_facts(report: ImportReport) -> dict[str, object]:
    """Give the same as plain values."""
    return {
        "session": str(report.folder),
        "rows": report.rows,
        "readings": report.readings,
        "seconds": report.seconds,
        "late": report.late,
        "backwards": report.backwards,
        "repeated_times": report.repeated_times,
        "dropouts": report.dropouts,
        "utc_start": None if report.utc_start_us is None else utc_text(report.utc_start_us),
        "files": [
            {
                "file": source.name,
                "format": source.table.facts,
                "rows": source.table.rows,
                "empty": source.empty,
                "missing": source.missing,
                "overruled": source.overruled,
                "rejected": source.refusals.counts,
                "broken": source.broken or None,
            }
            for source in report.sources
        ],
        "checks": [
            {
                "name": check.name,
                "agrees": check.agrees,
                "value": check.value if math.isfinite(check.value) else None,
                "statement": check.statement,
            }
            for check in report.checks
        ],
        "warnings": report.warnings,
    }
