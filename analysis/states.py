"""Single-phase states of a refrigerant: superheated gas and subcooled liquid, for the cycle.

This is the only module of the package that uses the property library. It is imported on the first look-up,
because that takes over a second and holds the interpreter lock: use it in batch, or in a process of its own,
and not in a program that has a window open. Whatever the library refuses becomes NaN here, in one place.
"""

from __future__ import annotations

from typing import Any, Literal, Protocol

import numpy as np
import numpy.typing as npt

from analysis.elementwise import FloatArray, FloatOrArray

_EDGE = 2e-3  # K; above the error of the saturation tables, so that saturation itself still counts
#: Told the phase, the library answers at any temperature; no line of a heat pump is outside of these [K].
_COLDEST, _HOTTEST = 170.0, 500.0

#: Blends that the library has as one pseudo-pure fluid, which is quicker and has no holes.
_PSEUDO_PURE = ("R404A", "R407C", "R410A", "R507A")
_LARGEST_STEP = 60.0  # K per Newton step in temperature

Property = Literal["enthalpy", "entropy", "density", "specific_heat"]


class Saturated(Protocol):
    """What this module needs of :class:`analysis.saturation.Refrigerant`."""

    @property
    def name(self) -> str:
        """Canonical name."""

    h_offset: float

    def t_dew(self, p: FloatOrArray) -> FloatOrArray:
        """Dew temperature [K] at a pressure [Pa]."""

    def t_bubble(self, p: FloatOrArray) -> FloatOrArray:
        """Bubble temperature [K] at a pressure [Pa]."""


