"""A peripheral of the software link: a two-sensor probe with descriptors, a long text, and a battery."""

from __future__ import annotations

import struct
from collections.abc import Callable

from bumble.controller import Controller
from bumble.core import UUID, AdvertisingData
from bumble.device import Device
from bumble.gatt import Characteristic, CharacteristicValue, Descriptor, Service
from bumble.hci import Address
from bumble.host import Host
from bumble.link import LocalLink

_READ, _NOTIFY = Characteristic.Properties.READ, Characteristic.Properties.NOTIFY
_READABLE = Characteristic.READABLE
_EVERY_MS = 20.0


def node(link: LocalLink, name: str, address: str) -> Device:
    """Give a device of its own on the link."""
    device = Device(name=name, address=Address(address), host=Host())
    device.host.controller = Controller(name, link=link)
    device.advertising_interval_min = device.advertising_interval_max = _EVERY_MS
    return device


def _number(number: int) -> UUID:
    return UUID.from_16_bits(number)


class VirtualPeripheral:
    """Advertises Environmental Sensing under a name."""

    def __init__(self, link: LocalLink, address: str, name: str = "probe") -> None:
        self.device = node(link, name, address)
        self.temperatures = [self._temperature(place) for place in ("liquid line", "suction line")]
        self.model = "M" * 60
        self.battery = 87
        self.reads = 0
        self.device.add_service(Service(_number(0x181A), self.temperatures))
        self.device.add_service(
            Service(
                _number(0x180A),
                [
                    Characteristic(_number(0x2A24), _READ, _READABLE, self.model.encode()),
                    Characteristic(_number(0x2A29), _READ, _READABLE, bytes(range(65, 91)) * 16),
                ],
            )
        )
        level = CharacteristicValue[bytes](read=self._read_battery)
        battery: Characteristic[bytes] = Characteristic(_number(0x2A19), _READ, _READABLE, level)
        self.device.add_service(Service(_number(0x180F), [battery]))
        self.device.advertising_data = bytes(
            AdvertisingData(
                [
                    (AdvertisingData.COMPLETE_LOCAL_NAME, name.encode()),
                    (
                        AdvertisingData.COMPLETE_LIST_OF_16_BIT_SERVICE_CLASS_UUIDS,
                        struct.pack("<H", 0x181A),
                    ),
                ]
            )
        )

    @staticmethod
    def _temperature(place: str) -> Characteristic[bytes]:
        described = [
            Descriptor(_number(0x2901), _READABLE, place.encode()),
            Descriptor(_number(0x290C), _READABLE, bytes.fromhex("0000000000000a00001c04")),
        ]
        return Characteristic(_number(0x2A6E), _NOTIFY, _READABLE, b"\0\0", described)

    def _read_battery(self, _connection: object) -> bytes:
        self.reads += 1
        return bytes([self.battery])

    async def start(self) -> None:
        await self.device.power_on()
        await self.device.start_advertising(auto_restart=True)

    async def stop(self) -> None:
        await self.drop()
        await self.device.stop_advertising()
        await self.device.power_off()

    async def notify(self, order: int, *payloads: bytes) -> None:
        """Send notifications of the first or second temperature to whoever has subscribed."""
        for payload in payloads:
            await self.device.notify_subscribers(self.temperatures[order], payload)

    async def drop(self) -> None:
        """End all links from this side."""
        for connection in list(self.device.connections.values()):
            await connection.disconnect()

    def on_subscription(self, order: int, told: Callable[[bool], None]) -> None:
        """Be told when the central subscribes or unsubscribes."""
        self.temperatures[order].on(
            "subscription", lambda _connection, notify, indicate: told(bool(notify or indicate))
        )


def broadcaster(link: LocalLink, address: str, payload: bytes) -> Device:
    """Give a device that broadcasts BTHome service data and cannot be connected."""
    device = node(link, "broadcaster", address)
    data = (AdvertisingData.SERVICE_DATA_16_BIT_UUID, struct.pack("<H", 0xFCD2) + payload)
    device.advertising_data = bytes(AdvertisingData([data]))
    return device
