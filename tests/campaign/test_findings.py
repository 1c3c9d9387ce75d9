"""The findings' full counts: 2,000 simulated machines from the commit's own seed, 5,000 declarations."""

from __future__ import annotations

import random
import time

import pytest

from tests.analysis.test_guards import declared_right, declared_wrong
from tests.campaign.findings_score import score, seed_of_commit
from tests.campaign.record import record

pytestmark = pytest.mark.campaign
CASES, DECLARATIONS = 2000, 5000


def test_two_thousand_simulated_machines() -> None:
    base, began = seed_of_commit(), time.monotonic()
    found = score(range(base, base + CASES))
    record("findings", base, time.monotonic() - began, found.facts())
    assert found.precision >= 0.8, found.facts()
    assert found.alarm_rate <= 0.02, found.facts()
    for name, count in found.severe.items():
        assert found.severe_or_alike[name] >= 0.7 * count, (name, found.facts())


def test_five_thousand_declarations() -> None:
    base, began = seed_of_commit(), time.monotonic()
    rng = random.Random(base)
    tried, missed = declared_wrong(rng, DECLARATIONS)
    stopped = declared_right(rng, DECLARATIONS)
    facts = {"impossible": tried, "missed": len(missed), "right": DECLARATIONS, "stopped": len(stopped)}
    record("guards", base, time.monotonic() - began, facts | {"examples": (missed + stopped)[:5]})
    assert missed == []
    assert stopped == []
