"""Findings on a measured machine: ASHRAE RP-1043, water-cooled R-134a chiller, laboratory-imposed faults.

The condenser water is the source side and the evaporator water the load side of a machine in cooling. Each
plateau of a faulty log is judged against the plateau of the healthy log at the nearest conditions.
"""

from __future__ import annotations

import csv
import gzip
import os
from collections import Counter
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from analysis.evidence import Visit, seen_value
from analysis.findings import Status, VerdictOfVisit, find
from analysis.flow_routes import FlowRoute
from analysis.liquids import Liquid
from analysis.saturation import refrigerant

LAB = os.environ.get("EVENRUN_LAB_DATA")
pytestmark = pytest.mark.skipif(LAB is None, reason="EVENRUN_LAB_DATA names no folder of measured series")

PSI, GPM, DEGF, TON = 6894.757, 6.30902e-5, 5 / 9, 3516.85
ROWS_OF_FIVE_MINUTES, LEAST_ROWS = 30, 36
Table = dict[str, npt.NDArray[np.float64]]
U = {"temperature": 0.1, "pressure": 1500.0, "flow": 0.01, "power": 0.01}
"""Standard uncertainties assumed for the laboratory's instruments [K], [Pa], relative, relative."""


def read(name: str) -> Table:
    assert LAB is not None
    with gzip.open(Path(LAB) / f"rp1043_{name}.csv.gz", "rt", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    wanted = (
        "TEI",
        "TEO",
        "TCI",
        "TCO",
        "FWC",
        "FWE",
        "kW",
        "PRE",
        "PRC",
        "TRC_sub",
        "Tsh_suc",
        "TR_dis",
        "T_suc",
    )
    return {column: np.array([float(row[column]) for row in rows]) for column in wanted}


def plateaus(table: Table) -> list[slice]:
    """Find the spans in which both water inlets and the power stand still over 5 minutes."""
    still = table["kW"] > 10.0
    t = np.arange(ROWS_OF_FIVE_MINUTES, dtype=float)
    t -= t.mean()
    for column, most in (("TCI", 0.5), ("TEO", 0.5), ("kW", 3.0)):
        windows = np.lib.stride_tricks.sliding_window_view(table[column], ROWS_OF_FIVE_MINUTES)
        drift = np.abs(windows @ t / (t @ t)) * (ROWS_OF_FIVE_MINUTES - 1)
        still[ROWS_OF_FIVE_MINUTES - 1 :] &= (drift < most) & (windows.std(axis=1) < most)
    still[: ROWS_OF_FIVE_MINUTES - 1] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[False], still, [False]]).astype(int)))
    spans = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return [slice(max(a, b - 90), b) for a, b in spans if b - a >= LEAST_ROWS]


def visit(table: Table, rows: slice) -> Visit:
    """Make a visit of the means over a span."""
    mean = {column: float(values[rows].mean()) for column, values in table.items()}

    def t(degf: float) -> float:
        return (degf - 32.0) * DEGF + 273.15

    p_low, p_high = (mean[c] * PSI + 101_325.0 for c in ("PRE", "PRC"))
    curve = refrigerant("R134a")
    values = {
        "source_entering_temperature": (t(mean["TCI"]), U["temperature"]),
        "source_leaving_temperature": (t(mean["TCO"]), U["temperature"]),
        "load_entering_temperature": (t(mean["TEI"]), U["temperature"]),
        "load_leaving_temperature": (t(mean["TEO"]), U["temperature"]),
        "source_flow": (mean["FWC"] * GPM, U["flow"] * mean["FWC"] * GPM),
        "load_flow": (mean["FWE"] * GPM, U["flow"] * mean["FWE"] * GPM),
        "compressor_power": (mean["kW"] * 1e3, U["power"] * mean["kW"] * 1e3),
        "suction_pressure": (p_low, U["pressure"]),
        "discharge_pressure": (p_high, U["pressure"]),
        "discharge_temperature": (t(mean["TR_dis"]), 0.3),
        "liquid_temperature": (float(curve.t_bubble(p_high)) - mean["TRC_sub"] * DEGF, 0.15),
        "suction_temperature": (float(curve.t_dew(p_low)) + mean["Tsh_suc"] * DEGF, 0.15),
    }
    return Visit(
        {s: seen_value(s, v, u) for s, (v, u) in values.items()}, "cooling", "R134a", curve, Liquid("water"),
        Liquid("water"), barometer_declared=True, flow_route=FlowRoute.METER,
    )  # fmt: skip


