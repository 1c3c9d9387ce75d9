"""Scores of the findings on simulated machines: confusion, precision, recall of severe faults."""

from __future__ import annotations

import hashlib
import subprocess
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from analysis.finding import Status
from analysis.findings import VerdictOfVisit, find
from tests.campaign.findings_cases import ALIKE, SEVERE, TRUE_CODES, Case, draw, true_codes

STRONG, LIKELY, FALSE_ALARM = 0.8, 0.5, 0.5


def seed_of_commit() -> int:
    """Give a seed that nobody chose: from the hash of the commit the tests run on; 1 outside a repository."""
    here = Path(__file__).parent
    done = subprocess.run(["git", "rev-parse", "HEAD"], cwd=here, capture_output=True, text=True, check=False)
    commit = done.stdout.strip()
    return int(hashlib.sha256(commit.encode()).hexdigest()[:8], 16) if commit else 1


@dataclass
class Score:
    """Counts over many cases."""

    cases: int = 0
    without_steady_state: int = 0
    strong: int = 0
    strong_true: int = 0
    healthy: int = 0
    healthy_alarmed: int = 0
    severe: Counter[str] = field(default_factory=Counter)
    severe_found: Counter[str] = field(default_factory=Counter)
    severe_or_alike: Counter[str] = field(default_factory=Counter)
    severe_likely: Counter[str] = field(default_factory=Counter)
    confusion: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    wrong: Counter[str] = field(default_factory=Counter)
    misses: list[int] = field(default_factory=list)

    def add(self, case: Case, found: VerdictOfVisit) -> None:
        """Count one case."""
        self.cases += 1
        truth = true_codes(case)
        standing = [f for f in found.findings if f.status is not Status.DECLINED]
        for finding in standing:
            if finding.strength >= STRONG:
                self.strong += 1
                self.strong_true += finding.code in truth
                self.wrong[f"{case.fault or 'none'} as {finding.code}"] += finding.code not in truth
        best = max(standing, key=lambda f: f.strength, default=None)
        self.confusion[case.fault or "none"][best.code if best else "nothing"] += 1
        if not case.fault:
            self.healthy += 1
            self.healthy_alarmed += any(
                f.status is Status.ACTIVE and f.strength > FALSE_ALARM for f in standing
            )
        elif case.severity >= SEVERE and not _shown_indistinguishable(case):
            codes = {f.code for f in standing}
            own = TRUE_CODES.get(case.fault, frozenset({case.fault}))
            self.severe[case.fault] += 1
            self.severe_found[case.fault] += bool(codes & own)
            alike = bool(codes & (own | ALIKE.get(case.fault, frozenset())))
            self.severe_or_alike[case.fault] += alike
            likely = {f.code for f in standing if f.strength >= LIKELY}
            self.severe_likely[case.fault] += bool(likely & own)
            if not alike:
                self.misses.append(case.seed)

    @property
    def precision(self) -> float:
        """Share of strong findings that are true."""
        return self.strong_true / self.strong if self.strong else 1.0

    @property
    def alarm_rate(self) -> float:
        """Share of healthy machines with an active finding above one half."""
        return self.healthy_alarmed / self.healthy if self.healthy else 0.0

    @property
    def recall(self) -> float:
        """Share of severe single faults that are found, a like fault counting for its like."""
        severe = sum(self.severe.values())
        return sum(self.severe_or_alike.values()) / severe if severe else 1.0

    def facts(self) -> dict[str, Any]:
        """Give everything for a file."""
        return {
            "cases": self.cases,
            "without steady state (not counted)": self.without_steady_state,
            "findings at strength 0.8 or more": self.strong,
            "of them true": round(self.precision, 4),
            "healthy machines": self.healthy,
            "of them with an active finding above 0.5": round(self.alarm_rate, 4),
            "recall of severe faults, like ones counted": round(self.recall, 4),
            "recall by fault": {
                name: {
                    "severe": count,
                    "itself": round(self.severe_found[name] / count, 3),
                    "itself or its like": round(self.severe_or_alike[name] / count, 3),
                    "itself at strength 0.5 or more": round(self.severe_likely[name] / count, 3),
                }
                for name, count in sorted(self.severe.items())
            },
            "strong and wrong": {name: count for name, count in self.wrong.most_common() if count},
            "confusion, fault to strongest finding": {
                fault: dict(row.most_common()) for fault, row in sorted(self.confusion.items())
            },
            "missed seeds": self.misses[:60],
        }


def _shown_indistinguishable(case: Case) -> bool:
    """Say where a receiver hides a missing charge: no subcooling from 95 to 40 % of it (laboratory)."""
    return case.fault == "undercharge" and bool(case.visit.receiver)


def score(seeds: Iterable[int]) -> Score:
    """Draw and judge cases."""
    total = Score()
    for seed in seeds:
        case = draw(seed)
        if case is None:
            total.without_steady_state += 1
        else:
            total.add(case, find(case.visit, case.card, case.reference))
    return total
