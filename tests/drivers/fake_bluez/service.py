"""``org.bluez`` as far as a central needs it: a tree of objects, their signals, and the calls on them."""

from __future__ import annotations

import asyncio
from typing import Any

from dbus_fast import BusType, Message, MessageType, Variant
from dbus_fast.aio import MessageBus

from tests.drivers.fake_bluez.devices import FakeCharacteristic, FakeDescriptor, FakeDevice

ADAPTER_PATH = "/org/bluez/hci0"
ADAPTER, DEVICE = "org.bluez.Adapter1", "org.bluez.Device1"
SERVICE, CHARACTERISTIC = "org.bluez.GattService1", "org.bluez.GattCharacteristic1"
DESCRIPTOR = "org.bluez.GattDescriptor1"
_OBJECTS, _PROPERTIES = "org.freedesktop.DBus.ObjectManager", "org.freedesktop.DBus.Properties"
_BURST = 20
"""Signals sent before waiting for the bus: a full socket makes the sending library close its own end."""

Properties = dict[str, Variant]


class FakeError(Exception):
    """An error reply."""

    def __init__(self, name: str, text: str = "") -> None:
        super().__init__(name, text)
        self.name, self.text = name, text


class FakeBluez:
    """The service with one adapter; devices appear with their first broadcast."""

    def __init__(self) -> None:
        self.objects: dict[str, dict[str, Properties]] = {}
        self.calls: list[tuple[str, str]] = []
        """Member and path of every call, in order."""
        self.filters: list[dict[str, Any]] = []
        self.start_errors: list[tuple[str, str]] = []
        """Errors with which the next scans are refused."""
        self.most_connecting = 0
        """The largest number of connections that were being made at once."""
        self._devices: dict[str, FakeDevice] = {}
        self._parts: dict[str, FakeCharacteristic | FakeDescriptor] = {}
        self._scanning: set[str] = set()
        self._subscribed: set[str] = set()
        self._aborts: dict[str, asyncio.Event] = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self._bus: MessageBus | None = None

    async def start(self) -> FakeBluez:
        self._bus = await MessageBus(bus_type=BusType.SYSTEM).connect()
        self._bus.add_message_handler(self._handle)
        await self._bus.request_name("org.bluez")
        self._add(
            ADAPTER_PATH,
            ADAPTER,
            {
                "Address": Variant("s", "00:11:22:33:44:55"),
                "Alias": Variant("s", "fake"),
                "Powered": Variant("b", True),
                "Discovering": Variant("b", False),
                "Roles": Variant("as", ["central"]),
                "UUIDs": Variant("as", []),
            },
        )
        return self

    async def die(self) -> None:
        """Leave the bus without a word, as a crashed service does."""
        for task in self._tasks:
            task.cancel()
        if self._bus is not None:
            self._bus.disconnect()
            await self._bus.wait_for_disconnect()  # type: ignore[no-untyped-call]
            self._bus = None

    def power(self, on: bool) -> None:
        self._change(ADAPTER_PATH, ADAPTER, {"Powered": Variant("b", on)})

    # -- devices -----------------------------------------------------------------------------------------

    def advertise(
        self,
        device: FakeDevice,
        *,
        rssi: int = -60,
        service_data: dict[str, bytes] | None = None,
    ) -> None:
        """Let a device be heard; without service data this is a change of the signal strength alone.

        As with the real service, nothing is heard while nobody scans. (A device that appeared in the same
        moment in which the library reads the existing objects would be forgotten by it.)
        """
        if not self._scanning:
            return
        heard: Properties = {"RSSI": Variant("n", rssi)}
        if service_data is not None:
            sent = {uuid: Variant("ay", content) for uuid, content in service_data.items()}
            heard["ServiceData"] = Variant("a{sv}", sent)
        self._devices[device.path] = device
        if device.path in self.objects:
            self._change(device.path, DEVICE, heard)
            return
        properties: Properties = {
            "Address": Variant("s", device.address),
            "AddressType": Variant("s", "random"),
            "Alias": Variant("s", device.name or device.address.replace(":", "-")),
            "Adapter": Variant("o", ADAPTER_PATH),
            "UUIDs": Variant("as", [service.uuid for service in device.services]),
            **{name: Variant("b", False) for name in ("Paired", "Connected", "ServicesResolved", "Trusted")},
            **heard,
        }
        if device.name:
            properties["Name"] = Variant("s", device.name)
        self._add(device.path, DEVICE, properties)

    def is_connected(self, device: FakeDevice) -> bool:
        held = self.objects.get(device.path)
        return held is not None and bool(held[DEVICE]["Connected"].value)

    def is_subscribed(self, device: FakeDevice, number: int, order: int = 0) -> bool:
        return device.characteristic_path(number, order) in self._subscribed

    async def notify(self, device: FakeDevice, number: int, *payloads: bytes, order: int = 0) -> None:
        """Send notifications of one characteristic; nothing is sent while nobody has subscribed."""
        path = device.characteristic_path(number, order)
        for count, payload in enumerate(payloads, 1):
            if path in self._subscribed and path in self.objects:
                self._change(path, CHARACTERISTIC, {"Value": Variant("ay", payload)})
            if count % _BURST == 0:
                await self._taken_up()
        await asyncio.sleep(0)

    async def _taken_up(self) -> None:
        """Wait until the bus has taken everything sent so far; it answers in order."""
        assert self._bus is not None, "the service has left the bus"
        await self._bus.call(
            Message(
                destination="org.freedesktop.DBus",
                path="/org/freedesktop/DBus",
                interface="org.freedesktop.DBus",
                member="GetId",
            )
        )

    def drop(self, device: FakeDevice) -> None:
        """End the link from the device's side."""
        self._subscribed = {path for path in self._subscribed if not path.startswith(device.path)}
        if device.path in self.objects:
            down = {name: Variant("b", False) for name in ("Connected", "ServicesResolved")}
            self._change(device.path, DEVICE, down)
        for path in sorted((p for p in self.objects if p.startswith(f"{device.path}/")), reverse=True):
            self._remove(path)

    def vanish(self, device: FakeDevice) -> None:
        """Forget a device, as the real service does with one that it has not heard for a while."""
        self.drop(device)
        self._remove(device.path)

    # -- the tree and its signals ------------------------------------------------------------------------

    def _signal(self, path: str, interface: str, member: str, signature: str, body: list[Any]) -> None:
        assert self._bus is not None, "the service has left the bus"
        self._bus.send(
            Message(
                message_type=MessageType.SIGNAL,
                path=path,
                interface=interface,
                member=member,
                signature=signature,
                body=body,
            )
        )

    def _add(self, path: str, interface: str, properties: Properties) -> None:
        self.objects[path] = {interface: properties}
        self._signal("/", _OBJECTS, "InterfacesAdded", "oa{sa{sv}}", [path, self.objects[path]])

    def _remove(self, path: str) -> None:
        interfaces = list(self.objects.pop(path))
        self._signal("/", _OBJECTS, "InterfacesRemoved", "oas", [path, interfaces])

    def _change(self, path: str, interface: str, properties: Properties) -> None:
        self.objects[path][interface].update(properties)
        self._signal(path, _PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, properties, []])

    def _resolve(self, device: FakeDevice) -> None:
        for service_path, service, inside in device.placed():
            self._add(
                service_path,
                SERVICE,
                {
                    "UUID": Variant("s", service.uuid),
                    "Primary": Variant("b", True),
                    "Device": Variant("o", device.path),
                    "Includes": Variant("ao", []),
                },
            )
            for path, characteristic in inside:
                self._parts[path] = characteristic
                self._add(
                    path,
                    CHARACTERISTIC,
                    {
                        "UUID": Variant("s", characteristic.uuid),
                        "Service": Variant("o", service_path),
                        "Value": Variant("ay", b""),
                        "Notifying": Variant("b", False),
                        "Flags": Variant("as", list(characteristic.flags)),
                        "MTU": Variant("q", 247),
                    },
                )
                handle = int(path[-4:], 16) + 2
                for number, descriptor in enumerate(characteristic.descriptors, handle):
                    self._parts[f"{path}/desc{number:04x}"] = descriptor
                    self._add(
                        f"{path}/desc{number:04x}",
                        DESCRIPTOR,
                        {
                            "UUID": Variant("s", f"0000{descriptor.number:04x}-0000-1000-8000-00805f9b34fb"),
                            "Characteristic": Variant("o", path),
                            "Value": Variant("ay", b""),
                            "Flags": Variant("as", ["read"]),
                        },
                    )
        self._change(device.path, DEVICE, {"ServicesResolved": Variant("b", True)})

    # -- calls -------------------------------------------------------------------------------------------

    def _handle(self, message: Message) -> bool | None:
        if (
            message.message_type != MessageType.METHOD_CALL
            or message.interface == "org.freedesktop.DBus.Peer"
        ):
            return None
        self.calls.append((message.member or "", message.path or ""))
        task = asyncio.ensure_future(self._answer(message))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return True

    async def _answer(self, message: Message) -> None:
        try:
            signature, body = await self._call(message)
        except FakeError as error:
            reply = Message.new_error(message, error.name, error.text)
        else:
            reply = Message.new_method_return(message, signature, body)
        if self._bus is not None:
            self._bus.send(reply)

    async def _call(self, message: Message) -> tuple[str, list[Any]]:
        path, body = message.path or "", message.body
        if message.member == "GetManagedObjects":
            return "a{oa{sa{sv}}}", [self.objects]
        if path not in self.objects:
            raise FakeError("org.freedesktop.DBus.Error.UnknownObject", "no such object")
        match message.member:
            case "SetDiscoveryFilter":
                self.filters.append({name: value.value for name, value in body[0].items()})
            case "StartDiscovery":
                self._start_discovery(message.sender or "")
            case "StopDiscovery":
                self._scanning.discard(message.sender or "")
            case "Connect":
                await self._connect(self._devices[path])
            case "Disconnect":
                await self._disconnect(self._devices[path])
            case "StartNotify":
                self._refuse(path)
                self._subscribed.add(path)
            case "StopNotify":
                self._subscribed.discard(path)
            case "ReadValue":
                return "ay", [await self._read(path)]
            case _:
                raise FakeError("org.freedesktop.DBus.Error.UnknownMethod", str(message.member))
        return "", []

    def _start_discovery(self, sender: str) -> None:
        if self.start_errors:
            raise FakeError(*self.start_errors.pop(0))
        if sender in self._scanning:
            raise FakeError("org.bluez.Error.InProgress", "Operation already in progress")
        self._scanning.add(sender)

    async def _connect(self, device: FakeDevice) -> None:
        if device.connect_errors:
            raise FakeError(*device.connect_errors.popleft())
        abort = self._aborts[device.path] = asyncio.Event()
        self.most_connecting = max(self.most_connecting, len(self._aborts))
        try:
            await asyncio.wait_for(abort.wait(), device.connect_delay)
        except TimeoutError:
            pass
        else:
            raise FakeError("org.bluez.Error.Failed", "le-connection-abort-by-local-fake")
        finally:
            del self._aborts[device.path]
        self._change(device.path, DEVICE, {"Connected": Variant("b", True)})
        asyncio.get_running_loop().call_later(0.01, self._resolve, device)

    async def _disconnect(self, device: FakeDevice) -> None:
        if device.disconnect_hangs:
            await asyncio.Event().wait()
        if device.path in self._aborts:
            self._aborts[device.path].set()
        else:
            self.drop(device)

    def _refuse(self, path: str) -> None:
        part = self._parts[path]
        if isinstance(part, FakeCharacteristic) and part.refusal is not None:
            raise FakeError(*part.refusal)

    async def _read(self, path: str) -> bytes:
        self._refuse(path)
        part = self._parts[path]
        if isinstance(part, FakeCharacteristic) and part.hangs:
            await asyncio.Event().wait()
        return part.value
