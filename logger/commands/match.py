"""``evenrun match``: the offsets of probes that stand in one cup, or of gauges that are open to the air."""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from pathlib import Path

from analysis import matching, zeroing
from analysis.cup import ICE, MEAN
from analysis.presets import PresetName
from analysis.rows import Rows
from analysis.settings import SettingsError, settings_over_time
from analysis.timeline import Event
from analysis.units import Quantity
from logger.amend import write_event
from logger.errors import DONE, FAULTS_FOUND, CommandError, NotAvailableError
from logger.lengths import parse_length
from logger.match_live import watch_setup
from logger.match_outcome import Outcome, Taken, cup_outcome, moment_text, zero_outcome
from logger.match_readings import cup_channels, gauge_channels, thermal
from logger.replay import end_us, open_session
from logger.session import Session
from logger.setup_offsets import offset_lines, write_offsets
from logger.visit_file import parse_at


def run(args: argparse.Namespace) -> int:
    """Work the offsets out, tell them, and write them where that is asked for."""
    path = Path(args.source)
    if args.zero and args.reference != MEAN:
        raise CommandError("--zero has a reference of its own, the air; leave --reference out.")
    if path.suffix == ".toml" and not path.is_dir():
        return _live(args, path)
    return _stored(args, open_session(args.source))


def _judged(args: argparse.Namespace, taken: Taken) -> Outcome | None:
    """Match or zero the channels that are asked for; None where there is none."""
    names = _names(args, taken)
    if not names:
        return None
    preset: PresetName = args.units or "si"
    if args.zero:
        return zero_outcome(taken, names, preset)
    if args.reference not in (MEAN, ICE, *names):
        inside = ", ".join(names)
        raise CommandError(f"The reference '{args.reference}' is not in the cup; there are {inside}.")
    return cup_outcome(taken, names, args.reference, preset)


def _asked(args: argparse.Namespace) -> tuple[str, ...]:
    """Name the channels that a person has named."""
    probe = () if args.reference in (MEAN, ICE) else (args.reference,)
    return (*(args.channels or ()), *(args.without or ()), *probe)


def _unknown(args: argparse.Namespace, taken: Taken) -> str:
    """Say which channel is not known; empty where all are."""
    wet = [point for point in taken.held.channel_of if thermal(point)]
    assigned = [] if args.channels or args.zero else [taken.held.channel_of[point] for point in wet]
    for name in (*_asked(args), *assigned):
        if name not in taken.channels and name not in (args.without or ()):
            return f"There is no channel '{name}'; there are {', '.join(taken.channels) or 'none'}."
    return ""


def _names(args: argparse.Namespace, taken: Taken) -> tuple[str, ...]:
    """Name the channels that take part: those asked for, else all of the kind."""
    kinds = zeroing.PRESSURES if args.zero else (Quantity.TEMPERATURE,)
    for name in args.channels or ():
        if taken.channels[name].quantity not in kinds:
            kind = "pressure" if args.zero else "temperature"
            raise CommandError(f"'{name}' measures no {kind}; leave it out of --channels.")
    choose = gauge_channels if args.zero else cup_channels
    wanted = list(args.channels or choose(taken.channels, taken.held, taken.rows))
    probe = taken.channels.get(args.reference)
    if not args.channels and probe is not None and probe.quantity in kinds and probe.id not in wanted:
        wanted.append(probe.id)
    return tuple(name for name in wanted if name not in (args.without or ()))


def _stored(args: argparse.Namespace, session: Session) -> int:
    """Match from a stored session, and append the offsets to it."""
    hold_us = round(parse_length(args.hold_from) * 1e6)
    taken = _taken_from(args, session)
    for name in _asked(args):
        if name not in taken.channels:
            raise CommandError(f"There is no channel '{name}'; there are {', '.join(taken.channels)}.")
    outcome = _judged(args, taken)
    if outcome is None:
        kind = "pressure channel" if args.zero else "thermometer"
        raise CommandError(
            f"No {kind} of {args.source} gave a reading before {args.upto}; look at its devices."
        )
    status = _tell(args, outcome)
    if args.apply and outcome.corrections and (args.zero or not outcome.against):
        utc_us = time.time_ns() // 1000
        write_event(
            session, *(Event(hold_us, utc_us, "offset", c, text) for c, text in outcome.texts.items())
        )
        if not args.json:
            print(f"\nWritten as events from {args.hold_from} on; readings are as they were.")
            print(f"'evenrun recheck {args.source}' works everything out again.")
    elif not args.json and outcome.corrections:
        print("\nNothing is changed yet; --apply writes the offsets to the session as events.")
    return status


