"""The visit's record in short, for whoever comes next to the machine."""

from __future__ import annotations

import math

from analysis.presets import PresetName
from analysis.refrigerant_ledger import mass_balance
from analysis.visit import VisitRecord
from logger.reports.owner import refrigerant_lines, temporary_lines
from logger.shown_values import plain


def visit_lines(record: VisitRecord | None, preset: PresetName) -> list[tuple[str, str]]:
    """Give name and text of everything that the record says about the machine; nothing without a record."""
    if record is None:
        return []
    lines = [
        ("report", record.report),
        ("called for", record.customer_words),
        ("technician", record.technician),
        ("comes back on report", record.linked_callback),
    ]
    for isolation in record.isolations:
        second = (
            f"; second supplies: {', '.join(isolation.second_supplies)}" if isolation.second_supplies else ""
        )
        dead = isolation.proven_dead or "how it was proven dead is not entered"
        lines.append(("isolated", f"{isolation.when}, {isolation.who}: {isolation.what}{second}; {dead}"))
    lines += [("found and done", f"{action.found} {action.did}".strip()) for action in record.actions]
    lines += [
        ("part or setting", f"{part.what}: {part.before or 'not stated'} → {part.after or 'not stated'}")
        for part in record.parts
    ]
    lines += [
        (
            "coil cleaned",
            f"{cleaning.agent_class}"
            + (f", {cleaning.minutes:g} min" if math.isfinite(cleaning.minutes) else "")
            + (
                f", pH {cleaning.end_ph:g} at the end"
                if math.isfinite(cleaning.end_ph)
                else ", end pH not measured"
            ),
        )
        for cleaning in record.cleanings
    ]
    lines += [("purged", purge.what) for purge in record.purges]
    lines += [
        (
            "leak test",
            f"{check.place}: {check.found}, {check.method or 'method not stated'}"
            + (f", tried on {check.tried_on}" if check.tried_on else ", not tried on a known leak"),
        )
        for check in record.leak_checks
    ]
    lines += [("refrigerant", line) for line in refrigerant_lines(record.ledger, preset)]
    if record.ledger.transfers:
        missing = mass_balance(record.ledger).missing
        lines += [("never weighed", ", ".join(missing))] if missing else []
    lines += [("temporary repair", line) for line in temporary_lines(record)]
    lines += [("not tested", f"{one.what}: {one.why}" if one.why else one.what) for one in record.untested]
    return [(name, plain(text)) for name, text in lines if text]
