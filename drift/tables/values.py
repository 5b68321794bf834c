"""From what a column holds to its values: each distinct text is judged once, by scalar rules."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, tzinfo
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drift.errors import DriftError, InputError
from drift.logbook.records import Column as Rule
from drift.logbook.records import check_value
from drift.quantities import (
    CENTS,
    FAHRENHEIT,
    HERTZ,
    LENGTH,
    NUMBER,
    PERCENT,
    TEMPERATURE,
    Quantity,
    read_quantity,
)
from drift.tables.columns import (
    Column,
    Floats,
    Instants,
    Packed,
    Texts,
    arrow_of,
    matching,
    numbers_of,
)
from drift.tables.spelled_times import day_order, spelled_time
from drift.tables.stamps import MISSING, decoded, within
from drift.texts import unfit
from drift.times import in_microseconds, parse_time, to_microseconds

__all__ = [
    "Judged",
    "Say",
    "as_texts",
    "flags_of",
    "floats_of",
    "instants_of",
    "number_of",
    "texts_of",
]

Flags = npt.NDArray[np.bool_]
Say = Callable[[int], tuple[str, str, str]]

_QUANTITIES: dict[str, Quantity] = {
    "cent": CENTS,
    "Hz": HERTZ,
    "mm": LENGTH,
    "%": PERCENT,
    "°C": TEMPERATURE,
    "°F": FAHRENHEIT,
}


class Judged(NamedTuple):
    """The values of a column, which rows cannot be taken, and what to say of one of them."""

    values: Any
    wrong: Flags
    say: Say


def number_of(rule: Rule, text: str) -> float | None:
    """Return the number that a field gives, None where it is empty: the scalar rule.

    Raises
    ------
    InputError
        When it is not a number, or beyond its limits.
    """
    plain = text.strip()
    if not plain:
        value = None
    elif rule.kind == "whole":
        value = _whole(rule, plain)
    else:
        value = read_quantity(plain, _QUANTITIES.get(rule.unit, NUMBER))
        if value is None:
            raise InputError(f"{rule.name} {text!r} is not a number", f"write digits: {rule.title}")
    return _within_limits(rule, value)


def _within_limits(rule: Rule, value: float | None) -> float | None:
    try:
        checked: float | None = check_value(rule, value)
    except InputError as refusal:
        if rule.unit == "°C" and value is not None and value > rule.highest:
            remedy = f"{refusal.remedy}; where it is in °F, call the column fahrenheit"
            raise InputError(refusal.problem, remedy) from None
        raise
    return checked


def _whole(rule: Rule, text: str) -> float:
    try:
        if "_" in text:
            raise ValueError
        return int(text)
    except ValueError:
        raise InputError(
            f"{rule.name} {text!r} is not a whole number", f"write digits: {rule.title}"
        ) from None


def floats_of(rule: Rule, column: Column) -> Judged:
    """Return the numbers of a column, NaN where nothing is given and no default stands."""
    if isinstance(column, Instants):
        return _all_wrong(len(column.values), rule, "a time")
    if not isinstance(column, Floats):
        return _floats_of_texts(rule, as_texts(column))
    values = column.values
    empty = np.isnan(values)
    wrong = ~empty & ~((values >= rule.lowest) & (values <= rule.highest) & np.isfinite(values))
    if rule.kind == "whole":
        wrong |= ~empty & (values != np.floor(values))
    wrong |= empty & rule.required
    filled = np.where(empty & (rule.default is not None), rule.default or 0.0, values)

    def say(row: int) -> tuple[str, str, str]:
        value = None if empty[row] else float(values[row])
        return _refusal(
            lambda: _within_limits(rule, value), rule, "" if value is None else f"{value:g}"
        )

    return Judged(filled, wrong, say)


def _floats_of_texts(rule: Rule, column: Texts) -> Judged:
    known, plain = _cast(column.known)
    bad = ~((known >= rule.lowest) & (known <= rule.highest))
    for place in np.flatnonzero(~plain if rule.kind == "number" else plain | ~plain):
        try:
            value = number_of(rule, column.known[place])
            known[place] = math.nan if value is None else value
            bad[place] = False
        except DriftError:
            bad[place] = True

    def say(row: int) -> tuple[str, str, str]:
        text = column.at(row)
        return _refusal(lambda: number_of(rule, text), rule, text)

    if not len(column.known):
        return Judged(np.zeros(0), np.zeros(0, dtype=bool), say)
    return Judged(known[column.codes], bad[column.codes], say)


def _cast(texts: list[str]) -> tuple[npt.NDArray[np.float64], Flags]:
    """Return the numbers that texts write plainly, NaN for others; and which do."""
    import pyarrow as pa
    from pyarrow import compute

    if not texts:
        return np.zeros(0), np.zeros(0, dtype=bool)
    packed = Packed.of(texts)
    # What Arrow takes for a number and the scalar rule does not: words, signs alone, hexadecimal.
    plainly = r"^[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?$"
    plain = matching(packed, plainly)
    numbers = compute.cast(compute.utf8_ltrim(arrow_of(packed, plain), "+"), pa.float64())
    values = np.where(plain, numbers_of(numbers, np.float64), np.nan)
    return values, plain & np.isfinite(values)


def flag_of(rule: Rule, text: str) -> bool:
    """Return whether a field says true, in the words of a Frictionless Table Schema.

    Raises
    ------
    InputError
        When it says neither true nor false.
    """
    word = text.strip().casefold()
    if word in ("true", "1", "yes"):
        return True
    if word in ("", "false", "0", "no"):
        return False
    raise InputError(
        f"{rule.name} {text!r} is not true or false", f"write true or false: {rule.title}"
    )


def flags_of(rule: Rule, column: Column) -> Judged:
    """Return which rows of a column say true; an empty field is false."""
    if isinstance(column, Instants):
        return _all_wrong(len(column.values), rule, "a time")
    texts = as_texts(column)
    known, bad = [], np.zeros(len(texts.known), dtype=bool)
    for place, text in enumerate(texts.known):
        try:
            known.append(flag_of(rule, text))
        except DriftError:
            known.append(False)
            bad[place] = True

    def say(row: int) -> tuple[str, str, str]:
        return _refusal(lambda: flag_of(rule, texts.at(row)), rule, texts.at(row))

    if not known:
        return Judged(np.zeros(0, dtype=bool), bad, say)
    return Judged(np.array(known, dtype=bool)[texts.codes], bad[texts.codes], say)


def as_texts(column: Column) -> Texts:
    """Return a column of any kind as texts; of an instant, that it is one."""
    if isinstance(column, Texts):
        return column
    if isinstance(column, Instants):
        return Texts(np.where(column.values == MISSING, 1, 0), ["a time", ""])
    if isinstance(column, Floats):
        known = ["" if math.isnan(value) else f"{value:.15g}" for value in column.values.tolist()]
    else:
        assert isinstance(column, Packed)
        known = [column.at(row) for row in range(len(column.offsets) - 1)]
    return Texts(np.arange(len(known)), known)


def texts_of(rule: Rule, column: Column) -> Judged:
    """Return the texts of a column as they are kept, by dictionary."""
    if isinstance(column, Instants):
        return _all_wrong(len(column.values), rule, "a time")
    if isinstance(column, Packed) and _packed_fit(rule, column):
        return Judged(column, np.zeros(len(column.offsets) - 1, dtype=bool), _nothing_wrong)
    given = as_texts(column)
    if _fit_as_they_are(rule, given.known):
        return Judged(given, np.zeros(len(given.codes), dtype=bool), _nothing_wrong)
    kept, bad = [], np.zeros(len(given.known), dtype=bool)
    for place, text in enumerate(given.known):
        try:
            kept.append(str(check_value(rule, text)))
        except DriftError:
            kept.append("")
            bad[place] = True
    index = {text: number for number, text in enumerate(dict.fromkeys(kept))}
    renumbered = np.array([index[text] for text in kept], dtype=np.int64)

    def say(row: int) -> tuple[str, str, str]:
        text = given.at(row)
        return _refusal(lambda: check_value(rule, text), rule, text)

    if not kept:
        return Judged(Texts(np.zeros(0, dtype=np.int64), [""]), np.zeros(0, dtype=bool), say)
    return Judged(Texts(renumbered[given.codes], list(index)), bad[given.codes], say)


def _fit_as_they_are(rule: Rule, known: list[str]) -> bool:
    """Return whether no text can be refused or kept otherwise: all are looked at as one."""
    if rule.kind != "text" or rule.choices or not known or unfit("".join(known)):
        return False
    blank = [text for text in known if not text.strip()]
    return blank == [] or (blank == [""] and not rule.required)


def _packed_fit(rule: Rule, column: Packed) -> bool:
    """Return the same of packed texts."""
    if rule.kind != "text" or rule.choices or unfit(column.data.tobytes().decode("utf-8")):
        return False
    filled = column.filled()
    given = np.diff(column.offsets) > 0
    return bool((filled == given).all()) and not (rule.required and not given.all())


def instants_of(
    rule: Rule, column: Column, *, zone: tzinfo | None = None, dates: str | None = None
) -> Judged:
    """Return the times of a column in microseconds since 1970.

    Parameters
    ----------
    rule : Rule
        The column.
    column : Column
        What it holds.
    zone : tzinfo, optional
        Where times without an offset are told; such times are refused without one.
    dates : str, optional
        ``day-first`` or ``month-first``, for dates that do not tell by themselves.
    """
    if isinstance(column, Instants):
        wrong = (column.values == MISSING) | ~within(column.values)
        return Judged(column.values, wrong, lambda row: _no_time(rule, ""))
    if isinstance(column, Floats):
        return _all_wrong(len(column.values), rule, "a number")
    distinct = Packed.of(column.known) if isinstance(column, Texts) else column
    micros, taken = decoded(distinct)
    odd = np.flatnonzero(~taken)
    order = day_order((distinct.at(int(place)) for place in odd), dates) if len(odd) else None
    for place in odd:
        try:
            micros[place] = _scalar(distinct.at(int(place)), zone, order)
            taken[place] = True
        except DriftError:
            continue

    def say(row: int) -> tuple[str, str, str]:
        text = column.at(row)
        return _refusal(lambda: _scalar(text, zone, order), rule, text)

    if isinstance(column, Texts):
        if not len(column.known):
            return Judged(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=bool), say)
        return Judged(micros[column.codes], ~taken[column.codes], say)
    return Judged(micros, ~taken, say)


def _scalar(text: str, zone: tzinfo | None, order: str | None) -> int:
    """Return the instant a text names, in microseconds: with an offset, or told in a zone."""
    text, more = in_microseconds(text)  # finer ones are rounded
    try:
        return to_microseconds(parse_time(text.strip())) + more
    except DriftError as refusal:
        if not text.strip():
            raise InputError("time is empty", "give the time: when it happened") from None
        try:
            local = spelled_time(text, order)
        except DriftError:
            if zone is None:
                raise refusal from None
            raise
    if zone is None:
        raise InputError(
            f"{text!r} has no offset from UTC",
            "say where the clock was, such as --zone Europe/Berlin, or write +02:00 behind it",
        )
    return to_microseconds(_in_zone(local, zone, text)) + more


def _in_zone(local: datetime, zone: tzinfo, text: str) -> datetime:
    """Return a time of day in a zone, refused where it comes twice or never that day."""
    early, late = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() != late.utcoffset():
        raise InputError(
            f"{text!r} comes twice or never in {zone}, where the clock is changed",
            "write the offset from UTC behind it, such as +02:00",
        )
    return early


def _refusal(judge: Callable[[], Any], rule: Rule, value: str) -> tuple[str, str, str]:
    try:
        judge()
    except DriftError as error:
        return value, error.problem, error.remedy
    raise AssertionError(f"{rule.name} {value!r} was refused and can be taken")


def _nothing_wrong(row: int) -> tuple[str, str, str]:
    raise AssertionError(f"nothing is wrong with row {row}")


def _no_time(rule: Rule, value: str) -> tuple[str, str, str]:
    return value, f"{rule.name} is missing or outside 1800 to 2200", f"give the {rule.title}"


def _all_wrong(count: int, rule: Rule, kind: str) -> Judged:
    def say(row: int) -> tuple[str, str, str]:
        return "", f"{rule.name} holds {kind}", f"give {rule.title} in that column"

    return Judged(np.full(count, np.nan), np.ones(count, dtype=bool), say)
