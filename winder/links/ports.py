"""The serial ports that are here, found without opening one.

Opening a port resets many boards, so looking for ports must never open them. The names below
``/dev/serial/by-id`` stay the same when boards are plugged in in another order, so they are told
first.
"""

from __future__ import annotations

import os
from pathlib import Path

from serial.tools import list_ports

from firmware_protocol.records import dataclass

BY_ID = Path("/dev/serial/by-id")


@dataclass(frozen=True, slots=True)
class PortFound:
    device: str  # "/dev/ttyACM0", "COM3"
    lasting_name: str  # below /dev/serial/by-id, or "" where there is none
    description: str  # what the system says of it, plain text from outside

    @property
    def best_name(self) -> str:
        return self.lasting_name or self.device


def ports_found(by_id: Path = BY_ID) -> list[PortFound]:
    """Every serial port the system knows, by name; opens none of them."""
    lasting = _lasting_names(by_id)
    found = [
        PortFound(port.device, lasting.pop(os.path.realpath(port.device), ""), port.description)
        for port in list_ports.comports()
    ]
    # Adapters that pyserial does not list still have a lasting name.
    found += [PortFound(device, name, "") for device, name in lasting.items()]
    return sorted(found, key=lambda port: port.best_name)


def lasting_name(port: str, by_id: Path = BY_ID) -> str:
    """The name under which this port comes back when it is unplugged and plugged in again.

    That is a link to a device if one was given, else the device's link below ``by_id``, else the port.
    """
    device = os.path.realpath(port)
    if device != os.path.abspath(port):
        return port
    return _lasting_names(by_id).get(device, port)


def names_of(port: str, by_id: Path = BY_ID) -> list[str]:
    """Every name of a port that another program may know it by; each once."""
    device = os.path.realpath(port)
    return list(
        dict.fromkeys((device, os.path.abspath(port), _lasting_names(by_id).get(device, device)))
    )


def _lasting_names(by_id: Path) -> dict[str, str]:
    """The lasting name of each device path."""
    try:
        links = sorted(by_id.iterdir())
    except OSError:
        return {}
    return {os.path.realpath(link): str(link) for link in links}
