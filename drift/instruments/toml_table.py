"""Tables of a TOML file that know where they stand, so that a wrong value names its line."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from drift.errors import InputError
from drift.spelling import near
from drift.texts import unfit

__all__ = ["MUST", "Table", "read_toml"]

#: Whole numbers up to here are floats without loss (2**53); no length or weight is larger.
LARGEST_WHOLE = 2**53
# The default of a key that must be there.
MUST: Any = object()

WORDS = {
    str: "text",
    float: "a number",
    int: "a whole number",
    bool: "true or false",
    list: "a list",
}


@dataclass(frozen=True)
class Table:
    """One table of a file: its values, and the lines it is written on.

    Attributes
    ----------
    file : str
        Name of the file, for messages.
    values : mapping of str to Any
        What TOML made of it.
    lines : tuple of str
        The lines of the whole file.
    span : range
        Numbers of the table's own lines, from 0.
    remedy : str
        What to do about a value that is wrong.
    """

    file: str
    values: Mapping[str, Any]
    lines: tuple[str, ...]
    span: range
    remedy: str

    @property
    def text(self) -> str:
        """The lines of the table."""
        return "\n".join(self.lines[self.span.start : self.span.stop]).rstrip() + "\n"

    def wrong(self, key: str, problem: str, remedy: str = "") -> InputError:
        """Return the error that names file, line and key."""
        line = next(self._lines_with(key), self.span.start) + 1
        return InputError(
            f"{self.file}: line {line}: key {key!r}: {problem}", remedy or self.remedy
        )

    def only(self, allowed: Collection[str], what: str) -> None:
        """Refuse a key that is not one of those allowed."""
        for key in self.values:
            if key not in allowed:
                close = near(key, allowed, 1)
                hint = f"did you mean {close[0]!r}?" if close else ""
                raise self.wrong(key, f"not a key of {what}", hint)

    def take(self, key: str, kind: type, default: Any = MUST) -> Any:
        """Return the value of a key if it is of the kind wanted."""
        if key not in self.values:
            if default is MUST:
                raise self.wrong(key, "missing")
            return default
        value = self.values[key]
        if type(value) is int and kind is float and abs(value) < LARGEST_WHOLE:
            return float(value)
        if type(value) is not kind:
            raise self.wrong(key, f"{value!r} is not {WORDS[kind]}")
        if isinstance(value, str):
            self._check_printable(key, value)
        return value

    def take_number(self, key: str, low: float, high: float, default: Any = MUST) -> float:
        """Return a number that lies above the first limit and not above the second."""
        number = float(self.take(key, float, default))
        if not low < number <= high:
            raise self.wrong(key, f"{number:g} is not above {low:g} and at most {high:g}")
        return number

    def take_texts(self, key: str, default: Any = MUST) -> list[str]:
        """Return a list of texts."""
        values = self.take(key, list, default)
        for value in values:
            if not isinstance(value, str):
                raise self.wrong(key, f"{value!r} is not text")
            self._check_printable(key, value)
        return list(values)

    def _check_printable(self, key: str, text: str) -> None:
        if letter := unfit(text.replace("\n", " ")):  # a text may run over several lines
            raise self.wrong(
                key, f"has U+{ord(letter):04X}, which cannot be printed", "leave that character out"
            )

    def headed(self, key: str) -> list[Table]:
        """Return the tables written under ``[[key]]``, each with its own lines."""
        head = re.compile(rf"\s*\[\[\s*{re.escape(key)}\s*\]\]")
        starts = [n for n in self.span if head.match(self.lines[n])]
        rows = self.values.get(key, [])
        if not starts or len(rows) != len(starts):
            raise self.wrong(key, "is missing", f"write each {key} under [[{key}]]")
        ends = [*starts[1:], self.span.stop]
        return [
            self._within(values, range(start, end))
            for values, start, end in zip(rows, starts, ends, strict=True)
        ]

    def table(self, key: str) -> Table:
        """Return a table within this one; an empty one where there is none."""
        values = self.values.get(key, {})
        if not isinstance(values, dict):
            raise self.wrong(key, "a table is wanted")
        return self._within(values, self.span)

    def tables(self, key: str, default: Any = MUST) -> list[Table]:
        """Return a list of tables within this one, each with its own line where it has one."""
        rows = self.take(key, list, default)
        begin = next(self._lines_with(key), self.span.start)
        places = [n for n in range(begin, self.span.stop) if "{" in self.lines[n]]
        tables = []
        for number, values in enumerate(rows):
            if not isinstance(values, dict):
                raise self.wrong(key, f"{values!r} is not a table")
            inline = number < len(places)
            place = range(places[number], places[number] + 1) if inline else self.span
            tables.append(self._within(values, place))
        return tables

    def _within(self, values: Mapping[str, Any], span: range) -> Table:
        return Table(self.file, values, self.lines, span, self.remedy)

    def _lines_with(self, key: str) -> Iterator[int]:
        named = re.compile(rf'(^|[\s{{,\[.])"?{re.escape(key)}"?\s*[=\]]')
        return (n for n in self.span if named.search(self.lines[n]))


def read_toml(text: str, file: str, remedy: str) -> Table:
    """Return a TOML file as a table.

    Parameters
    ----------
    text : str
        The TOML.
    file : str
        Name of the file, for messages.
    remedy : str
        What to do about a value that is wrong.

    Returns
    -------
    Table
        The whole file.

    Raises
    ------
    InputError
        If it is no TOML.

    Examples
    --------
    >>> read_toml("speed = 'fast'", "mine.toml", "give it in m/s").take("speed", float)
    Traceback (most recent call last):
    drift.errors.InputError: mine.toml: line 1: key 'speed': 'fast' is not a number
    give it in m/s
    """
    import tomllib  # a program that names no instrument need not wait for it

    try:
        document = tomllib.loads(text)
    except ValueError as error:  # what is not TOML, and a number of thousands of digits
        raise InputError(f"{file}: {error}", "mend the TOML at that line") from error
    except RecursionError:
        raise InputError(
            f"{file}: brackets are nested too deeply", "close the brackets that were left open"
        ) from None
    lines = tuple(text.splitlines())
    return Table(file, document, lines, range(len(lines)), remedy)
