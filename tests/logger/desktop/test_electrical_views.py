"""Electrical work in the window: typed by touch to the verdict, and kept after every value."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QApplication

from analysis.measure import Channel
from analysis.timeline import Event
from analysis.units import Quantity
from logger.cli import main
from logger.desktop.audit import audit
from logger.desktop.electrical_source import ElectricalSource, visit_beside
from logger.desktop.electrical_visit import ElectricalVisit
from logger.desktop.present import Present
from logger.desktop.review import Review
from logger.desktop.scene import Role
from logger.desktop.scene_electrical import electrical_scene
from logger.desktop.scene_shorts import shorts_scene
from logger.desktop.staged_electrical import staged_electrical
from logger.desktop.window import Window
from logger.electrical_facts import report_facts
from logger.electrical_file import load_electrical
from logger.electrical_report import report_on
from logger.replay import open_session
from tests.logger.hall_sessions import AS_FOUND, CHANNELS, hall_session

HALL = {
    "supply": "229", "disconnect": "229", "contactor_line": "229", "transformer_primary": "229",
    "transformer_secondary": "25.6", "fuse": "25.6", "control_r_to_c": "25.6",
    "high_pressure_switch": "25.5", "low_temperature_cut_out": "25.4", "condensate_switch": "25.4",
    "control_output": "0", "contactor_coil": "0",
}  # fmt: skip
BAKERY = (
    "230", "0", "26", "0.2", "open", "open", "open", "open", "0.8", "0.6", "14.2", "open", "31.2", "open",
)  # fmt: skip


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "dead.toml"


@pytest.fixture
def window(application: QApplication, path: Path) -> Iterator[Window]:
    made = Window(ElectricalSource(path, "si"), view="electrical")
    made.show()
    yield made
    made.close()
    made.deleteLater()


def _touch(window: Window, act: str) -> None:
    target = next(t for t in window.scene.targets if t.act == f"electrical {act}")
    at = QPointF(target.rect.x + target.rect.w / 2, target.rect.y + target.rect.h / 2)
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    window.mousePressEvent(QMouseEvent(QEvent.Type.MouseButtonPress, at, at, left, left, none))


def _press(window: Window, key: Qt.Key, text: str = "") -> None:
    window.keyPressEvent(QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, text))


def _type(window: Window, value: str) -> None:
    for key in ("open",) if value == "open" else value:
        _touch(window, f"key {key}")
    _touch(window, "key keep")


def _words(window: Window) -> str:
    return " | ".join(text.text for text in window.scene.texts)


def test_a_whole_control_circuit_is_typed_by_touch_to_the_verdict(window: Window, path: Path) -> None:
    assert "NO VOLTS READ yet" in _words(window)
    _touch(window, "supply")  # 230 V
    _touch(window, "call")  # the thermostat calls
    _touch(window, "point volts supply")
    for volts in HALL.values():
        assert "Before the first value" in _words(window)
        _type(window, volts)
    _touch(window, "show")
    assert "FIRST LOSS in the unit's own control" in _words(window)
    assert {flag.word for flag in window.scene.flags} == {"FIRST LOSS"}
    assert audit(window.scene) == []
    kept = load_electrical(path)
    assert {r.point: r.volts for r in kept.circuits[0].readings} == {p: float(v) for p, v in HALL.items()}
    present = window.source.present()
    assert report_facts(report_on(kept)) == report_facts(window.electrical.page(present).report)


def test_the_bakerys_short_is_hunted_down_by_touch(window: Window, path: Path) -> None:
    window.act("view shorts")
    assert "nothing measured" in _words(window)
    _touch(window, "enter")
    for value in BAKERY:
        _type(window, value)
    _touch(window, "show")
    assert "REFUSED" in _words(window), "ohms without an isolation must not count"
    _touch(window, "isolation")
    for statement in ("who", "before", "dead", "after", "supplies"):
        assert "no ohms count" in _words(window)
        _touch(window, f"isolation {statement}")
    assert "Complete: ohms count" in _words(window)
    _touch(window, "show")
    assert "EARTHED: condensate switch" in _words(window)
    assert "look here first" in _words(window)
    assert "held back: new fuse, new transformer" in _words(window)
    assert audit(window.scene) == []
    _touch(window, "point branch 3 to_common")
    _touch(window, "repaired 3")
    _touch(window, "show")
    assert "new parts are no longer held back" in _words(window)
    assert "REPAIRED, not yet proven" in _words(window)
    for key, volts in (("after at_rest", "25.9"), ("after under_load", "24.8")):
        window.act(f"electrical point {key}")
        _type(window, volts)
    _touch(window, "show")
    assert "REPAIR PROVEN" in _words(window)
    kept = load_electrical(path)
    found = report_on(kept).hunt
    assert found is not None
    assert found.repair.startswith("proven")
    assert kept.branches is not None
    assert kept.branches[2].to_earth == pytest.approx(0.4)


def test_the_calls_that_blew_the_fuse_leave_one_branch(window: Window, path: Path) -> None:
    window.act("view shorts")
    _touch(window, "calls")
    assert "No call was tried" in _words(window)
    assert "electrical calls 0 3" not in {t.act for t in window.scene.targets}, "not before it was tried"
    for call, presses, branches in ((0, 1, (3, 4)), (1, 1, (2, 3)), (2, 2, (4,))):
        for _ in range(presses):  # blew; a second touch: held
            _touch(window, f"calls {call}")
        assert "not said: what" in _words(window)
        for branch in branches:
            _touch(window, f"calls {call} {branch}")
    assert "The fault lies in the branch of: contactor coil" in _words(window)
    assert audit(window.scene) == []
    found = report_on(load_electrical(path)).elimination
    assert found is not None
    assert (found.suspects, found.cleared) == (("contactor coil",), ("reversing valve coil",))
    _press(window, Qt.Key.Key_Up)  # heat again, from fan only by way of cool
    _press(window, Qt.Key.Key_Up)
    _press(window, Qt.Key.Key_F6)
    assert window.electrical.table.short_hunt is not None
    assert [call.blew for call in window.electrical.table.short_hunt.call] == [False, True, False]
    _press(window, Qt.Key.Key_F4)
    assert window.electrical.table.short_hunt.call[0].branches == ("reversing valve coil",)


def test_everything_is_reached_from_the_keyboard(window: Window) -> None:
    _press(window, Qt.Key.Key_E)
    for key, text in ((Qt.Key.Key_2, "2"), (Qt.Key.Key_3, "3"), (Qt.Key.Key_0, "0"), (Qt.Key.Key_Comma, ",")):
        _press(window, key, text)
    _press(window, Qt.Key.Key_Return, "\r")
    assert window.electrical.table.circuit[0].reading[0].volts == "230 V"
    _press(window, Qt.Key.Key_Up)
    _press(window, Qt.Key.Key_Delete)
    assert window.electrical.table.circuit[0].reading == ()
    _press(window, Qt.Key.Key_Escape)
    _press(window, Qt.Key.Key_S)
    assert window.electrical.table.limits.plate == "230 V"
    _press(window, Qt.Key.Key_O)
    assert "Compressor circuit" in _words(window)
    _press(window, Qt.Key.Key_PageDown)
    assert window.scene.view == "shorts"
    _press(window, Qt.Key.Key_I)
    _press(window, Qt.Key.Key_F3)
    assert window.electrical.table.isolation is not None
    assert window.electrical.table.isolation.proven_dead
    _press(window, Qt.Key.Key_5)
    assert window.scene.view == "electrical"


def test_the_hall_pumps_weak_capacitor_is_named(window: Window) -> None:
    for _ in range(2):
        _touch(window, "circuit")
    _touch(window, "supply")
    _touch(window, "runs")
    _touch(window, "point volts supply")
    for _ in range(2):
        _touch(window, "loaded")
    for value in ("229", "229", "229", "228", "228", "1.16", "0.92", "1.9", "5"):
        _type(window, value)
    _touch(window, "show")
    assert "NO LOSS; motor: run capacitor" in _words(window)
    assert {flag.word for flag in window.scene.flags} == {"WEAK"}


@pytest.mark.parametrize("typed", ["9999999", "1001"])
def test_volts_that_no_machine_has_are_asked_again_and_stay_in_the_entry(window: Window, typed: str) -> None:
    _touch(window, "enter")
    for key in typed:
        _touch(window, f"key {key}")
    assert "type it again" in _words(window)
    _touch(window, "key keep")
    assert "type it again" in window.electrical.notice
    assert window.electrical.table.circuit == ()
    assert window.electrical.page(window.source.present()).digits == typed


def test_keep_without_a_value_keeps_nothing(window: Window, path: Path) -> None:
    _touch(window, "enter")
    _touch(window, "key .")
    _touch(window, "key keep")
    assert window.electrical.notice == "type a value first"
    assert not path.exists()


def test_only_what_is_measured_is_judged(window: Window) -> None:
    _touch(window, "point volts fuse")
    _type(window, "25.6")
    _touch(window, "show")
    page = window.electrical.page(window.source.present())
    assert page.chain is not None
    assert page.chain.loss is None
    assert [reading.point for reading in page.chain.readings] == ["fuse"]
    assert _words(window).count("not measured") >= len(HALL) - 1


def test_what_was_typed_is_taken_up_again(window: Window, path: Path) -> None:
    _touch(window, "enter")
    _type(window, "229")
    again = ElectricalVisit(None, path=path)
    assert again.table == window.electrical.table


def test_a_file_that_cannot_be_read_stays_and_another_is_begun(tmp_path: Path) -> None:
    broken = tmp_path / "electrical.toml"
    broken.write_text("circuit = 5\n", encoding="utf-8")
    visit = ElectricalVisit(tmp_path)
    assert "stays as it is" in visit.notice
    visit.act("supply", "electrical")
    assert broken.read_text(encoding="utf-8") == "circuit = 5\n"
    assert load_electrical(tmp_path / "electrical-2.toml").limits.supply_known


def test_a_file_that_cannot_be_written_is_told_and_the_readings_stay_on_the_screen(tmp_path: Path) -> None:
    visit = ElectricalVisit(None, path=tmp_path / "gone" / "dead.toml")
    visit.act("enter", "electrical")
    for key in ("2", "2", "9", "keep"):
        visit.act(f"key {key}", "electrical")
    assert "cannot be written" in visit.notice
    page = visit.page(Present())
    assert page.kept == "NOT KEPT: only on this screen"
    assert page.table.circuit[0].reading[0].volts == "229 V"


def test_a_sessions_own_volts_and_typed_ones_stand_in_one_chain(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    meter = Channel("meter/r", Quantity.VOLTAGE, "V", resolution=0.1, source="data sheet")
    place = Event(0, 0, "assign", meter.id, "control_voltage")
    folder = hall_session(
        tmp_path / "hall",
        AS_FOUND | {meter.id: 25.6},
        seconds=60,
        channels=(*CHANNELS, meter),
        events=(place,),
    )
    review = Review.open(open_session(str(folder)), "si")
    visit = visit_beside(review)
    visit.act("point volts contactor_coil", "electrical")
    for _ in range(2):
        visit.act("loaded", "electrical")  # the session's machine runs
    for key in ("0", "keep"):
        visit.act(f"key {key}", "electrical")
    chain = visit.page(review.present()).chain
    assert chain is not None
    assert {(r.point, r.live) for r in chain.readings} == {
        ("control_r_to_c", True),
        ("contactor_coil", False),
    }
    assert chain.loss is not None
    assert not any("min apart" in words for words in chain.missing)
    assert (folder / "electrical.toml").is_file()
    capsys.readouterr()
    assert main(["electrical", str(folder), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["circuits"][0]
    assert {r["point"] for r in told["readings"]} == {"control_r_to_c", "contactor_coil"}
    assert told["statement"] == chain.statement
    assert main(["verify", str(folder)]) == 0


def test_a_value_read_in_the_other_condition_is_not_called_missing(window: Window) -> None:
    _touch(window, "point volts supply")
    _type(window, "229")
    for _ in range(2):
        _touch(window, "loaded")
    _type(window, "100")  # the disconnect, under load
    _touch(window, "show")
    assert "other load" in _words(window)


def test_a_control_without_a_call_is_no_fault_and_has_no_colour() -> None:
    scene = electrical_scene(*staged_electrical("electrical", "no-call"))
    assert "NO CALL: no fault so far" in {text.text for text in scene.texts}
    assert scene.flags == ()
    assert not [item for item in scene.items if getattr(item, "role", None) is Role.OUT]


def test_the_audit_sees_a_loss_told_by_colour_alone() -> None:
    present, page = staged_electrical("electrical")
    scene = electrical_scene(present, page)
    bare = tuple(item for item in scene.items if getattr(item, "name", "") not in ("slab", "arrow"))
    kinds = {fault.kind for fault in audit(type(scene)("electrical", bare, scene.targets, scene.flags))}
    assert "colour alone" in kinds


def test_new_parts_are_held_back_while_one_value_is_missing() -> None:
    words = {text.text for text in shorts_scene(*staged_electrical("shorts")).texts}
    assert "held back: new fuse, new transformer" in words
    assert "SHORT HUNT, 1 value to enter" in words
    words = {text.text for text in shorts_scene(*staged_electrical("shorts", "proven")).texts}
    assert "new parts are no longer held back" in words


@pytest.mark.parametrize("arguments", [["--scene", "no-such"], ["gone.toml"]])
def test_a_picture_of_nothing_is_refused_in_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    assert main(["shot", "electrical", *arguments, "--out", str(tmp_path / "x.png")]) in (2, 3, 4)
    assert "Traceback" not in capsys.readouterr().err
