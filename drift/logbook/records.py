"""What a rehearsal is made of: its tables, their columns, and what a column may hold.

This is the one place that says which columns exist, in which unit and within which limits. The
logbook, the rehearsal folders and the entries typed at the terminal all check against it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any, ClassVar, Literal, NamedTuple

from drift.errors import InputError
from drift.instruments import canonical_name
from drift.notes import canonical_note
from drift.texts import check_text
from drift.times import check_instant

__all__ = [
    "EVENTS",
    "FAR_OUT_MM",
    "RECORDS",
    "STATES",
    "TYPED",
    "Calibration",
    "Column",
    "Event",
    "Notice",
    "Reading",
    "Record",
    "Temperature",
    "check_number",
    "check_value",
    "checked",
]

EVENTS = ("start", "end", "play", "rest", "slide", "tuned", "remark")
#: How an instrument was when its player tuned it.
STATES = ("cold", "warm")
#: The source of a temperature that a person read off and typed.
TYPED = "typed"
#: No slide is pulled so far to tune (common practice).
FAR_OUT_MM = 100.0
Kind = Literal["time", "text", "name", "note", "number", "whole", "boolean"]


class Column(NamedTuple):
    """One column of a table.

    Attributes
    ----------
    name : str
        As it stands in the header of the file.
    kind : str
        ``time``, ``text``, ``name`` (text with ♭ written b), ``note``, ``number``, ``whole`` or
        ``boolean`` (empty: false).
    title, unit : str
        For people, and for the data package.
    required : bool
        Whether every row must hold a value.
    lowest, highest : float
        Limits of a number, both included.
    default : float or None
        The number that an empty field stands for.
    choices : tuple of str
        The words that a text may be, where they are few.
    """

    name: str
    kind: Kind
    title: str
    unit: str = ""
    required: bool = False
    lowest: float = -math.inf
    highest: float = math.inf
    default: float | None = None
    choices: tuple[str, ...] = ()

    @property
    def is_number(self) -> bool:
        """Whether the column holds numbers."""
        return self.kind in ("number", "whole")


TIME = Column("time", "time", "when it happened", required=True)
A4 = Column("a4_hz", "number", "pitch of A4", "Hz", lowest=380.0, highest=500.0, default=440.0)
REHEARSAL = Column("rehearsal", "text", "name of the rehearsal or performance", required=True)
PLAYER = Column("player", "text", "who played; empty: everyone")
INSTRUMENT = Column("instrument", "name", "name from the catalogue")
SIDE = Column("side", "name", "side of the instrument, empty where it has one")
REMARK = Column("remark", "text", "in words")
SLIDE = Column("slide", "name", "which slide")


def _required(column: Column, title: str = "") -> Column:
    return Column(column.name, column.kind, title or column.title, required=True)


@dataclass(frozen=True, slots=True)
class Record:
    """One row of a table."""

    table: ClassVar[str]
    columns: ClassVar[tuple[Column, ...]]

    time: datetime

    def values(self) -> dict[str, Any]:
        """Return the row as a mapping of column to value."""
        return {field.name: getattr(self, field.name) for field in fields(self)}


@dataclass(frozen=True, slots=True)
class Reading(Record):
    """One tuner reading: the sounding note and its deviation from equal temperament [cents]."""

    table: ClassVar[str] = "readings"
    columns: ClassVar[tuple[Column, ...]] = (
        TIME,
        REHEARSAL,
        _required(PLAYER, "who played"),
        _required(INSTRUMENT),
        SIDE,
        Column("note", "note", "sounding note, scientific pitch notation", required=True),
        Column(
            "cents",
            "number",
            "deviation from equal temperament at a4_hz, sharp positive",
            unit="cent",
            required=True,
            lowest=-200.0,
            highest=200.0,
        ),
        A4,
        Column(
            "cents_sd",
            "number",
            "standard uncertainty of cents, where it is known",
            unit="cent",
            lowest=0.001,
            highest=200.0,
        ),
        Column(
            "pair_probability",
            "number",
            "probability that two players made the tone",
            lowest=0.0,
            highest=1.0,
        ),
        Column("flagged", "boolean", "whether the player calls the reading unusual"),
        REMARK,
    )

    rehearsal: str
    player: str
    instrument: str
    side: str
    note: str
    cents: float
    a4_hz: float = 440.0
    remark: str = ""
    cents_sd: float | None = None
    pair_probability: float | None = None
    flagged: bool = False


@dataclass(frozen=True, slots=True)
class Temperature(Record):
    """One temperature of the air [°C]."""

    table: ClassVar[str] = "temperatures"
    columns: ClassVar[tuple[Column, ...]] = (
        TIME,
        REHEARSAL,
        Column(
            "celsius",
            "number",
            "temperature of the air",
            "°C",
            required=True,
            lowest=-40.0,
            highest=60.0,
        ),
        Column("humidity_percent", "number", "relative humidity", "%", lowest=0.0, highest=100.0),
        Column("pressure_hpa", "number", "air pressure", "hPa", lowest=500.0, highest=1100.0),
        Column("source", "text", "name of the thermometer; typed: read off by a person"),
    )

    rehearsal: str
    celsius: float
    humidity_percent: float | None = None
    pressure_hpa: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Event(Record):
    """Something that happened: playing began or stopped, a slide was set [mm], a remark.

    A ``tuned`` event says on which side a player tuned and how warm the instrument was; with a
    slide, it says where that slide was left. A slide's position holds from the event on.
    """

    table: ClassVar[str] = "events"
    columns: ClassVar[tuple[Column, ...]] = (
        TIME,
        REHEARSAL,
        PLAYER,
        INSTRUMENT,
        Column("event", "text", "what happened", required=True, choices=EVENTS),
        SLIDE,
        Column(
            "position_mm",
            "number",
            "position of the slide from then on, from fully in",
            unit="mm",
            lowest=0.0,
            highest=1000.0,
        ),
        Column("side", "name", "side that was tuned, empty where it has one"),
        Column("state", "text", "how the instrument was when it was tuned", choices=STATES),
        Column("already_warm", "boolean", "whether the instrument had been played just before"),
        REMARK,
    )

    rehearsal: str
    player: str
    event: str
    slide: str = ""
    position_mm: float | None = None
    remark: str = ""
    instrument: str = ""
    side: str = ""
    state: str = ""
    already_warm: bool = False


@dataclass(frozen=True, slots=True)
class Calibration(Record):
    """What one slide was measured to do [cents per mm], with its 95 % interval."""

    table: ClassVar[str] = "calibrations"
    columns: ClassVar[tuple[Column, ...]] = (
        TIME,
        _required(PLAYER, "who played"),
        _required(INSTRUMENT),
        _required(SLIDE),
        SIDE,
        Column(
            "cents_per_mm", "number", "cents per millimetre of pull, negative: pulling flattens",
            "cent/mm", required=True, lowest=-20.0, highest=-0.01,
        ),
        Column("low", "number", "lower end of the 95 % interval", "cent/mm"),
        Column("high", "number", "upper end of the 95 % interval", "cent/mm"),
        Column("readings", "whole", "how many readings it rests on", lowest=2.0, highest=1e9),
        REMARK,
    )  # fmt: skip

    player: str
    instrument: str
    slide: str
    side: str
    cents_per_mm: float
    low: float | None = None
    high: float | None = None
    readings: int | None = None
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Notice(Record):
    """What a thermometer or the clock had to say that is no temperature."""

    table: ClassVar[str] = "notices"
    columns: ClassVar[tuple[Column, ...]] = (
        TIME,
        REHEARSAL,
        Column("source", "text", "name of the thermometer"),
        Column("kind", "text", "kind of notice: away, back, refused, step, ...", required=True),
        Column("text", "text", "in words, with the raw line where there is one"),
    )

    rehearsal: str
    source: str
    kind: str
    text: str = ""


RECORDS: Mapping[str, type[Record]] = {
    record.table: record for record in (Reading, Temperature, Event, Calibration, Notice)
}


def checked(record: Record) -> Record:
    """Return the record with its names in ASCII, or say which value cannot be kept.

    Raises
    ------
    InputError
        When a value is missing, of the wrong kind or beyond its limits.
    """
    values = record.values()
    for column in record.columns:
        values[column.name] = check_value(column, values[column.name])
    if isinstance(record, Event):
        _check_event(record)
    return type(record)(**values)


def check_value(column: Column, value: Any) -> Any:
    """Return a value as it is kept: names in ASCII, an empty number as its default.

    Raises
    ------
    InputError
        When it is missing, of the wrong kind or beyond its limits.
    """
    if value is None or value == "":
        if column.required:
            row = ", or delete the row" * column.is_number  # nothing was measured
            raise InputError(
                f"{column.name} is empty", f"give the {column.name}: {column.title}{row}"
            )
        if column.kind == "boolean":
            return False
        return column.default if column.is_number else value
    if column.kind == "boolean":
        return _check_boolean(column, value)
    if column.is_number:
        return check_number(column, value)
    if column.kind == "time":
        return check_instant(value)
    if column.kind == "note":
        return canonical_note(value)
    if column.kind == "name":
        return canonical_name(check_text(value, column.name))
    if column.choices and value not in column.choices:
        raise InputError(
            f"{column.name} {value!r} is not one of {', '.join(column.choices)}",
            f"choose one of {', '.join(column.choices)}",
        )
    return check_text(value, column.name) if column.kind == "text" else value


def check_number(column: Column, value: float) -> float:
    """Return a number that lies within the limits of its column.

    Raises
    ------
    InputError
        When it does not, or is no finite number.
    """
    if not (math.isfinite(value) and column.lowest <= value <= column.highest):
        raise InputError(
            f"{_with_unit(column, value)} is outside {column.lowest:g} to {column.highest:g}",
            f"check the value; {column.name} is {column.title}",
        )
    return value


def _with_unit(column: Column, value: float) -> str:
    """Return a number as people say it, by the name of its column where it has no unit."""
    unit = column.unit.replace("cent", "cents")
    return f"{value:g} {unit}" if unit else f"{column.name} {value:g}"


def _check_boolean(column: Column, value: Any) -> bool:
    if value not in (True, False):
        raise InputError(
            f"{column.name} {value!r} is not true or false", f"say true or false: {column.title}"
        )
    return bool(value)


def _check_event(event: Event) -> None:
    has_slide, has_position = bool(event.slide), event.position_mm is not None
    if has_slide != has_position or (event.event == "slide" and not has_slide):
        raise InputError(
            f"a slide event needs slide and position_mm, and this {event.event} has "
            f"{event.slide!r} and {event.position_mm}",
            "name the slide and its position in millimetres from fully in",
        )
    if has_slide and event.event not in ("slide", "tuned"):
        raise InputError(
            f"event {event.event!r} has a slide ({event.slide!r}) and position_mm "
            f"({event.position_mm})",
            "leave both empty, or make the event a slide",
        )
    if (event.side or event.state) and event.event != "tuned":
        raise InputError(
            f"event {event.event!r} has a side ({event.side!r}) or a state ({event.state!r})",
            "leave both empty, or make the event tuned",
        )
    if event.already_warm and event.event not in ("start", "play"):
        raise InputError(
            f"event {event.event!r} has already_warm",
            "leave it empty; it says how an instrument was when playing began",
        )
