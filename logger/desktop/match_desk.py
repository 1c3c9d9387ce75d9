"""What the guided page of a match does: looks at the newest readings, takes offsets, and takes them back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Protocol, cast

from analysis.correction import Correction, correction_text
from analysis.cup import ICE, MEAN
from analysis.matching import cup_match
from analysis.presets import PresetName, duration
from analysis.settings import Settings
from analysis.zeroing import zero_gauges
from logger.desktop.match_page import Kind, MatchPage, cup_page, namer, zero_page
from logger.desktop.sounds import Sounds
from logger.desktop.source import Source
from logger.match_outcome import Taken
from logger.match_readings import cup_channels, gauge_channels, series_of


class Matches(Protocol):
    """A source whose newest readings can be matched, and in which offsets can be declared."""

    def taken(self) -> Taken:
        """Give the newest readings."""
        ...

    def correct(self, texts: Mapping[str, str]) -> None:
        """Let offsets of channels hold from now on; an empty text for none."""
        ...


@dataclass(frozen=True, slots=True)
class _Take:
    """One touch of the key that takes, so that it can be taken back."""

    kind: Kind
    before: Mapping[str, str]
    at: str
    told: tuple[str, ...]
    """What is believed since."""


class MatchDesk:
    """What has been chosen on the guided page, and what was taken."""

    def __init__(self, source: Source, preset: PresetName, sounds: Sounds | None = None) -> None:
        self._source, self._preset, self._sounds = source, preset, sounds
        self._was_ready = False
        self._live = source.recording and hasattr(source, "taken")
        self._kind: Kind = ""
        self._open = self._vented = self._choosing = False
        self._reference = MEAN
        self._without: frozenset[str] = frozenset()
        self._page_number = 0
        self._takes: list[_Take] = []
        self._notice = ""

    def notice(self) -> str:
        """Give what is to be told for some seconds, once."""
        told, self._notice = self._notice, ""
        return told

    def act(self, what: str) -> None:
        """Do what a touch asks for."""
        name, _, rest = what.partition(" ")
        match name:
            case "" | "cup" | "zero":
                self._open, self._kind = True, name
                self._vented, self._page_number, self._without = False, 0, frozenset()
                self._reference, self._choosing, self._was_ready = MEAN, False, False
            case "back":
                self._back()
            case "vented":
                self._vented = True
            case "reference":
                self._next_reference()
            case "which":
                self._choosing, self._page_number = True, 0
            case "chosen":
                self._choosing, self._page_number = False, 0
            case "toggle" if rest:
                self._without ^= {rest}
            case "page":
                self._page_number += 1
            case "take":
                self._take()
            case "undo":
                self._undo()
            case _:
                pass

    def page(self) -> MatchPage | None:
        """Give what the page shows now; None while it is closed."""
        if not self._open:
            return None
        if not self._live:
            return MatchPage(live=False)
        if not self._kind or (self._kind == "zero" and not self._vented):
            return MatchPage(self._kind)
        taken = self._readings()
        page, _ = self._look(taken, self._preset)
        self._tell_ready(page.ready)
        everyone = self._all(taken)
        name = namer(taken)
        page = replace(
            page,
            page=self._page_number,
            choosing=self._choosing,
            which=tuple((one, name(one), one not in self._without) for one in everyone),
        )
        last = self._last()
        if last is None:
            return page
        # Once taken, the probes leave the cup: what is believed stays told.
        return replace(page, taken=last.at, told=page.told if page.ready else last.told)

    def _tell_ready(self, ready: bool) -> None:
        """Let it be heard once when it becomes even: who stirs looks at the cup."""
        if ready and not self._was_ready and self._sounds is not None:
            self._sounds.play("settled")
        self._was_ready = ready

    def _readings(self) -> Taken:
        return cast("Matches", self._source).taken()

    def _all(self, taken: Taken) -> tuple[str, ...]:
        """Name what may take part."""
        choose = cup_channels if self._kind == "cup" else gauge_channels
        return choose(taken.channels, taken.held, taken.rows)

    def _names(self, taken: Taken) -> tuple[str, ...]:
        """Name what takes part: all of the kind, without what was left out."""
        return tuple(name for name in self._all(taken) if name not in self._without)

    def _look(self, taken: Taken, preset: PresetName) -> tuple[MatchPage, Mapping[str, Correction]]:
        """Give the page of the newest readings, and what could be taken of them."""
        names = self._names(taken)
        series = series_of(taken.rows, taken.channels, names, taken.held)
        if self._kind == "cup":
            if self._reference not in (MEAN, ICE, *names):
                self._reference = MEAN
            cup = cup_match(series, taken.end_s, reference=self._reference)
            return cup_page(cup, taken, preset), cup.corrections(taken.when)
        barometer = taken.held.barometer_pa if taken.held.barometer_declared else math.nan
        zeros = zero_gauges(series, taken.end_s, barometer)
        good = {zero.channel.id: zero.correction(taken.when) for zero in zeros if zero.lack is None}
        return zero_page(zeros, taken, preset), good

    def _next_reference(self) -> None:
        """Go on to the next thing that the cup may be held against: the mean, ice water, each probe."""
        if self._kind == "cup":
            choices = (MEAN, ICE, *self._names(self._readings()))
            at = choices.index(self._reference) if self._reference in choices else 0
            self._reference = choices[(at + 1) % len(choices)]

    def _take(self) -> None:
        """Let the offsets hold from now on, where the cup is even; else say so."""
        taken = self._readings()
        page, found = self._look(taken, self._preset)
        if not found:
            self._notice = "nothing was taken: it is not even yet"
            return
        quantities = {name: taken.channels[name].quantity for name in found}
        before = {
            name: correction_text(held, quantities[name]) if (held := _held(taken.held, name)) else ""
            for name in found
        }
        texts = {name: correction_text(correction, quantities[name]) for name, correction in found.items()}
        cast("Matches", self._source).correct(texts)
        self._takes.append(_Take(self._kind, before, duration(taken.end_s), page.told))
        what = "channel" if len(found) == 1 else "channels"
        self._notice = f"taken: the offsets of {len(found)} {what} hold from now on"

    def _last(self) -> _Take | None:
        """Give what was taken last on this page."""
        return next((take for take in reversed(self._takes) if take.kind == self._kind), None)

    def _undo(self) -> None:
        """Let what held before the last take on this page hold again."""
        last = self._last()
        if last is None:
            self._notice = "nothing was taken here"
            return
        self._takes.remove(last)
        cast("Matches", self._source).correct(last.before)
        self._notice = f"taken back: what held before {last.at} holds again from now on"

    def _back(self) -> None:
        """Go one page back, to the choice and from there to the devices."""
        if self._live and self._kind:
            self._kind, self._vented = "", False
        else:
            self._open = False


def _held(held: Settings, channel: str) -> Correction | None:
    """Give the correction that holds for a channel; None where none does."""
    if channel not in held.offset:
        return None
    return Correction(held.offset[channel], held.matched.get(channel))
