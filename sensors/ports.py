"""The serial ports of this machine, and finding a thermometer again under another name."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["Port", "same_device", "serial_ports", "usb_serial_number"]


@dataclass(frozen=True, slots=True)
class Port:
    """One serial port.

    Attributes
    ----------
    device : str
        The name to open it by, such as ``/dev/ttyUSB0`` or ``COM3``.
    description : str
        What the system says about it.
    serial_number : str
        The serial number of a USB device; empty where the system gives none.
    """

    device: str
    description: str = ""
    serial_number: str = ""


def serial_ports() -> tuple[Port, ...]:
    """Return the serial ports that the system knows, in the order of their names."""
    from serial.tools.list_ports import comports

    found = (
        Port(port.device, port.description or "", port.serial_number or "") for port in comports()
    )
    return tuple(sorted(found, key=lambda port: port.device))


def usb_serial_number(port: str, ports: Iterable[Port]) -> str:
    """Return the USB serial number behind the name of a port, or an empty text."""
    names = {port, os.path.realpath(port)}
    return next((known.serial_number for known in ports if known.device in names), "")


def same_device(port: str, serial_number: str, ports: Iterable[Port]) -> str | None:
    """Return the name under which a thermometer can be opened now.

    Parameters
    ----------
    port : str
        The name under which it was opened first.
    serial_number : str
        Its USB serial number; empty where there was none.
    ports : iterable of Port
        The ports there are now.

    Returns
    -------
    str or None
        None if another device has taken the name.

    Examples
    --------
    >>> same_device("/dev/ttyUSB0", "A7", [Port("/dev/ttyUSB1", "", "A7")])
    '/dev/ttyUSB1'
    """
    if not serial_number:
        return port
    known = tuple(ports)
    moved = [other.device for other in known if other.serial_number == serial_number]
    if moved:
        return port if os.path.realpath(port) in moved or port in moved else moved[0]
    return None if usb_serial_number(port, known) else port
