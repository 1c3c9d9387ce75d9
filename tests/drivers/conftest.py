"""Peers that several test files of the drivers share."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.drivers.fake_bluez.daemon import WHY_SKIPPED, private_bus

collect_ignore_glob = ["fake_bluez/*", "bumble_peer/*"]
"""Peers: no tests of their own, and their libraries are not on every operating system."""


@pytest.fixture(scope="session")
def _bluetooth_bus() -> Iterator[str]:
    if WHY_SKIPPED:
        pytest.skip(WHY_SKIPPED)
    # A socket's path must be short, so not pytest's own deep folder.
    with tempfile.TemporaryDirectory() as folder, private_bus(Path(folder)) as address:
        yield address


@pytest.fixture
def bluetooth_bus(_bluetooth_bus: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """Put a private message bus in the place of the computer's own; skip where there is none."""
    from bleak.backends.bluezdbus.version import BlueZFeatures

    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", _bluetooth_bus)
    # The library asks the program bluetoothctl for its version once; here there is none to ask.
    monkeypatch.setattr(BlueZFeatures, "checked_bluez_version", True)
    monkeypatch.setattr(BlueZFeatures, "supported_version", True)
    return _bluetooth_bus
