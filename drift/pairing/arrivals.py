"""Where instruments were before they came in: a temperature of other air, typed before playing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from drift.groups import rows_of
from drift.logbook.rehearsals import Rehearsals, is_typed
from drift.pairing.nearest import GAP_MINUTES, TYPED_MINUTES, minutes_of

__all__ = ["APART_CELSIUS", "Arrival", "arrivals_of", "rests_from", "with_arrivals"]

APART_CELSIUS = 5.0
"""A temperature that is typed before playing and is not so far from the room's is one of it."""

STILL_MINUTES = 60.0
"""Who begins to play later than this after coming in has an instrument of the room's air."""


@dataclass(frozen=True)
class Arrival:
    """Where instruments were, and until when.

    Attributes
    ----------
    minute : float
        When they came in [minutes since 1970].
    celsius : float
        The air where they were before [°C].
    """

    minute: float
    celsius: float


def arrivals_of(rehearsals: Rehearsals) -> tuple[Rehearsals, dict[str, Arrival]]:
    """Return rehearsals without the temperatures of where instruments were, and these.

    Parameters
    ----------
    rehearsals : Rehearsals
        What was logged.

    Returns
    -------
    rehearsals : Rehearsals
        All temperatures are of the air in which they were played.
    arrivals : dict of str to Arrival
        By rehearsal: of the temperatures that were typed before anybody played, the last that is
        `APART_CELSIUS` or more from the air of the room. That is the next temperature within half
        an hour, typed or measured, and what was measured last in the ten minutes before.
    """
    table = rehearsals.temperatures
    typed = is_typed(table).to_numpy(dtype=bool)
    if not typed.any():
        return rehearsals, {}
    begun = _begun(rehearsals)
    minutes, celsius = minutes_of(table["time"]), table["celsius"].to_numpy(dtype=float)
    found: dict[str, Arrival] = {}
    away = np.zeros(len(table), dtype=bool)
    for name, rows in rows_of(table["rehearsal"].astype("str")).items():
        first = begun.get(str(name), -np.inf)
        for row in rows[typed[rows] & (minutes[rows] < first)]:
            since = minutes[rows] - minutes[row]
            behind = rows[(since > 0.0) & (since <= TYPED_MINUTES)]
            beside = rows[~typed[rows] & (since <= 0.0) & (since >= -GAP_MINUTES)]
            room = [*behind[np.argsort(minutes[behind], kind="stable")][:1], *beside[-1:]]
            if room and (np.abs(celsius[room] - celsius[row]) >= APART_CELSIUS).all():
                away[row] = True
                found[str(name)] = Arrival(float(minutes[row]), float(celsius[row]))
    if not found:
        return rehearsals, {}
    return replace(rehearsals, temperatures=table[~away].reset_index(drop=True)), found


def _begun(rehearsals: Rehearsals) -> Mapping[str, float]:
    """Return when somebody began to play, or was read, by rehearsal [minutes since 1970]."""
    events = rehearsals.events[rehearsals.events["event"] == "play"]
    told = pd.concat([one[["rehearsal", "time"]] for one in (events, rehearsals.readings)])
    first = told.groupby("rehearsal", sort=False)["time"].min()
    return dict(zip(map(str, first.index), minutes_of(first), strict=True))


def rests_from(came: Arrival, began: float) -> bool:
    """Return whether an instrument rests from when it came in until playing began.

    Parameters
    ----------
    came : Arrival
    began : float
        When playing began [minutes since 1970].
    """
    return bool(_still(np.float64(began - came.minute)))


def _still(rest: Any) -> Any:
    """Return whether what is in an instrument still follows the room, after so long [min]."""
    return (rest >= 0.0) & (rest <= STILL_MINUTES)


def with_arrivals(
    played: pd.DataFrame, rehearsal: pd.Series[str], arrivals: Mapping[str, Arrival]
) -> pd.DataFrame:
    """Return what was played before readings, with the rest since the instruments came in.

    Parameters
    ----------
    played : DataFrame
        From `drift.pairing.playing.playing_before`.
    rehearsal : Series of str
        Of each reading.
    arrivals : mapping of str to Arrival
        By rehearsal.
    """
    if not arrivals:
        return played
    came = rehearsal.map({name: one.minute for name, one in arrivals.items()}).to_numpy(dtype=float)
    began = played["began"].to_numpy()
    rest = began - came
    some = _still(rest) & (played["initial_warmth"].to_numpy() == 0.0)
    spells = played["spells"].to_numpy(dtype=object).copy()
    made: dict[tuple[float, tuple[float, ...]], tuple[float, ...]] = {}
    for row in np.flatnonzero(some):  # readings that share a past go on sharing it
        past = (float(rest[row]), spells[row])
        spells[row] = made.setdefault(past, (0.0, *past[:1], *past[1]))
    return played.assign(
        began=np.where(some, came, began),
        spells=pd.Series(spells, index=played.index, dtype=object),
    )
