"""A serial port that can be lost and found: opening it, explaining why not, opening it again."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from sensors.errors import AddressError, SourceUnavailable
from sensors.ports import Port, same_device, serial_ports, usb_serial_number
from sensors.reading import Clock

if TYPE_CHECKING:
    import serial

__all__ = ["SerialPort", "explain", "port_errors"]

READ_SECONDS = 0.1  # a read returns after this long, whatever has come
WRITE_SECONDS = 1.0


class SerialPort:
    """A port by its name, open or not.

    Parameters
    ----------
    name : str
        Anything that pyserial opens: ``/dev/ttyUSB0``, ``COM3``, ``socket://host:port``, ...
    clock : Clock
        For the pace of trying again.
    baud : int
        Rate of the line [bit/s].
    frame : str
        Data bits, parity and stop bits: ``8N1``, ``7E1``, ...
    retry_seconds : float
        How often to try to open it again once it is gone [s].
    list_ports : callable
        Gives the ports of the machine, to find a USB device under another name.
    """

    def __init__(
        self,
        name: str,
        clock: Clock,
        *,
        baud: int = 9600,
        frame: str = "8N1",
        retry_seconds: float = 1.0,
        list_ports: Callable[[], Iterable[Port]] = serial_ports,
    ) -> None:
        self.name = name
        self.baud = baud
        self.frame = _frame(frame)
        self.line: serial.SerialBase | None = None
        self.retry_seconds = retry_seconds
        self._clock = clock
        self._list_ports = list_ports
        self._serial_number = ""
        self._retry_at = 0.0

    def open(self) -> None:
        """Open the port, for this program alone, and remember its USB serial number.

        Raises
        ------
        AddressError
            If the name or the rate can never work.
        SourceUnavailable
            If the port cannot be opened now.
        """
        self.line = self._opened(self.name)
        if "://" not in self.name:
            self._serial_number = usb_serial_number(self.name, self._list_ports())

    def close(self) -> None:
        """Close the port; it may be opened again at once."""
        if self.line is not None:
            with contextlib.suppress(*port_errors()):
                self.line.close()
        self.line = None

    def lost(self) -> None:
        """Close the port because its device is gone."""
        self.close()
        self._retry_at = self._clock.monotonic() + self.retry_seconds

    def reopen(self) -> bool:
        """Open the port again if it is time, under the name that its device has now."""
        if self._clock.monotonic() < self._retry_at:
            return False
        self._retry_at = self._clock.monotonic() + self.retry_seconds
        ports = self._list_ports() if self._serial_number else ()
        name = same_device(self.name, self._serial_number, ports)
        if name is None:
            return False
        try:
            self.line = self._opened(name)
        except (AddressError, SourceUnavailable):
            return False
        self.name = name
        return True

    def _opened(self, name: str) -> serial.SerialBase:
        import serial

        bits, parity, stop = self.frame
        try:
            return serial.serial_for_url(
                name,
                baudrate=self.baud,
                bytesize=bits,
                parity=parity,
                stopbits=stop,
                timeout=READ_SECONDS,
                write_timeout=WRITE_SECONDS,
                exclusive=True,
            )
        except (ValueError, LookupError) as error:  # pyserial stumbles over its own message
            raise AddressError(
                f"{name} is no address of pyserial: {error}",
                "give a port, a URL of pyserial, and a usual baud rate",
            ) from None
        except port_errors() as error:
            raise explain(error, name) from None


def explain(error: BaseException, port: str) -> SourceUnavailable:
    """Return in words why a port cannot be opened, and what to do.

    Parameters
    ----------
    error : BaseException
        What the system said.
    port : str
        The port's name.
    """
    code, said = getattr(error, "errno", None), str(error)
    if code in {errno.EACCES, errno.EPERM} and os.name == "posix":
        group = _group_of(port)
        return SourceUnavailable(
            f"{port}: permission denied",
            f"join the group {group} (sudo usermod -a -G {group} $USER) and log in again",
        )
    if code in {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK} or "PermissionError" in said:
        return SourceUnavailable(
            f"{port} is held by another program", "close the program that reads it, and try again"
        )
    if code == errno.ENOENT or "FileNotFoundError" in said:
        return SourceUnavailable(
            f"{port} does not exist", "plug it in, or see `drift thermometers` for the ports"
        )
    return SourceUnavailable(
        f"{port} cannot be opened: {said}", "see `drift thermometers` for the ports there are"
    )


def port_errors() -> tuple[type[Exception], ...]:
    """Return what a port can fail with; the error of termios is no OSError."""
    try:
        import termios
    except ImportError:
        return (OSError,)
    return (OSError, termios.error)


def _group_of(port: str) -> str:
    """Return the group that may use a port (``dialout`` where the system does not tell)."""
    try:
        import grp

        return grp.getgrgid(os.stat(port).st_gid).gr_name
    except (ImportError, KeyError, OSError):
        return "dialout"


def _frame(frame: str) -> tuple[int, str, float]:
    """Return data bits, parity and stop bits of ``8N1``."""
    bits, parity, stop = frame[:1], frame[1:2].upper(), frame[2:]
    known = bits in {"5", "6", "7", "8"} and parity in set("NEOMS")
    if not known or stop not in {"1", "1.5", "2"}:
        raise AddressError(
            f"frame={frame!r} is no frame", "write data bits, parity, stop bits: 8N1 or 7E1"
        )
    return int(bits), parity, float(stop)
