"""Weighing a rule by the signs of one visit.

Strength, from the degrees (0 to 1) of its signs: the least of the signs that must be there, times
``1 - w (1 - degree)`` for each usual sign, capped by how many independent signs there are and by what the
limits rest on.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from analysis.evidence import OBSERVATIONS, Line, Visit
from analysis.finding_levels import Judged, judge
from analysis.finding_rule import Role, Rule, Sign
from analysis.unit_card import UnitCard

CAP_BY_SIGNS = {0: 0.3, 1: 0.6, 2: 0.87}
"""Most strength for so many independent signs; with more of them :data:`CAP_MANY`. Values in their band
count as one further sign at most."""
CAP_MANY = 0.95
CAP_MISSING = 0.45
"""Most strength while a sign that must be there is not measured."""
CAP_COMMON = 0.75
"""Most strength where the limits are common practice only."""
CAP_RECEIVER = 0.4
"""Most strength of what rests on low subcooling where there is a receiver: it falls to nothing by 95 % of the
charge and then tells no more (water-to-water laboratory machine with a receiver, R-513A)."""
TELLING = 0.8
"""From this weight on a usual sign is the one that tells a cause from its like."""
UNCONFIRMED = 0.2
"""Share of a telling sign's weight that is lost where its reading is missing."""
OWN_ROUTE = "the flow by a route of its own: meter, timed container or energy balance"
STANDS_OUT = ("low", "high", "off")
RECEIVER_WEIGHT = 0.3
"""What is left of the weight of subcooling where there is a receiver."""
SEEN_SIGN = 0.5
"""From this degree on a sign counts as there."""
_WATER_SYMBOLS = frozenset(
    {"source_volume_flow", "source_change", "source_pressure_drop", "flow_agreement", "source_flow"}
)


