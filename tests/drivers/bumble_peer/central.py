"""The library's scanner and client over a central of the software link."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from bleak import BleakClient, BleakScanner
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient
from bleak.backends.descriptor import BleakGATTDescriptor
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import BleakError, BleakGATTProtocolError, BleakGATTProtocolErrorCode
from bleak.uuids import normalize_uuid_str
from bumble.att import ATT_Error
from bumble.core import UUID, AdvertisingData, PhysicalTransport
from bumble.device import Advertisement, Connection, Device, Peer
from bumble.hci import Address
from bumble.link import LocalLink

from tests.drivers.bumble_peer.peripheral import node

MTU = 247
_PROPERTIES = {"read": 2, "write-without-response": 4, "write": 8, "notify": 16, "indicate": 32}


def _uuid(uuid: UUID) -> str:
    separator = "-" if len(uuid.uuid_bytes) == 16 else ""
    return normalize_uuid_str(uuid.to_hex_str(separator))


def _uuid_of_bytes(little_endian: bytes) -> str:
    return normalize_uuid_str(little_endian[::-1].hex())


class BumbleRadio:
    """One computer on the software link, as the hub wants it."""

    system = "Linux"

    def __init__(self, link: LocalLink) -> None:
        central = self.central = node(link, "central", "F0:F0:F0:F0:F0:F0")

        class Scanner(_Scanner):
            device = central

        class Client(_Client):
            device = central

        self._scanner_backend, self._client_backend = Scanner, Client

    async def start(self) -> None:
        await self.central.power_on()

    async def stop(self) -> None:
        await self.central.power_off()

    def scanner(self, heard: Callable[[BLEDevice, AdvertisementData], None]) -> BleakScanner:
        return BleakScanner(heard, backend=self._scanner_backend)

    def client(
        self, device: BLEDevice, lost: Callable[[], None], timeout: float, *, fresh_services: bool
    ) -> BleakClient:
        return BleakClient(
            device,
            disconnected_callback=lambda _client: lost(),
            timeout=timeout,
            backend=self._client_backend,
        )


class _Scanner(BaseBleakScanner):
    device: Device

    def __init__(
        self, detection_callback: Any, service_uuids: list[str] | None, scanning_mode: str, **_: Any
    ) -> None:
        super().__init__(detection_callback, service_uuids)

    async def start(self) -> None:
        self.seen_devices = {}
        self.device.on("advertisement", self._heard)
        await self.device.start_scanning(active=True, filter_duplicates=False)

    async def stop(self) -> None:
        self.device.remove_listener("advertisement", self._heard)
        await self.device.stop_scanning()

    def _heard(self, advertisement: Advertisement) -> None:
        def parts(kind: int) -> list[bytes]:
            return [bytes(part) for part in advertisement.data.get_all(AdvertisingData.Type(kind), raw=True)]

        listed = b"".join(parts(AdvertisingData.COMPLETE_LIST_OF_16_BIT_SERVICE_CLASS_UUIDS))
        names = parts(AdvertisingData.COMPLETE_LOCAL_NAME)
        data = AdvertisementData(
            local_name=names[0].decode() if names else None,
            manufacturer_data={},
            service_data={
                _uuid_of_bytes(part[:2]): part[2:] for part in parts(AdvertisingData.SERVICE_DATA_16_BIT_UUID)
            },
            service_uuids=[_uuid_of_bytes(listed[at : at + 2]) for at in range(0, len(listed), 2)],
            tx_power=None,
            rssi=advertisement.rssi,
            platform_data=(advertisement,),
        )
        address = advertisement.address.to_string(False)
        device = self.create_or_update_device(address, address, data.local_name, advertisement, data)
        self.call_detection_callbacks(device, data)


class _Client(BaseBleakClient):
    device: Device

    def __init__(
        self, address_or_ble_device: BLEDevice, services: set[str] | None = None, **keys: Any
    ) -> None:
        super().__init__(
            address_or_ble_device,
            disconnected_callback=keys["disconnected_callback"],
            timeout=keys["timeout"],
        )
        self._connection: Connection | None = None
        self._routes: dict[int, Callable[[bytes], None]] = {}

    @property
    def name(self) -> str:
        return self.address

    @property
    def mtu_size(self) -> int:
        return self._connection.att_mtu if self._connection is not None else 23

    @property
    def is_connected(self) -> bool:
        return self._connection is not None

    async def connect(self, pair: bool, **_: Any) -> None:
        assert not pair, "nothing may be paired by itself"
        connecting = self.device.connect(Address(self.address), transport=PhysicalTransport.LE)
        connection = await asyncio.wait_for(connecting, self._timeout)
        connection.on("disconnection", self._lost)
        self._connection = connection
        peer = Peer(connection)
        await peer.request_mtu(MTU)
        self.services = await self._discovered(peer)

    async def _discovered(self, peer: Peer) -> BleakGATTServiceCollection:
        found = BleakGATTServiceCollection()
        for service in await peer.discover_services():
            held = BleakGATTService(service, service.handle, _uuid(service.uuid))
            found.add_service(held)
            for part in await service.discover_characteristics():
                properties: Any = [name for name, bit in _PROPERTIES.items() if part.properties & bit]
                characteristic = BleakGATTCharacteristic(
                    part, part.handle, _uuid(part.uuid), properties, lambda: self.mtu_size - 3, held
                )
                found.add_characteristic(characteristic)
                for each in await part.discover_descriptors():
                    found.add_descriptor(
                        BleakGATTDescriptor(each, each.handle, _uuid(each.type), characteristic)
                    )
        return found

    def _lost(self, _reason: int) -> None:
        self._connection = None
        self.services = None  # the library's guard reads this
        self._routes.clear()
        if self._disconnected_callback is not None:
            self._disconnected_callback()

    async def disconnect(self) -> None:
        if self._connection is not None:
            await self._connection.disconnect()

    async def pair(self, *_: Any, **__: Any) -> None:
        raise AssertionError("nothing may be paired by itself")

    async def unpair(self) -> None:
        raise AssertionError("nothing may be unpaired by itself")

    async def _asked(self, reply: Any) -> Any:
        if self._connection is None:
            reply.close()
            raise BleakError("Not connected")
        try:
            return await reply
        except ATT_Error as error:
            raise BleakGATTProtocolError(BleakGATTProtocolErrorCode(error.error_code)) from error

    async def read_gatt_char(self, characteristic: BleakGATTCharacteristic, **_: Any) -> bytearray:
        return bytearray(await self._asked(characteristic.obj.read_value()))

    async def read_gatt_descriptor(self, descriptor: BleakGATTDescriptor, **_: Any) -> bytearray:
        return bytearray(await self._asked(descriptor.obj.read_value()))

    async def write_gatt_char(self, *_: Any, **__: Any) -> None:
        raise AssertionError("nothing may be written")

    async def write_gatt_descriptor(self, *_: Any, **__: Any) -> None:
        raise AssertionError("nothing may be written")

    async def start_notify(
        self, characteristic: BleakGATTCharacteristic, callback: Callable[[bytearray], None], **_: Any
    ) -> None:
        def route(payload: bytes) -> None:
            callback(bytearray(payload))

        self._routes[characteristic.handle] = route
        await self._asked(characteristic.obj.subscribe(route, prefer_notify=True))

    async def stop_notify(self, characteristic: BleakGATTCharacteristic) -> None:
        await self._asked(characteristic.obj.unsubscribe(self._routes.pop(characteristic.handle)))