class SinglePhase:
    """Gas and liquid properties of one refrigerant by pressure and temperature.

    Enthalpies share the reference of the saturation tables: 200 kJ/kg for saturated liquid at 0 degC.

    Parameters
    ----------
    fluid
        Its saturation, from :func:`analysis.saturation.refrigerant`.

    Examples
    --------
    >>> from analysis.saturation import refrigerant
    >>> r410a = SinglePhase(refrigerant("R410A"))
    >>> round(r410a.gas("enthalpy", 686e3, 273.75) / 1e3, 1)
    425.5
    >>> r410a.gas("enthalpy", 686e3, 260.0)  # colder than its dew temperature: not a gas
    nan
    """

    def __init__(self, fluid: Saturated) -> None:
        self._fluid = fluid
        self._gas: Any = None
        self._liquid: Any = None

    @property
    def source(self) -> str:
        """Property library with its version."""
        import CoolProp

        return f"CoolProp {CoolProp.__version__}, Helmholtz energy equation of state"

    def gas(self, name: Property, p: FloatOrArray, t: FloatOrArray) -> FloatOrArray:
        """Property of superheated gas.

        Parameters
        ----------
        name
            enthalpy [J/kg], entropy [J/(kg K)], density [kg/m3] or specific_heat [J/(kg K)].
        p
            Absolute pressure [Pa].
        t
            Temperature [K].

        Returns
        -------
        FloatOrArray
            The property; NaN below the dew temperature, out of range, or where the library has no answer.
        """
        p, t = np.broadcast_arrays(np.asarray(p, np.float64), np.asarray(t, np.float64))
        with np.errstate(invalid="ignore"):
            known = (t >= np.asarray(self._fluid.t_dew(p)) - _EDGE) & (t <= _HOTTEST)
        return self._looked_up(self._gas_state(), name, p, t, known)

    def liquid(self, name: Property, p: FloatOrArray, t: FloatOrArray) -> FloatOrArray:
        """Property of subcooled liquid.

        A liquid line at or above its bubble temperature may carry gas: its enthalpy is then not known.

        Parameters
        ----------
        name
            enthalpy [J/kg], entropy [J/(kg K)], density [kg/m3] or specific_heat [J/(kg K)].
        p
            Absolute pressure [Pa].
        t
            Temperature [K].

        Returns
        -------
        FloatOrArray
            The property; NaN above the bubble temperature, out of range, or where the library has no answer.
        """
        p, t = np.broadcast_arrays(np.asarray(p, np.float64), np.asarray(t, np.float64))
        with np.errstate(invalid="ignore"):
            known = (t <= np.asarray(self._fluid.t_bubble(p)) + _EDGE) & (t >= _COLDEST)
        return self._looked_up(self._liquid_state(), name, p, t, known)

    def isentropic_temperature(
        self, p_suction: FloatOrArray, t_suction: FloatOrArray, p_discharge: FloatOrArray
    ) -> FloatOrArray:
        """Gas temperature after compression without loss: s(p_discharge, t) = s(p_suction, t_suction).

        Parameters
        ----------
        p_suction, t_suction
            State of the suction gas [Pa], [K].
        p_discharge
            Discharge pressure [Pa], above the suction pressure.

        Returns
        -------
        FloatOrArray
            Temperature [K].

        Examples
        --------
        >>> from analysis.saturation import refrigerant
        >>> r22 = SinglePhase(refrigerant("R22"))
        >>> round(r22.isentropic_temperature(549.5e3, 285.0, 1452e3), 1)
        335.3
        """
        shaped = np.broadcast_arrays(
            *(np.asarray(v, np.float64) for v in (p_suction, t_suction, p_discharge))
        )
        p_low, t_low, p_high = shaped
        entropy = np.asarray(self.gas("entropy", p_low, t_low))
        with np.errstate(all="ignore"):
            dew = np.asarray(self._fluid.t_dew(p_high))
            t = np.where(p_high > p_low, np.maximum(dew, t_low) + 5.0, np.nan)
            for _ in range(20):
                # Newton: at constant pressure ds = c_p dT / T.
                distance = entropy - np.asarray(self.gas("entropy", p_high, t))
                step = distance * t / np.asarray(self.gas("specific_heat", p_high, t))
                step = np.clip(step, -_LARGEST_STEP, _LARGEST_STEP)
                t = np.maximum(t + step, dew)
                if not np.any(np.abs(step) > 1e-7):
                    break
            settled = np.abs(step) < 1e-4
        t = np.where(settled, t, np.nan)
        return float(t) if t.ndim == 0 else t

    def _gas_state(self) -> Any:
        if self._gas is None:
            self._gas = _opened(self._fluid.name, "gas")
        return self._gas

    def _liquid_state(self) -> Any:
        if self._liquid is None:
            self._liquid = _opened(self._fluid.name, "liquid")
        return self._liquid

    def _looked_up(
        self, state: Any, name: Property, p: FloatArray, t: FloatArray, known: npt.NDArray[np.bool_]
    ) -> FloatOrArray:
        from CoolProp import PT_INPUTS

        getter = {
            "enthalpy": "hmass", "entropy": "smass", "density": "rhomass", "specific_heat": "cpmass",
        }[name]  # fmt: skip
        offset = self._fluid.h_offset if name == "enthalpy" else 0.0
        result = np.full(p.shape, np.nan)
        for at in zip(*np.nonzero(np.atleast_1d(known)), strict=True):
            place = at if p.ndim else ()
            try:
                state.update(PT_INPUTS, float(p[place]), float(t[place]))
                value = float(getattr(state, getter)()) + offset
            except ValueError:
                continue
            if np.isfinite(value):
                result[place] = value
        return float(result) if result.ndim == 0 else result


def _opened(name: str, phase: str) -> Any:
    import CoolProp

    pure = name in _PSEUDO_PURE or name not in _blends()
    state = CoolProp.AbstractState("HEOS", name if pure else f"{name}.mix")
    # Told the phase, the library neither searches for it nor falls into the holes of its blends.
    state.specify_phase(CoolProp.iphase_gas if phase == "gas" else CoolProp.iphase_liquid)
    return state


def _blends() -> frozenset[str]:
    import CoolProp

    text = CoolProp.CoolProp.get_global_param_string("predefined_mixtures")
    return frozenset(entry.removesuffix(".mix") for entry in text.split(","))
