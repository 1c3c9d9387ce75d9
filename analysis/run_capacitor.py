"""The run capacitor: capacitance from its current and voltage, and how far it is from its marking.

Caution: current and voltage are measured live, while the machine runs, by a person qualified for live work. A
capacitor stays charged after the supply is isolated: isolate, prove dead and discharge it through a resistor
before a lead is touched or a capacitance meter is connected.
"""

from __future__ import annotations

import numpy as np

from analysis.elementwise import FloatOrArray, elementwise, only_where

LOWEST_RATIO = 0.94
"""Replace below this part of the marking: 6 % (common practice, no source; some take 10 %)."""


@elementwise
def run_capacitance(current: FloatOrArray, voltage: FloatOrArray, frequency: FloatOrArray) -> FloatOrArray:
    """Capacitance from the current through the capacitor and the voltage across it: C = I / (2 pi f V).

    Parameters
    ----------
    current
        Current in the lead of the auxiliary winding [A], not negative.
    voltage
        Voltage across the capacitor, not the line voltage [V], above zero.
    frequency
        Supply frequency [Hz], above zero.

    Returns
    -------
    FloatOrArray
        Capacitance [F].

    Examples
    --------
    >>> round(1e6 * run_capacitance(4.9, 370.0, 60.0), 1)
    35.1
    """
    current, voltage, frequency = map(np.asarray, (current, voltage, frequency))
    possible = (current >= 0) & (voltage > 0) & (frequency > 0)
    return only_where(possible, current / (2 * np.pi * frequency * voltage))


@elementwise
def capacitance_ratio(capacitance: FloatOrArray, marked: FloatOrArray) -> FloatOrArray:
    """Measured over marked capacitance.

    Parameters
    ----------
    capacitance
        Measured, not negative [F].
    marked
        As marked on the capacitor, above zero [F].

    Returns
    -------
    FloatOrArray
        Ratio [1]; compare with :data:`LOWEST_RATIO`.

    Examples
    --------
    The hall's pump: 1.9 uF where 5.0 is marked.

    >>> round(capacitance_ratio(1.9e-6, 5.0e-6), 2)
    0.38
    """
    capacitance, marked = np.asarray(capacitance), np.asarray(marked)
    return only_where((capacitance >= 0) & (marked > 0), capacitance / marked)
