"""A transmitter on a Modbus RTU line, asked for one register every few seconds.

There is no map of registers that all makers follow: function, register, type, scale and word
order stand in the maker's sheet, and are settings here. Needs the extra ``modbus``.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Self

from sensors.errors import AddressError, LineRefused, SourceUnavailable
from sensors.notices import Presence, Refusals
from sensors.polling import every
from sensors.ports import Port, serial_ports
from sensors.quantities import measured
from sensors.reading import Clock, Notice, Sample
from sensors.serial_port import SerialPort, port_errors

if TYPE_CHECKING:
    import minimalmodbus

__all__ = ["Modbus", "Register"]

TYPES = ("int16", "uint16", "int32", "uint32", "float32")
ORDERS = ("big", "little", "big-swap", "little-swap")
ANSWER_SECONDS = 0.4


@dataclass(frozen=True, slots=True)
class Register:
    """Where a temperature is found, and how it is written there.

    Attributes
    ----------
    address : int
        Number of the register in the telegram, from 0 (many sheets count from 1, or write
        30001 for the first input register).
    function : int
        3 for a holding register, 4 for an input register.
    type : str
        ``int16``, ``uint16``, ``int32``, ``uint32`` or ``float32``.
    order : str
        Order of the bytes of the 32-bit types: ``big`` (ABCD), ``little`` (DCBA), ``big-swap``
        (BADC) or ``little-swap`` (CDAB).
    scale, offset : float
        Temperature [°C] = number times ``scale`` plus ``offset``.

    Raises
    ------
    AddressError
        If a setting is none of these.
    """

    address: int = 0
    function: int = 4
    type: str = "int16"
    order: str = "big"
    scale: float = 0.1
    offset: float = 0.0

    def __post_init__(self) -> None:
        for setting, value, known in (
            ("function", self.function, (3, 4)),
            ("type", self.type, TYPES),
            ("order", self.order, ORDERS),
        ):
            if value not in known:
                raise AddressError(
                    f"{setting}={value} is not possible",
                    f"use {' or '.join(str(one) for one in known)}",
                )
        if not 0 <= self.address <= 0xFFFF:
            raise AddressError(f"register={self.address}", "registers run from 0 to 65535")

    def read(self, instrument: minimalmodbus.Instrument) -> float:
        """Return the number in the register, before scale and offset."""
        if self.type == "float32":
            return float(
                instrument.read_float(self.address, self.function, 2, ORDERS.index(self.order))
            )
        signed = self.type.startswith("int")
        if self.type.endswith("16"):
            return float(instrument.read_register(self.address, 0, self.function, signed))
        return float(
            instrument.read_long(self.address, self.function, signed, ORDERS.index(self.order))
        )


class Modbus:
    """A transmitter of temperature on a Modbus RTU line.

    Parameters
    ----------
    port : str
        Anything that pyserial opens.
    register : Register
        Where the temperature is.
    clock : Clock
        For the time of each temperature.
    unit : int
        Address of the transmitter on the line, 1 to 247.
    name : str
        The name of the thermometer.
    baud, frame, retry_seconds, list_ports
        As for `sensors.serial_port.SerialPort`.
    poll_seconds : float
        How often to ask [s].
    silence_seconds : float
        After how long without a temperature it counts as away [s].
    sleep : callable
        How to wait, given seconds.

    References
    ----------
    Modbus Organization, MODBUS over Serial Line, Specification and Implementation Guide V1.02,
    2006 (the frames are made by the library minimalmodbus).
    """

    def __init__(
        self,
        port: str,
        register: Register,
        clock: Clock,
        *,
        unit: int = 1,
        name: str = "",
        baud: int = 9600,
        frame: str = "8N1",
        poll_seconds: float = 2.0,
        silence_seconds: float = 60.0,
        retry_seconds: float = 1.0,
        list_ports: Callable[[], Iterable[Port]] = serial_ports,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        if not 1 <= unit <= 247:
            raise AddressError(f"unit={unit} is no Modbus address", "use 1 to 247")
        self.register = register
        self.clock = clock
        self.unit = unit
        self.name = name or f"{port} unit {unit}"
        self.poll_seconds = poll_seconds
        self._sleep = sleep
        self._port = SerialPort(
            port, clock, baud=baud, frame=frame, retry_seconds=retry_seconds, list_ports=list_ports
        )
        self._instrument: Any = None
        self._presence = Presence(self.name, clock, silence_seconds)
        self._refusals = Refusals(self.name, clock)

    def __enter__(self) -> Self:
        """Open the port."""
        _library()
        self._port.open()
        self._attach()
        return self

    def __exit__(self, *error: object) -> None:
        """Close the port."""
        self._port.close()

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield a temperature every so often, None in between."""
        return every(self.poll_seconds, self._ask, self.clock, self._sleep)

    def _attach(self) -> None:
        if self._port.line is not None:
            self._port.line.timeout = ANSWER_SECONDS
            self._instrument = _library().Instrument(self._port.line, self.unit)

    def _ask(self) -> Iterator[Sample | Notice]:
        if self._port.line is None:
            if not self._port.reopen():
                return
            self._attach()
        library = _library()
        try:
            number = self.register.read(self._instrument)
            raw = f"function {self.register.function} register {self.register.address}: {number:g}"
            found = measured(number * self.register.scale + self.register.offset, raw)
        except LineRefused as refusal:
            yield from self._refusals.notice(refusal)
            yield from self._presence.waiting("what it says cannot be taken")
        except library.NoResponseError:
            yield from self._presence.waiting(f"unit {self.unit} does not answer")
        except library.ModbusException as error:
            yield from self._refusals.notice(_refused(error, self.register))
            yield from self._presence.waiting("its answers cannot be taken")
        except port_errors():
            self._port.lost()
            yield from self._presence.gone(f"{self._port.name} is gone (unplugged?)")
        else:
            yield from self._presence.here()
            yield Sample(self.clock.now(), found.celsius, source=self.name, raw=raw)


def _refused(error: Exception, register: Register) -> LineRefused:
    """Return in words what is wrong with an answer."""
    if isinstance(error, _library().IllegalRequestError):
        return LineRefused(
            f"the transmitter has no register {register.address} for function {register.function}",
            "compare register= and function= with its sheet; many sheets count from 1",
        )
    return LineRefused(f"a damaged answer: {error}", "check the cable, baud= and frame=")


def _library() -> Any:
    try:
        import minimalmodbus
    except ImportError:
        raise SourceUnavailable(
            "the library minimalmodbus is not installed",
            "install the extra: pip install 'rehearsal-drift[modbus]'",
        ) from None
    return minimalmodbus
