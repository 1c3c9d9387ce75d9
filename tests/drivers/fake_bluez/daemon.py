"""A message bus of our own: nothing of the computer's real Bluetooth is touched."""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

_CONFIGURATION = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path={socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
  </policy>
</busconfig>
"""


def _why_skipped() -> str:
    if sys.platform != "linux":
        return "the fake Bluetooth service needs Linux"
    if shutil.which("dbus-daemon") is None:
        return "dbus-daemon is not installed (Debian package dbus-daemon)"
    return ""


WHY_SKIPPED = _why_skipped()
"""Empty where the peer can run."""


@contextlib.contextmanager
def private_bus(folder: Path) -> Iterator[str]:
    """Run a message bus; gives its address, to be set as ``DBUS_SYSTEM_BUS_ADDRESS``."""
    configuration = folder / "bus.conf"
    configuration.write_text(_CONFIGURATION.format(socket=folder / "bus"))
    command = [
        "dbus-daemon",
        f"--config-file={configuration}",
        "--nofork",
        "--nopidfile",
        "--print-address=1",
    ]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as daemon:
        assert daemon.stdout is not None
        try:
            yield daemon.stdout.readline().strip()  # printed when it is ready
        finally:
            daemon.terminate()
