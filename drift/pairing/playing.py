"""How long each player had played, and rested, before each reading."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.groups import codes_of, rows_of
from drift.pairing.doubling import only_in, turns_of

__all__ = ["LEAD_MINUTES", "playing_at", "playing_before", "switches_of"]

LEAD_MINUTES = 1.0
"""Where no ``play`` was logged, playing began this long before the player's first reading."""

Array = npt.NDArray[np.float64]


def playing_before(events: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """Return the playing and the rests before each reading.

    Parameters
    ----------
    events : DataFrame
        The events of the rehearsals.
    readings : DataFrame
        ``time, rehearsal, player`` of n readings, and ``instrument`` where players have several.

    Returns
    -------
    DataFrame
        On the index of the readings: ``playing_minutes`` (rests left out; NaN before playing
        began counts as 0), ``spells`` (tuple of minutes of the completed stretches before,
        alternately playing and resting), ``minutes_into_spell``, ``initial_warmth`` (1 where the
        instrument was said to be already warm, else 0), ``began`` (when playing began, in minutes
        since 1970).

    Notes
    -----
    - ``play`` and ``rest`` with no player hold for everyone; ``end`` is a rest.
    - A first ``play`` or a ``start`` of a player's own means that this player began then: one who
      arrives late.
    - Where the first event is a ``rest``, or there is none, the log began in the middle, and
      playing began `LEAD_MINUTES` before the player's first reading.
    - Of two instruments of a player in a rehearsal each is played from its own first reading on, or
      from the ``play`` before it, and rests while the other one is read.
    - A rest that nobody ended, before the next rest or at all, is over `LEAD_MINUTES` before the
      next reading of the player, who can not have rested while playing it.

    Examples
    --------
    >>> import pandas as pd
    >>> def at(minute): return pd.Timestamp("2026-10-03T17:00Z") + pd.Timedelta(minutes=minute)
    >>> events = pd.DataFrame({"time": [at(0), at(20), at(30)], "rehearsal": "a", "player": "",
    ...                        "event": ["play", "rest", "play"], "already_warm": False})
    >>> readings = pd.DataFrame({"time": [at(10), at(35)], "rehearsal": "a", "player": "Rowan"})
    >>> playing_before(events, readings)[["playing_minutes", "spells"]].values.tolist()
    [[10.0, ()], [25.0, (20.0, 10.0)]]
    """
    count = len(readings)
    found = _Found(count)
    relevant = events[events["event"].isin(["start", "play", "rest", "end"])]
    by_rehearsal = {str(name): part for name, part in relevant.groupby("rehearsal", sort=False)}
    when = readings["time"].to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
    players = readings["player"].to_numpy(dtype=object)
    unlogged = []
    doubled = _doubled(readings)
    for rehearsal, everyone in rows_of(readings["rehearsal"]).items():
        here = by_rehearsal.get(str(rehearsal))
        rows = everyone
        if doubled[everyone].any():
            rows = everyone[~doubled[everyone]]
            both = everyone[doubled[everyone]]
            known = relevant.iloc[:0] if here is None else here
            for group, switches, warm in _by_instrument(known, readings.iloc[both], when[both]):
                found.fill(both[group], switches, when[both[group]], warm)
        if not len(rows):
            continue
        if here is None:
            unlogged.append(rows)
            continue
        for group, switches, warm in _histories(here, players[rows], when[rows]):
            found.fill(rows[group], switches, when[rows[group]], warm)
    if unlogged:
        rows = np.concatenate(unlogged)
        found.fill_unlogged(rows, _days(readings.iloc[rows]), when[rows])
    return pd.DataFrame(
        {
            "playing_minutes": found.playing,
            "spells": pd.Series(found.spells, index=readings.index, dtype=object),
            "minutes_into_spell": found.into,
            "initial_warmth": found.warmth,
            "began": found.began,
        },
        index=readings.index,
    )


def playing_at(
    events: pd.DataFrame,
    readings: pd.DataFrame,
    player: str,
    minute: float,
    instrument: str = "",
) -> tuple[float, tuple[float, ...], float, float]:
    """Return the playing and the rests of one player before a moment.

    Parameters
    ----------
    events, readings : DataFrame
        Those of one rehearsal, up to the moment.
    player : str
        The player.
    minute : float
        The moment, in minutes since 1970.
    instrument : str
        What is in the player's hands then; where others were played as well, it counts alone.

    Returns
    -------
    playing_minutes : float
    spells : tuple of float
    minutes_into_spell : float
    initial_warmth : float
        As in `playing_before`.
    """
    theirs = events[events["player"].isin(["", player])]
    steps = _steps(theirs, player)
    own = readings[readings["player"] == player].sort_values("time", kind="stable")
    when = own["time"].to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
    begun = bool(len(when)) or (bool(steps.times) and steps.times[0][1])
    switches, warm = switches_of(steps.times, when) if begun else np.array([minute]), steps.warm
    if instrument and (own["instrument"] != instrument).any():
        held, then = [*own["instrument"], instrument], [*when.tolist(), minute]
        switches, warm = _alone(theirs, held, then, switches, instrument, warm)
    found = _Found(1)
    found.fill(np.array([0]), switches, np.array([minute]), warm)
    return float(found.playing[0]), found.spells[0], float(found.into[0]), float(warm)


class _Found:
    """The columns being filled."""

    def __init__(self, count: int) -> None:
        self.playing, self.into, self.warmth, self.began = np.zeros((4, count))
        self.spells: Any = np.empty(count, dtype=object)

    def fill(self, rows: Any, switches: Array, when: Array, warm: bool) -> None:
        """Fill some rows from the minutes at which playing began, stopped, began, ..."""
        passed = np.searchsorted(switches, when, side="right")
        lengths = np.diff(switches)
        past = [tuple(lengths[: max(k - 1, 0)].tolist()) for k in range(len(switches) + 1)]
        played = np.array([sum(stretch[::2]) for stretch in past])
        into = np.where(passed > 0, when - switches[np.maximum(passed - 1, 0)], 0.0)
        lookup = np.empty(len(past), dtype=object)
        for number, stretches in enumerate(past):
            lookup[number] = stretches
        self.spells[rows] = lookup[passed]
        self.into[rows] = into
        self.playing[rows] = played[passed] + np.where(passed % 2 == 1, into, 0.0)
        self.warmth[rows] = float(warm)
        self.began[rows] = switches[0]

    def fill_unlogged(self, rows: Any, day: Any, when: Array) -> None:
        """Fill rows of rehearsals without events, as `fill` would day by day."""
        first = np.full(day.max() + 1, np.inf)
        np.minimum.at(first, day, when)
        began = first[day] - LEAD_MINUTES
        none = np.empty(1, dtype=object)
        none[0] = ()
        self.spells[rows] = none
        self.began[rows] = began
        self.into[rows] = self.playing[rows] = when - began


def _doubled(readings: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Return which readings are of players with several instruments in that rehearsal."""
    if "instrument" not in readings or readings.empty:
        return np.zeros(len(readings), dtype=bool)
    day, what = _days(readings), codes_of(readings["instrument"])[0]
    low = np.full(day.max(initial=0) + 1, np.iinfo(np.int64).max)
    high = np.full(len(low), -1)
    np.minimum.at(low, day, what)
    np.maximum.at(high, day, what)
    return np.asarray((low < high)[day])


def _by_instrument(
    events: pd.DataFrame, readings: pd.DataFrame, when: Array
) -> Iterator[tuple[npt.NDArray[np.intp], Array, bool]]:
    """Yield what `_histories` yields, for players with several instruments in one rehearsal."""
    for player, group in rows_of(readings["player"].astype("str")).items():
        own = events[events["player"].isin(["", player])]
        steps = _steps(own, str(player))
        order = group[np.argsort(when[group], kind="stable")]
        instruments = readings["instrument"].iloc[order].astype("str").tolist()
        switches = switches_of(steps.times, when[group])
        for name in dict.fromkeys(instruments):
            mine = np.array([what == name for what in instruments])
            alone, warm = _alone(own, instruments, when[order].tolist(), switches, name, steps.warm)
            yield order[mine], alone, warm


def _alone(
    events: pd.DataFrame,
    instruments: Sequence[str],
    when: Sequence[float],
    switches: Array,
    instrument: str,
    warm: bool,
) -> tuple[Array, bool]:
    """Return when one of several instruments was played, and whether it began warm."""
    played = events[events["event"] == "play"]
    minutes = played["time"].to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
    turns = turns_of(instruments, when, minutes.tolist(), LEAD_MINUTES)
    alone = only_in(switches, turns, instrument)
    if not len(alone):  # taken up during a rest, as far as is known
        begins = next(turn.begins for turn in turns if turn.instrument == instrument)
        alone = np.array([max(begins, switches[0])])
    if turns[0].instrument != instrument:
        said = played.loc[minutes == alone[0], "already_warm"]
        warm = bool(said.astype(bool).any())
    return alone, warm


def _days(readings: pd.DataFrame) -> npt.NDArray[np.int64]:
    """Return a number for each rehearsal of each player."""
    rehearsal, player = codes_of(readings["rehearsal"])[0], codes_of(readings["player"])[0]
    return np.asarray(pd.factorize(rehearsal * (player.max() + 1) + player)[0], dtype=np.int64)


def _histories(
    events: pd.DataFrame, players: Any, when: Array
) -> Iterator[tuple[npt.NDArray[np.intp], Array, bool]]:
    """Yield which readings share a history, its switches [min], and whether it began warm."""
    own = set(events["player"]) - {""}
    band = _steps(events[events["player"] == ""] if own else events)
    if band.times and not (band.first_is_rest or band.ends_resting or band.rests_again):
        shared = ~np.isin(players, list(own)) if own else np.ones(len(players), dtype=bool)
        if shared.any():
            yield np.flatnonzero(shared), np.array([t for t, _ in band.times]), band.warm
        remaining = np.flatnonzero(~shared)
        if not len(remaining):
            return
    else:
        remaining = np.arange(len(players))
    for player, group in rows_of(pd.Series(players[remaining], dtype="str")).items():
        rows = remaining[group]
        steps = band
        if player in own:
            steps = _steps(events[events["player"].isin(["", player])], str(player))
        yield rows, switches_of(steps.times, when[rows]), steps.warm


class _Steps:
    """Changes between playing and resting: (minute, whether playing from then on).

    A rest may follow a rest: whoever was read between them had begun to play again.
    """

    def __init__(self, times: list[tuple[float, bool]], warm: bool) -> None:
        self.times, self.warm = times, warm

    @property
    def first_is_rest(self) -> bool:
        return bool(self.times) and not self.times[0][1]

    @property
    def rests_again(self) -> bool:
        """Whether there is a rest after a rest: readings tell who played between."""
        return any(not (one[1] or other[1]) for one, other in pairwise(self.times))

    @property
    def ends_resting(self) -> bool:
        return bool(self.times) and not self.times[-1][1]


def _steps(events: pd.DataFrame, player: str = "") -> _Steps:
    """Reduce events to the changes they make for one player (or for everyone)."""
    times: list[tuple[float, bool]] = []
    warm = False
    own_seen = False
    minutes = events["time"].to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
    order = np.argsort(minutes, kind="stable")
    names = ("player", "event", "already_warm")
    words = (events[name].to_numpy(dtype=object)[order] for name in names)
    for minute, who, event, already_warm in zip(minutes[order], *words, strict=True):
        mine = bool(player) and who == player
        playing = bool(times) and times[-1][1]
        arrives = mine and not own_seen and (event == "start" or (event == "play" and playing))
        own_seen |= mine
        if arrives:
            times = [(minute, True)] if playing or event == "play" else []
            warm = bool(already_warm)
        elif event in ("play", "rest", "end") and not (playing and event == "play"):
            if event == "end" and not times:
                continue
            warm = bool(already_warm) if not times else warm
            times.append((float(minute), event == "play"))
    return _Steps(times, warm)


def switches_of(steps: list[tuple[float, bool]], when: Array) -> Array:
    """Return the minutes at which a player began, stopped, began, ... to play.

    Parameters
    ----------
    steps : list of (float, bool)
        Logged changes: the minute, and whether playing from then on; a rest may follow a rest.
    when : array of shape (n,)
        The minutes of the player's readings, which show that the player was playing.

    Returns
    -------
    array
        Strictly alternating, beginning with playing.

    Examples
    --------
    >>> switches_of([], np.array([5.0, 9.0])).tolist()  # nothing logged
    [4.0]
    >>> switches_of([(0.0, True), (20.0, False)], np.array([10.0, 40.0])).tolist()  # unended rest
    [0.0, 20.0, 39.0]
    >>> switches_of([(0.0, True), (20.0, False), (32.0, False)], np.array([30.0])).tolist()
    [0.0, 20.0, 29.0, 32.0]
    """
    times: list[float] = []
    if not steps or not steps[0][1]:
        first = float(np.min(when)) - LEAD_MINUTES if len(when) else 0.0
        times.append(min(first, steps[0][0] if steps else first))
    for minute, playing in [*steps, (np.inf, False)]:
        resting = len(times) % 2 == 0 and bool(times)
        if resting and not playing:  # nobody logged what was between
            between = when[(when > times[-1]) & (when <= minute)]
            if not len(between):
                continue
            times.append(max(float(np.min(between)) - LEAD_MINUTES, times[-1]))
        times.append(minute)
    return np.array(times[:-1] if times[-1] == np.inf else times)
