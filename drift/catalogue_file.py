"""Instruments written in TOML: every entry checked, and refused with its line and key."""

from __future__ import annotations

import re
import tomllib
from functools import cached_property
from typing import Any

from drift.anatomy import FixedPitch, Instrument, Priors, Side, Slide, Valve, near
from drift.errors import InputError
from drift.notes import canonical_note, hertz_of, midi_of

__all__ = ["Entries"]

FAMILIES = ("brass", "woodwind", "fixed pitch")
TEXT_KEYS = ("habit", "remark", "source")
PRIOR_KEYS = frozenset(Priors.__dataclass_fields__)
INSTRUMENT_KEYS = frozenset(
    ("name", "family", "size", "written_semitones", "compass", "sides", "slides", "valves",
     "aliases", "priors", "fixed_pitch", "wooden", *TEXT_KEYS)
)  # fmt: skip
SIDE_KEYS = frozenset(
    ("name", "fundamental", "fundamental_hz", "tuning_notes", "quarter_wave", "source")
)
SLIDE_KEYS = frozenset(("name", "sides", "path_factor", "source"))
VALVE_KEYS = frozenset(("name", "fraction", "source"))
FIXED_KEYS = frozenset(("cents_per_celsius", "low", "high", "source"))

HEAD = re.compile(r"\s*\[\[\s*instrument\s*\]\]")

# Semitones that a valve lowers when pressed alone (common practice).
SEMITONES_OF_VALVE = {"1": 2, "2": 1, "3": 3, "4": 5, "F": 5}


