"""Columns of a table of one's own, put beside the readings: a mute, an age, a mouthpiece."""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta
from pathlib import Path
from typing import Any

import pandas as pd

from drift.errors import InputError
from drift.tables.headers import our_name
from drift.tables.sources import in_whole_microseconds, labels_of
from drift.times import in_microseconds, parse_time

__all__ = ["KEYS", "with_columns"]

KEYS = ("time", "rehearsal", "player", "instrument", "side", "note")
"""What may say which readings a row is about."""

BEGAN = "initial_warmth"
"""The one column of readings that a table beside may fill: how warm the instrument began."""


def with_columns(table: pd.DataFrame, beside: pd.DataFrame | Path | str) -> pd.DataFrame:
    """Return a paired table with more columns.

    Parameters
    ----------
    table : DataFrame
        The paired table, or what becomes one.
    beside : DataFrame, Path or str
        A table, or a CSV or Parquet file, with some of the columns `KEYS`, which say what a row is
        about, and columns of other names. Where none is called so, what the columns of readings
        are called otherwise is understood, such as ``musician``. A row of ``player`` and ``age``
        gives the age to all readings of a player, one of ``rehearsal`` and ``crowd`` the crowd to
        all of a rehearsal; where no row is about a reading, its values are missing. A column
        ``initial_warmth`` (0 cold to 1 warm, empty: not known) takes the place of that of the
        readings that a row is about.

    Raises
    ------
    InputError
        If nothing says what a row is about, two rows are about the same, a column is one that
        readings have, or no row is about any reading.

    Examples
    --------
    >>> readings = pd.DataFrame({"player": ["Rowan", "Isolde", "Rowan"]})
    >>> ages = pd.DataFrame({"player": ["Rowan", "Isolde"], "age": [31, 44]})
    >>> with_columns(readings, ages)["age"].tolist()
    [31, 44, 31]
    """
    more, called = _read(beside)
    more = _by_our_names(more)
    keys = [name for name in KEYS if name in more]
    if not keys:
        raise InputError(
            f"{called}: no column says which readings a row is about",
            f"give one or more of {', '.join(KEYS)}",
        )
    _refuse_others(more, keys, table.columns, called)
    if "time" in keys:
        more = more.assign(time=_instants(more["time"], called, table["time"].dtype))
    if "side" in keys:  # a file leaves it empty where an instrument has one side
        more = more.assign(side=more["side"].astype(object).fillna(""))
    names = [name for name in keys if name != "time"]
    more, table = (one.assign(**{n: labels_of(one[n]) for n in names}) for one in (more, table))
    if more.duplicated(keys).any():
        first = more.loc[more.duplicated(keys), keys].iloc[0]
        raise InputError(
            f"{called}: two rows are about {', '.join(map(str, first))}",
            f"keep one row for each {', '.join(keys)}",
        )
    kept = table.drop(columns=BEGAN) if BEGAN in more and BEGAN in table else table
    joined = kept.merge(more, on=keys, how="left", indicator="matched")
    about = joined["matched"] == "both"
    if len(table) and not about.any():
        raise InputError(
            f"{called}: no row is about any of the readings",
            f"spell {', '.join(keys)} as the readings do; where players have pseudonyms, "
            "drift export --key names them"
            if "player" in keys
            else f"spell {', '.join(keys)} as the readings do",
        )
    if kept is not table:
        joined[BEGAN] = joined[BEGAN].where(about, table[BEGAN].to_numpy())
    return joined.drop(columns="matched")


def _by_our_names(more: pd.DataFrame) -> pd.DataFrame:
    """Return a table none of whose columns is a key with those that mean one called so."""
    if any(name in more for name in KEYS):
        return more
    names = {name: our_name(str(name), KEYS) for name in more}
    given = [*names.values()]
    return more.rename(
        columns={old: new for old, new in names.items() if new and given.count(new) == 1}
    )


def _read(beside: pd.DataFrame | Path | str) -> tuple[pd.DataFrame, str]:
    """Return the table, and what to call it."""
    if isinstance(beside, pd.DataFrame):
        return beside, "the table beside"
    path = Path(beside)
    try:
        if path.suffix.lower() == ".parquet":
            return pd.read_parquet(path), str(path)
        return pd.read_csv(path), str(path)
    except FileNotFoundError:
        raise InputError(
            f"{path} cannot be read: there is no such file", "check the name"
        ) from None
    except (OSError, ValueError) as failure:  # pandas' own errors are values that cannot be
        reason = str(failure).splitlines()[0]
        raise InputError(f"{path} cannot be read: {reason}", "give CSV or Parquet") from failure


def _refuse_others(
    more: pd.DataFrame, keys: list[str], taken: Collection[str], called: str
) -> None:
    """Refuse columns that readings have already, and a table that has no other."""
    others = [name for name in more if name not in keys]
    known = [str(n) for n in others if (n in taken and n != BEGAN) or n == "matched"]
    if known:
        raise InputError(
            f"{called}: readings have a column {known[0]!r} already", "give it another name"
        )
    if not others:
        raise InputError(f"{called}: there is no column beside {', '.join(keys)}", "add one")


def _instants(times: pd.Series[Any], called: str, kind: Any) -> pd.Series[Any]:
    """Return times as the readings have them; texts by the rule of the other tables."""
    if isinstance(times.dtype, pd.DatetimeTZDtype):
        return in_whole_microseconds(times).astype(kind)
    found = []
    for row, value in enumerate(times, start=1):
        try:
            text, more = in_microseconds(str(value).strip())
            found.append(parse_time(text) + timedelta(microseconds=more))
        except InputError as refusal:
            raise InputError(
                f"{called}, row {row}: the time cannot be read: {refusal.problem}", refusal.remedy
            ) from None
    return pd.Series(pd.DatetimeIndex(found), index=times.index).astype(kind)
