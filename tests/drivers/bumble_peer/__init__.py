"""Real ATT and GATT bytes without a radio: a virtual peripheral and a central on a software link.

The library's own backends are replaced, so this shows the protocol side (long reads, MTU, subscriptions,
disconnection), not the shipped parts for an operating system; those run against the fake service.
"""

from tests.drivers.bumble_peer.central import BumbleRadio
from tests.drivers.bumble_peer.peripheral import VirtualPeripheral

__all__ = ["BumbleRadio", "VirtualPeripheral"]
