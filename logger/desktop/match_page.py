"""What the guided page of a match or a zeroing shows, as plain words and numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.cup import Cup, Lack
from analysis.cup_troubles import STANDS_OUT_K
from analysis.points import POINTS
from analysis.presets import PresetName
from analysis.zeroing import Zero, ZeroLack
from logger import match_words as words
from logger.match_outcome import Taken
from logger.match_readings import point_of
from logger.shown_values import plain

LONGEST = 32
"""Letters of a name that is given by nobody but a device."""
Kind = Literal["", "cup", "zero"]


@dataclass(frozen=True, slots=True)
class Row:
    """One probe or gauge."""

    label: str
    reads: str
    off: float
    """How far off the middle, or off zero, in full scales of the track."""
    spread: float
    """Twice its scatter, in full scales."""
    offset: str
    """What is to be added, with its uncertainty; empty while it is not known."""
    state: str
    good: bool
    """Whether nothing is wrong with it; one that has not been read for long enough only waits."""


@dataclass(frozen=True, slots=True)
class MatchPage:
    """Everything that the page is drawn from."""

    kind: Kind = ""
    """Empty while it is being chosen."""
    live: bool = True
    """Whether a recording runs; only then can anything be taken."""
    vented: bool = False
    """Whether the person has said that the gauges are off the machine and open to the air."""
    rows: tuple[Row, ...] = ()
    scale: str = ""
    """What the full track stands for."""
    ready: bool = False
    word: str = "even enough"
    takes: str = "from this moment on"
    """What the key that takes does."""
    told: tuple[str, ...] = ()
    """What stands against it, or what is believed after it."""
    step: int = 1
    reference: str = ""
    choosing: bool = False
    """Whether it is being chosen which probes take part."""
    which: tuple[tuple[str, str, bool], ...] = ()
    """All that may take part: channel, what it is called, whether it does."""
    taken: str = ""
    """Since when the offsets hold; empty while none were taken."""
    page: int = 0


def cup_page(cup: Cup, taken: Taken, preset: PresetName) -> MatchPage:
    """Give the page of a cup as it stands."""
    name = namer(taken)
    rows = []
    against = {channel: t.lack for t in reversed(cup.troubles) for channel in t.channels}
    for probe in cup.probes:
        lack = against.get(probe.channel.id)
        offset = ""
        if cup.even:
            u = words.within(cup.u_offset(probe), preset)
            is_reference = probe.channel.id == cup.reference
            offset = "reference" if is_reference else f"{words.kelvin(probe.offset, preset)}  {_bare(u)}"
        rows.append(
            Row(
                name(probe.channel.id),
                words.temperature(probe.mean.value, preset),
                probe.off / STANDS_OUT_K,
                2.0 * probe.mean.spread / STANDS_OUT_K,
                offset,
                _CUP_STATES[lack] if lack is not None else "stands",
                lack in (None, Lack.SHORT, Lack.FEW_READINGS),
            )
        )
    told = tuple(_sentence(words.cup_said(t, cup, name, preset)) for t in cup.troubles)
    if cup.even:
        told = (words.cup_belief(cup, point_of(taken.held), preset),)
    placing = (Lack.FEW_PROBES, Lack.SHORT, Lack.FEW_READINGS, Lack.STANDS_OUT, Lack.NOT_ICE)
    step = 3 if cup.even else 1 if any(t.lack in placing for t in cup.troubles) else 2
    return MatchPage(
        "cup", rows=tuple(rows), scale=f"± {words.kelvin(STANDS_OUT_K, preset)}", ready=cup.even, told=told,
        step=step, reference=words.reference_words(cup.reference, name),
    )  # fmt: skip


def zero_page(zeros: tuple[Zero, ...], taken: Taken, preset: PresetName) -> MatchPage:
    """Give the page of gauges that are open to the air."""
    name = namer(taken)
    rows = []
    for zero in zeros:
        quantity = zero.channel.quantity
        off = zero.mean.value - zero.target
        offset = ""
        if zero.lack is None:
            u = words.pressure_within(quantity, zero.u, preset)
            offset = f"{words.pressure(quantity, zero.offset, preset)}  {_bare(u)}"
        rows.append(
            Row(
                name(zero.channel.id),
                words.pressure(quantity, off, preset),
                off / zero.limit,
                2.0 * zero.mean.spread / zero.limit,
                offset,
                _ZERO_STATES[zero.lack] if zero.lack is not None else "stands",
                zero.lack in (None, ZeroLack.FEW_READINGS),
            )
        )
    bad = [zero for zero in zeros if zero.lack is not None]
    said = [words.zero_said(zero, name, preset) for zero in bad]
    told = tuple(_sentence(one) for one in said if one is not None)
    ready = len(bad) < len(zeros)
    if not told and zeros:
        told = ("The zero is taken out; for the span of each gauge holds what is stated, as before.",)
    good = len(zeros) - len(bad)
    word = f"{good} of {len(zeros)} at zero"
    return MatchPage(
        "zero", vented=True, rows=tuple(rows), scale="± what is believed of it", ready=ready,
        word=word, takes=f"{good} of {len(zeros)}, from now on" if bad else "from this moment on",
        told=told or ("no pressure channel has been read",), step=3 if ready else 2,
    )  # fmt: skip


_CUP_STATES = {
    Lack.SHORT: "too short yet", Lack.FEW_READINGS: "too few readings", Lack.MOVES: "still moves",
    Lack.STANDS_OUT: "stands out",
    Lack.FEW_PROBES: "alone", Lack.CUP_DRIFTS: "drifts", Lack.NOT_ICE: "not in ice",
    Lack.NO_GAIN: "better by itself",
}  # fmt: skip
_ZERO_STATES = {
    ZeroLack.FEW_READINGS: "too few readings", ZeroLack.MOVES: "still moves",
    ZeroLack.PRESSURE: "not at zero", ZeroLack.NO_BAROMETER: "no barometer",
    ZeroLack.NO_GAIN: "better by itself",
}  # fmt: skip


def namer(taken: Taken) -> words.Name:
    """Name channels briefly: by the measuring point that each feeds, else by itself."""
    feeds = point_of(taken.held)

    def name(channel: str) -> str:
        point, known = feeds.get(channel, ""), taken.channels.get(channel)
        told = plain(known.label if known is not None else "") or channel
        # Long names of one device differ at their end.
        return POINTS[point].label if point else told if len(told) <= LONGEST else f"…{told[-LONGEST:]}"

    return name


def _bare(within: str) -> str:
    """Take the unit off an uncertainty that stands behind its value."""
    return within.rsplit(" ", 1)[0] if within[-1].isalpha() or within.endswith("°F") else within


def _sentence(said: words.Said) -> str:
    return f"{said.what}: {said.way}"
