"""A paired table that somebody brings: what it must hold, and what a file made of it undone."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.groups import codes_of
from drift.tables.sources import labels_of

__all__ = ["RULES", "PairedRule", "brought"]

Flags = npt.NDArray[np.bool_]


_MILLISECONDS = (1e11, 1e14)
"""Milliseconds since 1970 of any year from 1973 to 5138; seconds and microseconds are not."""


class PairedRule(NamedTuple):
    """What a column of a paired table must hold: which rows do not, in words, and the remedy."""

    column: str
    broken: Callable[[pd.Series[Any]], Flags]
    problem: str
    remedy: str


def _missing(labels: pd.Series[Any]) -> Flags:
    missing = labels.isna().to_numpy(dtype=bool)
    if missing.any():
        return np.asarray(missing | (labels.astype(object) == ""), dtype=bool)
    codes, names = codes_of(labels)
    return np.array([name == "" for name in names], dtype=bool)[codes]


def _no_number(values: pd.Series[Any]) -> Flags:
    """Return what is given and not a number: texts, and what pandas would count as one."""
    if values.dtype.kind in "fiu":
        return np.zeros(len(values), dtype=bool)
    given = values.notna().to_numpy(dtype=bool)
    if values.dtype.kind != "O":  # true and false, durations, dates, complex numbers
        return given
    none = [isinstance(value, bool | np.bool_ | complex) for value in values.tolist()]
    return given & (pd.to_numeric(values, errors="coerce").isna().to_numpy(dtype=bool) | none)


def _numbers(values: pd.Series[Any]) -> npt.NDArray[np.float64]:
    """Return numbers, NaN for what is missing or none (which has a rule of its own)."""
    if values.dtype.kind not in "fiu":
        numbers = values.astype(object).where(~_no_number(values), np.nan)
        values = pd.to_numeric(numbers, errors="coerce")
    return np.asarray(values.to_numpy(dtype=float, na_value=np.nan))


def _negative(values: pd.Series[Any]) -> Flags:
    return np.asarray(_numbers(values) < 0.0)


def _no_part(values: pd.Series[Any]) -> Flags:
    numbers = _numbers(values)
    return np.asarray((numbers < 0.0) | (numbers > 1.0))


LABELS = ("rehearsal", "player", "instrument", "note")
MINUTES = ("playing_minutes", "minutes_into_spell")
NUMBERS = (
    *("reference_cents", "celsius", "playing_minutes", "minutes_into_spell", "initial_warmth"),
    *("cents_sd", "pair_probability"),
)

#: Celsius has no limits here: a fit takes any regressor, as certified data ask, and says what
#: looks like °F.
RULES: tuple[PairedRule, ...] = (
    *(
        PairedRule(name, _missing, "is missing", f"give the {name} of every row, or leave them out")
        for name in LABELS
    ),
    *(
        PairedRule(
            name,
            _no_number,
            "is not a number",
            "give numbers, or leave the row out"
            if name not in MINUTES
            else "give numbers of minutes (of durations: column / pd.Timedelta('1 min')), or leave "
            "the row out",
        )
        for name in NUMBERS
    ),
    PairedRule("playing_minutes", _negative, "is negative", "count minutes from 0"),
    PairedRule("minutes_into_spell", _negative, "is negative", "count minutes from 0"),
    PairedRule("initial_warmth", _no_part, "is outside 0 to 1", "give 0 for cold, 1 for warm"),
)


def brought(rows: pd.DataFrame) -> pd.DataFrame:
    """Return a paired table in the types of `drift.pair`, whatever file it went through.

    Parameters
    ----------
    rows : DataFrame
        With the columns of `drift.pair`, those that are not required left out or not.

    Raises
    ------
    InputError
        With every rule that does not hold, and in how many rows.

    Examples
    --------
    >>> brought(pd.DataFrame({"spells": ["(3.5, 2.0)"]}))["spells"][0]
    (3.5, 2.0)
    """
    problems = []
    for rule in RULES:
        if rule.column in rows:
            broken = rule.broken(rows[rule.column])
            if broken.any():
                count, first = int(broken.sum()), rows.index[broken][0]
                where = f"row {first}" if count == 1 else f"{count} rows, first in row {first}"
                problems.append((f"{rule.column} {rule.problem} in {where}", rule.remedy))
    if problems:
        raise InputError("; ".join(p for p, _ in problems), "; ".join(r for _, r in problems))
    texts = [name for name in NUMBERS if name in rows and rows[name].dtype.kind not in "fiu"]
    named = {name: labels_of(rows[name]) for name in LABELS if name in rows}
    changed = {name: labels for name, labels in named.items() if labels is not rows[name]}
    if texts or changed:
        rows = rows.assign(**{name: _numbers(rows[name]) for name in texts}, **changed)
    if "time" in rows and rows["time"].dtype.kind != "M":
        rows = rows.assign(time=_instants(rows["time"]))
    if "side" in rows and rows["side"].isna().any():  # CSV knows no empty text
        rows = rows.assign(side=rows["side"].astype(object).where(rows["side"].notna(), ""))
    if "spells" in rows:
        given = rows["spells"].tolist()
        if not set(map(type, given)) <= {tuple}:
            again = pd.Series([_tuple(spells) for spells in given], index=rows.index, dtype=object)
            rows = rows.assign(spells=again)
    if "course" in rows:
        rows = rows.assign(course=_courses(rows["course"]))
    return rows


def _instants(times: pd.Series[Any]) -> pd.Series[Any]:
    numbers = times.dtype.kind in "fiu"
    if numbers and times.abs().between(*_MILLISECONDS).all():
        return pd.to_datetime(times, utc=True, unit="ms")  # as JSON has them
    try:
        return pd.to_datetime(times.astype(str) if numbers else times, utc=True, format="ISO8601")
    except (ValueError, TypeError) as error:
        raise InputError(
            f"time is not a date and time: {str(error).splitlines()[0]}",
            "write times such as 2026-10-03T19:00:00+02:00",
        ) from None


def _courses(given: pd.Series[Any]) -> pd.Series[Any]:
    """Return pairs of minutes and °C that a file turned into text, lists or arrays."""
    values = given.tolist()
    if set(map(type, values)) <= {tuple}:
        return given
    read: dict[str, tuple[tuple[float, float], ...]] = {}
    found = []
    for one in values:
        text = one if isinstance(one, str) else str([list(map(float, pair)) for pair in one])
        if text not in read:
            brackets = text.replace("(", "[").replace(")", "]").replace(",]", "]")
            try:
                read[text] = tuple((float(m), float(c)) for m, c in json.loads(brackets))
            except (ValueError, TypeError):
                raise InputError(
                    f"course {text[:40]!r} is not pairs of minutes and °C",
                    "write it as ((0, 20.0), (30, 4.5))",
                ) from None
        found.append(read[text])
    return pd.Series(found, index=given.index, dtype=object)


def _tuple(spells: Any) -> tuple[float, ...]:
    """Return minutes that a file turned into text, a list or an array."""
    if isinstance(spells, str):
        text = spells.strip().strip("()[]").rstrip(", ")
        try:
            return tuple(map(float, json.loads(f"[{text}]")))
        except (ValueError, TypeError):
            raise InputError(
                f"spells {spells[:40]!r} are not minutes", "write them as (3.5, 2.0)"
            ) from None
    return tuple(float(minutes) for minutes in spells)
