"""Instruments written in TOML: every entry checked, and refused with its line and key."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from drift.errors import InputError
from drift.instruments.anatomy import (
    FixedPitch,
    Instrument,
    Priors,
    Side,
    Slide,
    Valve,
)
from drift.instruments.effects import SlideEffect
from drift.instruments.toml_table import Table, read_toml
from drift.notes import canonical_note, hertz_of, midi_of

__all__ = ["CatalogueFile", "read_catalogue"]

FAMILIES = ("brass", "woodwind", "fixed pitch")
TEXT_KEYS = ("habit", "remark", "source")
PRIOR_KEYS = frozenset(Priors.__dataclass_fields__)
INSTRUMENT_KEYS = frozenset(
    ("name", "family", "size", "written_semitones", "treble_clef_semitones", "compass", "sides",
     "slides", "valves", "aliases", "priors", "fixed_pitch", "wooden", *TEXT_KEYS)
)  # fmt: skip
SIDE_KEYS = frozenset(
    ("name", "fundamental", "fundamental_hz", "tuning_notes", "quarter_wave", "source")
)
LONGEST_TRAVEL_MM = 2000.0
SLIDE_KEYS = frozenset(("name", "sides", "path_factor", "usual_travel_mm", "effect", "source"))
EFFECT_KEYS = frozenset(("mean", "sd", "note_sd", "notes", "source"))
NOTE_EFFECT_KEYS = frozenset(("mean", "sd"))
VALVE_KEYS = frozenset(("name", "fraction", "source"))
FIXED_KEYS = frozenset(("cents_per_celsius", "low", "high", "source"))

# Semitones that a valve lowers when pressed alone (common practice).
SEMITONES_OF_VALVE = {"1": 2, "2": 1, "3": 3, "4": 5, "F": 5}

LARGEST_TRANSPOSITION = 36

Sizes = Mapping[str, Mapping[str, Any]]
Effects = Mapping[str, SlideEffect]


@dataclass(frozen=True)
class CatalogueFile:
    """What a file of instruments holds.

    Attributes
    ----------
    instruments : dict of str to Instrument
        The instruments by name.
    texts : dict of str to str
        Each as it is written.
    sizes : mapping
        What is expected before any reading, by size.
    effects : mapping
        What a millimetre of slide does, by kind of bore.
    """

    instruments: dict[str, Instrument]
    texts: dict[str, str]
    sizes: Sizes
    effects: Effects


def read_catalogue(
    text: str, file: str, sizes: Sizes | None = None, effects: Effects | None = None
) -> CatalogueFile:
    """Read the instruments of a TOML file.

    Parameters
    ----------
    text : str
        The TOML.
    file : str
        Its name, for messages.
    sizes : mapping, optional
        Sizes known beside those of the file.
    effects : mapping, optional
        Kinds of bore known beside those of the file.

    Returns
    -------
    CatalogueFile
        The instruments, in the order of the file.

    Raises
    ------
    InputError
        If the TOML or an entry is wrong; names file, line and key.
    """
    whole = read_toml(text, file, "compare with an entry of drift instruments NAME --toml")
    whole.only(("instrument", "sizes", "effects"), "the file")
    known = {**(sizes or {}), **_sizes(whole.table("sizes"))}
    bores = {**(effects or {}), **_effects(whole.table("effects"))}
    instruments: dict[str, Instrument] = {}
    texts: dict[str, str] = {}
    for table in whole.headed("instrument"):
        instrument = _instrument(table, known, bores)
        if instrument.name in instruments:
            raise table.wrong("name", f"{instrument.name!r} stands in the file twice")
        instruments[instrument.name] = instrument
        texts[instrument.name] = table.text
    return CatalogueFile(instruments, texts, known, bores)


def _sizes(table: Table) -> Sizes:
    rows = {name: table.table(name) for name in table.values}
    for row in rows.values():
        row.only(PRIOR_KEYS, "sizes")
    return {name: row.values for name, row in rows.items()}


def _effects(table: Table) -> dict[str, SlideEffect]:
    return {name: _effect(table.table(name)) for name in table.values}


def _effect(row: Table) -> SlideEffect:
    row.only(EFFECT_KEYS, "effects")
    notes = row.table("notes")
    apart = []
    for name in notes.values:
        one = notes.table(name)
        one.only(NOTE_EFFECT_KEYS, "notes")
        note = _note(notes, name, name)
        apart.append((note, one.take_number("mean", 0.0, 4.0), one.take_number("sd", 0.0, 2.0)))
    return SlideEffect(
        row.take_number("mean", 0.0, 4.0),
        row.take_number("sd", 0.0, 2.0),
        row.take_number("note_sd", 0.0, 2.0) if "note_sd" in row.values else 0.0,
        tuple(apart),
        row.take("source", str, ""),
    )


def _plain(text: str) -> str:
    return " ".join(text.replace("♭", "b").replace("♯", "#").split())


def _note(table: Table, key: str, text: str) -> str:
    try:
        midi_of(text)
    except InputError as error:
        raise table.wrong(key, error.problem, error.remedy) from error
    return canonical_note(text)


def _instrument(table: Table, sizes: Sizes, effects: Effects) -> Instrument:
    table.only(INSTRUMENT_KEYS, "instrument")
    family = table.take("family", str)
    if family not in FAMILIES:
        raise table.wrong("family", f"{family!r} is not one of {', '.join(FAMILIES)}")
    name = _plain(table.take("name", str))
    if not name:
        raise table.wrong("name", "is empty")
    fixed = _fixed_pitch(table, family)
    sides = (Side("", hertz_of("A4")),) if fixed else _sides(table)
    return Instrument(
        name=name,
        family=family,
        sides=sides,
        slides=_slides(table, sides, family, effects),
        valves=_valves(table),
        written_semitones=_transposition(table, "written_semitones"),
        treble_clef_semitones=_transposition(table, "treble_clef_semitones"),
        compass=_compass(table),
        priors=_priors(table, sizes),
        fixed_pitch=fixed,
        wooden=table.take("wooden", bool, False),
        aliases=tuple(table.take_texts("aliases", [])),
        **{key: table.take(key, str, "") for key in TEXT_KEYS},
    )


def _transposition(table: Table, key: str) -> int:
    semitones: int = table.take(key, int, 0)
    if abs(semitones) > LARGEST_TRANSPOSITION:
        raise table.wrong(key, f"{semitones} is more than three octaves")
    return semitones


def _compass(table: Table) -> tuple[str, str]:
    notes = [_note(table, "compass", text) for text in table.take_texts("compass")]
    if len(notes) != 2 or midi_of(notes[0]) >= midi_of(notes[1]):
        raise table.wrong("compass", "the lowest and the highest note are wanted")
    return notes[0], notes[1]


def _sides(table: Table) -> tuple[Side, ...]:
    sides = tuple(_side(row) for row in table.tables("sides"))
    names = [side.name for side in sides]
    if not sides or len(set(names)) < len(names) or (len(sides) > 1 and "" in names):
        raise table.wrong("sides", "each of several sides needs a name of its own")
    return sides


def _side(row: Table) -> Side:
    row.only(SIDE_KEYS, "sides")
    if "fundamental_hz" in row.values:
        hertz = row.take_number("fundamental_hz", 8.0, 5000.0)
    else:
        hertz = hertz_of(_note(row, "fundamental", row.take("fundamental", str)))
    notes = row.take_texts("tuning_notes", [])
    return Side(
        _plain(row.take("name", str, "")),
        hertz,
        tuple(_note(row, "tuning_notes", text) for text in notes),
        row.take("quarter_wave", bool, False),
        row.take("source", str, ""),
    )


def _slides(
    table: Table, sides: tuple[Side, ...], family: str, effects: Effects
) -> tuple[Slide, ...]:
    names = [side.name for side in sides]
    slides = tuple(_slide(row, names, family, effects) for row in table.tables("slides", []))
    if len({slide.name.casefold() for slide in slides}) < len(slides):
        raise table.wrong("slides", "two slides have the same name")
    return slides


def _slide(row: Table, sides: list[str], family: str, effects: Effects) -> Slide:
    row.only(SLIDE_KEYS, "slides")
    name = _plain(row.take("name", str))
    if not re.fullmatch(r"[A-Za-z][\w-]*", name):
        raise row.wrong("name", f"{name!r} is not one word")
    served = [_plain(side) for side in row.take_texts("sides", sides)]
    for side in served:
        if side not in sides:
            raise row.wrong("sides", f"there is no side {side!r}")
    factor = row.take_number("path_factor", 0.0, 4.0, 2.0)
    bore = row.take("effect", str, family)
    if bore not in effects and "effect" in row.values:
        raise row.wrong("effect", f"{bore!r} is not one of {', '.join(effects)}")
    effect = effects.get(bore, SlideEffect())
    usual = "usual_travel_mm"
    travel = row.take_number(usual, 0.0, LONGEST_TRAVEL_MM) if usual in row.values else None
    return Slide(name, tuple(served), factor, row.take("source", str, ""), effect, travel)


def _valves(table: Table) -> tuple[Valve, ...]:
    rows = table.take("valves", list, [])
    if rows and all(isinstance(row, str) for row in rows):
        return tuple(_usual_valve(table, name) for name in rows)
    return tuple(_valve(row) for row in table.tables("valves", []))


def _usual_valve(table: Table, name: str) -> Valve:
    if name not in SEMITONES_OF_VALVE:
        raise table.wrong("valves", f"no usual length is known for valve {name!r}")
    fraction = 2.0 ** (SEMITONES_OF_VALVE[name] / 12.0) - 1.0
    return Valve(name, fraction, "exact when pressed alone (common practice)")


def _valve(row: Table) -> Valve:
    row.only(VALVE_KEYS, "valves")
    fraction = row.take_number("fraction", 0.0, 1.0)
    return Valve(row.take("name", str), fraction, row.take("source", str, ""))


def _priors(table: Table, sizes: Sizes) -> Priors:
    size = table.take("size", str, "medium")
    if size not in sizes:
        raise table.wrong("size", f"{size!r} is not one of {', '.join(sizes)}")
    own = table.table("priors")
    own.only(PRIOR_KEYS, "priors")
    values = {**sizes[size], **own.values}
    for key, value in values.items():
        number = isinstance(value, int | float) and math.isfinite(value) and value > 0
        if key != "source" and not number:
            raise own.wrong(key, f"{value!r} is not a positive number")
    return Priors(**values)


def _fixed_pitch(table: Table, family: str) -> FixedPitch | None:
    if ("fixed_pitch" in table.values) != (family == "fixed pitch"):
        raise table.wrong("fixed_pitch", "belongs to the family 'fixed pitch' and to no other")
    if family != "fixed pitch":
        return None
    bars = table.table("fixed_pitch")
    bars.only(FIXED_KEYS, "fixed_pitch")
    middle, low, high = (bars.take(key, float) for key in ("cents_per_celsius", "low", "high"))
    if not -100.0 < low <= middle <= high < 100.0:
        raise bars.wrong("cents_per_celsius", f"{middle:g} is not between low and high")
    return FixedPitch(middle, low, high, bars.take("source", str, ""))
