"""What was taken from tables though it could have been meant otherwise: to be mentioned once."""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd

from drift.tables.columns import Table, Texts
from drift.tables.csv_source import Separated
from drift.tables.headers import Renamed, columns_of

__all__ = ["Commas", "Repeated", "Understood", "noticed"]


class Commas(NamedTuple):
    """A column of a file in which a comma stands before the decimals."""

    source: str
    column: str


class Repeated(NamedTuple):
    """Rows of a file that equal an earlier one in every column, and where the first of them is."""

    source: str
    rows: int
    first: str


Understood = Renamed | Separated | Commas | Repeated


def noticed(table: Table, frame: pd.DataFrame) -> list[Understood]:
    """Return what is to be mentioned of a table whose values can all be taken.

    Parameters
    ----------
    table : Table
        As its source gave it.
    frame : DataFrame
        Its rows as they are taken, in the same order.
    """
    found: list[Understood] = []
    for rule in columns_of(table.name):
        column = table.columns.get(rule.name)
        if rule.is_number and isinstance(column, Texts) and any("," in t for t in column.known):
            found.append(Commas(table.source, rule.name))
    often = frame["time"].duplicated(keep=False) if "time" in frame else None
    if often is not None and often.any():  # rows that are alike have the same time at least
        again = frame[often].duplicated()
        rows = again.index[again].to_numpy()
        if len(rows):
            found.append(Repeated(table.source, len(rows), str(table.place(rows[:1])[0])))
    return found
