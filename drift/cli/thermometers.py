"""List the serial ports of this computer, or try one thermometer.

for example:
  drift thermometers
  drift thermometers 'serial:/dev/ttyACM0?baud=115200&query=MEAS:TEMP?'

Good to know:
  An address is serial:PORT (any port or URL that pyserial opens), modbus:PORT, onewire:FILE,
  replay:FILE.csv or simulated:, with options after a question mark. Each line is shown with the
  temperature that was read from it, and the dialect of the lines is named.
"""

from __future__ import annotations

import argparse
import contextlib
from dataclasses import asdict, dataclass, field
from typing import Any

from drift.cli.options import add_json, amount, print_json
from drift.quantities import NUMBER
from sensors.errors import SourceUnavailable
from sensors.reading import Clock, Notice, Sample, Source

__all__ = ["add_arguments", "run"]


@dataclass
class Heard:
    """What a thermometer said while it was listened to."""

    address: str
    name: str
    identity: str = ""
    dialect: str = ""
    temperatures: list[Sample] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)

    def to_json(self) -> dict[str, Any]:
        """Return the JSON object of the command."""
        return {
            "address": self.address,
            "name": self.name,
            "identity": self.identity,
            "dialect": self.dialect,
            "temperatures": [_timed(one) for one in self.temperatures],
            "notices": [_timed(one) for one in self.notices],
        }

    def summary(self) -> str:
        """Return one line for a person."""
        celsius = [one.celsius for one in self.temperatures]
        speaks = f", dialect {self.dialect}" if self.dialect else ""
        return (
            f"{self.name}: {len(celsius)} temperatures, "
            f"{min(celsius):.2f} to {max(celsius):.2f} °C{speaks}"
        )


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("address", nargs="?", metavar="ADDRESS", help="a thermometer to listen to")
    parser.add_argument(
        "--seconds",
        type=amount(NUMBER),
        default=5.0,
        metavar="S",
        help="how long to listen (default 5)",
    )
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """List the ports, or listen to one thermometer."""
    if options.address is None:
        _show_ports(options.json)
        return 0
    from sensors.addresses import open_source
    from sensors.clocks import SystemClock

    clock = SystemClock()
    source = open_source(options.address, clock=clock)
    heard = Heard(options.address, source.name)
    _listen(source, heard, clock, options.seconds, show=not options.json)
    if options.json:
        print_json(heard.to_json())
    if not heard.temperatures:
        raise SourceUnavailable(
            f"{heard.name}: no temperature in {options.seconds:g} s",
            "listen longer with --seconds, or set baud=, dialect= or query= in the address",
        )
    if not options.json:
        print(heard.summary())
    return 0


def _show_ports(as_json: bool) -> None:
    from sensors.ports import serial_ports

    ports = serial_ports()
    if as_json:
        print_json({"ports": [asdict(port) for port in ports]})
    elif not ports:
        print("no serial ports on this machine")
    for port in () if as_json else ports:
        number = f", serial number {port.serial_number}" if port.serial_number else ""
        print(f"serial:{port.device}  {port.description}{number}")


def _listen(source: Source, heard: Heard, clock: Clock, seconds: float, *, show: bool) -> None:
    """Collect what a thermometer says for some seconds, and print it as it comes."""
    # interrupting it is a way of saying that this is enough
    with source, contextlib.suppress(KeyboardInterrupt):
        heard.identity = _identity(source)
        if show and heard.identity:
            print(f"it calls itself {heard.identity}")
        until = clock.monotonic() + seconds
        for item in source:
            if isinstance(item, Sample):
                heard.temperatures.append(item)
            elif isinstance(item, Notice):
                heard.notices.append(item)
            if show and item is not None:
                print(_line(item), flush=True)
            if clock.monotonic() >= until:
                break
    heard.dialect = _dialect(source)


def _line(item: Sample | Notice) -> str:
    if isinstance(item, Notice):
        return f"  {item.kind}: {item.text}" + (f"  [{item.raw}]" if item.raw else "")
    company = f"  {item.humidity_percent:g} %" if item.humidity_percent is not None else ""
    company += f"  {item.pressure_hpa:g} hPa" if item.pressure_hpa is not None else ""
    return f"  {item.celsius:.2f} °C{company}  [{item.raw}]"


def _identity(source: Source) -> str:
    """Return what an instrument that is asked calls itself, empty for all others."""
    from sensors.serial_line import SerialLine

    line = getattr(source, "source", source)
    return line.ask("*IDN?") if isinstance(line, SerialLine) and line.query else ""


def _dialect(source: Source) -> str:
    dialect = getattr(getattr(source, "source", source), "dialect", None)
    return str(dialect.name) if dialect is not None else ""


def _timed(record: Sample | Notice) -> dict[str, Any]:
    return {**asdict(record), "time": record.time.isoformat()}
