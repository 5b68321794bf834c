"""The air while an instrument is tuned: what of the logged temperatures still holds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any

import pandas as pd

from drift.logbook.records import TYPED, Temperature
from drift.logbook.rehearsals import Rehearsals
from drift.pairing.nearest import GAP_MINUTES, TYPED_MINUTES

__all__ = ["air_elsewhere", "air_now"]


def air_now(temperatures: Iterable[Mapping[str, Any]], time: datetime) -> float | None:
    """Return the temperature that holds at a moment [°C], None where none does.

    Parameters
    ----------
    temperatures : iterable of mapping
        Those logged in a rehearsal, in order of time.
    time : datetime
        The moment. What a person typed holds half an hour, a sample ten minutes, as where
        readings are paired.
    """
    held = [
        float(row["celsius"]) for row in temperatures if _holds(row["source"], row["time"], time)
    ]
    return held[-1] if held else None


def air_elsewhere(rehearsals: Rehearsals, rehearsal: str, time: datetime) -> Temperature | None:
    """Return the temperature of another rehearsal of the book that still holds, for this one.

    Parameters
    ----------
    rehearsals : Rehearsals
        All that was logged.
    rehearsal : str
        The one that it is for.
    time : datetime
        Now.
    """
    table = rehearsals.temperatures
    since = time - pd.Timedelta(minutes=TYPED_MINUTES)
    lately = table[(table["time"] >= since) & (table["time"] <= time)].sort_values("time")
    for row in lately.iloc[::-1].to_dict("records"):
        if row["rehearsal"] != rehearsal and _holds(row["source"], row["time"], time):
            known = {
                field.name: row[field.name]
                for field in fields(Temperature)
                if not pd.isna(row[field.name])
            }
            moment = row["time"].to_pydatetime()
            return Temperature(**{**known, "time": moment, "rehearsal": rehearsal})
    return None


def _holds(source: str, since: datetime, time: datetime) -> bool:
    minutes = (time - since).total_seconds() / 60.0
    return 0.0 <= minutes <= (TYPED_MINUTES if source == TYPED else GAP_MINUTES)
