"""What every view is drawn from: the present moment of a recording, or a moment of a stored session."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from analysis.derived import BY_SYMBOL
from analysis.finding_rules_water import WATER_RULES
from analysis.points import POINTS
from analysis.presets import PresetName, duration
from analysis.verdict import State
from logger.desktop.bands import Band, BandWatch, Judged, Reading
from logger.desktop.gaps import gaps_of
from logger.desktop.support_words import Support

if TYPE_CHECKING:  # the engine loads what writes to disk, which no scene needs
    from analysis.analyser import Results
    from analysis.measured import Column
    from logger.alarm_watch import AlarmShown
    from logger.engine import Link
    from logger.journal import JournalStatus

START_JUDGED_S = 30.0
"""From when after a start is judged what needs no settling; what is shorter is the start itself."""
STRIP_JUDGED = ("source_volume_flow", "pump_current")
NEEDS_NO_SETTLING = frozenset(
    sign.symbol for rule in WATER_RULES if rule.at_start and not rule.settled for sign in rule.signs
)
"""What the findings take as a sign while a machine still starts: the screen judges nothing else then."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment noted by the person."""

    number: int
    t_us: int
    text: str


@dataclass(frozen=True, slots=True)
class Present:
    """One moment, with everything a view may say about it."""

    elapsed_us: int = 0
    newest: Results | None = None
    """One row of results; None before the first."""
    links: tuple[Link, ...] = ()
    channels: tuple[str, ...] = ()
    """All channels that have been seen, by id."""
    labels: Mapping[str, str] = field(default_factory=dict)
    """Channel to its label, where its device gives one."""
    rates: Mapping[str, float] = field(default_factory=dict)
    """Device to its readings per second, where known."""
    silent: Mapping[str, float] = field(default_factory=dict)
    """Channel to the seconds since its last reading, where that is longer than its hold."""
    journal: JournalStatus | None = None
    late: int = 0
    lost: int = 0
    title: str = ""
    preset: PresetName = "si"
    kind: Literal["recording", "simulated", "review", "idle"] = "recording"
    """``idle`` where nothing is recorded and nothing is reviewed."""
    bands: Mapping[str, Band] = field(default_factory=dict)
    judged: Mapping[str, Judged] = field(default_factory=dict)
    """Unit card's symbol to how the value stands."""
    alarms: tuple[AlarmShown, ...] = ()
    """Those that are not normal, what wants somebody first."""
    shelving: bool = False
    """Whether the reason why an alarm may wait is being asked for."""
    marks: tuple[Mark, ...] = ()
    notice: str = ""
    """A sentence for the person, such as why something was refused."""
    support: Support | None = None
    """What the findings say; None before they have been worked out."""
    asking: str = ""
    """A question that waits for the second touch."""
    backdating: bool = False
    """Whether the newest mark may still be moved back."""
    end_us: int = 0
    """Length of a stored session; 0 while it is not known."""

    @property
    def at_end(self) -> bool:
        """Whether a stored session is shown as it ended."""
        return self.end_us > 0 and self.elapsed_us >= self.end_us

    @property
    def water_words(self) -> str:
        """Say whether the water is proven."""
        proven = self.support is not None and self.support.water_proven
        return "water proven" if proven else "water not proven"

    @property
    def calling(self) -> AlarmShown | None:
        """The alarm that wants somebody now."""
        return next((alarm for alarm in self.alarms if alarm.wants_person), None)

    @property
    def missing(self) -> frozenset[str]:
        """Points and derived values that have no value at this moment."""
        if self.newest is None:
            return frozenset((*POINTS, *BY_SYMBOL))
        known = (*self.newest.points.items(), *self.newest.derived.items())
        have = {name for name, column in known if math.isfinite(float(column.value[-1]))}
        return frozenset((*POINTS, *BY_SYMBOL)) - have

    def column(self, name: str) -> Column | None:
        """Give a measuring point or a derived value; None where it is not fitted."""
        if self.newest is None:
            return None
        return self.newest.points.get(name) or self.newest.derived.get(name)

    def value(self, name: str) -> float:
        """Give its value (SI); NaN where there is none."""
        column = self.column(name)
        return float(column.value[-1]) if column is not None else math.nan

    def expanded(self, name: str) -> float:
        """Give its expanded uncertainty (k = 2)."""
        column = self.column(name)
        return 2.0 * float(column.u[-1]) if column is not None else math.nan

    def freezing_point(self) -> float:
        """Freezing point that the freeze margin counts from: the source's liquid, the coil's 0 °C on air."""
        if self.newest is None:
            return math.nan
        if self.newest.settings.mode == "cooling":
            return 273.15
        liquid = self.newest.settings.source_liquid
        return liquid.freezing_point if liquid is not None else math.nan

    def level(self, key: str) -> float:
        """Give a level's temperature [K]."""
        return self.freezing_point() if key == "freezing_point" else self.value(key)

    def why_missing(self, symbol: str) -> str:
        """Say in a few words why a derived value or a point has no value."""
        newest = self.newest
        if newest is None:
            return "no reading yet"
        if symbol in newest.missing:
            lacks = newest.missing[symbol]
            undeclared = {
                "refrigerant": "refrigerant not declared", "source_liquid": "fluid not declared",
                "load_liquid": "load fluid not declared",
            }  # fmt: skip
            for name in lacks:
                if name in undeclared:
                    return undeclared[name]
            names = [POINTS[name.split(" or ")[0]].label for name in lacks if name.split(" or ")[0] in POINTS]
            return f"lacks {names[0]}" if names else "not fitted"
        for name in newest.inputs.get(symbol, (symbol,)):
            if name in newest.points and not math.isfinite(float(newest.points[name].value[-1])):
                return f"{POINTS[name].label} {self.silence(name)}"
        if symbol in newest.derived or symbol in newest.points:
            return "outside what can be worked out"
        if symbol in BY_SYMBOL and newest.settings.mode not in BY_SYMBOL[symbol].modes:
            return f"not worked out in {newest.settings.mode or 'an undeclared mode'}"
        return "not fitted"

    def lack_of(self, point: str) -> str:
        """Say why a measuring point has no value: not fitted, or silent."""
        fitted = self.newest is not None and point in self.newest.points
        return f"{POINTS[point].label} {self.silence(point) if fitted else 'not fitted'}"

    def silence(self, point: str) -> str:
        """Say for how long a measuring point has been silent."""
        newest = self.newest
        channel = newest.settings.channel_of.get(point, "") if newest is not None else ""
        seconds = self.silent.get(channel, math.nan)
        return f"silent {duration(seconds)}" if math.isfinite(seconds) else "silent"


