"""A watch over night: what is kept, what is left out and counted, and that nothing else differs."""

from __future__ import annotations

import math
import random
from collections import Counter
from pathlib import Path

import pytest

from analysis.timeline import Event
from logger.errors import CommandError
from logger.rechecking import recheck
from logger.replay import analyse_session, open_session
from logger.session import Session
from logger.verify import verify
from logger.watch import Watch
from logger.watch_file import WatchOptions, load_watch
from tests.logger.watched import Bench

RATE = 5
"""Readings of each channel in a second."""


def run(
    folder: Path, seconds: int, at: dict[int, dict[str, float]], options: WatchOptions
) -> tuple[Bench, Watch]:
    """Let a machine run evenly, with other values from given seconds on; gives the bench and its watch."""
    watch = Watch(options)
    bench = Bench(folder, watch)
    rng = random.Random(3)
    values = {"ps": 5.86, "ts": 0.6, "power": 2.96, "v": 229.0}
    for second in range(seconds):
        values.update(at.get(second, {}))
        for part in range(RATE):
            bench.clock.on(1 / RATE)
            bench.give(**{name: value + rng.gauss(0, 0.002) for name, value in values.items()})
            if part % 2:
                bench.tick()
    bench.end()
    return bench, watch


def stored(session: Session) -> list[tuple[int, str, float]]:
    found = []
    for rows in session.rows():
        found += [
            (t, rows.ids[c], v)
            for t, c, v in zip(rows.t_us.tolist(), rows.channel.tolist(), rows.value.tolist(), strict=True)
        ]
    return found


def thinned(events: list[Event]) -> Counter[str]:
    """Add up what the events say was left out."""
    counts: Counter[str] = Counter()
    for event in events:
        if event.kind == "thinned":
            for part in event.text.split(": ")[1].split(", "):
                name, count = part.rsplit(" ", 1)
                counts[name] += int(count)
            assert event.text.startswith(
                f"{sum(int(p.rsplit(' ', 1)[1]) for p in event.text.split(': ')[1].split(', '))} "
            )
    return counts


BAND = WatchOptions(bands={"suction_pressure": (600_000.0, 780_000.0, None)})  # type: ignore[dict-item]


