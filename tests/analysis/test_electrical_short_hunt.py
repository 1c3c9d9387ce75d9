"""The short hunt: transformer told from what hangs on it, branches pointed at, new parts held back."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.electrical import plate_limits
from analysis.electrical_branches import USUAL_BRANCHES, Branch, BranchState
from analysis.electrical_elimination import CallTried, eliminate
from analysis.electrical_safety import Isolation, SecondSupply
from analysis.electrical_short_hunt import AfterRepair, ShortHunt, hunt
from analysis.electrical_transformer import (
    TransformerReadings,
    TransformerState,
    fuse_reasoning,
    judge_transformer,
    load_reasoning,
)
from analysis.finding_acts import Safe

NAN, OPEN = math.nan, math.inf
PLATE = plate_limits(230.0)
ISOLATED = Isolation("A", "10:02", True, True, True, ())
BAKERY_VOLTS = TransformerReadings(230.0, 0.0, 26.0, va=40.0, fuse=3.0)
CLEAN = (
    Branch("thermostat call", "switch", OPEN, OPEN),
    Branch("pressure switches", "switch", OPEN, OPEN),
    Branch("condensate switch", "switch", OPEN, OPEN),
    Branch("contactor coil", "coil", 14.0, OPEN),
    Branch("reversing valve coil", "coil", 31.0, OPEN),
)
CHAFED = Branch("condensate switch", "switch", 0.6, 0.4)


def with_branch(branch: Branch) -> tuple[Branch, ...]:
    return tuple(branch if b.name == branch.name else b for b in CLEAN)


def bakery(branches: tuple[Branch, ...], **more: object) -> ShortHunt:
    return hunt(BAKERY_VOLTS, branches, ISOLATED, limits=PLATE, common_earthed=True, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("primary", "on", "lifted", "state"),
    [
        (230.0, 0.0, 26.0, TransformerState.NOT_CONDEMNED),
        (230.0, 0.0, 0.0, TransformerState.NO_OUTPUT),
        (230.0, 12.0, 25.0, TransformerState.NOT_CONDEMNED),
        (230.0, 0.0, NAN, TransformerState.CANNOT_SAY),
        (NAN, 0.0, 0.0, TransformerState.CANNOT_SAY),
        (NAN, 0.0, 26.0, TransformerState.NOT_CONDEMNED),
        (NAN, NAN, 26.0, TransformerState.CANNOT_SAY),
        (230.0, 25.6, NAN, TransformerState.GIVES_VOLTS),
        (230.0, 25.6, 26.0, TransformerState.GIVES_VOLTS),
        (230.0, 25.6, 0.0, TransformerState.CHECK),
        (230.0, 5.0, 15.0, TransformerState.WEAK),
        (0.0, 0.0, 0.0, TransformerState.NO_SUPPLY),
        (0.0, 0.0, 26.0, TransformerState.CHECK),
        (150.0, 5.0, 15.0, TransformerState.CANNOT_SAY),
        (230.0, 0.0, 230.0, TransformerState.CHECK),
        (NAN, NAN, NAN, TransformerState.CANNOT_SAY),
    ],
)
def test_transformer(primary: float, on: float, lifted: float, state: TransformerState) -> None:
    found = judge_transformer(TransformerReadings(primary, on, lifted), PLATE)
    assert found.state is state, found.statement
    if state is TransformerState.CANNOT_SAY:
        assert "cannot say" in found.statement
    if math.isnan(lifted) and state is TransformerState.CANNOT_SAY:
        assert [act.safe for act in found.acts] == [Safe.ISOLATED, Safe.STOPPED]


def test_the_bakery_to_its_end() -> None:
    # Our scenario B.1: nine values in, the reversing valve coil to earth still open.
    nine = tuple(
        dataclasses.replace(b, to_earth=NAN) if b.name == "reversing valve coil" else b
        for b in with_branch(CHAFED)
    )
    page = bakery(nine)
    assert page.transformer.shorted_downstream
    assert "not condemned" in page.statement
    assert (page.entered, page.wanted) == (9, 10)
    assert page.held_back == ("new fuse", "new transformer")
    assert page.missing == ("reversing valve coil to earth",)
    (pointed,) = [v for v in page.branches if v.look_here_first]
    assert pointed.branch.name == "condensate switch"
    assert pointed.state is BranchState.EARTHED
    assert "0.4 ohm to earth" in pointed.statement
    assert "C is bonded to earth, so this shorts R to C" in page.statement

    ten = bakery(with_branch(CHAFED))
    assert ten.missing == ()
    assert ten.held_back, "the pointed branch is not repaired"
    assert ten.release == ("condensate switch marked repaired",)

    repaired = bakery(with_branch(dataclasses.replace(CHAFED, repaired=True)))
    assert repaired.held_back == ()
    assert repaired.repair.startswith("not proven")
    assert {act.safe for act in repaired.acts} == {Safe.STOPPED, Safe.WHILE_RUNNING}

    half = bakery(with_branch(dataclasses.replace(CHAFED, repaired=True)), after=AfterRepair(25.9))
    assert half.repair == "not proven: R to C under load not read"
    done = bakery(with_branch(dataclasses.replace(CHAFED, repaired=True)), after=AfterRepair(25.9, 24.8))
    assert done.repair == "proven: R to C 25.9 V at rest and 24.8 V under load, at least 20.4 V"
    sagging = bakery(with_branch(dataclasses.replace(CHAFED, repaired=True)), after=AfterRepair(25.9, 18.0))
    assert sagging.repair.startswith("not repaired")


def test_a_dead_transformer_is_not_renewed_before_every_branch_is_entered() -> None:
    dead = TransformerReadings(230.0, 0.0, 0.0)
    empty = tuple(Branch(name, load) for name, load in USUAL_BRANCHES)
    early = hunt(dead, empty, ISOLATED, limits=PLATE)
    assert early.transformer.condemned
    assert early.held_back == ("new fuse", "new transformer")
    assert early.entered == 0
    assert len(early.missing) == 10
    late = hunt(dead, CLEAN, ISOLATED, limits=PLATE)
    assert late.held_back == ()
    assert "every branch is entered and none is short" in late.statement
    unnamed = hunt(dead, (), ISOLATED, limits=PLATE)
    assert unnamed.held_back, "a hunt without branches is no clean hunt"


def test_a_short_that_no_branch_shows_holds_new_parts_back() -> None:
    page = bakery(CLEAN)
    assert page.held_back
    assert "the wire or board before them" in page.release[0]
    assert not any(v.look_here_first for v in page.branches)


def test_ohms_on_a_live_branch_are_refused() -> None:
    live = with_branch(dataclasses.replace(CHAFED, volts=24.0))
    page = bakery(live)
    assert page.questions == ("condensate switch: 24 V on a branch entered as isolated: CHECK, ohms refused",)
    assert page.held_back
    assert page.entered == 8
    assert not any(v.look_here_first for v in page.branches)


@pytest.mark.parametrize(
    "isolation",
    [
        None,
        Isolation("A", "10:02", False, True, True, ()),
        Isolation("A", "10:02", True, True, False, ()),
        Isolation("A", "10:02", True, True, True, None),
        Isolation("A", "10:02", True, True, True, (SecondSupply("well pump", False),)),
        Isolation("A", "10:02", True, True, True, (SecondSupply("shore power"),)),
    ],
)  # fmt: skip
def test_without_a_whole_isolation_no_ohms_count(isolation: Isolation | None) -> None:
    page = hunt(BAKERY_VOLTS, with_branch(CHAFED), isolation, limits=PLATE)
    assert page.entered == 0
    assert page.held_back
    assert all(v.state is BranchState.REFUSED for v in page.branches)
    assert page.acts[0].text.startswith("isolate, prove dead")


def test_a_branch_that_is_not_lifted_does_not_count() -> None:
    page = bakery(with_branch(dataclasses.replace(CHAFED, lifted=False)))
    (branch,) = [v for v in page.branches if v.branch.name == "condensate switch"]
    assert branch.state is BranchState.REFUSED
    assert "those of all branches" in branch.statement
    assert page.held_back


@pytest.mark.parametrize(
    ("branch", "state"),
    [
        (Branch("x", "coil", 14.0, OPEN), BranchState.CLEAR),
        (Branch("x", "coil", 0.5, OPEN), BranchState.SHORTED),
        (Branch("x", "coil", 5.0, OPEN), BranchState.LOW),
        (Branch("x", "coil", OPEN, OPEN), BranchState.OPEN_COIL),
        (Branch("x", "coil", 14.0, 3.0), BranchState.EARTHED),
        (Branch("x", "coil", 14.0, NAN), BranchState.NOT_ENTERED),
        (Branch("x", "switch", OPEN, OPEN), BranchState.CLEAR),
        (Branch("x", "switch", 0.3, OPEN), BranchState.SHORTED),
        (Branch("x", "switch", NAN, 0.3), BranchState.EARTHED),
        (Branch("x", "switch", OPEN, 4e6), BranchState.CLEAR),
    ],
)
def test_branch_states(branch: Branch, state: BranchState) -> None:
    assert hunt(BAKERY_VOLTS, (branch,), ISOLATED, limits=PLATE).branches[0].state is state


def test_the_least_ohms_to_earth_are_pointed_at() -> None:
    two = (Branch("a", "switch", 3.0, 3.0), Branch("b", "switch", 0.5, 0.4), Branch("c", "switch", 0.1, OPEN))
    page = hunt(BAKERY_VOLTS, two, ISOLATED, limits=PLATE, common_earthed=None)
    assert [v.branch.name for v in page.branches if v.look_here_first] == ["b"]
    assert page.release == ("a marked repaired", "b marked repaired", "c marked repaired")
    assert "whether C is bonded to earth: not stated" in page.statement


def test_fuses() -> None:
    # 40 VA at 24 V is 1.67 A, 75 VA 3.1 A; class 2: 100 VA / 24 V = 4.17 A (NFPA 70 table 11(B), memory).
    found = fuse_reasoning(40.0, 3.0)
    assert found.full_load_a == pytest.approx(1.67, abs=0.005)
    assert found.unstopped is not None
    assert found.unstopped[0] < 2.0 < found.unstopped[1]
    assert fuse_reasoning(75.0, 3.0).unstopped is None
    assert fuse_reasoning(75.0, 3.0).full_load_a == pytest.approx(3.1, abs=0.05)
    assert "4.17 A that class 2 allows" in fuse_reasoning(75.0, 5.0).statement
    assert "no class 2 supply" in fuse_reasoning(150.0, 5.0).statement
    assert "no fuse is stated" in fuse_reasoning(40.0, NAN).statement
    with pytest.raises(ValueError, match="more than zero"):
        fuse_reasoning(0.0, 3.0)
    assert load_reasoning(40.0, (30.0, 20.0), (30.0, 20.0))[1].startswith("overloaded")


def test_elimination_names_a_branch_and_no_part() -> None:
    # A 5 A control fuse that blows on heat and on cool and not on fan (unconfirmed case: no part is named).
    both = ("contactor", "fan")
    found = eliminate(
        (CallTried("heat", both, True), CallTried("cool", both, True), CallTried("fan", ("fan",), False))
    )
    assert found.suspects == ("contactor",)
    assert eliminate((CallTried("fan", ("fan",), False),)).suspects == ()
    two = eliminate((CallTried("a", ("x",), True), CallTried("b", ("y",), True)))
    assert two.suspects == ("x", "y")
    assert "more than one fault" in two.statement


ohms = st.one_of(st.just(NAN), st.just(OPEN), st.floats(0.0, 1e7))
branches = st.lists(
    st.builds(Branch, st.sampled_from("abcdef"), st.sampled_from(["switch", "coil"]), ohms, ohms,
              st.booleans(),
              st.sampled_from([0.0, 0.0, 24.0]), st.booleans()),
    max_size=6,
)  # fmt: skip
volts = st.one_of(st.just(NAN), st.just(0.0), st.floats(0.0, 260.0))


@settings(derandomize=True, deadline=None, max_examples=400)
@given(st.builds(TransformerReadings, volts, volts, volts), branches, st.sampled_from([None, ISOLATED]))
def test_nothing_new_goes_in_before_every_branch_is_known_and_whole(
    readings: TransformerReadings, entered: list[Branch], isolation: Isolation | None
) -> None:
    page = hunt(readings, entered, isolation, limits=PLATE)
    known = all(not math.isnan(b.to_common + b.to_earth) and b.lifted and b.volts == 0.0 for b in entered)
    if not page.held_back:
        assert known
        assert entered
        assert isolation is not None
        assert not any(v.at_fault for v in page.branches)
    for v in page.branches:
        if v.look_here_first:
            assert isolation is not None
            assert v.branch.to_earth < 10.0 or v.branch.to_common < 10.0
    assert sum(v.look_here_first for v in page.branches) <= 1
    if page.transformer.condemned:
        assert readings.lifted < 20.4
    assert all(act.safe for act in page.acts)