@dataclass(frozen=True, slots=True)
class Weighed:
    """A rule with what its signs say, before rivals and holds."""

    rule: Rule
    strength: float
    signs: int
    supporting: tuple[Line, ...] = ()
    against: tuple[Line, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(slots=True)
class Judging:
    """Degrees of signs for one visit, each symbol judged once."""

    visit: Visit
    card: UnitCard | None
    reference: Visit | None
    known: dict[str, Judged | None] = field(default_factory=dict)

    def judged(self, symbol: str) -> Judged | None:
        """Hold a symbol against its level; None where value or level is not known."""
        if symbol not in self.known:
            self.known[symbol] = judge(symbol, self.visit, self.card, self.reference)
        return self.known[symbol]

    @property
    def flow_has_own_route(self) -> bool:
        """Whether some flow is known that does not come from the coil's own pressure drop."""
        route = self.visit.flow_route
        return (route is not None and route.independent_of_coil) or self.judged("coil_drop_ratio") is not None

    def weigh(self, rule: Rule) -> Weighed:
        """Work out a rule's strength by its signs alone."""
        there: list[tuple[Sign, Judged, float]] = []
        against: list[Line] = []
        missing: list[str] = []
        must, factor, lacking, caps = 1.0, 1.0, False, [1.0]
        blind = rule.own_route and not self.flow_has_own_route
        if blind:
            missing.append(OWN_ROUTE)
            caps.append(CAP_MISSING)
        for sign in rule.signs:
            if blind and sign.symbol in _WATER_SYMBOLS:
                continue  # a flow found from the coil's drop would explain the drop by itself
            judged = self.judged(sign.symbol)
            if judged is None:
                if sign.role is not Role.ALSO:
                    missing.append(self._lack(sign.symbol))
                    lacking = lacking or sign.role is Role.MUST
                if sign.role is Role.USUAL and sign.weight >= TELLING:
                    factor *= 1.0 - UNCONFIRMED * sign.weight
                continue
            degree = judged.degree(sign.way)
            if degree >= SEEN_SIGN:
                there.append((sign, judged, degree))
            elif sign.role is not Role.ALSO:
                against.append(line_of(judged))
            if sign.role is Role.MUST:
                must = min(must, degree)
            elif sign.role is Role.USUAL:
                factor *= 1.0 - self._weight(sign) * (1.0 - degree)
        # A value in its band only excludes other causes; what stands out is what speaks for this one.
        positive = [entry for entry in there if entry[0].way in STANDS_OUT]
        observed = [(name, weight) for name, weight in rule.seen.items() if name in self.visit.observations]
        needs = any(sign.role is Role.MUST for sign in rule.signs)
        strength = must if positive and needs else 0.0
        if lacking:
            # What merely fits as well must be there twice before it stands in for what is not measured.
            carries = any(sign.role is not Role.ALSO for sign, _, _ in positive) or len(positive) > 1
            strength = max((degree for _, _, degree in positive), default=0.0) * must if carries else 0.0
            caps.append(CAP_MISSING)
        signs = _independent([judged for _, judged, _ in positive])
        paths = _independent([judged for _, judged, _ in there])
        caps.append(CAP_BY_SIGNS.get(min(paths, signs + 1), CAP_MANY))
        if positive and all(judged.level.kind == "common practice" for _, judged, _ in positive):
            caps.append(CAP_COMMON)
        if self.visit.receiver and any((s.symbol, s.way) == ("subcooling", "low") for s, _, _ in positive):
            caps.append(CAP_RECEIVER)
        strength = min(strength, *caps)
        by_eye = 1.0
        for _, weight in observed:
            by_eye *= 1.0 - weight
        strength = (1.0 - (1.0 - strength) * by_eye) * factor if observed else strength * factor
        for name, left in rule.seen_against.items():
            if name in self.visit.observations:
                strength *= left
                against.append(observation_line(name))
        lines = tuple({judged.seen.symbol: line_of(judged) for _, judged, _ in there}.values())
        return Weighed(
            rule,
            strength,
            signs + len(observed),
            (*lines, *(observation_line(name) for name, _ in observed)),
            tuple(dict.fromkeys(against)),
            tuple(dict.fromkeys(missing)),
        )

    def _weight(self, sign: Sign) -> float:
        """Give the weight; a receiver takes up what is too much, so that subcooling says little."""
        return (
            RECEIVER_WEIGHT * sign.weight
            if self.visit.receiver and sign.symbol == "subcooling"
            else sign.weight
        )

    def _lack(self, symbol: str) -> str:
        words = symbol.replace("_", " ")
        return words if self.visit.get(symbol) is None else f"a band for the {words}"


def strongest(weighed: Iterable[Weighed]) -> dict[str, Weighed]:
    """Keep the strongest of several rules with one code."""
    found: dict[str, Weighed] = {}
    for one in weighed:
        before = found.get(one.rule.code)
        if before is None or one.strength > before.strength:
            found[one.rule.code] = one
    return found


def _independent(judged: Sequence[Judged]) -> int:
    """Count signs that share no reading; flow and water change follow from one cause and are one sign.

    Two numbers from one reading are one sign, so the largest set of signs without a common reading counts.
    """
    paths = [
        frozenset({"source water"}) if one.seen.symbol in _WATER_SYMBOLS else one.seen.points
        for one in {one.seen.symbol: one for one in judged}.values()
    ]
    return _largest(paths, frozenset())


def _largest(paths: Sequence[frozenset[str]], taken: frozenset[str]) -> int:
    if not paths:
        return 0
    without = _largest(paths[1:], taken)
    return without if paths[0] & taken else max(without, 1 + _largest(paths[1:], taken | paths[0]))


def line_of(judged: Judged) -> Line:
    """Make the line of evidence of a sign."""
    level = judged.level
    stands = max(("low", "normal", "high"), key=judged.degree)
    words = {"low": "low", "normal": "in band", "high": "high"}[stands]
    return Line.of(judged.seen, level.low, level.high, level.source, words)


def observation_line(name: str) -> Line:
    """Make the line of evidence of what a person saw."""
    nan = float("nan")
    return Line(name, nan, nan, nan, nan, "", "seen by the person", OBSERVATIONS[name])