def _taken_from(args: argparse.Namespace, session: Session) -> Taken:
    """Read the part of a session in which the probes stood in the cup."""
    if not args.upto:
        what = "the gauges were open to the air" if args.zero else "the probes stood in the cup"
        raise CommandError(f"Say until when {what}: --to 0:03:00, and --from where it is longer than needed.")
    try:
        upto_s = parse_at(args.upto)
        since_s = parse_at(args.since) if args.since else None
    except ValueError as refused:
        raise CommandError(str(refused)) from None
    if upto_s * 1e6 > end_us(session):
        raise CommandError(f"--to {args.upto} lies behind the end of the session.")
    channels = {channel.id: channel for channel in session.channels}
    module = zeroing if args.zero else matching
    window_s = None
    if since_s is not None:
        window_s = upto_s - since_s
        least_s = module.WINDOW_S
        if window_s < least_s:
            raise CommandError(f"From --from to --to it takes {least_s:.0f} s or more, not {window_s:.0f} s.")
    begin_us = round((upto_s - (window_s or module.LONGEST_S)) * 1e6)
    parts = []
    for rows in session.rows_of(*channels):
        parts.append(rows.take((rows.t_us >= begin_us) & (rows.t_us <= round(upto_s * 1e6))))
    try:
        settings = settings_over_time(session.events, channels)
    except SettingsError as refused:
        raise CommandError(str(refused)) from None
    held = [one for one in settings if one.from_us <= upto_s * 1e6][-1]
    when = moment_text(session.header.utc_start_us + round(upto_s * 1e6))
    return Taken(Rows.concatenate(parts), channels, held, upto_s, when, window_s)


def _live(args: argparse.Namespace, path: Path) -> int:
    """Match while the devices of a set-up are read, and write the offsets into the set-up."""
    if args.since or args.upto:
        raise CommandError("--from and --to are for a stored session; a set-up is watched with --for 3m.")
    for_s = parse_length(args.length)
    last: list[Taken] = []

    def judge(taken: Taken) -> Outcome | None:
        last[:] = [taken]
        return None if _unknown(args, taken) else _judged(args, taken)

    with tempfile.TemporaryDirectory(prefix="evenrun-match-") as scratch:
        folder = Path(args.out) if args.out else Path(scratch) / "session"
        outcome = watch_setup(path, folder, for_s, judge)
    if outcome is None or not len(outcome.taken.rows):
        why = _unknown(args, last[0]) if last else ""
        why = why or f"Nothing of {path} gave a reading."
        raise NotAvailableError(f"{why} Look at power, plug and address of its devices ('evenrun scan').")
    status = _tell(args, outcome)
    if not outcome.corrections or (outcome.against and not args.zero):
        return status
    if not args.json:
        print("\nLines for [offset] of the set-up:")
        print("\n".join(offset_lines(outcome.texts)))
    if args.apply:
        write_offsets(path, outcome.texts)
    if not args.json:
        print(f"Written into {path}." if args.apply else "--apply writes them into it.")
    return status


def _tell(args: argparse.Namespace, outcome: Outcome) -> int:
    """Print what came of it; a refusal is an answer, unless offsets were to be written."""
    if args.json:
        facts = {**outcome.facts, "offsets": outcome.texts, "window_end": outcome.taken.end_s}
        print(json.dumps(facts, allow_nan=False))
    else:
        print("\n".join(outcome.lines))
    if args.apply and outcome.against:
        return FAULTS_FOUND
    return DONE
