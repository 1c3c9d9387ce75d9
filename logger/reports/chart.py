"""The geometry of a strip chart: lines with their envelopes, steady stretches, dropouts, phases and marks."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.elementwise import FloatArray
from analysis.presets import MINUS, duration
from logger.reports.envelope import Envelope

WIDTH, LEFT, RIGHT = 760.0, 46.0, 150.0
TOP, FOOT = 40.0, 24.0
LABEL_STEP = 13.0
"""Least distance of two labels [px]."""
LEAST_BOX = 2.5
"""Least width of a dropout, so that a short one in a long session is seen [px]."""
LETTER = 5.2
"""Width of a letter of the small text [px]."""
STYLES = ("solid", "dash", "dot", "dashdot", "thin", "longdash")


@dataclass(frozen=True, slots=True)
class Wanted:
    """One line of a chart."""

    name: str
    label: str
    double: bool = False
    """Drawn as two thin lines: a saturation temperature that comes from a pressure."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line as drawn."""

    label: str
    style: str
    paths: tuple[str, ...]
    envelopes: tuple[str, ...]
    end_x: float
    end_y: float
    label_y: float
    value: str


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time as drawn."""

    x: float
    width: float
    text: str


@dataclass(frozen=True, slots=True)
class Lost:
    """A dropout as drawn: a hatched box where its own line would be; other lines go on."""

    x: float
    width: float
    y: float
    text: str


@dataclass(frozen=True, slots=True)
class Occasions:
    """What is drawn over time beside the lines, in microseconds."""

    steady: Sequence[tuple[int, int]] = ()
    phases: Sequence[tuple[int, int, str]] = ()
    dropouts: Mapping[str, Sequence[tuple[int, int]]] | None = None
    """Measuring point to its dropouts."""
    marks: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """A strip chart as drawn."""

    key: str
    title: str
    unit: str
    height: float
    plot_height: float
    lines: tuple[Line, ...]
    levels: tuple[tuple[float, str], ...]
    times: tuple[tuple[float, str], ...]
    steady: tuple[Span, ...]
    phases: tuple[Span, ...]
    dropouts: tuple[Lost, ...]
    marks: tuple[tuple[float, int], ...]
    alt: str
    width: float = WIDTH
    left: float = LEFT
    top: float = TOP

    @property
    def right(self) -> float:
        """Where the plot ends."""
        return WIDTH - RIGHT

    @property
    def bottom(self) -> float:
        """Where the plot ends below."""
        return TOP + self.plot_height


def value_range(
    envelopes: Iterable[Envelope], wanted: Sequence[Wanted], shown: Callable[[float], float]
) -> tuple[float, float] | None:
    """Find the range of all lines in shown units, so that two sessions share a scale."""
    found: list[float] = []
    for envelope in envelopes:
        for want in wanted:
            trace = envelope.traces.get(want.name)
            if trace is not None and (trace.rows > 0).any():
                known = trace.rows > 0
                found += [shown(float(trace.low[known].min())), shown(float(trace.high[known].max()))]
    if not found:
        return None
    low, high = min(found), max(found)
    pad = max((high - low) * 0.06, 0.5)
    return low - pad, high + pad


def draw(
    key: str,
    title: str,
    unit: str,
    envelope: Envelope,
    wanted: Sequence[Wanted],
    shown: Callable[[float], float],
    limits: tuple[float, float],
    occasions: Occasions,
    *,
    plot_height: float = 190.0,
) -> Chart | None:
    """Work out a chart.

    Parameters
    ----------
    key
        Unique in the page.
    envelope
        The session.
    wanted
        Lines in the order in which they are styled; those without a value are left out.
    shown
        SI value to the unit of the axis.
    limits
        Range of the axis in that unit.

    Returns
    -------
    Chart or None
        None where no line has a value.
    """
    end = max(envelope.end_us, 1)
    right, bottom = WIDTH - RIGHT, TOP + plot_height

    def x_of(t_us: float) -> float:
        return LEFT + (right - LEFT) * min(max(t_us / end, 0.0), 1.0)

    def y_of(value: float) -> float:
        return bottom - plot_height * (shown(value) - limits[0]) / (limits[1] - limits[0])

    dropouts = occasions.dropouts or {}
    boxes: list[Lost] = []
    spans: set[tuple[int, int]] = set()
    lines: list[Line] = []
    for want in wanted:
        trace = envelope.traces.get(want.name)
        if trace is None or not (trace.rows > 0).any():
            continue
        lost = [span for point in envelope.inputs[want.name] for span in dropouts.get(point, ())]
        spans.update(lost)
        envelope.blank(want.name, lost)
        boxes += [_lost(span, envelope, want.name, x_of, y_of) for span in lost]
        if (trace.rows > 0).any():
            lines.append(_line(want, len(lines), envelope, x_of, y_of, shown))
    if not lines:
        return None
    return Chart(
        key,
        title,
        unit,
        bottom + FOOT,
        plot_height,
        tuple(_spread(lines, bottom)),
        tuple(
            (bottom - plot_height * (v - limits[0]) / (limits[1] - limits[0]), t) for v, t in _levels(limits)
        ),
        tuple((x_of(t), duration(t / 1e6)) for t in _times(end)),
        tuple(_span(x_of, begin, stop, "steady") for begin, stop in occasions.steady),
        tuple(_span(x_of, begin, stop, text) for begin, stop, text in occasions.phases),
        tuple(boxes),
        tuple((x_of(t), n) for n, t in enumerate(occasions.marks, 1)),
        _alt(title, unit, lines, end, len(spans)),
    )


def _span(x_of: Callable[[float], float], begin: int, end: int, text: str) -> Span:
    """Place a stretch of time; its text is cut to what fits."""
    x = x_of(begin)
    width = max(x_of(end) - x, 1.0)
    room = int((width - 6.0) / LETTER)
    if len(text) > room:
        text = f"{text[: room - 1].rstrip()}…" if room >= 4 else ""
    return Span(x, width, text)


def _lost(
    span: tuple[int, int],
    envelope: Envelope,
    name: str,
    x_of: Callable[[float], float],
    y_of: Callable[[float], float],
) -> Lost:
    """Place the box of a dropout half-way between the values before and after it."""
    mean = envelope.traces[name].mean()
    known = np.flatnonzero(np.isfinite(mean))
    middle = (envelope.edges_us()[:-1] + envelope.edges_us()[1:])[known] / 2.0
    place = int(np.searchsorted(middle, sum(span) / 2.0))
    near = known[max(place - 1, 0) : place + 1]
    y = y_of(float(mean[near].mean())) if near.size else TOP
    x, seconds = x_of(span[0]), (span[1] - span[0]) / 1e6
    return Lost(x, max(x_of(span[1]) - x, LEAST_BOX), y, f"dropout {seconds:.0f} s")


def _line(
    want: Wanted,
    index: int,
    envelope: Envelope,
    x_of: Callable[[float], float],
    y_of: Callable[[float], float],
    shown: Callable[[float], float],
) -> Line:
    trace = envelope.traces[want.name]
    edges = envelope.edges_us()
    middle = (edges[:-1] + edges[1:]) / 2.0
    mean = trace.mean()
    known = np.flatnonzero(np.isfinite(mean))
    runs = np.split(known, np.flatnonzero(np.diff(known) > 1) + 1)
    paths, bands = [], []
    for run in runs:
        ends = [edges[run[0]], *middle[run], edges[run[-1] + 1]]
        at = [run[0], *run, run[-1]]
        paths.append(_path((x_of(t), y_of(float(mean[i]))) for t, i in zip(ends, at, strict=True)))
        over = [(x_of(t), y_of(float(trace.high[i]))) for t, i in zip(ends, at, strict=True)]
        under = [(x_of(t), y_of(float(trace.low[i]))) for t, i in zip(ends, at, strict=True)]
        bands.append(_path([*over, *reversed(under)]) + " Z")
    last = float(mean[known[-1]])
    style = "double" if want.double else STYLES[index % len(STYLES)]
    value = f"{shown(last):.1f}".replace("-", MINUS)
    end_y = y_of(last)
    return Line(
        want.label, style, tuple(paths), tuple(bands), x_of(float(edges[known[-1] + 1])), end_y, end_y, value
    )


def _path(points: Iterable[tuple[float, float]]) -> str:
    return "M " + " L ".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _spread(lines: list[Line], bottom: float) -> list[Line]:
    """Move labels apart so that none covers another; leaders join them to their lines."""
    order = sorted(range(len(lines)), key=lambda i: lines[i].end_y)
    places: list[float] = []
    for i in order:
        wished = lines[i].end_y
        places.append(max(wished, places[-1] + LABEL_STEP) if places else max(wished, TOP + 4.0))
    over = places[-1] - bottom if places else 0.0
    if over > 0.0:
        places[-1] -= over
        for k in range(len(places) - 2, -1, -1):
            places[k] = min(places[k], places[k + 1] - LABEL_STEP)
    at = dict(zip(order, places, strict=True))
    return [
        Line(x.label, x.style, x.paths, x.envelopes, x.end_x, x.end_y, at[i], x.value)
        for i, x in enumerate(lines)
    ]


def _levels(limits: tuple[float, float]) -> list[tuple[float, str]]:
    step = _nice((limits[1] - limits[0]) / 6.0)
    first = math.ceil(limits[0] / step)
    last = math.floor(limits[1] / step)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return [(n * step, f"{n * step:.{decimals}f}".replace("-", MINUS)) for n in range(first, last + 1)]


def _nice(least: float) -> float:
    power = 10.0 ** math.floor(math.log10(least))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= least - 1e-12)


def _times(end_us: int) -> FloatArray:
    seconds = end_us / 1e6
    steps = (1, 2, 5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400)
    step = next((s for s in steps if seconds / s <= 7.0), max(86400, round(seconds / 6.0)))
    return np.arange(0.0, seconds + 1e-9, step) * 1e6


def _alt(title: str, unit: str, lines: Sequence[Line], end_us: int, dropouts: int) -> str:
    ends = "; ".join(f"{line.label} ends at {line.value} {unit}" for line in lines)
    lost = f"; {dropouts} dropouts are hatched" if dropouts else ""
    return f"{title} over {duration(end_us / 1e6)}: {ends}{lost}."
