"""``evenrun alarms SESSION``: what had to be acted on within minutes; acknowledge or shelve it afterwards."""

from __future__ import annotations

import argparse
import json
import time

from analysis.alarm_standing import ACKNOWLEDGED, KIND, UNSHELVED, AlarmError, shelve_text
from analysis.presets import duration
from analysis.timeline import Event
from logger.amend import write_event
from logger.errors import DONE, CommandError
from logger.lengths import parse_length
from logger.replay import analyse_session, end_us, open_session
from logger.session import Session
from logger.session_alarms import SessionAlarms
from logger.session_card import find_card
from logger.shown_values import plain
from logger.verdict_report import CAUTION
from logger.visit_file import parse_at


def run(args: argparse.Namespace) -> int:
    """List the alarms, or note what was done about one."""
    session = open_session(args.session)
    card = find_card([session], args.card or "")
    end = end_us(session)
    alarms = SessionAlarms.of(analyse_session(session), card, session.events)
    code = args.acknowledge or args.shelve or args.unshelve
    if code:
        event = _act(args, session, alarms, code, end)
        alarms = SessionAlarms(alarms.changes, (*alarms.acts, event))
    if args.json:
        print(json.dumps({"session": str(session.folder), "alarms": alarms.facts(end)}, allow_nan=False))
        return DONE
    print(plain(session.header.title) or str(session.folder))
    lines = alarms.lines(end, args.units or "si")
    print("\n".join(lines) if lines else "No alarm was raised.")
    if card is None:
        print("No unit card: only what needs none was watched; give --card CARD.toml.")
    print(f"\n{CAUTION}")
    return DONE


def _act(args: argparse.Namespace, session: Session, alarms: SessionAlarms, code: str, end: int) -> Event:
    """Append what the person does about an alarm."""
    if code not in alarms.rules:
        known = ", ".join(alarms.rules) or "none was raised"
        raise CommandError(f"'{code}' is no alarm of this session; there is: {known}.")
    if args.shelve and not args.reason:
        raise CommandError("An alarm is shelved only with a reason; add --reason TEXT.")
    try:
        at = round(parse_at(args.at) * 1e6) if args.at else end
        minutes = parse_length(args.length) / 60.0
        done = UNSHELVED if args.unshelve else ACKNOWLEDGED
        text = shelve_text(minutes, args.reason) if args.shelve else done
    except (ValueError, AlarmError) as refused:
        raise CommandError(str(refused)) from None
    if at > end:
        raise CommandError(f"--at {args.at} lies behind the end of the session, at {duration(end / 1e6)}.")
    event = Event(at, time.time_ns() // 1000, KIND, code, plain(text))
    write_event(session, event)
    return event
