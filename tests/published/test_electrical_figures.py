"""Electrical and gauge figures against published ones, each with its source beside it."""

from __future__ import annotations

import pytest

from analysis.electrical import voltage_unbalance
from analysis.electrical_transformer import fuse_reasoning
from analysis.electrical_windings import Windings, WindingState, judge_windings
from analysis.run_capacitor import run_capacitance
from analysis.typed_channels import Instruments, typed_row


def test_voltage_unbalance() -> None:
    # NEMA MG-1, percent voltage unbalance; its usual worked example: 462, 463, 455 V give 1.1 %.
    assert 100 * voltage_unbalance((462.0, 463.0, 455.0)) == pytest.approx(1.1, abs=0.05)
    # A maker's installation manual: 220, 216, 213 V give 1.8 % in whole volts (1.69 exact).
    assert 100 * voltage_unbalance((220.0, 216.0, 213.0)) == pytest.approx(1.69, abs=0.01)


@pytest.mark.parametrize(("share", "bound"), [(1.0, 0.16), (1.6, 0.256), (2.5, 0.40), (0.6, 0.096)])
def test_error_of_a_gauge(share: float, bound: float) -> None:
    # EN 837-1:1996, table 11: the class is the limit of permissible error in percent of the span; a gauge of
    # -1 to 15 bar has a span of 16 bar, and class 1.6 of it is 0.26 bar (a maker's testing instructions).
    row = typed_row(0.0, "suction_pressure", "5.2 bar(g)", Instruments(gauge_class=share))
    assert 2.0 * row.channel.standard_uncertainty(5.2) == pytest.approx(bound, rel=1e-6)


def test_class_2() -> None:
    # NFPA 70 chapter 9, table 11(B): 100 / Vmax above 20 V; 24 V gives 4.17 A (read in secondary sources).
    assert "4.17 A" in fuse_reasoning(40.0, 5.0).statement
    assert "class 2 allows" not in fuse_reasoning(40.0, 4.0).statement


def test_windings_by_a_service_manual() -> None:
    # Published service manual of a hermetic single-phase compressor: R(C-S) + R(C-R) = R(S-R); a reading
    # between S and R with C-S and C-R open is an open overload, to be measured again when it has cooled.
    assert judge_windings(Windings(6.0, 1.5, 7.5, 1e8)).state is WindingState.SOUND
    open_overload = judge_windings(Windings(float("inf"), float("inf"), 7.5, 1e8))
    assert open_overload.state is WindingState.OVERLOAD_OPEN
    assert "cool" in open_overload.acts[0].text


def test_capacitor_factor() -> None:
    # The trade's factor 2653 at 60 Hz, rounded 1e6 / (2 pi 60): 4.9 A at 370 V are 35.1 microfarad.
    assert 1e6 * run_capacitance(4.9, 370.0, 60.0) == pytest.approx(2653 * 4.9 / 370.0, rel=1e-3)
