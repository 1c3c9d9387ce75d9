"""What went wrong with Bluetooth, in one plain sentence with the way out, per operating system."""

from __future__ import annotations

import re
from typing import Literal

from drivers.base import DriverError, LinkLostError, NeedsPersonError

Trouble = Literal["off", "denied", "absent", "no_central", "unknown"]

NOBODY_HEARD = (
    "Bluetooth has heard no device at all for a while: if probes are on and near, "
    "switch Bluetooth off and on again."
)
_WHERE_OFF = {
    "Linux": "switch it on in the system's settings or with 'bluetoothctl power on'",
    "Windows": "switch it on in Settings, Bluetooth and devices, and leave flight mode",
    "Darwin": "switch it on in System Settings, Bluetooth",
}
_WHERE_DENIED = {
    "Linux": "add this user to the group 'bluetooth' and log in again",
    "Windows": "allow it in Settings, Privacy and security, for desktop programs",
    "Darwin": "allow it for this program, or for the terminal that starts it, in System Settings, "
    "Privacy and Security, Bluetooth, and start again",
}
_WHERE_ABSENT = {
    "Linux": "plug in an adapter, and start the service with 'sudo systemctl start bluetooth'",
    "Windows": "plug in an adapter, and look for it in the Device Manager",
    "Darwin": "plug in an adapter or restart the computer",
}

_PAIRING_CODES = (0x05, 0x08, 0x0C, 0x0F)
"""Insufficient authentication, authorisation, key size, encryption (Core Specification, Vol 3 F 3.4.1.1)."""
_NOT_FOUND = re.compile("device '.*' not found")
_LINK_GONE = re.compile(
    "^Not connected|^Service Discovery has not been performed|disconnected", re.IGNORECASE
)
_DBUS_DENIED = ("AccessDenied", "NotPermitted")
_DBUS_ABSENT = ("ServiceUnknown", "NameHasNoOwner", "NoReply", "Disconnected")
_DBUS_PAIRING = ("AuthenticationFailed", "AuthenticationRejected", "AuthenticationCanceled", "NotAuthorized")


def not_available(trouble: Trouble, system: str) -> NeedsPersonError:
    """Say why Bluetooth cannot be used and what to do.

    Examples
    --------
    >>> print(not_available("off", "Darwin"))
    Bluetooth is off: switch it on in System Settings, Bluetooth.
    """
    if trouble == "off":
        return NeedsPersonError(f"Bluetooth is off: {_WHERE_OFF.get(system, 'switch it on')}.")
    if trouble == "denied":
        where = _WHERE_DENIED.get(system, "allow it in the system's settings")
        return NeedsPersonError(f"This program may not use Bluetooth: {where}.")
    if trouble == "no_central":
        return NeedsPersonError("This computer's Bluetooth adapter is too old for probes: plug in another.")
    if trouble == "absent":
        where = _WHERE_ABSENT.get(system, "plug in an adapter")
        return NeedsPersonError(f"This computer has no Bluetooth that works: {where}.")
    return NeedsPersonError("Bluetooth cannot be used: switch it off and on again, or restart the computer.")


def explain(error: Exception, who: str, system: str) -> DriverError:
    """Turn what the Bluetooth library raised into a sentence for a person.

    Parameters
    ----------
    error : Exception
        As raised; an error of ours is given back unchanged.
    who : str
        How the person calls the device, or "Bluetooth" for the adapter itself.
    system : str
        ``Linux``, ``Windows`` or ``Darwin``.

    Returns
    -------
    DriverError
        :class:`NeedsPersonError` where trying again cannot help, else :class:`LinkLostError`.
    """
    from bleak import exc

    if isinstance(error, DriverError):
        return error
    if isinstance(error, exc.BleakBluetoothNotAvailableError):
        return not_available(_trouble(error.reason.name), system)
    if isinstance(error, exc.BleakGATTProtocolError):
        if int(error.code) in _PAIRING_CODES:
            return _pair_first(who, system)
        return LinkLostError(f"{who} refused a request ({_short(error.args[-1])}).")
    if isinstance(error, exc.BleakDeviceNotFoundError) or _NOT_FOUND.fullmatch(str(error)):
        return _gone(who)
    if isinstance(error, TimeoutError):
        return _no_answer(who, system)
    if _LINK_GONE.search(str(error)):
        return LinkLostError(f"The link to {who} broke off.")
    if isinstance(error, exc.BleakDBusError):
        return _from_dbus(error.dbus_error, str(error), who, system)
    if isinstance(error, PermissionError):
        return not_available("denied", system)
    if isinstance(error, FileNotFoundError | ConnectionRefusedError):
        return not_available("absent", system)
    if "BlueZ >= " in str(error):
        return NeedsPersonError(f"This computer's Bluetooth software is too old ({_short(str(error))})")
    return LinkLostError(f"The link to {who} failed ({_short(str(error)) or type(error).__name__}).")


def _trouble(reason: str) -> Trouble:
    if reason.startswith("DENIED"):
        return "denied"
    known: dict[str, Trouble] = {
        "POWERED_OFF": "off",
        "NO_BLUETOOTH": "absent",
        "NO_BLE_CENTRAL_ROLE": "no_central",
    }
    return known.get(reason, "unknown")


def _from_dbus(name: str, text: str, who: str, system: str) -> DriverError:
    kind = name.rsplit(".", 1)[-1]
    if kind in _DBUS_PAIRING:
        return _pair_first(who, system)
    if kind in _DBUS_DENIED:
        return not_available("denied", system)
    if kind in _DBUS_ABSENT:
        return not_available("absent", system)
    if kind == "NotReady":
        return not_available("off", system)
    if kind == "UnknownObject":
        return _gone(who)
    if kind == "InProgress":
        return LinkLostError(
            f"{who} is busy with another program: close it, or switch Bluetooth off and on again."
        )
    if "abort" in text or "timeout" in text:
        return LinkLostError(f"The link to {who} broke off while it was made: too far away, or radio noise.")
    return LinkLostError(f"The link to {who} failed ({_short(text)}).")


def _gone(who: str) -> LinkLostError:
    return LinkLostError(f"{who} is no longer heard; waiting for it to show itself again.")


def _pair_first(who: str, system: str) -> NeedsPersonError:
    where = "Bluetooth and devices" if system == "Windows" else "the system's Bluetooth settings"
    return NeedsPersonError(f"{who} wants to be paired first: pair it in {where}, then start again.")


def _no_answer(who: str, system: str) -> LinkLostError:
    also = ", and remove it from the system's Bluetooth list" if system == "Windows" else ""
    return LinkLostError(
        f"{who} did not answer in time: bring it near, close any program or phone that uses it{also}."
    )


def _short(text: str) -> str:
    return " ".join(text.split())[:90].rstrip(".")
