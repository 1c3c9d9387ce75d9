"""Alarms after ISA-18.2: few, delayed, with a deadband, silent about what is not known or not running."""

from __future__ import annotations

import itertools
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.alarm_rules import HOTTEST_DISCHARGE_K, Site, alarm_rules, deadband_of
from analysis.alarm_standing import AlarmBook, AlarmError, AlarmState, shelve_text
from analysis.alarms import AlarmChange, Alarms, Change, find_alarms
from analysis.analyser import Results
from analysis.finding_acts import Safe
from analysis.measured import Column
from analysis.settings import Settings
from analysis.timeline import Event
from analysis.units import Quantity
from tests.analysis.hall import read_card

CARD = read_card()


def rows(first: int = 0, mode: str = "heating", **columns: list[float]) -> Results:
    """Results of consecutive seconds that hold nothing but the given values."""
    n = len(next(iter(columns.values())))
    derived = {"freeze_margin", "superheat", "source_volume_flow", "evaporating_temperature"}

    def column(values: list[float]) -> Column:
        return Column(np.asarray(values, float), np.full(n, 0.1), np.zeros(n))

    return Results(
        (first + np.arange(n, dtype=np.int64)) * 1_000_000,
        {name: column(values) for name, values in columns.items() if name not in derived},
        {name: column(values) for name, values in columns.items() if name in derived},
        SimpleNamespace(),  # type: ignore[arg-type]
        {},
        {},
        Settings(mode=mode),
    )


def told(changes: list[AlarmChange]) -> list[tuple[float, str, str]]:
    return [(change.t_us / 1e6, change.rule.code, change.change.value) for change in changes]


def test_every_alarm_has_source_act_and_the_condition_in_which_it_is_safe() -> None:
    for card in (CARD, None):
        for mode in ("", "heating", "cooling"):
            rules = alarm_rules(card, Site(263.35, 94_320.0, mode))
            assert 1 <= len(rules) <= 9, "few"
            assert len({rule.code for rule in rules}) == len(rules)
            for rule in rules:
                assert rule.source
                assert rule.act.safe is Safe.WHILE_RUNNING
                assert rule.delay_s >= 15.0
                assert rule.deadband > 0.0


def test_a_low_freeze_margin_is_raised_after_its_delay_and_cleared_beyond_its_deadband() -> None:
    n = 300
    margin = [4.0] * 60 + [1.5] * 60 + [2.3] * 60 + [2.6] * 120
    found = find_alarms([rows(freeze_margin=margin, compressor_power=[2900.0] * n)], CARD)
    assert told(found) == [(75.0, "freeze_margin_low", "raised"), (195.0, "freeze_margin_low", "cleared")]
    assert found[0].value == 1.5


def test_a_dip_shorter_than_the_delay_raises_nothing() -> None:
    margin = [4.0] * 60 + [1.0] * 14 + [4.0] * 60
    assert find_alarms([rows(freeze_margin=margin, compressor_power=[2900.0] * len(margin))], CARD) == []


def test_nothing_is_told_of_what_has_no_value_or_stands_still() -> None:
    n, cold = 400, [0.5] * 400
    running = [2900.0] * n
    assert find_alarms([rows(freeze_margin=[np.nan] * n, compressor_power=running)], CARD) == []
    assert find_alarms([rows(freeze_margin=cold, compressor_power=[5.0] * n)], CARD) == []
    assert find_alarms([rows(freeze_margin=cold)], CARD) == [], "nothing tells that it runs"
    gaps = [0.5, *[np.nan] * 3] * 100
    assert find_alarms([rows(freeze_margin=gaps, compressor_power=running)], CARD) == []


def test_a_stop_ends_an_alarm_and_what_nobody_saw_stays_to_be_seen() -> None:
    n = 200
    power = [2900.0] * 100 + [5.0] * 100
    found = find_alarms([rows(freeze_margin=[1.0] * n, compressor_power=power)], CARD)
    assert told(found) == [(45.0, "freeze_margin_low", "raised"), (100.0, "freeze_margin_low", "suppressed")]
    book = AlarmBook(Event(c.t_us, 0, "alarm", c.rule.code, f"{c.change.value}: x") for c in found)
    assert book.standings(150_000_000)[0].state is AlarmState.RETURNED


