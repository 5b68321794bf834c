"""Rehearsals as tables: what a folder or a logbook holds, ready to be paired."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import InputError
from drift.instruments import Catalogue
from drift.logbook.blocks import Columns
from drift.logbook.book import Logbook
from drift.logbook.file import is_logbook
from drift.logbook.folders import Folder
from drift.logbook.records import RECORDS, TYPED, Column
from drift.logbook.saved import saved_tables
from drift.tables.checking import conventions
from drift.tables.loading import load_tables
from drift.tables.taking import is_tables
from drift.tables.understood import Understood

__all__ = ["Progress", "Rehearsals", "load", "nothing_logged", "of_folder", "of_logbook"]


#: Called with how much is done and how much there is to do.
Progress = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class Rehearsals:
    """What was logged, one table a kind.

    Attributes
    ----------
    readings, temperatures, events, calibrations, notices : DataFrame
        The columns of the rehearsal folder; ``time`` in UTC, an empty text is ``""`` and a
        missing number is NaN.
    understood : tuple
        What was taken from the source though it could have been meant otherwise: columns of
        another name, other separators, decimal commas, rows that are there twice.
    zone : tzinfo or None
        In which the times of tables were written, where that is one; a logbook keeps none.
    """

    readings: pd.DataFrame
    temperatures: pd.DataFrame
    events: pd.DataFrame
    calibrations: pd.DataFrame
    notices: pd.DataFrame
    understood: tuple[Understood, ...] = ()
    zone: tzinfo | None = None

    @property
    def names(self) -> list[str]:
        """The names of the rehearsals in order of the first that was logged of each."""
        tables = (self.readings, self.temperatures, self.events)
        starts = pd.concat([table[["rehearsal", "time"]] for table in tables])
        return list(starts.groupby("rehearsal")["time"].min().sort_values(kind="stable").index)

    @property
    def measured_names(self) -> tuple[str, ...]:
        """The names of the rehearsals in which anything was read, in the same order."""
        tables = (self.readings, self.temperatures)
        measured_in = {name for table in tables for name in table["rehearsal"].unique()}
        return tuple(name for name in self.names if name in measured_in)

    @property
    def without_a_beginning(self) -> tuple[str, ...]:
        """The rehearsals with readings of which no event says when playing began."""
        begun = set(self.events.loc[self.events["event"] == "play", "rehearsal"])
        return tuple(name for name in self.readings["rehearsal"].unique() if name not in begun)

    def named(self, names: Iterable[str]) -> list[str]:
        """Return names of rehearsals, of which each is there; another one is refused."""
        wanted = list(names)
        _check_known(wanted, self.names, "rehearsal")
        return wanted

    def only(
        self, *, rehearsals: Iterable[str] | None = None, players: Iterable[str] | None = None
    ) -> Rehearsals:
        """Return the part that belongs to some rehearsals or players.

        Slide positions and calibrations carry over between rehearsals, so the slide events of the
        others stay.
        """
        readings, temperatures, notices = self.readings, self.temperatures, self.notices
        if rehearsals is not None:
            wanted = self.named(rehearsals)
            readings = readings[readings["rehearsal"].isin(wanted)]
            temperatures = temperatures[temperatures["rehearsal"].isin(wanted)]
            notices = notices[notices["rehearsal"].isin(wanted)]
        if players is not None:
            wanted = list(players)
            _check_known(wanted, sorted(self.readings["player"].unique()), "player")
            readings = readings[readings["player"].isin(wanted)]
        return Rehearsals(readings, temperatures, self.events, self.calibrations, notices)

    def before(self, time: datetime) -> Rehearsals:
        """Return the part that was recorded before a time: no later slide, calibration or notice.

        Unlike in `only`, the slide events of what is left out go with it.
        """
        tables = {name: getattr(self, name) for name in RECORDS}
        kept = {name: t[t["time"] < time].reset_index(drop=True) for name, t in tables.items()}
        return replace(self, **kept)

    @property
    def players(self) -> list[str]:
        """Everybody who is named in readings or events, in order of the alphabet."""
        tables = (self.readings, self.events)
        return sorted({str(name) for table in tables for name in table["player"].unique()} - {""})

    def same_as(self, other: Rehearsals) -> bool:
        """Return whether another one holds the same rows in every table."""
        return all(getattr(self, name).equals(getattr(other, name)) for name in RECORDS)

    @property
    def thermometers(self) -> pd.Series[int]:
        """The number of samples of each thermometer, the most first."""
        return self.temperatures["source"].value_counts(sort=True)


def load(
    source: Path | str | Mapping[str, pd.DataFrame],
    catalogue: Catalogue | None = None,
    *,
    zone: str | tzinfo | None = None,
    dates: str | None = None,
    wide: bool = False,
    progress: Progress | None = None,
) -> Rehearsals:
    """Read rehearsals from any source.

    Parameters
    ----------
    source : Path, str or mapping of str to DataFrame
        A logbook; a rehearsal folder with a CSV file, a Parquet file or a partitioned data set
        for each table; a spreadsheet (.xlsx, .ods) with a sheet for each; a single CSV or
        Parquet file of readings; or the tables themselves, any of them left out.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    zone : str or tzinfo, optional
        Time zone of times without an offset from UTC, such as ``Europe/Berlin`` (IANA name).
    dates : str, optional
        ``day-first`` or ``month-first``, for dates that do not tell by themselves.
    wide : bool
        Whether the table of readings has a column for each note, called ``F4``, ``Bb3``, ...,
        with the cents in its cells, in place of ``note`` and ``cents``.
    progress : callable, optional
        Called now and then with the number of rows that are read and the number of all.

    Returns
    -------
    Rehearsals
        The tables.

    Raises
    ------
    InputError
        With everything that cannot be taken, each with file, line and value.
    LogbookError
        When the logbook cannot be read.

    Examples
    --------
    >>> import drift
    >>> season = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
    >>> season.readings["player"].nunique()
    2
    >>> drift.load({"readings": season.readings}).readings.equals(season.readings)
    True
    """
    if not isinstance(source, str | Path | Mapping):
        raise InputError(
            f"load needs a folder, a logbook or tables, not {type(source).__name__}",
            "give a path, or a mapping of the names of tables to DataFrames",
        )
    if is_tables(source):
        how = conventions(catalogue, zone=zone, dates=dates, wide=wide)
        loaded = load_tables(source, how, progress)
        return Rehearsals(**loaded.frames, understood=loaded.understood, zone=loaded.zone)
    path = Path(source)  # type: ignore[arg-type]  # a mapping is tables
    if not path.exists():
        raise InputError(f"there is no folder or logbook {path}", "check the name")
    if not is_logbook(path):
        raise InputError(
            f"{path} is neither a rehearsal folder nor a logbook",
            "give the folder that holds readings.csv, or a logbook made by drift import or log",
        )
    with Logbook(path) as book:
        return of_logbook(book, progress)


def nothing_logged() -> Rehearsals:
    """Return empty tables."""
    tables: dict[str, Any] = {table: frame(table, ()) for table in RECORDS}
    return Rehearsals(**tables)


def of_folder(folder: Folder) -> Rehearsals:
    """Return the records of a folder as tables."""
    tables: dict[str, Any] = {
        table: frame(table, (r.values() for r in folder.of(table))) for table in RECORDS
    }
    return Rehearsals(**tables)


def of_logbook(book: Logbook, progress: Progress | None = None) -> Rehearsals:
    """Return what stands in a logbook as tables; entries taken back are left out."""
    with book.at_one_moment() as reader:
        blocks = reader.sound_blocks()
        saved = saved_tables(_counted(blocks, reader.last_entry, progress) if progress else blocks)
    tables: dict[str, Any] = {table: rows.standing() for table, rows in saved.items()}
    return Rehearsals(**tables)


def _counted(
    blocks: Iterator[dict[str, Columns]], entries: int, progress: Progress
) -> Iterator[dict[str, Columns]]:
    """Yield blocks, and say after each how many entries are read."""
    done = 0
    for block in blocks:
        yield block
        done += len(block["entry"]["entry_id"])
        progress(done, entries)


def frame(table: str, rows: Iterable[Mapping[str, Any]]) -> pd.DataFrame:
    """Return rows as a DataFrame with the columns of a table in their types."""
    kept = list(rows)
    return pd.DataFrame(
        {column.name: typed(column, [row[column.name] for row in kept]) for column in
         RECORDS[table].columns}
    )  # fmt: skip


def typed(column: Column, values: list[Any]) -> pd.Series[Any]:
    """Return the values of one column in its type."""
    if column.kind == "time":
        return pd.Series(pd.to_datetime(values, utc=True)).astype("datetime64[us, UTC]")
    if column.is_number:
        return pd.Series(np.array([np.nan if v is None else v for v in values], dtype=float))
    return pd.Series(values, dtype=bool if column.kind == "boolean" else "str")


def _check_known(wanted: list[str], known: list[str], what: str) -> None:
    for name in wanted:
        if name not in known:
            raise InputError(f"there is no {what} {name!r}", f"there are {', '.join(known)}")


def is_typed(temperatures: pd.DataFrame) -> pd.Series[bool]:
    """Return which temperatures were read off and typed by a person."""
    return temperatures["source"] == TYPED
