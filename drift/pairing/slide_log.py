"""Where the slides were at each reading, and what that did to its pitch."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.instruments import Catalogue, Instrument, find
from drift.instruments.slopes import expected_slopes
from drift.logbook.rehearsals import Rehearsals

__all__ = [
    "calibration_of",
    "last_positions",
    "logged_there",
    "reference_positions",
    "reference_shift",
]

Array = npt.NDArray[np.float64]


def slide_events(rehearsals: Rehearsals, player: str, instrument: Instrument) -> pd.DataFrame:
    """Return the slide events that hold for a player and an instrument, in order of time.

    An event that names no player holds for everyone, one that names no instrument for every
    instrument of the player that has such a slide.
    """
    events = rehearsals.events
    return events[
        (events["slide"] != "")
        & events["player"].isin(["", player])
        & events["instrument"].isin(["", instrument.name])
        & events["slide"].isin([slide.name for slide in instrument.slides])
    ].sort_values("time", kind="stable")


def reference_positions(
    rehearsals: Rehearsals, player: str, instrument: Instrument
) -> dict[str, float]:
    """Return the player's first stated position of each slide [mm].

    Readings are brought to these positions before fitting.
    """
    moves = slide_events(rehearsals, player, instrument)
    return _by_slide(moves.drop_duplicates("slide", keep="first"))


def last_positions(rehearsals: Rehearsals, player: str, instrument: Instrument) -> dict[str, float]:
    """Return the player's last logged position of each slide [mm]."""
    moves = slide_events(rehearsals, player, instrument)
    return _by_slide(moves.drop_duplicates("slide", keep="last"))


def calibration_of(
    rehearsals: Rehearsals, player: str, instrument: Instrument
) -> dict[tuple[str, str], float]:
    """Return a player's own cents per millimetre by (slide, side), the latest of each.

    A slope that is not negative is never used: no slide sharpens when it is pulled. The limits of
    the column refuse such a row now, and a logbook made before them may hold one.
    """
    table = rehearsals.calibrations
    mine = table[(table["player"] == player) & (table["instrument"] == instrument.name)]
    mine = mine[mine["cents_per_mm"] < 0.0]
    latest = mine.sort_values("time", kind="stable").drop_duplicates(["slide", "side"], keep="last")
    return {
        (slide, side): float(cents)
        for slide, side, cents in latest[["slide", "side", "cents_per_mm"]].itertuples(index=False)
    }


def reference_shift(
    rehearsals: Rehearsals,
    readings: pd.DataFrame,
    catalogue: Catalogue | None = None,
) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Return what brings each reading to the player's reference slide positions.

    Parameters
    ----------
    rehearsals : Rehearsals
        The slide events and calibrations.
    readings : DataFrame
        ``time, player, instrument, side`` of n readings.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    shift : array of shape (n,)
        To be added to the cents of a reading; positive where a slide was further out than its
        reference.
    unknown_side : array of bool, shape (n,)
        Readings that cannot be brought there: slides stood elsewhere, and the side of an
        instrument with several is not stated.
    """
    shift = np.zeros(len(readings))
    unknown = np.zeros(len(readings), dtype=bool)
    moved = rehearsals.events[rehearsals.events["slide"] != ""]
    if not len(moved):
        return shift, unknown
    when = readings["time"].to_numpy(dtype="datetime64[us]")
    for (player, name), part in _by_player(readings):
        rows = part.to_numpy()
        instrument = find(name, catalogue)
        moves = slide_events(rehearsals, player, instrument)
        if len(moves) < 2:  # the first position is the reference itself
            continue
        away = _away_from_reference(moves, when[rows])
        sides = readings["side"].to_numpy(dtype=object)[rows]
        slopes = expected_slopes(instrument, calibration_of(rehearsals, player, instrument))
        for state in away.drop_duplicates().to_dict("records"):
            if not any(state.values()):
                continue
            same = (away == pd.Series(state)).all(axis=1).to_numpy()
            for side in set(sides[same]):
                here = rows[same & (sides == side)]
                if side == "" and len(instrument.sides) > 1:
                    unknown[here] = True
                else:
                    shift[here] = -instrument.cents_of_moves(side, _named(state), slopes)
    return shift, unknown


def logged_there(rehearsals: Rehearsals, readings: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Return for each reading whether a slide of its player was logged in its rehearsal."""
    moved = rehearsals.events[rehearsals.events["slide"] != ""]
    there = readings["rehearsal"].isin(moved["rehearsal"]).to_numpy(dtype=bool, copy=True)
    if not there.any():
        return there
    everyone = moved.loc[moved["player"] == "", "rehearsal"]
    both = ["rehearsal", "player"]
    here = readings.loc[there, both]
    own = pd.MultiIndex.from_frame(here).isin(pd.MultiIndex.from_frame(moved[both]))
    there[there] = own | here["rehearsal"].isin(everyone).to_numpy()
    return there


def _by_slide(moves: pd.DataFrame) -> dict[str, float]:
    return dict(zip(moves["slide"], moves["position_mm"], strict=True))


def _by_player(readings: pd.DataFrame) -> Iterator[tuple[tuple[str, str], pd.Index]]:
    groups = readings.reset_index(drop=True).groupby(["player", "instrument"], sort=False)
    for key, part in groups:
        player, name = key
        yield (str(player), str(name)), part.index


def _away_from_reference(moves: pd.DataFrame, when: Any) -> pd.DataFrame:
    """Return how far each slide stood from its reference [mm] at each moment."""
    away = {}
    for slide, steps in moves.groupby("slide"):
        times = steps["time"].to_numpy(dtype="datetime64[us]")
        positions = steps["position_mm"].to_numpy()
        last = np.maximum(np.searchsorted(times, when, side="right") - 1, 0)
        away[slide] = positions[last] - positions[0]
    return pd.DataFrame(away)


def _named(state: Mapping[Any, float]) -> dict[str, float]:
    return {str(slide): move for slide, move in state.items()}