def readings_to_judge(newest: Results, bands: Mapping[str, Band]) -> dict[str, Reading]:
    """Gather what a :class:`BandWatch` needs of one row: the six gaps and what the strip judges."""
    present = Present(newest=newest)
    found = {}
    for gap in gaps_of(newest):
        value = gap.sign * present.value(gap.symbol)
        found[gap.key] = Reading(
            value, present.expanded(gap.symbol), bands.get(gap.key), _may_be_judged(newest, gap.symbol)
        )
    for symbol in STRIP_JUDGED:
        found[symbol] = Reading(
            present.value(symbol), present.expanded(symbol), bands.get(symbol), _may_be_judged(newest, symbol)
        )
    return found


def runs(newest: Results) -> bool:
    """Whether the machine runs, as far as can be told."""
    state = newest.judgement.overall.state
    return not (state.size and int(state[-1]) == State.REST)


def _may_be_judged(newest: Results, symbol: str) -> bool:
    """Whether a band may be held against a value now.

    A gap waits until it is steady. Flow and pump current rest on nothing that must settle, and a freeze
    margin cannot wait; they are judged as soon as the machine is known to run and its start is over.
    """
    judgement = newest.judgement
    if not judgement.overall.state.size or not runs(newest):
        return False
    standing = judgement.results.get(symbol)
    state = State(int(standing.state[-1])) if standing is not None and standing.state.size else None
    if state is State.STEADY:
        return True
    at_once = symbol == "freeze_margin" or (
        symbol in NEEDS_NO_SETTLING and (state is State.AT_ONCE or symbol in POINTS)
    )
    return at_once and float(judgement.since_change_s[-1]) >= START_JUDGED_S


def judge_rows(watch: BandWatch, rows: list[Results], bands: Mapping[str, Band]) -> dict[str, Judged]:
    """Run a watch over single rows of results and give how the last one stands."""
    judged: dict[str, Judged] = {}
    for row in rows:
        judged = watch.step(float(row.t_us[-1]) / 1e6, readings_to_judge(row, bands))
    return judged
