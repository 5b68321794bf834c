"""What was understood in tables that are not written our way."""

from __future__ import annotations

from drift.tables.csv_source import Separated
from drift.tables.headers import Renamed

__all__ = ["understood"]

_SEPARATORS = {";": "semicolons", "\t": "tabs", ",": "commas"}


def understood(found: Renamed | Separated) -> str:
    """Return in a line how a table was understood.

    Examples
    --------
    >>> understood(Renamed("readings.csv", "Temp (C)", "celsius"))
    "readings.csv: column 'Temp (C)' is read as celsius"
    >>> understood(Separated("readings.csv", ";"))
    'readings.csv: fields are separated by semicolons'
    """
    if isinstance(found, Renamed):
        return f"{found.source}: column {found.given!r} is read as {found.name}"
    return f"{found.source}: fields are separated by {_SEPARATORS[found.separator]}"