class Entries:
    """The entries of one TOML file.

    Parameters
    ----------
    text : str
        The TOML.
    name : str
        Name of the file, for messages.
    sizes : dict, optional
        Sizes known beside those of the file.

    Raises
    ------
    InputError
        If the TOML or an entry is wrong; names file, line and key.
    """

    def __init__(self, text: str, name: str, sizes: dict[str, Any] | None = None) -> None:
        self.name = name
        self.lines = text.splitlines()
        try:
            document = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise InputError(f"{name}: {error}", "mend the TOML at that line") from error
        self.sizes: dict[str, Any] = {**(sizes or {}), **document.pop("sizes", {})}
        self.rows = document.pop("instrument", [])
        self.at = 0
        if document or not isinstance(self.rows, list) or not self.rows:
            key = next(iter(document), "instrument")
            raise InputError(
                f"{name}: line {self._line(key)}: key {key!r} is not expected here",
                "write each instrument under [[instrument]]",
            )

    @cached_property
    def instruments(self) -> dict[str, Instrument]:
        """The instruments by name."""
        found: dict[str, Instrument] = {}
        for row, head in zip(self.rows, self._heads(), strict=False):
            self.at = head
            instrument = self._instrument(row)
            if instrument.name in found:
                raise self._wrong("name", f"{instrument.name!r} stands in the file twice")
            found[instrument.name] = instrument
        return found

    def text_of(self, name: str) -> str:
        """Return the lines of one instrument."""
        number = [row.get("name") for row in self.rows].index(name)
        heads = [*self._heads(), len(self.lines)]
        return "\n".join(self.lines[heads[number] : heads[number + 1]]).rstrip() + "\n"

    def _heads(self) -> list[int]:
        return [n for n, line in enumerate(self.lines) if HEAD.match(line)]

    def _line(self, key: str, after: str = "") -> int:
        start = self.at
        for number in range(self.at, len(self.lines)):
            line = self.lines[number]
            if number > self.at and HEAD.match(line):
                break
            if after and re.search(rf'name\s*=\s*"{re.escape(after)}"', line):
                start = number
                break
        for number in range(start, len(self.lines)):
            if number > self.at and HEAD.match(self.lines[number]):
                break
            if re.search(rf"(^|[\s{{,\[]){re.escape(key)}\s*[=\].]", self.lines[number]):
                return number + 1
        return start + 1

    def _wrong(self, key: str, problem: str, after: str = "", remedy: str = "") -> InputError:
        return InputError(
            f"{self.name}: line {self._line(key, after)}: key {key!r}: {problem}",
            remedy or "compare with the shipped catalogue: drift instruments --toml NAME",
        )

    def _keys(self, row: Any, allowed: frozenset[str], where: str, after: str = "") -> None:
        if not isinstance(row, dict):
            raise self._wrong(where, "a table is wanted")
        for key in row:
            if key not in allowed:
                close = near(key, allowed, 1)
                hint = f"did you mean {close[0]!r}?" if close else ""
                raise self._wrong(key, f"not a key of {where}", after, hint)

    def _take(
        self, row: dict[str, Any], key: str, kind: Any, default: Any = None, after: str = ""
    ) -> Any:
        if key not in row:
            if default is None:
                raise self._wrong(key, "missing", after)
            return default
        value = row[key]
        if isinstance(value, int) and not isinstance(value, bool) and kind is float:
            value = float(value)
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            wanted = {str: "text", float: "a number", int: "a whole number", list: "a list"}
            raise self._wrong(key, f"{value!r} is not {wanted.get(kind, 'true or false')}", after)
        return value

    def _note(self, key: str, text: Any, after: str = "") -> str:
        try:
            midi_of(str(text))
        except InputError as error:
            raise self._wrong(key, error.problem, after, error.remedy) from error
        return canonical_note(str(text))

    def _instrument(self, row: dict[str, Any]) -> Instrument:
        self._keys(row, INSTRUMENT_KEYS, "instrument")
        family = self._take(row, "family", str)
        if family not in FAMILIES:
            raise self._wrong("family", f"{family!r} is not one of {', '.join(FAMILIES)}")
        name = " ".join(self._take(row, "name", str).replace("♭", "b").split())
        if not name:
            raise self._wrong("name", "empty")
        sides = self._sides(row, family)
        fixed = self._fixed_pitch(row)
        compass = tuple(self._note("compass", n) for n in self._take(row, "compass", list))
        if len(compass) != 2 or midi_of(compass[0]) >= midi_of(compass[1]):
            raise self._wrong("compass", "the lowest and the highest note are wanted")
        if (fixed is None) == (family == "fixed pitch"):
            raise self._wrong("fixed_pitch", "belongs to the family 'fixed pitch' and to no other")
        return Instrument(
            name=name,
            family=family,
            sides=sides,
            slides=self._slides(row, sides),
            valves=tuple(self._valve(valve) for valve in self._take(row, "valves", list, [])),
            written_semitones=self._take(row, "written_semitones", int, 0),
            compass=(compass[0], compass[1]),
            priors=self._priors(row),
            fixed_pitch=fixed,
            wooden=self._take(row, "wooden", bool, False),
            aliases=tuple(str(alias) for alias in self._take(row, "aliases", list, [])),
            **{key: self._take(row, key, str, "") for key in TEXT_KEYS},
        )

    def _sides(self, row: dict[str, Any], family: str) -> tuple[Side, ...]:
        if family == "fixed pitch":
            return (Side("", hertz_of("A4")),)
        rows = self._take(row, "sides", list)
        sides = tuple(self._side(entry) for entry in rows)
        names = [side.name for side in sides]
        if not sides or len(set(names)) < len(names) or (len(sides) > 1 and "" in names):
            raise self._wrong("sides", "each of several sides needs a name of its own")
        return sides

    def _side(self, row: Any) -> Side:
        self._keys(row, SIDE_KEYS, "sides")
        name = self._take(row, "name", str, "").replace("♭", "b")
        if "fundamental_hz" in row:
            hertz = self._take(row, "fundamental_hz", float, after=name)
        else:
            fundamental = self._take(row, "fundamental", str, after=name)
            hertz = hertz_of(self._note("fundamental", fundamental, name))
        if not 8.0 < hertz < 5000.0:
            raise self._wrong("fundamental_hz", f"{hertz:g} Hz is no instrument", name)
        notes = self._take(row, "tuning_notes", list, [], name)
        return Side(
            name,
            hertz,
            tuple(self._note("tuning_notes", note, name) for note in notes),
            self._take(row, "quarter_wave", bool, False, name),
            self._take(row, "source", str, "", name),
        )

    def _slides(self, row: dict[str, Any], sides: tuple[Side, ...]) -> tuple[Slide, ...]:
        slides = [self._slide(entry, sides) for entry in self._take(row, "slides", list, [])]
        if len({slide.name.casefold() for slide in slides}) < len(slides):
            raise self._wrong("slides", "two slides have the same name")
        return tuple(slides)

    def _slide(self, row: Any, sides: tuple[Side, ...]) -> Slide:
        self._keys(row, SLIDE_KEYS, "slides")
        name = self._take(row, "name", str).replace("♭", "b")
        if not re.fullmatch(r"[A-Za-z][\w-]*", name):
            raise self._wrong("name", f"{name!r} is not one word", name)
        known = [side.name for side in sides]
        served = [s.replace("♭", "b") for s in self._take(row, "sides", list, known, name)]
        for side in served:
            if side not in known:
                raise self._wrong("sides", f"there is no side {side!r}", name)
        factor = self._take(row, "path_factor", float, 2.0, name)
        if not 0.0 < factor <= 4.0:
            raise self._wrong("path_factor", f"{factor:g} is not above 0 and at most 4", name)
        return Slide(name, tuple(served), factor, self._take(row, "source", str, "", name))

    def _valve(self, row: Any) -> Valve:
        if isinstance(row, str):
            if row not in SEMITONES_OF_VALVE:
                raise self._wrong("valves", f"no usual length is known for valve {row!r}")
            semitones = SEMITONES_OF_VALVE[row]
            return Valve(
                row, 2.0 ** (semitones / 12.0) - 1.0, "exact when pressed alone (common practice)"
            )
        self._keys(row, VALVE_KEYS, "valves")
        name = self._take(row, "name", str)
        fraction = self._take(row, "fraction", float, after=name)
        if not 0.0 < fraction < 1.0:
            raise self._wrong("fraction", f"{fraction:g} is not between 0 and 1", name)
        return Valve(name, fraction, self._take(row, "source", str, "", name))

    def _priors(self, row: dict[str, Any]) -> Priors:
        size = self._take(row, "size", str, "medium")
        if size not in self.sizes:
            raise self._wrong("size", f"{size!r} is not one of {', '.join(self.sizes)}")
        own = row.get("priors", {})
        self._keys(own, PRIOR_KEYS, "priors")
        values = {**self.sizes[size], **own}
        for key, value in values.items():
            if key != "source" and not (isinstance(value, int | float) and value > 0):
                raise self._wrong(key, f"{value!r} is not a positive number")
        return Priors(**values)

    def _fixed_pitch(self, row: dict[str, Any]) -> FixedPitch | None:
        entry = row.get("fixed_pitch")
        if entry is None:
            return None
        self._keys(entry, FIXED_KEYS, "fixed_pitch")
        middle, low, high = (
            self._take(entry, key, float) for key in ("cents_per_celsius", "low", "high")
        )
        if not low <= middle <= high:
            raise self._wrong("cents_per_celsius", f"{middle:g} is not between low and high")
        return FixedPitch(middle, low, high, self._take(entry, "source", str, ""))