def nearest(one: Visit, among: list[Visit]) -> Visit:
    """Take the healthy plateau at the nearest entering temperatures and load."""

    def distance(other: Visit) -> float:
        scales = {
            "source_entering_temperature": 0.5,
            "load_leaving_temperature": 0.5,
            "load_entering_temperature": 0.5,
        }
        return sum(
            ((one.values[s].value - other.values[s].value) / scale) ** 2 for s, scale in scales.items()
        )

    return min(among, key=distance)


def first_code(found: VerdictOfVisit) -> str:
    active = [f for f in found.findings if f.status is Status.ACTIVE]
    return max(active, key=lambda f: f.strength).code if active else "-"


@pytest.fixture(scope="module")
def healthy() -> tuple[Table, list[slice]]:
    table = read("normal")
    return table, plateaus(table)


def test_the_plan_s_plateaus_are_found(healthy: tuple[Table, list[slice]]) -> None:
    """27 tests per log; where a set point overshoots, one may fall into two."""
    assert 24 <= len(healthy[1]) <= 34


def test_low_condenser_water_flow_ranks_first(healthy: tuple[Table, list[slice]]) -> None:
    table, spans = healthy
    reference = [visit(table, span) for span in spans]
    faulty = read("fwc10")
    codes = []
    for span in plateaus(faulty):
        one = visit(faulty, span)
        codes.append(first_code(find(one, None, nearest(one, reference))))
    assert Counter(codes).most_common(1)[0][0] == "low_source_flow", Counter(codes)
    assert codes.count("low_source_flow") / len(codes) > 0.8, Counter(codes)


def test_ten_per_cent_less_refrigerant_is_hardly_seen_and_nothing_false_is_sure(
    healthy: tuple[Table, list[slice]],
) -> None:
    """A flooded centrifugal machine hides 10 % of missing charge; "no evidence" is the honest answer."""
    table, spans = healthy
    reference = [visit(table, span) for span in spans]
    faulty = read("rl10")
    sure = Counter()  # type: Counter[str]
    count = 0
    for span in plateaus(faulty):
        one = visit(faulty, span)
        count += 1
        found = find(one, None, nearest(one, reference))
        sure.update(f.code for f in found.findings if f.status is Status.ACTIVE and f.strength > 0.5)
    assert sum(sure.values()) <= 0.1 * count, sure


def test_a_healthy_machine_judged_against_itself_raises_little(healthy: tuple[Table, list[slice]]) -> None:
    """The second half of each healthy plateau against its first half: false findings in under 5 %."""
    table, spans = healthy
    false = Counter()  # type: Counter[str]
    for span in spans:
        middle = (span.start + span.stop) // 2
        found = find(visit(table, slice(middle, span.stop)), None, visit(table, slice(span.start, middle)))
        false.update({"some"} if any(f.status is Status.ACTIVE for f in found.findings) else ())
    assert false["some"] < 0.05 * len(spans), false


def test_a_healthy_plateau_against_another_raises_little(healthy: tuple[Table, list[slice]]) -> None:
    """Harder: against another plateau at like entering temperatures and power, never itself."""
    table, spans = healthy
    visits = [visit(table, span) for span in spans]
    false = Counter()  # type: Counter[str]
    pairs = 0
    for one in visits:
        power = one.values["compressor_power"].value
        like = [
            v for v in visits if v is not one and abs(v.values["compressor_power"].value / power - 1.0) < 0.12
        ]
        if like:  # a centrifugal machine changes its capacity: another load is another machine
            pairs += 1
            found = find(one, None, nearest(one, like))
            false.update(f.code for f in found.findings if f.status is Status.ACTIVE and f.strength > 0.5)
    assert pairs >= 10
    assert sum(false.values()) <= 0.15 * pairs, false
