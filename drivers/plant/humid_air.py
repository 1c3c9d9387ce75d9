"""Moist air over the simulated machine's air coil, tabulated from CoolProp's humid-air properties."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

from CoolProp.CoolProp import HAPropsSI

_T_MIN = 258.15
_STEP = 0.2
_NODES = 400


@dataclass(frozen=True, slots=True)
class MoistAir:
    """Saturation humidity and enthalpy at one barometer: h(T, w) = h_dry(T) + w h_steam(T)."""

    p: float
    h_dry_table: list[float]
    h_steam_table: list[float]
    w_sat_table: list[float]

    def _at(self, table: list[float], t: float) -> float:
        x = min(max((t - _T_MIN) / _STEP, 0.0), _NODES - 1.001)
        i = int(x)
        return table[i] + (table[i + 1] - table[i]) * (x - i)

    def h(self, t: float, w: float) -> float:
        """Enthalpy [J/kg dry air] at `t` [K] and humidity ratio `w` [kg/kg]."""
        return self._at(self.h_dry_table, t) + w * self._at(self.h_steam_table, t)

    def w_sat(self, t: float) -> float:
        """Humidity ratio of saturation [kg/kg] at `t` [K]."""
        return self._at(self.w_sat_table, t)

    def t_of(self, h: float, w: float) -> float:
        """Temperature [K] of air with enthalpy `h` [J/kg dry air] and humidity ratio `w` [kg/kg]."""
        t = 273.15 + (h - 2.501e6 * w) / (1006.0 + 1860.0 * w)
        for _ in range(3):
            t += (h - self.h(t, w)) / (1006.0 + 1860.0 * w)
        return t

    def w_of(self, t: float, t_wet_bulb: float) -> float:
        """Humidity ratio [kg/kg] from dry bulb and wet bulb [K]."""
        return _humidity(t, min(t_wet_bulb, t), self.p)

    def dry_density(self, t: float, w: float) -> float:
        """Dry air [kg] in a cubic metre of moist air at `t` [K] and humidity ratio `w` [kg/kg]."""
        return _dry_density(t, w, self.p)

    def wet_bulb(self, t: float, w: float) -> float:
        """Wet-bulb temperature [K] at `t` [K] and humidity ratio `w` [kg/kg], by the energy balance."""
        low, high = t - 40.0, t
        target = self.h(t, w)
        for _ in range(24):
            middle = 0.5 * (low + high)
            w_middle = self.w_sat(middle)
            # Adiabatic saturation: h + (w_s - w) h_water = h_s.
            if target + (w_middle - w) * 4186.0 * (middle - 273.15) > self.h(middle, w_middle):
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)


@lru_cache(maxsize=64)
def _humidity(t: float, t_wet_bulb: float, p: float) -> float:
    return float(HAPropsSI("W", "T", t, "B", t_wet_bulb, "P", p))


@lru_cache(maxsize=64)
def _dry_density(t: float, w: float, p: float) -> float:
    return 1.0 / float(HAPropsSI("V", "T", t, "W", w, "P", p))


@cache
def moist_air(p: float) -> MoistAir:
    """Tabulate moist air at the barometer `p` [Pa].

    Examples
    --------
    >>> air = moist_air(101325.0)
    >>> round(air.w_sat(293.15), 4)
    0.0148
    """
    dry, steam, saturated = [], [], []
    for k in range(_NODES):
        t = _T_MIN + _STEP * k
        h0 = float(HAPropsSI("H", "T", t, "P", p, "W", 0.0))
        w = float(HAPropsSI("W", "T", t, "P", p, "R", 1.0))
        dry.append(h0)
        steam.append((float(HAPropsSI("H", "T", t, "P", p, "W", w)) - h0) / w)
        saturated.append(w)
    return MoistAir(p, dry, steam, saturated)