def test_supply_voltage_counts_whether_the_machine_runs_or_not() -> None:
    found = find_alarms([rows(supply_voltage=[230.0] * 10 + [190.0] * 60)], CARD)
    assert told(found) == [(25.0, "supply_low", "raised")]


def test_lost_flow_cut_out_and_hot_discharge() -> None:
    n = 400
    found = find_alarms(
        [
            rows(
                compressor_power=[2900.0] * n,
                source_volume_flow=[0.6e-3] * 100 + [0.1e-3] * 300,
                evaporating_temperature=[268.0] * 150 + [262.0] * 250,
                discharge_temperature=[350.0] * 200 + [HOTTEST_DISCHARGE_K + 3.0] * 200,
            )
        ],
        CARD,
    )
    assert told(found) == [
        (115.0, "source_flow_lost", "raised"),
        (210.0, "cut_out_passed", "raised"),
        (260.0, "discharge_hot", "raised"),
    ]


def test_an_alarm_of_the_other_mode_ends_with_a_change_of_mode() -> None:
    n = 100
    first = rows(freeze_margin=[1.0] * n, compressor_power=[2900.0] * n)
    then = rows(n, "cooling", compressor_power=[2900.0] * n)
    assert told(find_alarms([first, then], CARD))[-1] == (100.0, "freeze_margin_low", "suppressed")


SOME = st.sampled_from([np.nan, 0.5, 1.9, 2.2, 4.0])


@given(
    spans=st.lists(st.tuples(SOME, st.sampled_from([5.0, 2900.0, np.nan]), st.integers(1, 60)), min_size=1),
    cuts=st.lists(st.integers(1, 400)),
)
def test_any_cutting_into_chunks_gives_the_same_alarms(
    spans: list[tuple[float, float, int]], cuts: list[int]
) -> None:
    margin = [value for value, _, length in spans for _ in range(length)]
    power = [watts for _, watts, length in spans for _ in range(length)]
    n = len(margin)
    whole = find_alarms([rows(freeze_margin=margin, superheat=margin, compressor_power=power)], CARD)
    edges = sorted({0, n, *(cut for cut in cuts if cut < n)})
    parts = [
        rows(a, freeze_margin=margin[a:b], superheat=margin[a:b], compressor_power=power[a:b])
        for a, b in itertools.pairwise(edges)
    ]
    assert told(find_alarms(parts, CARD)) == told(whole)
    state: dict[str, Change] = {}
    for change in whole:  # each alarm is raised and ended in turn
        assert (change.change is Change.RAISED) == (state.get(change.rule.code) is not Change.RAISED)
        state[change.rule.code] = change.change


def test_memory_does_not_grow() -> None:
    fold = Alarms(CARD)
    for minute in range(200):
        fold.add(rows(60 * minute, freeze_margin=[1.0, 4.0] * 30, compressor_power=[2900.0] * 60))
    assert len(fold.memory) == len(fold.rules)


def test_shelving_needs_a_reason_and_ends_by_itself() -> None:
    with pytest.raises(AlarmError, match="only with a reason"):
        shelve_text(30, "  ")
    with pytest.raises(AlarmError, match="1 to 480 min"):
        shelve_text(24 * 60, "over night")
    book = AlarmBook()
    book.take(Event(0, 0, "alarm", "supply_low", shelve_text(10, "generator")))
    book.take(Event(60_000_000, 0, "alarm", "supply_low", "raised: low"))
    assert book.standings(61_000_000)[0].state is AlarmState.SHELVED
    assert book.standings(600_000_000)[0].state is AlarmState.UNACKNOWLEDGED
    book.take(Event(601_000_000, 0, "alarm", "supply_low", "acknowledged"))
    assert book.standings(602_000_000)[0].state is AlarmState.ACKNOWLEDGED
    book.take(Event(603_000_000, 0, "alarm", "supply_low", "cleared: fine"))
    assert book.standings(604_000_000)[0].state is AlarmState.NORMAL


def test_the_deadband_follows_the_quantity() -> None:
    assert deadband_of(Quantity.VOLUME_FLOW, 1e-3) == pytest.approx(5e-5)
    assert deadband_of(Quantity.TEMPERATURE, 300.0) == 0.5
