"""The one Bluetooth hub: its scan, its watchdog, its links, and its words for a person."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from bleak import exc

from analysis.measure import Reading
from drivers.arrivals import Arrivals
from drivers.base import DriverError, LinkLostError, NeedsPersonError, Rejected
from drivers.bluetooth_hub import BluetoothHub, Heard
from drivers.bluetooth_words import Trouble, explain, not_available
from tests.drivers.watching import FAST, ManualClock, until

ADDRESS = "C0:FF:EE:00:00:01"
SYSTEMS = ("Linux", "Windows", "Darwin", "Plan 9")


# -- words -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("trouble", ["off", "denied", "absent", "no_central", "unknown"])
def test_every_trouble_is_one_sentence_with_the_way_out(trouble: Trouble, system: str) -> None:
    text = str(not_available(trouble, system))
    assert text.endswith(".")
    assert text.count(". ") == 0
    assert ":" in text  # what is wrong: what to do
    assert len(text) < 200


Reason = exc.BleakBluetoothNotAvailableReason


@pytest.mark.parametrize(
    ("error", "kind", "part"),
    [
        (exc.BleakBluetoothNotAvailableError("x", Reason.POWERED_OFF), NeedsPersonError, "Bluetooth is off"),
        (exc.BleakBluetoothNotAvailableError("x", Reason.DENIED_BY_USER), NeedsPersonError, "may not use"),
        (exc.BleakBluetoothNotAvailableError("x", Reason.DENIED_BY_SYSTEM), NeedsPersonError, "may not use"),
        (exc.BleakBluetoothNotAvailableError("x", Reason.NO_BLUETOOTH), NeedsPersonError, "no Bluetooth"),
        (exc.BleakBluetoothNotAvailableError("x", Reason.NO_BLE_CENTRAL_ROLE), NeedsPersonError, "too old"),
        (exc.BleakBluetoothNotAvailableError("x", Reason.UNKNOWN), NeedsPersonError, "cannot be used"),
        (exc.BleakGATTProtocolError(0x05), NeedsPersonError, "paired first"),
        (exc.BleakGATTProtocolError(0x08), NeedsPersonError, "paired first"),
        (exc.BleakGATTProtocolError(0x0F), NeedsPersonError, "paired first"),
        (exc.BleakGATTProtocolError(0x02), LinkLostError, "refused a request"),
        (exc.BleakDeviceNotFoundError(ADDRESS, "x"), LinkLostError, "no longer heard"),
        (TimeoutError(), LinkLostError, "did not answer in time"),
        (FileNotFoundError(2, "x"), NeedsPersonError, "no Bluetooth"),
        (ConnectionRefusedError(), NeedsPersonError, "no Bluetooth"),
        (PermissionError(13, "x"), NeedsPersonError, "may not use"),
        (exc.BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", ["x"]), NeedsPersonError, "no Blue"),
        (exc.BleakDBusError("org.freedesktop.DBus.Error.AccessDenied", ["x"]), NeedsPersonError, "may not"),
        (exc.BleakDBusError("org.bluez.Error.AuthenticationFailed", ["x"]), NeedsPersonError, "paired"),
        (exc.BleakDBusError("org.bluez.Error.NotReady", ["x"]), NeedsPersonError, "Bluetooth is off"),
        (exc.BleakDBusError("org.bluez.Error.InProgress", ["x"]), LinkLostError, "another program"),
        (
            exc.BleakDBusError("org.bluez.Error.Failed", ["le-connection-abort-by-local"]),
            LinkLostError,
            "noise",
        ),
        (exc.BleakDBusError("org.bluez.Error.Failed", []), LinkLostError, "failed (["),
        (exc.BleakError("Bleak requires BlueZ >= 5.55."), NeedsPersonError, "too old"),
        (exc.BleakError("device 'dev_C0' not found"), LinkLostError, "no longer heard"),
        (exc.BleakError("Service Discovery has not been performed yet"), LinkLostError, "broke off"),
        (exc.BleakError("Not connected"), LinkLostError, "broke off"),
        (OSError(22, "strange"), LinkLostError, "strange"),
        (RuntimeError(), LinkLostError, "RuntimeError"),
    ],
)
def test_library_errors_become_sentences(error: Exception, kind: type[DriverError], part: str) -> None:
    for system in SYSTEMS:
        found = explain(error, "coil", system)
        assert type(found) is kind
        assert part in str(found)
        assert "\n" not in str(found)
        assert str(found).endswith((".", ")"))
    assert explain(found, "other", "Linux") is found


# -- arrivals --------------------------------------------------------------------------------------------


def test_arrivals_come_in_order_then_the_faults_then_the_failure() -> None:
    async def run() -> None:
        arrivals = Arrivals()
        for number in range(3):
            arrivals.put(Reading(number, "a", float(number)))
        arrivals.reject("bad", b"\x01")
        arrivals.reject("bad", b"\x02")
        arrivals.fail(LinkLostError("gone"))
        arrivals.fail(LinkLostError("gone twice"))
        items = aiter(arrivals.taken(7))
        taken: list[Any] = [await anext(items), await anext(items)]
        with pytest.raises(LinkLostError, match=r"^gone$"):
            await anext(items)
        assert [reading.value for reading in taken[0]] == [0, 1, 2]
        assert taken[1] == Rejected(7, {"bad": 2}, b"\x01")

    asyncio.run(run())


def test_arrivals_that_nobody_takes_are_counted_and_a_closed_one_ignores_all() -> None:
    async def run() -> None:
        arrivals = Arrivals()
        for number in range(20_005):
            arrivals.put(Reading(number, "a", 0.0))
        taken = [item async for item in arrivals.taken(0)]
        assert isinstance(taken[0], list)
        assert (taken[0][0].t_mono_ns, len(taken[0])) == (5, 20_000)
        assert taken[1] == Rejected(0, {"overrun": 5}, b"")
        arrivals.close()
        arrivals.put(Reading(0, "a", 0.0))
        arrivals.reject("bad")
        arrivals.fail(LinkLostError("late"))
        with pytest.raises(TimeoutError):
            await asyncio.wait_for(anext(aiter(arrivals.taken(0))), 0.02)

    asyncio.run(run())


# -- the scan, with a scripted radio ---------------------------------------------------------------------


class ScriptedScanner:
    def __init__(self, radio: ScriptedRadio) -> None:
        self._radio = radio

    async def start(self) -> None:
        self._radio.starts += 1
        if self._radio.start_hangs:
            await asyncio.Event().wait()
        if self._radio.start_errors:
            raise self._radio.start_errors.pop(0)

    async def stop(self) -> None:
        self._radio.stops += 1
        if self._radio.stop_hangs:
            await asyncio.Event().wait()


class ScriptedClient:
    def __init__(self, connect: Callable[[], Awaitable[None]]) -> None:
        self.connect = connect
        self.disconnects = 0

    async def disconnect(self) -> None:
        self.disconnects += 1


async def at_once() -> None:
    """Connect without delay."""


class ScriptedRadio:
    """Counts what is asked of it, and fails as told."""

    system = "Linux"

    def __init__(self) -> None:
        self.starts = self.stops = 0
        self.start_errors: list[Exception] = []
        self.start_hangs = self.stop_hangs = False
        self.clients: list[ScriptedClient] = []
        self._heard: Callable[[Any, Any], None] = lambda device, advert: None

    def scanner(self, heard: Callable[[Any, Any], None]) -> Any:
        self._heard = heard
        return ScriptedScanner(self)

    def client(self, device: Any, lost: Callable[[], None], timeout: float, *, fresh_services: bool) -> Any:
        self.clients.append(ScriptedClient(device.connect))
        return self.clients[-1]

    def advertise(self, address: str = ADDRESS, connect: Callable[[], Awaitable[None]] = at_once) -> None:
        self._heard(SimpleNamespace(address=address, connect=connect), SimpleNamespace())


def played(
    scenario: Callable[[BluetoothHub, ScriptedRadio], Awaitable[None]],
    clock: ManualClock | None = None,
    **timing: float,
) -> None:
    """Run a scenario with a hub on a scripted radio."""

    async def run() -> None:
        radio = ScriptedRadio()
        hub = BluetoothHub(replace(FAST, **timing), clock, radio)
        try:
            await asyncio.wait_for(scenario(hub, radio), 60)
        finally:
            await hub.aclose()

    asyncio.run(run())


IN_PROGRESS = exc.BleakDBusError("org.bluez.Error.InProgress", ["Operation already in progress"])
OFF = exc.BleakBluetoothNotAvailableError("off", Reason.POWERED_OFF)


def test_many_users_share_one_scan() -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        await asyncio.gather(*(hub.start() for _ in range(5)))
        assert (radio.starts, hub.scanning) == (1, True)
        await hub.aclose()
        assert (radio.stops, hub.scanning) == (1, False)

    played(scenario)


def test_a_busy_adapter_is_tried_three_times_then_told() -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        radio.start_errors = [IN_PROGRESS, IN_PROGRESS]
        await hub.start()
        assert radio.starts == 3
        await hub.aclose()
        radio.start_errors = [IN_PROGRESS] * 3
        with pytest.raises(LinkLostError, match="switch Bluetooth off and on again"):
            await hub.start()
        assert radio.starts == 6

    played(scenario)


def test_an_adapter_that_is_off_is_told_at_once() -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        radio.start_errors = [OFF]
        with pytest.raises(NeedsPersonError, match="Bluetooth is off"):
            await hub.find(ADDRESS, "coil")
        assert radio.starts == 1

    played(scenario)


def test_an_adapter_that_does_not_answer_is_told() -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        radio.start_hangs = True
        with pytest.raises(LinkLostError, match="Bluetooth does not answer"):
            await hub.start()

    played(scenario, connect_deadline=0.02)


def test_a_scan_that_does_not_stop_keeps_nobody_waiting() -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        await hub.start()
        radio.stop_hangs = True
        await hub.aclose()
        assert not hub.scanning

    played(scenario, close_deadline=0.05)


def test_a_quiet_adapter_is_scanned_anew_once_then_told() -> None:
    clock = ManualClock()

    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        faults: list[DriverError] = []
        await hub.start()
        with hub.listening(ADDRESS, lambda heard: None, faults.append):
            clock.advance(0.1)
            await until(lambda: radio.starts == 2, "scanned anew")
            await asyncio.sleep(0.1)
            assert (radio.starts, faults) == (2, [])
            clock.advance(0.1)
            await until(lambda: faults, "told")
            assert "heard no device at all" in str(faults[0])
            radio.advertise("C0:FF:EE:00:00:02")
            clock.advance(0.1)
            await until(lambda: radio.starts == 4, "scanned anew after a device was heard")
            await asyncio.sleep(0.05)
            assert len(faults) == 1  # quiet again, but only for the first time

    played(scenario, clock, scan_watchdog=0.08)


def test_the_scan_is_left_alone_while_nobody_waits_for_a_broadcast() -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        await hub.start()
        await asyncio.sleep(0.2)
        assert radio.starts == 1

    played(scenario, scan_watchdog=0.02)


def test_an_adapter_switched_off_while_scanning_is_told_and_found_again_later() -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        await hub.start()
        radio.start_errors = [OFF]
        with pytest.raises(NeedsPersonError, match="Bluetooth is off"):
            await hub.find(ADDRESS, "coil")
        assert not hub.scanning
        waiting = asyncio.create_task(hub.find(ADDRESS, "coil"))
        await until(lambda: hub.scanning, "scanning again")
        radio.advertise()
        assert (await waiting).device.address == ADDRESS

    played(scenario, scan_watchdog=0.05)


def test_only_a_fresh_sighting_counts() -> None:
    clock = ManualClock()

    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        await hub.start()
        radio.advertise(ADDRESS.lower())
        clock.advance(0.04)
        assert (await hub.find(ADDRESS, "coil")).device.address == ADDRESS.lower()
        clock.advance(0.02)
        with pytest.raises(LinkLostError, match="coil is not heard: near"):
            await hub.find(ADDRESS, "coil")

    played(scenario, clock, connect_deadline=0.1)


def test_one_failing_listener_does_not_stop_the_others(caplog: pytest.LogCaptureFixture) -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        seen: list[Heard] = []

        def fails(heard: Heard) -> None:
            raise ValueError("no")

        await hub.start()
        with hub.listening(ADDRESS, fails, print), hub.listening(None, seen.append, print):
            radio.advertise()
        radio.advertise()
        assert len(seen) == 1

    with caplog.at_level(logging.CRITICAL):
        played(scenario)


def test_the_table_of_devices_is_bounded() -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        await hub.start()
        for number in range(1200):
            radio.advertise(f"{number:012X}")
        assert len(hub.heard) == 1000
        assert f"{1199:012X}" in hub.heard
        assert f"{0:012X}" not in hub.heard

    played(scenario)


def test_a_failed_or_cancelled_connection_parts_and_frees_its_place() -> None:
    async def refused() -> None:
        raise exc.BleakError("no")

    async def for_ever() -> None:
        await asyncio.Event().wait()

    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        await hub.start()
        for _ in range(7):  # more often than there are places
            radio.advertise(connect=refused)
            with pytest.raises(LinkLostError, match="The link to coil failed"):
                async with hub.link(ADDRESS, "coil", lambda: None):
                    pass
            assert hub.heard == {}  # a fresh broadcast is waited for
        radio.advertise(connect=for_ever)

        async def hold() -> None:
            async with hub.link(ADDRESS, "coil", lambda: None):
                pass

        task = asyncio.create_task(hold())
        await until(lambda: len(radio.clients) == 8, "connecting")
        task.cancel()
        await asyncio.wait({task})
        assert [client.disconnects for client in radio.clients] == [1] * 8
        radio.advertise()
        async with hub.link(ADDRESS, "coil", lambda: None):
            pass
        with pytest.raises(LinkLostError, match="no longer heard"):
            async with hub.link("C0:00:00:00:00:00", "other", lambda: None):
                pass

    played(scenario)


def test_a_request_without_an_answer_is_given_up() -> None:
    async def scenario(hub: BluetoothHub, radio: ScriptedRadio) -> None:
        with pytest.raises(LinkLostError, match="did not answer in time"):
            await hub.within(asyncio.Event().wait(), "coil")

    played(scenario, request_timeout=0.02)


@pytest.mark.usefixtures("bluetooth_bus")
def test_a_computer_without_a_message_bus_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent/bus")

    async def run() -> None:
        with pytest.raises(NeedsPersonError, match="This computer has no Bluetooth that works"):
            await BluetoothHub(FAST).start()

    asyncio.run(run())
