"""The strip charts of a session: what is drawn together, and on which scale."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from analysis.marks import standing_marks
from analysis.presets import PRESETS, PresetName
from analysis.units import Quantity, from_si, unit
from logger.comparison import Studied
from logger.replay import end_us
from logger.reports import session_pages as pages
from logger.reports.chart import Chart, Occasions, Wanted, draw, value_range
from logger.reports.envelope import Envelope

_CHARTS: tuple[tuple[str, str, Quantity, tuple[Wanted, ...]], ...] = (
    (
        "water",
        "Water and air temperatures",
        Quantity.TEMPERATURE,
        (
            Wanted("source_entering_temperature", "source water in"),
            Wanted("source_leaving_temperature", "source water out"),
            Wanted("load_entering_temperature", "load water in"),
            Wanted("load_leaving_temperature", "load water out"),
            Wanted("return_air_temperature", "return air"),
            Wanted("supply_air_temperature", "supply air"),
        ),
    ),
    (
        "refrigerant",
        "Refrigerant temperatures",
        Quantity.TEMPERATURE,
        (
            Wanted("suction_temperature", "suction line"),
            Wanted("evaporating_temperature", "evaporating (dew)", double=True),
            Wanted("liquid_temperature", "liquid line"),
            Wanted("condensing_temperature", "condensing (bubble)", double=True),
            Wanted("discharge_temperature", "discharge line"),
        ),
    ),
    (
        "gaps",
        "Superheat and subcooling",
        Quantity.TEMPERATURE_DIFFERENCE,
        (Wanted("superheat", "superheat"), Wanted("subcooling", "subcooling")),
    ),
)


@dataclass(frozen=True, slots=True)
class Seen:
    """A session that was worked out, with its course over time."""

    role: str
    studied: Studied
    envelope: Envelope


def shared_ranges(seen: Sequence[Seen], preset: PresetName) -> dict[str, tuple[float, float] | None]:
    """Find for each chart the range that all sessions share."""
    return {
        key: value_range((one.envelope for one in seen), wanted, _to_shown(quantity, preset))
        for key, _, quantity, wanted in _CHARTS
    }


def _to_shown(quantity: Quantity, preset: PresetName) -> Callable[[float], float]:
    name = PRESETS[preset][quantity].unit
    return lambda value: float(from_si(quantity, name, value))


def charts(
    one: Seen, number: int, limits: Mapping[str, tuple[float, float] | None], preset: PresetName
) -> list[Chart]:
    """Draw the charts of a session."""
    session = one.studied.session
    by_channel = pages.dropout_spans(session)
    dropouts: dict[str, list[tuple[int, int]]] = {}
    for stretch in one.studied.stretches:
        for point, channel in stretch.settings.channel_of.items():
            dropouts.setdefault(point, by_channel.get(channel, []))
    occasions = Occasions(
        steady=[(s.from_us, s.to_us) for s in one.studied.stretches if s.steady],
        phases=pages.spans_of(session, "phase"),
        dropouts=dropouts,
        marks=sorted(e.t_us for e in standing_marks(session.events) if 0 <= e.t_us <= end_us(session)),
    )
    drawn = []
    for key, title, quantity, wanted in _CHARTS:
        shared = limits[key]
        if shared is not None:
            sign = unit(PRESETS[preset][quantity].unit, quantity).shown
            height = 100.0 if key == "gaps" else 150.0
            chart = draw(
                f"{key}-{number}", title, sign, one.envelope, wanted, _to_shown(quantity, preset), shared,
                occasions, plot_height=height,
            )  # fmt: skip
            drawn += [chart] if chart is not None else []
    return drawn