def test_received_is_stored_plus_left_out_and_the_time_before_a_trigger_is_whole(tmp_path: Path) -> None:
    bench, watch = run(tmp_path / "s", 240, {150: {"ps": 4.2}, 152: {"ps": 5.86}}, BAND)
    session = Session.open(tmp_path / "s")
    kept = stored(session)
    assert watch.windows == 1
    assert len(set(kept)) == len(kept), "nothing twice"
    assert set(kept) <= set(bench.sent), "nothing that was not sent"
    left_out = thinned(session.events)
    for channel in ("board/ps", "board/ts", "board/power", "board/v"):
        sent = [s for s in bench.sent if s[1] == channel]
        mine = [s for s in kept if s[1] == channel]
        assert len(sent) == len(mine) + left_out[channel]
        # Whole from 15 s before the first low reading to 60 s after the last trigger.
        trigger = next(s[0] for s in bench.sent if s[1] == "board/ps" and s[2] < 5.0)
        window = [s for s in sent if trigger - 15_000_000 <= s[0] <= trigger + 60_000_000]
        assert set(window) <= set(mine)
        # And one each second elsewhere.
        for second in range(1, 240):
            assert any(s[0] // 1_000_000 == second for s in mine)
        assert len(mine) < 0.65 * len(sent)
    told = [e for e in session.events if e.kind == "watch"]
    assert any("leaves its band" in e.text and e.subject == "suction_pressure" for e in told)
    assert any("is back in its band" in e.text for e in told)
    assert verify(tmp_path / "s") == []


def test_working_out_again_gives_what_was_shown(tmp_path: Path) -> None:
    run(tmp_path / "s", 200, {100: {"ps": 4.2}, 130: {"power": 0.0}}, BAND)
    session = open_session(str(tmp_path / "s"))
    outcome, _ = recheck(session, analyse_session(session))
    facts = outcome.facts()
    assert facts["shown"] == facts["same"]
    assert facts["shown"] > 20  # type: ignore[operator]


def test_a_stop_and_a_dip_are_triggers(tmp_path: Path) -> None:
    changes = {60: {"v": 180.0}, 61: {"v": 229.0}, 160: {"power": 0.0}}
    _, watch = run(tmp_path / "s", 260, changes, WatchOptions())
    session = Session.open(tmp_path / "s")
    texts = [(e.kind, e.subject, e.text) for e in session.events]
    assert any(k == "watch" and s == "supply_voltage" and "dips to 180" in t for k, s, t in texts)
    assert ("machine", "", "compressor stops") in texts
    assert watch.windows == 2
    (stop,) = [e for e in session.events if e.kind == "machine"]
    assert 160.0 <= stop.t_us / 1e6 <= 162.0
    before = [s for s in stored(session) if s[1] == "board/ps" and 147e6 < s[0] < 160e6]
    assert len(before) >= 12 * RATE, "whole before the stop as well"


def test_a_band_is_learnt_from_the_first_steady_stretch(tmp_path: Path) -> None:
    options = WatchOptions(learn_us=60_000_000)
    run(tmp_path / "s", 1400, {1300: {"ts": 9.0}}, options)
    session = Session.open(tmp_path / "s")
    learnt = {e.subject: e for e in session.events if e.text.startswith("band learnt")}
    assert set(learnt) >= {"suction_pressure", "suction_temperature"}, "given the machine was steady"
    (left,) = [e for e in session.events if e.subject and "leaves its band" in e.text]
    assert left.subject == "suction_temperature"
    assert left.t_us == pytest.approx(1300.2e6, abs=0.3e6)


def test_memory_stays_bounded_and_counts_stay_exact_when_nothing_happens(tmp_path: Path) -> None:
    _, watch = run(tmp_path / "s", 400, {}, WatchOptions())
    assert watch.windows == 0
    assert watch._held_rows <= 20 * RATE * 4
    assert watch.received == watch.stored + watch.left_out


def test_every_change_of_quality_and_each_late_reading_is_kept(tmp_path: Path) -> None:
    from analysis.measure import Quality, Reading

    watch = Watch()
    bench = Bench(tmp_path / "s", watch)
    for number in range(50):
        bench.clock.on(0.1)
        quality = Quality.OUT_OF_RANGE if number == 23 else Quality.OK
        bench.engine.take(bench.link, [Reading(bench.clock.mono, "board/ts", 1.0, quality)])
        bench.tick()
    late = bench.clock.mono - 3_000_000_000
    bench.engine.take(bench.link, [Reading(late, "board/ts", 7.0, Quality.OK)])
    bench.end()
    flags = [int(q) for rows in Session.open(tmp_path / "s").rows() for q in rows.quality]
    assert sum(f & int(Quality.OUT_OF_RANGE) != 0 for f in flags) == 1
    assert sum(f & int(Quality.LATE) != 0 for f in flags) == 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("evry = '1s'", "every"), ("before = '2m'", "before"), ("dip = 3.0", "dip"),
        ("[band]\nsuction_presure = '1 to 2 bar(g)'", "suction_pressure"),
        ("[band]\nsuction_pressure = '1 bar(g)'", "to"),
        ("[band]\nsuction_pressure = '2 to 1 bar(g)'", "lower"),
        ("[band]\nsuction_pressure = '1 to 2 degC'", "degC"), ("[band]\nsuction_pressure = 5", "band"),
    ],
)  # fmt: skip
def test_a_wrong_watch_file_is_one_sentence(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "watch.toml"
    path.write_text(text)
    with pytest.raises(CommandError, match=words):
        load_watch(str(path))


def test_a_band_is_read_in_its_own_unit(tmp_path: Path) -> None:
    path = tmp_path / "watch.toml"
    path.write_text("[band]\nsuction_pressure = '4.5 to 7 bar(g)'\nsupply_voltage = '210 V to 250 V'\n")
    bands = load_watch(str(path)).bands
    low, high, _ = bands["suction_pressure"]
    assert math.isclose(low, 450_000.0)
    assert math.isclose(high, 700_000.0)
    assert bands["supply_voltage"][:2] == (210.0, 250.0)


def test_the_example_beside_the_service_can_be_read() -> None:
    options = load_watch(str(Path(__file__).parents[2] / "recordings" / "service" / "watch.toml"))
    assert options.before_us == 15_000_000
    assert set(options.bands) == {"suction_pressure"}
