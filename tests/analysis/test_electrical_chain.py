"""The voltage chain against a circuit worked out by Ohm's law, and a truth table of what readings can say."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.electrical import (
    AcrossReading,
    Limits,
    VoltReading,
    live_readings,
    plate_limits,
    voltage_unbalance,
)
from analysis.electrical_chain import SHORTED_OR_LOADED, WRONG_TAP, ChainVerdict, Outcome
from analysis.electrical_circuits import compressor_circuit, control_circuit, motor_circuit
from analysis.electrical_verdict import judge_chain
from tests.analysis.electrical_bench import OPEN, Bench
from tests.analysis.electrical_trials import run_trials

POINTS = control_circuit()
NAMES = [p.name for p in POINTS]
PART = {p.name: p.part for p in POINTS}
PLATE = plate_limits(230.0)


def read(
    bench: Bench, *, at: list[str] | None = None, loaded: bool | None = None, limits: Limits = PLATE,
    call: bool | None = True, changed: dict[str, float] | None = None,
) -> ChainVerdict:  # fmt: skip
    volts = bench.volts(POINTS, loaded is not False) | (changed or {})
    readings = [VoltReading(name, volts[name], loaded) for name in (at or NAMES)]
    return judge_chain("control", POINTS, readings, limits, call=call)


# ---- each part open, every point read: 12 rows
@pytest.mark.parametrize("name", NAMES[1:])
def test_an_open_part_is_named_or_its_span(name: str) -> None:
    found = read(Bench({name: OPEN}))
    assert found.outcome is Outcome.LOSS
    assert found.loss is not None
    assert PART[name] in found.loss.parts
    if name == "transformer_secondary":
        assert found.loss.named == ""
        assert SHORTED_OR_LOADED in found.loss.parts
    else:
        assert found.loss.named == PART[name]
    assert set(found.cleared) == {PART[n] for n in NAMES[: NAMES.index(name)]}


# ---- each part open, the two points around it left out: 11 rows
@pytest.mark.parametrize("name", NAMES[2:])
def test_a_span_is_given_where_a_reading_is_missing(name: str) -> None:
    index = NAMES.index(name)
    at = [n for n in NAMES if n not in (NAMES[index - 1],)]
    found = read(Bench({name: OPEN}), at=at)
    assert found.loss is not None
    assert found.loss.named == ""
    assert PART[name] in found.loss.parts
    assert any(POINTS[index - 1].shown in text for text in found.missing)


# ---- a worn contact in the safety string, with and without load: 6 rows
@pytest.mark.parametrize("name", ["high_pressure_switch", "low_temperature_cut_out", "condensate_switch"])
def test_a_worn_contact_shows_only_under_load(name: str) -> None:
    bench = Bench({name: 30.0})
    at_rest = read(bench, loaded=False)
    assert at_rest.outcome is Outcome.WHOLE
    assert any("under load" in text for text in at_rest.missing)
    under_load = read(bench, loaded=True)
    assert under_load.outcome is Outcome.LOSS
    assert under_load.loss is not None
    assert under_load.loss.named == PART[name]


# ---- shorts after each control point: 7 rows; nothing but the transformer's neighbourhood may be named
@pytest.mark.parametrize("name", [n for n in NAMES if NAMES.index(n) >= NAMES.index("transformer_secondary")])
def test_a_short_pulls_the_secondary_down_and_condemns_nothing(name: str) -> None:
    found = read(Bench(shunt={name: 0.05}), loaded=True)
    assert found.outcome is Outcome.LOSS
    assert found.loss is not None
    assert found.loss.named == ""
    assert SHORTED_OR_LOADED in found.loss.parts
    assert any("every branch" in act.text for act in found.acts)


def row(expected: str, outcome: Outcome, call: bool | None = True, limits: Limits = PLATE, **volts: float):  # type: ignore[no-untyped-def]
    return pytest.param(
        expected, outcome, call, limits, volts, id="-".join([outcome.name, expected, *volts])[:90]
    )


TAP_240 = plate_limits(208.0, 230.0, tap=240.0)
TAP_208 = plate_limits(208.0, 240.0, tap=208.0)
OWN = "the unit's own control"
SUPPLY = "the supply before the disconnect"
# Named part ("" for none), outcome, call, limits, volts at points.
TABLE = [
    row("", Outcome.NOT_READ),
    row("", Outcome.WHOLE, supply=230),
    row("", Outcome.WHOLE, supply=230, disconnect=229, contactor_line=229, transformer_primary=229),
    row("", Outcome.WHOLE, transformer_secondary=25.6),
    row("", Outcome.WHOLE, contactor_coil=25.0),
    row("", Outcome.WHOLE, supply=230, contactor_coil=24.4),
    row("", Outcome.WHOLE, limits=Limits(), supply=117),
    row(SUPPLY, Outcome.LOSS, limits=Limits(), supply=0),
    row(SUPPLY, Outcome.LOSS, supply=0),
    row(SUPPLY, Outcome.LOSS, supply=0, disconnect=0, transformer_primary=0, transformer_secondary=0),
    row(
        SUPPLY, Outcome.LOSS, supply=198, disconnect=198, transformer_primary=198, transformer_secondary=22.2
    ),
    row("disconnect or its fuses", Outcome.LOSS, supply=230, disconnect=0),
    row("disconnect or its fuses", Outcome.LOSS, supply=230, disconnect=40),  # what leaks past a blown fuse
    row("disconnect or its fuses", Outcome.LOSS, supply=230, disconnect=214, contactor_line=214),
    row("", Outcome.LOSS, disconnect=0),
    row("", Outcome.LOSS, contactor_coil=0),
    row("", Outcome.LOSS, supply=230, contactor_coil=0),
    row("", Outcome.LOSS, transformer_secondary=0),
    row("", Outcome.LOSS, transformer_primary=230, transformer_secondary=0),
    row("", Outcome.LOSS, transformer_primary=230, transformer_secondary=14),
    row("", Outcome.LOSS, transformer_primary=230, fuse=0),
    row("control fuse", Outcome.LOSS, transformer_secondary=25.6, fuse=0),
    row(
        "control fuse",
        Outcome.LOSS,
        transformer_primary=230,
        transformer_secondary=25.6,
        fuse=0,
        contactor_coil=0,
    ),
    row("high-pressure switch", Outcome.LOSS, control_r_to_c=25.5, high_pressure_switch=0),
    row("high-pressure switch", Outcome.LOSS, control_r_to_c=25.5, high_pressure_switch=8.0),
    row("", Outcome.LOSS, control_r_to_c=25.5, low_temperature_cut_out=0),
    row(OWN, Outcome.LOSS, condensate_switch=25.4, control_output=0, contactor_coil=0),
    row("", Outcome.LOSS, call=None, condensate_switch=25.4, control_output=0),
    row("", Outcome.NOT_CALLED, call=False, condensate_switch=25.4, control_output=0),
    row("", Outcome.LOSS, call=False, control_r_to_c=25.4, control_output=0),
    row("", Outcome.LOSS, condensate_switch=25.4, contactor_coil=0),
    row("wire from control output to contactor coil", Outcome.LOSS, control_output=25.2, contactor_coil=0),
    row(WRONG_TAP, Outcome.LOSS, limits=TAP_240, transformer_primary=208, transformer_secondary=20.8),
    row(WRONG_TAP, Outcome.LOSS, limits=TAP_208, transformer_primary=240, transformer_secondary=27.7),
    row("", Outcome.LOSS, limits=plate_limits(208.0), transformer_primary=208, transformer_secondary=20.8),
    row("", Outcome.WEAK, transformer_secondary=21.9, control_r_to_c=21.0, high_pressure_switch=20.1),
    row("", Outcome.HIGH, supply=261, disconnect=261),
    row("", Outcome.HIGH, transformer_primary=230, transformer_secondary=31.0),
    row("", Outcome.CHECK, supply=230, disconnect=0, contactor_line=230),
    row("", Outcome.CHECK, transformer_primary=0, transformer_secondary=25.6),
    row("", Outcome.CHECK, supply=0, transformer_primary=230, transformer_secondary=25.6),
    row("", Outcome.CHECK, transformer_secondary=25.6, fuse=0, contactor_coil=25.0),
    row("", Outcome.CHECK, fuse=12.0, control_r_to_c=25.0),
    row("", Outcome.CHECK, limits=Limits(), supply=0, transformer_secondary=25.0),
    row("", Outcome.CHECK, high_pressure_switch=0, condensate_switch=24.8),
]


@pytest.mark.parametrize(("expected", "outcome", "call", "limits", "volts"), TABLE)
def test_truth_table(
    expected: str, outcome: Outcome, call: bool | None, limits: Limits, volts: dict[str, float]
) -> None:
    readings = [VoltReading(name, float(value)) for name, value in volts.items()]
    found = judge_chain("control", POINTS, readings, limits, call=call)
    assert found.outcome is outcome, found.statement
    assert (found.loss.named if found.loss else "") == expected, found.statement
    if outcome is Outcome.CHECK:
        assert found.questions
        assert "no loss is named" in found.statement
        assert not found.cleared
    if outcome is Outcome.LOSS and not expected:
        assert found.missing, "what is missing must be said"


def test_two_faults_and_a_noisy_meter_wrong_no_part() -> None:
    outcomes, wrong = run_trials(3000, seed=7)
    assert wrong == []
    assert outcomes["first loss, named"] > 300, "and yet parts are named where the readings reach them"


def test_the_table_has_sixty_chains() -> None:
    assert len(TABLE) + len(NAMES[1:]) + len(NAMES[2:]) + 6 + 7 >= 60


def test_the_halls_morning() -> None:
    # Our scenario A: 25.4 V enter the control and 0.0 leave it after the fourth stop.
    points = control_circuit(["high_pressure_switch", "low_temperature_cut_out"])
    volts = [229, 229, 229, 229, 25.6, 25.6, 25.5, 25.5, 25.4, 0.0, 0.0]
    readings = [VoltReading(p.name, v, time="07:52", who="A") for p, v in zip(points, volts, strict=True)]
    found = judge_chain(
        "control", points, readings, plate_limits(230.0, source="card: 230 V plate"), call=True
    )
    assert found.statement.startswith("first loss in the unit's own control")
    for cleared in ("transformer", "control fuse", "high-pressure switch", "low-temperature cut-out"):
        assert cleared in found.cleared


def test_volts_across_a_contact_under_load() -> None:
    points = compressor_circuit()
    under = [VoltReading(n, v, True) for n, v in
             zip([p.name for p in points], [229, 229, 229, 227.9, 227.8], strict=True)]  # fmt: skip
    worn = judge_chain(
        "compressor", points, under, PLATE, across=[AcrossReading("contactor_load", 1.1, True)]
    )
    assert worn.loss is not None
    assert worn.loss.named == "contactor contacts"
    assert "contactor contacts" not in worn.cleared
    good = judge_chain(
        "compressor", points, under, PLATE, across=[AcrossReading("contactor_load", 0.2, True)]
    )
    assert good.outcome is Outcome.WHOLE
    idle = judge_chain(
        "compressor", points, under, PLATE, across=[AcrossReading("contactor_load", 1.1, False)]
    )
    assert idle.outcome is Outcome.WHOLE
    assert any("at no load they say nothing" in text for text in idle.missing)


@pytest.mark.parametrize(
    ("coil", "load_side", "outcome", "named"),
    [
        (24.8, 0.0, Outcome.LOSS, "contactor contacts"),
        (0.0, 0.0, Outcome.LOSS, ""),
        (float("nan"), 0.0, Outcome.LOSS, ""),
        (0.0, 229.0, Outcome.CHECK, ""),
        (24.8, 229.0, Outcome.WHOLE, ""),
    ],
)
def test_a_contactor_is_judged_with_its_coil(
    coil: float, load_side: float, outcome: Outcome, named: str
) -> None:
    readings = [VoltReading("contactor_line", 229.0), VoltReading("contactor_load", load_side)]
    found = judge_chain("compressor", compressor_circuit(), readings, PLATE, coil={"contactor_coil": coil})
    assert found.outcome is outcome
    assert (found.loss.named if found.loss else "") == named
    assert outcome is not Outcome.LOSS or named or "coil" in found.statement


@pytest.mark.parametrize(
    ("volts", "coil", "named", "outcome"),
    [
        (230.0, 24.8, "contactor contacts", Outcome.LOSS),
        (230.0, 0.0, "", Outcome.LOSS),
        (12.0, 24.8, "contactor contacts", Outcome.LOSS),
        (0.4, 24.8, "", Outcome.WHOLE),
    ],
)
def test_volts_across_alone(volts: float, coil: float, named: str, outcome: Outcome) -> None:
    for limits in (PLATE, Limits()):
        found = judge_chain(
            "compressor", compressor_circuit(), [], limits, coil={"contactor_coil": coil},
            across=[AcrossReading("contactor_load", volts, True)],
        )  # fmt: skip
        assert found.outcome is outcome
        assert (found.loss.named if found.loss else "") == named


def test_volts_across_must_be_the_difference() -> None:
    both = [VoltReading("contactor_line", 229.0, True), VoltReading("contactor_load", 228.5, True)]
    found = judge_chain("compressor", compressor_circuit(), both, PLATE, coil={"contactor_coil": 24.8},
                        across=[AcrossReading("contactor_load", 229.0, True)])  # fmt: skip
    assert found.outcome is Outcome.CHECK
    assert "229 V across contactor contacts where 229 V go in and 228.5 V come out" in found.statement


def test_doubts_are_said() -> None:
    far = [
        VoltReading("control_r_to_c", 25.5, time="23:55"),
        VoltReading("high_pressure_switch", 0.0, time="00:40"),
    ]
    found = judge_chain("control", POINTS, far, PLATE, call=True)
    assert "both readings around the loss at one time: they are 45 min apart" in found.missing
    twice = [VoltReading("fuse", 25.5), VoltReading("fuse", 0.0)]
    found = judge_chain("control", POINTS, twice, PLATE, call=True)
    assert "whether fuse comes and goes: 25.5 V, then 0 V" in found.missing


def test_a_part_with_a_loss_of_its_own_is_never_cleared() -> None:
    volts = {"supply": 230.0, "disconnect": 214.0, "contactor_line": 0.0}
    found = judge_chain("control", POINTS, [VoltReading(n, v, True) for n, v in volts.items()], PLATE)
    assert found.loss is not None
    assert found.loss.named == "wire from disconnect to contactor"
    assert [loss.named for loss in found.further] == ["disconnect or its fuses"]
    assert found.cleared == ("the supply before the disconnect",)


def test_noise_about_zero_is_no_volts() -> None:
    live = live_readings({"control_voltage": -0.1, "supply_voltage": -40.0, "pump_voltage": float("nan")})
    assert [(r.point, r.volts) for r in live] == [("control_r_to_c", 0.0)]


def test_sag_under_load_is_said() -> None:
    readings = [VoltReading("transformer_primary", 229.0, True), VoltReading("control_r_to_c", 25.6, False),
                VoltReading("control_r_to_c", 16.0, True)]  # fmt: skip
    found = judge_chain("control", POINTS, readings, PLATE)
    assert "sags from 25.6 to 16 V when the load pulls in" in found.statement
    assert found.loss is not None
    assert found.loss.named == ""


def test_nothing_of_a_silent_meter_and_nothing_of_a_strange_point() -> None:
    found = judge_chain("control", POINTS, [VoltReading("supply", float("nan"))], PLATE)
    assert found.outcome is Outcome.NOT_READ
    assert "a value at supply" in found.missing
    with pytest.raises(ValueError, match=r"'sump' is no point of the control circuit; it has supply"):
        judge_chain("control", POINTS, [VoltReading("sump", 1.0)], PLATE)
    with pytest.raises(ValueError, match="zero or more"):
        VoltReading("supply", -3.0)


def test_live_points_take_their_place_in_the_chain() -> None:
    live = live_readings({"supply_voltage": 229.0, "transformer_primary_voltage": 229.0,
                          "transformer_secondary_voltage": 25.7, "control_voltage": 0.0})  # fmt: skip
    found = judge_chain("control", POINTS, live, PLATE, call=True)
    assert found.loss is not None
    assert found.loss.parts == ("control fuse", "wire from fuse to R and C")
    pump = judge_chain("pump", motor_circuit("pump"), live_readings({"pump_voltage": 228.0}), PLATE)
    assert "wire from relay to pump" in pump.cleared


def test_unbalance() -> None:
    # 238/242/233 V is 1.96 % (worked example of the trade, NEMA form: largest deviation over the mean).
    assert 100 * voltage_unbalance((238.0, 242.0, 233.0)) == pytest.approx(1.96, abs=0.005)


part_names = st.sampled_from(NAMES[1:])
benches = st.one_of(
    st.builds(lambda n: (n, Bench({n: OPEN})), part_names),
    st.builds(lambda n, r: (n, Bench({n: r})), st.sampled_from(NAMES[5:]), st.floats(25.0, 200.0)),
    st.builds(lambda n, r: ("short", Bench(shunt={n: r})), st.sampled_from(NAMES[4:]), st.floats(0.01, 5.0)),
    st.just(("none", Bench())),
)


@settings(derandomize=True, deadline=None, max_examples=400)
@given(
    benches, st.sets(st.sampled_from(NAMES)), st.sampled_from([True, False, None]), st.floats(200.0, 255.0),
    st.sampled_from([PLATE, Limits()]), st.sampled_from([True, None]),
)  # fmt: skip
def test_no_part_is_named_that_the_readings_do_not_reach(
    made: tuple[str, Bench],
    at: set[str],
    loaded: bool | None,
    supply: float,
    limits: Limits,
    call: bool | None,
) -> None:
    fault, bench = made
    bench = Bench(bench.series, bench.shunt, supply, 25.8 / supply)
    found = read(
        bench, at=[n for n in NAMES if n in at] or NAMES[:1], loaded=loaded, limits=limits, call=call
    )
    assert found.outcome is not Outcome.CHECK, found.statement
    loss = found.loss
    low_supply = limits is PLATE and supply < 207.0
    if loss is None:
        return
    index = NAMES.index(loss.at)
    assert loss.at in (at or {NAMES[0]})
    if loss.named:
        # Both ends were read, and the true fault is nowhere else.
        assert index == 0 or NAMES[index - 1] == loss.after
        assert low_supply or loss.named == PART.get(fault)
    if not low_supply:
        guilty = SHORTED_OR_LOADED if fault == "short" else PART.get(fault)
        assert guilty in loss.parts, (fault, loss)
        assert fault != "none"
    assert PART.get(fault) not in found.cleared or low_supply


@settings(derandomize=True, deadline=None, max_examples=400)
@given(
    st.lists(
        st.builds(
            VoltReading, st.sampled_from(NAMES), st.one_of(st.floats(0.0, 300.0), st.just(float("nan"))),
            st.sampled_from([True, False, None]),
        ), max_size=14,
    ),
    st.sampled_from([True, False, None]), st.sampled_from([PLATE, TAP_240, Limits()]),
)  # fmt: skip
def test_any_readings_are_answered_and_named_only_between_neighbours(
    readings: list[VoltReading], call: bool | None, limits: Limits
) -> None:
    found = judge_chain("control", POINTS, readings, limits, call=call)
    assert found.statement
    assert all(act.safe for act in found.acts)
    loss = found.loss
    if loss is None or not loss.named:
        return
    places = [r.point for r in found.readings]
    assert loss.at in places
    index = NAMES.index(loss.at)
    assert loss.named == WRONG_TAP or index == 0 or loss.after == NAMES[index - 1]
    assert loss.named == WRONG_TAP or loss.named not in found.cleared
    assert loss.named != "transformer"
