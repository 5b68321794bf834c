"""Dialects: one line of text from a thermometer to what it measured.

A dialect is something with a ``name`` and a call ``(line) -> Measured | None``: None for a line
that belongs to the dialect but carries no temperature (a header, a sentence about position),
`LineRefused` for one that cannot be read. Nothing here opens, waits or looks at a clock.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from sensors.errors import AddressError, LineRefused
from sensors.fields import FAHRENHEIT, USUAL, called, company, from_names, number, words
from sensors.quantities import NUMBER, UNIT, Measured, measured, quantity

__all__ = [
    "LONGEST_LINE",
    "Csv",
    "Dialect",
    "Named",
    "json_line",
    "key_value",
    "pattern",
    "plain",
]

LONGEST_LINE = 1024  # characters; no thermometer says more at once


class Dialect(Protocol):
    """A way of writing temperatures."""

    @property
    def name(self) -> str:
        """Name by which a user chooses it."""

    def __call__(self, line: str) -> Measured | None:
        """Read one line."""


@dataclass(frozen=True, slots=True)
class Named:
    """A pure function of a line, with the name of its dialect."""

    name: str
    parse: Callable[[str], Measured | None]

    def __call__(self, line: str) -> Measured | None:
        """Read one line."""
        return self.parse(line)


def plain(line: str, unit: str = "C") -> Measured:
    """Read a line that is one number, with or without a unit.

    Parameters
    ----------
    line : str
        Such as ``21.5``, ``+21.5 °C`` or ``70.7F``.
    unit : str
        ``C``, ``F`` or ``K``, for lines without one.

    Returns
    -------
    Measured
        The temperature [°C].

    Raises
    ------
    LineRefused
        If the line is anything else, or no temperature of air.

    Examples
    --------
    >>> plain("70.7 °F").celsius
    21.5
    """
    return measured(quantity(_short(line), line, unit), line)


_PAIR = re.compile(
    r"[\s,;]*(?P<key>[A-Za-z][\w.-]*(?: [A-Za-z][\w.-]*)*)\s*[=:]\s*"
    rf"(?P<value>(?:{NUMBER})\s*(?:{UNIT}|%(?:\s?RH)?|hPa|mbar|Pa)?(?=[\s,;]|$)|[^\s,;=]+)",
    re.IGNORECASE | re.ASCII,
)


def key_value(line: str, key: str = "", unit: str = "C") -> Measured | None:
    """Read a line of ``key=value`` or ``key: value`` pairs.

    Parameters
    ----------
    line : str
        Such as ``T=21.5`` or ``temp: 70.7 °F, humidity: 48 %``.
    key : str
        Which key holds the temperature; empty for the usual ones.
    unit : str
        The unit where neither the key nor the value says one.

    Returns
    -------
    Measured or None
        None if the pairs hold no temperature.

    Raises
    ------
    LineRefused
        If the line is not made of such pairs from end to end, or two of them are temperatures.

    Examples
    --------
    >>> key_value("T=21.5 RH=48")
    Measured(celsius=21.5, humidity_percent=48.0, pressure_hpa=None)
    """
    rest, at = _short(line).rstrip(" \t,;"), 0
    pairs: list[tuple[str, str]] = []
    while at < len(rest):
        pair = _PAIR.match(rest, at)
        if pair is None:
            raise LineRefused(
                f"not key=value from end to end: {rest[:60]!r}",
                "name the fields with pattern=... in the thermometer's address",
                line,
            )
        pairs.append((pair["key"], pair["value"]))
        at = pair.end()
    if not pairs:
        raise LineRefused("an empty line", "check the thermometer's settings", line)
    return from_names(pairs, line, key, unit)


def json_line(line: str, key: str = "", unit: str = "C") -> Measured | None:
    """Read a line that is one JSON object.

    Parameters
    ----------
    line : str
        Such as ``{"temperature": 21.5, "humidity": 48}``; objects inside it are looked into.
    key : str
        Which name holds the temperature, ``outer.inner`` for one inside another; empty for
        the usual names.
    unit : str
        The unit where neither the name nor the value says one.

    Returns
    -------
    Measured or None
        None if the object holds no temperature.

    Raises
    ------
    LineRefused
        If the line is no JSON object, or two of its values are temperatures.

    References
    ----------
    RFC 8259, The JavaScript Object Notation (JSON) Data Interchange Format, 2017.

    Examples
    --------
    >>> json_line('{"bench": {"temp_f": 70.7}}').celsius
    21.5
    """
    import json

    text = _short(line)
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        content = None
    if not isinstance(content, dict):
        raise LineRefused(
            f"not a JSON object: {line.strip()[:60]!r}",
            "choose another dialect in the thermometer's address",
            line,
        )
    return from_names(list(_leaves(content)), line, key, unit)


def _leaves(content: Mapping[str, Any], outer: str = "") -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for name, value in content.items():
        if isinstance(value, dict) and outer.count(".") < 3:
            found += _leaves(value, f"{outer}{name}.")
        elif isinstance(value, int | float | str | None) and not isinstance(value, bool):
            found.append((f"{outer}{name}", "" if value is None else str(value)))
    return found


class Csv:
    """Lines of fields separated by commas, semicolons or tabs, of which one is chosen.

    Parameters
    ----------
    column : str
        Number of the column (from 1) or its name in the header; empty to find it by the usual
        names in a header.
    unit : str
        The unit where neither the header nor the field says one.

    Examples
    --------
    >>> read = Csv("2")
    >>> read("12:00:05,21.5,48").celsius
    21.5
    """

    name = "csv"

    def __init__(self, column: str = "", unit: str = "C") -> None:
        self.column = column
        self.unit = unit
        self.header: tuple[str, ...] = ()

    def __call__(self, line: str) -> Measured | None:
        """Read one line; a header is remembered."""
        fields = _fields(_short(line))
        if self._is_header(fields):
            self.header = tuple(fields)
            return None
        if self.column.isdecimal():
            return self._numbered(fields, int(self.column), line)
        if not self.header:
            raise LineRefused(
                f"no header says which column is the temperature: {line.strip()[:60]!r}",
                "add column=1 (or 2, 3, ...) to the thermometer's address",
                line,
            )
        if len(fields) != len(self.header):
            raise LineRefused(
                f"{len(fields)} fields where the header has {len(self.header)}",
                "if this goes on, add column=1 (or 2, 3, ...) to the thermometer's address",
                line,
            )
        pairs = list(zip(self.header, fields, strict=True))
        return from_names(pairs, line, self.column, self.unit)

    def _is_header(self, fields: list[str]) -> bool:
        usual = USUAL
        if self.column and not self.column.isdecimal():
            usual = frozenset({words(self.column)})
        named = any(words(field) in usual for field in fields)
        return len(fields) > 1 and named and all(number(field) is None for field in fields)

    def _numbered(self, fields: list[str], column: int, line: str) -> Measured:
        if not 1 <= column <= len(fields):
            raise LineRefused(
                f"no column {column} in a line of {len(fields)} fields",
                "set column= in the thermometer's address to the right one",
                line,
            )
        pairs = list(zip(self.header, fields, strict=False))
        fahrenheit = called(pairs[column - 1 : column], FAHRENHEIT)
        celsius = quantity(fields[column - 1], line, "F" if fahrenheit else self.unit)
        return measured(celsius, line, *company(pairs))


def _fields(line: str) -> list[str]:
    import csv

    delimiter = next((sign for sign in (";", "\t") if sign in line), ",")
    try:
        rows = list(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        rows = []
    return [field.strip() for field in rows[0]] if rows else []


GROUPS = frozenset({"temperature", "celsius", "fahrenheit", "kelvin", "humidity", "pressure"})


def pattern(expression: str, unit: str = "C") -> Named:
    r"""Make a dialect from a regular expression that names the fields.

    Parameters
    ----------
    expression : str
        With one unnamed group, or groups named ``celsius``, ``fahrenheit``, ``kelvin`` or
        ``temperature`` and, if wanted, ``humidity`` and ``pressure``.
    unit : str
        The unit of ``temperature`` or of the unnamed group where the text has none.

    Raises
    ------
    AddressError
        If the expression cannot be understood or names no temperature.

    Examples
    --------
    >>> pattern(r"air (?P<celsius>\S+) dew").parse("air 21.5 dew 9").celsius
    21.5
    """
    try:
        compiled = re.compile(expression)
    except re.error as error:
        raise AddressError(
            f"pattern={expression!r} is no regular expression: {error}",
            r"write for example pattern=T(?P<celsius>[-\d.]+)",
        ) from None
    names = set(compiled.groupindex)
    temperatures = names - {"humidity", "pressure"}
    named = len(temperatures) == 1 and names <= GROUPS
    if not (named or (not names and compiled.groups == 1)):
        raise AddressError(
            f"pattern={expression!r} does not name one temperature",
            f"use one group, or name the groups: {', '.join(sorted(GROUPS))}",
        )
    chosen: str | int = temperatures.pop() if temperatures else 1
    default = {"celsius": "C", "fahrenheit": "F", "kelvin": "K"}.get(str(chosen), unit)

    def parse(line: str) -> Measured:
        found = compiled.search(_short(line))
        if found is None:
            raise LineRefused(
                f"the pattern does not fit: {line.strip()[:60]!r}",
                "compare the line with pattern= in the thermometer's address",
                line,
            )
        fields = [(name, value or "") for name, value in found.groupdict().items()]
        celsius = quantity(found[chosen] or "", line, default)
        return measured(celsius, line, *company(fields))

    return Named("pattern", parse)


def _short(line: str) -> str:
    if len(line) > LONGEST_LINE:
        raise LineRefused(
            f"a line of {len(line)} characters", "check the baud rate and the line ending", line
        )
    return line.strip()
