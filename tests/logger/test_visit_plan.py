"""What a visit is going to record: names, proposals, joins, and a set-up that is used again."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from analysis.measure import Channel
from analysis.points import POINTS
from analysis.units import Quantity
from drivers.base import Found
from drivers.clock import SystemClock
from logger.descriptor import SessionHeader
from logger.errors import CommandError
from logger.proposed_points import proposed_points
from logger.session_writer import SessionWriter
from logger.setup_file import DeviceTable, Setup
from logger.visit_plan import VisitPlan, device_name, plan_again

_UNIT = {
    Quantity.TEMPERATURE: "degC", Quantity.ABSOLUTE_PRESSURE: "bar(a)", Quantity.VOLUME_FLOW: "L/s",
    Quantity.PRESSURE_DIFFERENCE: "kPa", Quantity.VOLTAGE: "V", Quantity.CURRENT: "A", Quantity.POWER: "W",
}  # fmt: skip


def _channel(name: str, quantity: Quantity, label: str = "") -> Channel:
    return Channel(f"d/{name}", quantity, _UNIT[quantity], label=label)


def test_a_channel_named_like_a_point_or_labelled_like_it_is_proposed_for_it() -> None:
    for point in POINTS.values():
        assert proposed_points([_channel(point.name, point.quantity)]) == {point.name: f"d/{point.name}"}
        assert proposed_points([_channel("x", point.quantity, point.label)]) == {point.name: "d/x"}


@pytest.mark.parametrize(
    ("label", "quantity", "point"),
    [
        ("brine inlet", Quantity.TEMPERATURE, "source_entering_temperature"),
        ("floor out", Quantity.TEMPERATURE, "load_leaving_temperature"),
        ("low side", Quantity.ABSOLUTE_PRESSURE, "suction_pressure"),
        ("Ambient temperature", Quantity.TEMPERATURE, "ambient_temperature"),
        ("temperature", Quantity.TEMPERATURE, ""),
        ("probe 2", Quantity.TEMPERATURE, ""),
        ("pressure", Quantity.ABSOLUTE_PRESSURE, ""),
        ("suction or discharge", Quantity.TEMPERATURE, ""),
        ("suction", Quantity.VOLTAGE, ""),
        ("flow", Quantity.VOLUME_FLOW, ""),
    ],
)
def test_words_are_proposed_only_where_they_tell(label: str, quantity: Quantity, point: str) -> None:
    assert proposed_points([_channel("x", quantity, label)]) == ({point: "d/x"} if point else {})


def test_a_point_that_two_channels_fit_goes_to_the_first() -> None:
    channels = [_channel(name, Quantity.TEMPERATURE, "suction line") for name in ("a", "b")]
    assert proposed_points(channels) == {"suction_temperature": "d/a"}


def test_names_are_short_plain_and_of_their_own() -> None:
    found = Found("ble_gatt", "54:48", "Köhler's Großer Fühler / Ñandú 12345678901234567890", "")
    taken: dict[str, DeviceTable] = {}
    for _ in range(3):
        name = device_name(found, "", taken)
        assert name not in taken
        assert len(name) < 30
        assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-_")
        taken[name] = DeviceTable(name=name)
    assert device_name(Found("x", "a", "…", ""), "", {}) == "device"
    assert device_name(found, "/home/t/profiles/my_board.toml", {}) == "my_board"


def test_a_point_is_never_fed_by_two_channels_and_a_device_takes_its_joins_along() -> None:
    found = Found("serial_lines", "/dev/ttyUSB0", "", "", 0.5, ("probe_board",))
    plan, device = VisitPlan().take(found)
    assert plan.named(found) == device.name == "probe_board"
    held = {"suction_temperature": "probe_board/suction_temperature"}
    plan = plan.join("probe_board/liquid_temperature", "suction_temperature", held)
    assert plan.assign({}) == {"suction_temperature": "probe_board/liquid_temperature"}
    assert plan.setup({}, "x").assign == plan.assign({})
    assert plan.leave(device.name).assign({}) == {}


def _session(folder: Path, setup: Setup | str, card: str = "") -> Path:
    text = setup if isinstance(setup, str) else msgspec.toml.encode(setup).decode()
    writer = SessionWriter.create(folder, SessionHeader(setup=text, unit_card=card), SystemClock())
    writer.close("test")
    return folder


def test_a_set_up_is_used_again_from_its_session(tmp_path: Path) -> None:
    setup = Setup(
        title="hall", refrigerant="R410A", mode="heating", phase="as-left", barometer="600 m", card="h.toml",
        device=(DeviceTable(name="board", profile="probe_board", address="/dev/ttyUSB0"),),
        assign={"suction_pressure": "board/suction_pressure"}, offset={"board/suction_temperature": "-0.3 K"},
    )  # fmt: skip
    plan = plan_again(_session(tmp_path / "s", setup, card="the card's text"))
    again = plan.setup({}, "another title")
    assert plan.card_text == "the card's text"
    assert again == msgspec.structs.replace(setup, phase="", card="")


@pytest.mark.parametrize(
    ("setup", "told"),
    [
        (Setup(), "without a set-up of devices"),
        (Setup(device=(DeviceTable(name="b", profile="own.toml"),)), "a file beside its set-up"),
        (Setup(device=(DeviceTable(name="b", options={"key": "not kept"}),)), "needs its key"),
        (Setup(pressure_table="p.csv", device=(DeviceTable(name="b"),)), "needs p.csv"),
        ("= no toml", "cannot be used again"),
    ],
)
def test_a_set_up_that_needs_what_no_session_keeps_is_refused(
    tmp_path: Path, setup: Setup | str, told: str
) -> None:
    with pytest.raises(CommandError, match=told):
        plan_again(_session(tmp_path / "s", setup))
