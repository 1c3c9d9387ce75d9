"""Axes, dome and isotherms of the pressure-enthalpy chart, worked out once for each refrigerant."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from analysis.cycle import isotherm
from analysis.phase_enthalpy import PhaseEnthalpy
from analysis.presets import PresetName
from analysis.saturation import RefusedRefrigerant, UnknownRefrigerant, refrigerant
from analysis.units import Quantity, to_si
from logger.desktop.amounts import amount
from logger.desktop.scene import Rect

Line = tuple[tuple[float, float], ...]
"""Enthalpy [J/kg] and absolute pressure [Pa] of points."""
PLOT = Rect(104.0, 112.0, 800.0, 520.0)
_LOWEST_T, _HOT_K = 233.15, 85.0
"""The axis begins at the dew pressure of -40 °C and ends right of gas that is so much hotter than its dew."""


@lru_cache(maxsize=4)
def chart_of(name: str) -> Chart | None:
    """Give the chart of a refrigerant; None where no table gives its enthalpy."""
    try:
        return Chart(name)
    except (UnknownRefrigerant, RefusedRefrigerant, ModuleNotFoundError):
        return None


class Chart:
    """Axes and dome of one refrigerant: they stand still whatever the readings do."""

    def __init__(self, name: str) -> None:
        self.curve = refrigerant(name)
        self.enthalpy = PhaseEnthalpy(self.curve)
        lowest = float(self.curve.p_dew(_LOWEST_T))
        self.p_low = max(lowest, self.curve.p_min) if math.isfinite(lowest) else self.curve.p_min
        self.p_high = self.curve.p_max
        p = np.exp(np.linspace(math.log(self.p_low), math.log(self.p_high), 80))
        self.bubble = tuple(zip(np.asarray(self.curve.h_bubble(p)).tolist(), p.tolist(), strict=True))
        self.dew = tuple(zip(np.asarray(self.curve.h_dew(p)).tolist(), p.tolist(), strict=True))
        hot = np.asarray(self.enthalpy.gas(p, np.asarray(self.curve.t_dew(p)) + _HOT_K))
        self.h_low = self.bubble[0][0] - 12e3
        self.h_high = float(np.nanmax(hot))

    def place(self, h: float, p: float) -> tuple[float, float]:
        """Give where a state stands, held inside the plot."""
        x = PLOT.x + (h - self.h_low) / (self.h_high - self.h_low) * PLOT.w
        share = math.log(p / self.p_low) / math.log(self.p_high / self.p_low)
        y = PLOT.bottom - share * PLOT.h
        return min(max(x, PLOT.x), PLOT.right), min(max(y, PLOT.y), PLOT.bottom)

    def holds(self, h: float, p: float) -> bool:
        """Whether a state lies on the axes."""
        return self.h_low <= h <= self.h_high and self.p_low <= p <= self.p_high


@lru_cache(maxsize=8)
def isotherms_of(name: str, preset: PresetName) -> tuple[tuple[str, float, Line], ...]:
    """Give label, temperature and points of some round temperatures."""
    chart = chart_of(name)
    assert chart is not None, "asked for only where there is a chart"
    unit_name, step = ("degF", 40) if preset == "us" else ("degC", 20)
    found = []
    for degree in range(-40, 401, step):
        t = to_si(Quantity.TEMPERATURE, unit_name, float(degree))
        points = isotherm(chart.curve, chart.enthalpy, t, chart.p_low, chart.p_high)
        inside = tuple(point for point in points if chart.holds(*point))
        if len(inside) > 1 and t < 400.0:
            found.append((amount(Quantity.TEMPERATURE, t, preset).text.replace(".0 ", " "), t, inside))
    return tuple(found)
