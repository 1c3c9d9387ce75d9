"""The two sites' variants on the simulated machine, read without errors by our own cards."""

from __future__ import annotations

import dataclasses
import random
from dataclasses import replace

import pytest

from analysis.evidence import Visit
from analysis.findings import Status, VerdictOfVisit, find
from analysis.proofs import Verdict
from drivers.plant.faults import Faults
from drivers.plant.machine import solve
from drivers.plant.stories import BAKERY, HALL, Story
from tests.analysis.hall import read_card
from tests.campaign.findings_cases import Kit


class _Exact(random.Random):
    def gauss(self, mu: float = 0.0, sigma: float = 1.0) -> float:
        return mu


def visit(story: Story, faults: Faults, *, meter: bool, warmer: float = 0.0) -> Visit:
    kit = Kit(_Exact(1))
    kit.meter, kit.u_t, kit.u_p = meter, 0.2, (4e3, 0.003)
    boundary = replace(story.boundary, t_source_in=story.boundary.t_source_in + warmer)
    return kit.visit(story.machine, boundary, solve(story.machine, boundary, faults))


def hall(**faults: float) -> VerdictOfVisit:
    return find(visit(HALL, Faults(**faults), meter=False), read_card("hall"))  # type: ignore[arg-type]


def bakery(**faults: float) -> VerdictOfVisit:
    return find(visit(BAKERY, Faults(**faults), meter=True), read_card("bakery"))  # type: ignore[arg-type]


def strong(found: VerdictOfVisit, least: float = 0.5) -> set[str]:
    return {f.code for f in found.findings if f.status is not Status.DECLINED and f.strength > least}


def test_healthy_machines_raise_nothing() -> None:
    for found in (hall(), bakery()):
        assert strong(found) == set()
        assert found.conflicts == ()
    assert hall().water.verdict is Verdict.MET


def test_capacitor_only() -> None:
    found = hall(weak_pump_capacitor=0.8)
    assert {"low_source_flow", "weak_pump"} <= strong(found)
    assert "overcharge" not in strong(found)


def test_strainer_only() -> None:
    found = hall(clogged_strainer=0.95)
    assert found.findings[0].code == "low_source_flow"
    codes = {f.code for f in found.with_status(Status.ACTIVE)}
    assert "clogged_strainer" in codes
    assert "weak_pump" not in codes
    assert any(
        "air_in_loop" in text for f in found.findings if f.code == "clogged_strainer" for text in f.apart
    ) or ("air_in_loop" in codes)


def test_overcharge_only() -> None:
    found = hall(overcharge=0.68)
    assert found.water.verdict is Verdict.MET
    assert found.findings[0].code == "overcharge"


def test_several_can_hold() -> None:
    found = hall(weak_pump_capacitor=0.62, clogged_strainer=0.908, overcharge=0.68)
    held = {f.code for f in found.with_status(Status.HELD)}
    active = {f.code for f in found.with_status(Status.ACTIVE)}
    assert {"low_source_flow", "weak_pump", "clogged_strainer"} <= active
    assert "overcharge" in held
    assert "undercharge" not in held | active


def test_scaled_bakery_coil_is_told_from_low_flow_by_its_own_route() -> None:
    found = bakery(scaled_source_coil=0.75)
    assert found.findings[0].code == "scaled_source_coil"
    assert "low_source_flow" not in strong(found, 0.0)


def test_without_a_route_of_its_own_the_flow_cannot_judge_scale() -> None:
    """The coil's own drop reads 7.8 gpm where 6.0 flow: neither the water nor the scale is proven by it."""
    found = find(visit(BAKERY, Faults(scaled_source_coil=0.75), meter=False), read_card("bakery"))
    scale = next(f for f in found.findings if f.code == "scaled_source_coil")
    assert scale.status is Status.HELD
    assert "second route" in " ".join(found.water.missing)
    assert any("route of its own" in text for text in scale.missing)
    assert found.water.verdict is Verdict.CANNOT_SAY
    assert not any(line.symbol == "source_volume_flow" for line in scale.supporting)


def test_a_low_well_with_a_clean_coil_is_low_flow_and_no_scale() -> None:
    machine = replace(
        BAKERY.machine, source_loop=replace(BAKERY.machine.source_loop, regulated_flow=0.55 * 3.785e-4)
    )
    found = find(visit(replace(BAKERY, machine=machine), Faults(), meter=True), read_card("bakery"))
    assert found.findings[0].code == "low_source_flow"
    assert "scaled_source_coil" not in strong(found)


def test_swapped_brine_probes() -> None:
    right = visit(HALL, Faults(), meter=False)
    a, b = "source_entering_temperature", "source_leaving_temperature"
    values = {**right.values, a: right.values[b], b: right.values[a]}
    found = find(dataclasses.replace(right, values=values), read_card())
    assert [conflict.code for conflict in found.conflicts] == ["source_probes_swapped"]
    assert not any(
        f.status is Status.ACTIVE and f.code != "probe_fault" and f.strength > 0.5 for f in found.findings
    )


def test_a_decoy_with_warmer_brine_is_no_reference() -> None:
    warm = visit(HALL, Faults(), meter=False, warmer=5.0)
    found = find(visit(HALL, Faults(overcharge=0.68), meter=False), read_card(), warm)
    assert any("reference was not used" in note for note in found.notes)


@pytest.mark.parametrize("fault", ["undercharge", "overcharge", "non_condensables", "valve_flooding"])
@pytest.mark.parametrize("story", [HALL, BAKERY], ids=["heating", "cooling"])
def test_both_modes_with_a_healthy_reference(story: Story, fault: str) -> None:
    reference = visit(story, Faults(), meter=True)
    found = find(visit(story, Faults(**{fault: 0.85}), meter=True), None, reference)  # type: ignore[arg-type]
    standing = [f for f in found.findings if f.status is not Status.DECLINED]
    assert max(standing, key=lambda f: f.strength).code == fault
