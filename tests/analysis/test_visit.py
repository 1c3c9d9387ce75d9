"""The refrigerant ledger closes, or says what was never weighed; a price needs a rate; approval prints."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.refrigerant_ledger import Ledger, Transfer, mass_balance
from analysis.visit import ForOwner, TemporaryRepair, Work

MASS = st.floats(0.0, 50.0)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(MASS, st.lists(st.tuples(st.sampled_from(["recovered", "charged"]), MASS), max_size=6))
def test_a_ledger_whose_masses_add_up_closes(before: float, moved: list[tuple[str, float]]) -> None:
    transfers = tuple(Transfer(kind, mass) for kind, mass in moved)  # type: ignore[arg-type]
    after = before + sum(mass if kind == "charged" else -mass for kind, mass in moved)
    balance = mass_balance(Ledger("R410A", transfers, before, after))
    assert balance.closes is True
    assert balance.missing == ()
    assert abs(balance.residual) < 1e-9


def test_a_leak_between_two_weighings_does_not_close() -> None:
    # 1.03 kg charged new, 0.75 kg recovered: 0.28 kg went elsewhere, far more than two scales may err.
    balance = mass_balance(Ledger("R410A", (Transfer("recovered", 0.75),), 1.03, 0.0))
    assert balance.closes is False
    assert balance.residual == pytest.approx(0.28)
    assert balance.u == pytest.approx(0.005 * math.sqrt(3.0))


def test_what_was_not_weighed_has_no_mass_and_is_named() -> None:
    balance = mass_balance(Ledger("R410A", (Transfer("charged", cylinder="7"), Transfer("recovered", 0.2))))
    assert math.isnan(balance.charged)
    assert balance.recovered == 0.2
    assert math.isnan(balance.residual)
    assert balance.closes is None
    assert balance.missing[0] == "mass charged (cylinder 7)"


def test_a_cylinder_on_the_scale_says_what_was_moved() -> None:
    assert Transfer("charged", cylinder_before=12.0, cylinder_after=11.4).weighed == pytest.approx(0.6)
    assert Transfer("recovered", cylinder_before=3.0, cylinder_after=3.28).weighed == pytest.approx(0.28)
    assert math.isnan(Transfer("recovered", cylinder_before=3.0).weighed)


def test_a_price_needs_hours_and_a_rate() -> None:
    assert Work(labour_h=2.0, labour_rate=100.0, access_factor=1.5).labour_price == 300.0
    assert math.isnan(Work(labour_h=2.0, access_factor=1.5).labour_price)
    assert math.isnan(Work(travel_rate=50.0).travel_price)


def test_what_to_watch_needs_the_technicians_approval() -> None:
    assert ForOwner(watch="The strainer.", watch_approved_by=" ").approved_watch == ""
    assert ForOwner(watch="The strainer.", watch_approved_by="A").approved_watch == "The strainer."


def test_a_temporary_repair_stands_until_it_is_replaced() -> None:
    assert TemporaryRepair("hose", "2026-07-08").open
    assert not TemporaryRepair("hose", "2026-07-08", replaced="2026-08-01").open
