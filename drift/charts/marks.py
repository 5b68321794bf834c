"""Rests and slide moves of a rehearsal, to mark on a chart or list in a table."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

__all__ = ["rests", "slide_moves"]

SAME_MM = 0.05


def rests(events: pd.DataFrame, player: str = "") -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Return the rests of a rehearsal as pairs of instants.

    Parameters
    ----------
    events : DataFrame
        Events of one rehearsal.
    player : str
        A player whose own rests count as well; empty for those of everyone.

    Returns
    -------
    list of (Timestamp, Timestamp)
        From when to when. A rest that nobody ended is left out: nobody knows its length.

    Examples
    --------
    >>> def at(minute): return pd.Timestamp("2026-10-03T17:00Z") + pd.Timedelta(minutes=minute)
    >>> events = pd.DataFrame({"time": [at(0), at(20), at(30)], "player": "",
    ...                        "event": ["play", "rest", "play"]})
    >>> [(a.minute, b.minute) for a, b in rests(events)]
    [(20, 30)]
    """
    ours = events[events["player"].isin(["", player]) & events["event"].isin(["play", "rest"])]
    ours = ours.sort_values("time", kind="stable")
    found: list[tuple[pd.Timestamp, pd.Timestamp]] = []
    since: pd.Timestamp | None = None
    for time, event in zip(ours["time"], ours["event"], strict=True):
        if event == "rest" and since is None:
            since = time
        elif event == "play" and since is not None:
            found.append((since, time))
            since = None
    return found


def slide_moves(events: pd.DataFrame, players: Iterable[str] | None = None) -> pd.DataFrame:
    """Return where a slide came to stand elsewhere than it had been said to stand.

    Parameters
    ----------
    events : DataFrame
        The events of all rehearsals, because positions carry over.
    players : iterable of str, optional
        Whose moves (default: everyone's). A move that names no player counts for everyone.

    Returns
    -------
    DataFrame
        ``time, rehearsal, player, instrument, slide, from_mm, to_mm``; a first position is no
        move.

    Examples
    --------
    >>> def at(minute): return pd.Timestamp("2026-10-03T17:00Z") + pd.Timedelta(minutes=minute)
    >>> events = pd.DataFrame({"time": [at(0), at(20), at(30)], "rehearsal": "a",
    ...     "player": "Rowan", "instrument": "", "event": "slide", "slide": "main",
    ...     "position_mm": [12.0, 12.0, 16.0]})
    >>> slide_moves(events)[["from_mm", "to_mm"]].values.tolist()
    [[12.0, 16.0]]
    """
    stated = events[events["event"] == "slide"].sort_values("time", kind="stable")
    if players is not None:
        stated = stated[stated["player"].isin(["", *players])]
    before = stated.groupby(["player", "instrument", "slide"], sort=False)["position_mm"].shift()
    moved = stated.assign(from_mm=before, to_mm=stated["position_mm"])
    moved = moved[(moved["to_mm"] - moved["from_mm"]).abs() > SAME_MM]
    columns = ["time", "rehearsal", "player", "instrument", "slide", "from_mm", "to_mm"]
    return moved[columns].reset_index(drop=True)
