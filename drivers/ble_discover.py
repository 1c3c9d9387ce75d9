"""Bluetooth devices that are heard and that evenrun may be able to read; nothing is sent to any of them."""

from __future__ import annotations

import asyncio
import fnmatch
from collections.abc import AsyncIterator
from typing import TYPE_CHECKING

from drivers import bthome
from drivers.arrivals import Arrivals
from drivers.base import Clock, DriverError, Found, ProfileError, Timing
from drivers.bluetooth_hub import BluetoothHub, Heard
from drivers.bthome_objects import OBJECTS
from drivers.gatt_layout import Layout
from drivers.gatt_profile import same_uuid
from drivers.gatt_session import GattSession
from drivers.gatt_values import long_uuid
from drivers.profile import Profile, find_profile, shipped_profiles

if TYPE_CHECKING:
    from drivers.registry import Context

_BTHOME = long_uuid(bthome.SERVICE)
#: Advertised service -> what it says, and how sure that makes us.
_SERVICES: dict[int, tuple[str, float]] = {
    0x181A: ("environmental sensing", 0.9),
    0x1809: ("health thermometer", 0.8),
    0x180F: ("battery level only", 0.2),
}


async def discover_gatt(context: Context, seconds: float) -> AsyncIterator[Found]:
    """Yield devices that advertise a service, or a name, which evenrun or a profile knows."""
    profiles = _profiles("ble_gatt")
    async for heard in _heard(context, seconds):
        advert = heard.advert
        fitting = tuple(p.name for p in profiles if _fits(p, heard))
        known = [
            words
            for number, words in _SERVICES.items()
            if any(same_uuid(f"{number:04x}", uuid) for uuid in advert.service_uuids)
        ]
        if not (known or fitting):
            continue
        evidence = ", ".join(text for text, _ in known) or "its name fits a profile"
        confidence = max([sure for _, sure in known] + [0.7 if fitting else 0.0])
        yield Found(
            "ble_gatt", heard.device.address, _label(heard), evidence, confidence, fitting, _strength(heard)
        )


async def discover_broadcast(context: Context, seconds: float) -> AsyncIterator[Found]:
    """Yield devices that broadcast BTHome, with what they say at the moment."""
    profiles = _profiles("ble_broadcast")
    async for heard in _heard(context, seconds):
        payload = heard.advert.service_data.get(_BTHOME)
        if payload is None:
            continue
        fitting = tuple(p.name for p in profiles if _fits(p, heard))
        said = bthome.decode(bytes(payload))
        evidence = said.text if isinstance(said, bthome.Refused) else _values(said)
        yield Found(
            "ble_broadcast", heard.device.address, _label(heard), evidence, 0.9, fitting, _strength(heard)
        )


async def look_inside(hub: BluetoothHub, address: str, clock: Clock, timing: Timing) -> Layout:
    """Connect once and list what a device offers; services that are not advertised only show this way.

    Raises
    ------
    DriverError
        If it cannot be connected.
    """
    await hub.find(address, address)
    arrivals = Arrivals()
    async with hub.link(address, address, lambda: None) as client:
        layout, _identity = await GattSession(address, hub, client, arrivals, clock, timing).learn(None)
    arrivals.close()
    return layout


async def _heard(context: Context, seconds: float) -> AsyncIterator[Heard]:
    """Yield each device once: when its name has come too, or has had time to come, or at the end."""
    hub = BluetoothHub.of(context)
    await hub.start()
    newest: dict[str, Heard] = {}
    told: set[str] = set()
    failure: list[DriverError] = []
    loop = asyncio.get_running_loop()
    end = loop.time() + seconds
    with hub.listening(None, lambda item: newest.update({item.device.address: item}), failure.append):
        while loop.time() < end:
            waited = set(newest)
            await asyncio.sleep(min(1.0, max(end - loop.time(), 0.0)))
            if failure:
                raise failure[0]
            for address, item in list(newest.items()):
                named = item.device.name is not None
                if address not in told and (named or address in waited or loop.time() >= end):
                    told.add(address)
                    yield item


def _profiles(kind: str) -> list[Profile]:
    found = []
    for name in shipped_profiles():
        try:
            profile = find_profile(name)
        except ProfileError:
            continue  # told when it is asked for by its name
        if profile.kind == kind:
            found.append(profile)
    return found


def _fits(profile: Profile, heard: Heard) -> bool:
    name = heard.advert.local_name or heard.device.name or ""
    by_name = any(fnmatch.fnmatchcase(name, pattern) for pattern in profile.match.names)
    by_service = any(
        same_uuid(service, uuid) for service in profile.match.services for uuid in heard.advert.service_uuids
    )
    return by_name or by_service


def _label(heard: Heard) -> str:
    return heard.advert.local_name or heard.device.name or "without a name"


def _strength(heard: Heard) -> float | None:
    """Give the received strength; 127 and -127 dBm stand for one that the system does not know."""
    return float(heard.advert.rssi) if abs(heard.advert.rssi) < 127 else None


def _values(frame: bthome.Frame) -> str:
    said = [
        f"{name.replace('_', ' ')} {part.value:g} {OBJECTS[part.number].unit}"
        for name, part in frame.measurements()
        if part.value is not None
    ]
    return ", ".join(said) or "broadcasts no measurement"
