"""Addresses: a line of text to a source, so that users name a thermometer in one word."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from sensors.errors import AddressError
from sensors.reading import Clock, Source

__all__ = ["open_source"]

Options = Mapping[str, str]

LINE = {"baud", "frame", "poll", "silence"}
EVERY = {"name", "response_seconds", "response_minutes"}

PLACES = {"serial": "port", "modbus": "port", "onewire": "file", "replay": "file"}

SCHEMES = {
    "serial": EVERY | LINE | {"dialect", "column", "key", "pattern", "unit", "query"},
    "modbus": EVERY | LINE | {"unit", "function", "register", "type", "order", "scale", "offset"},
    "onewire": EVERY | {"poll", "silence"},
    "replay": EVERY | {"speed", "times", "source"},
    "simulated": EVERY | {"seed", "celsius", "rise", "minutes", "every"},
    "manual": {"name"},
}


def open_source(address: str, *, clock: Clock, name: str = "") -> Source:
    """Return the source that an address names; it is opened when it is entered.

    Parameters
    ----------
    address : str
        ``SCHEME:WHERE?option=value&option=value``; percent-encoding (``%26`` for ``&``) is
        decoded, everything else stands as it is.
    clock : Clock
        Handed to the source.
    name : str
        The name of the thermometer where the address does not say one.

    Raises
    ------
    AddressError
        If the address names no source, or an option that the source does not have.

    Examples
    --------
    >>> from sensors.clocks import SystemClock
    >>> open_source("serial:/dev/ttyUSB0?baud=4800&name=stage", clock=SystemClock()).name
    'stage'
    """
    scheme, where, options = split(address)
    makers: dict[str, Callable[[str, Clock, Options], Source]] = {
        "serial": _serial,
        "modbus": _modbus,
        "onewire": _onewire,
        "replay": _replay,
        "simulated": _simulated,
        "manual": _manual,
    }
    source = makers[scheme](where, clock, {"name": name, **options})
    minutes = _number(options, "response_minutes", 0.0)
    response_seconds = 60.0 * minutes or _number(options, "response_seconds", 0.0)
    if response_seconds == 0.0:
        return source
    from sensors.response import Slow

    return Slow(source, response_seconds)


def split(address: str) -> tuple[str, str, dict[str, str]]:
    """Return scheme, place and options of an address, all checked by name."""
    from urllib.parse import unquote

    scheme, colon, rest = address.partition(":")
    if not colon or scheme not in SCHEMES:
        looks_like_port = address.startswith("/dev/") or address.upper().startswith("COM")
        meant = f"did you mean serial:{address}? " if looks_like_port else ""
        raise AddressError(
            f"no thermometer address: {address!r}",
            f"{meant}start it with {', '.join(f'{known}:' for known in SCHEMES)}",
        )
    where, _, query = rest.partition("?")
    if not where and scheme in PLACES:
        example = "/dev/ttyUSB0" if PLACES[scheme] == "port" else "path/of/the/file"
        raise AddressError(
            f"{address!r} names no {PLACES[scheme]}", f"write for example {scheme}:{example}"
        )
    options, others = {}, []
    for part in query.split("&") if query else []:
        option, equals, value = part.partition("=")
        if equals and option in SCHEMES[scheme]:
            options[option] = unquote(value)
        elif "://" in where:
            others.append(part)  # an option of pyserial's own
        else:
            raise AddressError(
                f"{scheme}: has no option {part!r}", _options_like(option, SCHEMES[scheme])
            )
    return scheme, where + ("?" + "&".join(others) if others else ""), options


def _options_like(option: str, known: set[str]) -> str:
    import difflib

    near = difflib.get_close_matches(option, known, n=1)
    meant = f"did you mean {near[0]}? " if near else ""
    return f"{meant}its options are {', '.join(sorted(known))}"


def _number(options: Options, option: str, default: float, least: float = 0.0) -> float:
    text = options.get(option, "")
    try:
        number = float(text) if text else default
    except ValueError:
        number = float("nan")
    if not number >= least or not (math.isfinite(number) or option == "speed"):
        raise AddressError(
            f"{option}={text} is no number of at least {least:g}",
            f"write for example {option}={default:g}",
        )
    return number


def _whole(options: Options, option: str, default: int, least: int = 0) -> int:
    number = _number(options, option, default, least)
    if number != int(number):
        raise AddressError(f"{option}={number:g} is no whole number", f"write {option}={default}")
    return int(number)


def _serial(where: str, clock: Clock, options: Options) -> Source:
    from sensors.detection import choose
    from sensors.quantities import unit_of
    from sensors.serial_line import SerialLine

    try:
        unit = unit_of(options.get("unit", "C"))
    except ValueError:
        raise AddressError(f"unit={options['unit']} is no unit", "write unit=C, F or K") from None
    dialect = choose(
        options.get("dialect", "auto"),
        column=options.get("column", ""),
        key=options.get("key", ""),
        expression=options.get("pattern", ""),
        unit=unit,
    )
    return SerialLine(
        where,
        dialect,
        clock,
        name=options["name"],
        baud=_whole(options, "baud", 9600, 50),
        frame=options.get("frame", "8N1"),
        query=options.get("query", ""),
        poll_seconds=_number(options, "poll", 2.0, 0.05),
        silence_seconds=_number(options, "silence", 60.0, 0.1),
    )


def _modbus(where: str, clock: Clock, options: Options) -> Source:
    from sensors.modbus import Modbus, Register

    register = Register(
        address=_whole(options, "register", 0),
        function=_whole(options, "function", 4),
        type=options.get("type", "int16"),
        order=options.get("order", "big"),
        scale=_number(options, "scale", 0.1, -math.inf),
        offset=_number(options, "offset", 0.0, -math.inf),
    )
    return Modbus(
        where,
        register,
        clock,
        unit=_whole(options, "unit", 1),
        name=options["name"],
        baud=_whole(options, "baud", 9600, 50),
        frame=options.get("frame", "8N1"),
        poll_seconds=_number(options, "poll", 2.0, 0.05),
        silence_seconds=_number(options, "silence", 60.0, 0.1),
    )


def _onewire(where: str, clock: Clock, options: Options) -> Source:
    from sensors.onewire import OneWire

    return OneWire(
        where,
        clock,
        name=options["name"],
        poll_seconds=_number(options, "poll", 2.0, 0.05),
        silence_seconds=_number(options, "silence", 60.0, 0.1),
    )


def _manual(where: str, clock: Clock, options: Options) -> Source:
    from sensors.manual import Manual

    return Manual(clock, name=options["name"] or where or "typed")


def _replay(where: str, clock: Clock, options: Options) -> Source:
    from sensors.replay import Replay

    times = options.get("times", "now")
    if times not in {"now", "recorded"}:
        raise AddressError(f"times={times}", "use times=now or times=recorded")
    return Replay(
        where,
        clock,
        name=options["name"],
        speed=_number(options, "speed", 1.0, 1e-6),
        recorded_times=times == "recorded",
        only=options.get("source", ""),
    )


def _simulated(where: str, clock: Clock, options: Options) -> Source:
    from sensors.simulated import Simulated

    if where:
        raise AddressError(f"simulated: names no place: {where!r}", "write simulated:?seed=1")
    return Simulated(
        clock,
        name=options["name"] or "simulated",
        seed=_whole(options, "seed", 0),
        celsius=_number(options, "celsius", 20.0, -40.0),
        rise=_number(options, "rise", 3.0, -40.0),
        minutes=_number(options, "minutes", 30.0, 0.1),
        every=_number(options, "every", 1.0, 0.01),
    )
