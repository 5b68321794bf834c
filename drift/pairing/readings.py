"""Each reading with the temperature around it, the playing before it, and its slides undone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from numbers import Real
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.groups import codes_of
from drift.instruments import Catalogue
from drift.logbook.records import TYPED
from drift.logbook.rehearsals import Rehearsals
from drift.notes import midi_of, note_of_midi
from drift.pairing.arrivals import arrivals_of, with_arrivals
from drift.pairing.beside import with_columns
from drift.pairing.courses import courses_at
from drift.pairing.other_names import under_other_names
from drift.pairing.paired import LeftOut, Paired, Reason, counted
from drift.pairing.playing import playing_before
from drift.pairing.scatter import even_of, evened, unevenness_in
from drift.pairing.slide_log import logged_there, reference_shift
from drift.pairing.thermometers import (
    chosen_thermometers,
    elsewhere_at,
    lagged_at,
    logged_at,
    serving,
    temperatures_at,
)

__all__ = ["SETTLE_SECONDS", "pair"]

Beside = pd.DataFrame | Path | str
"""Columns of one's own: a table, or a file."""

SETTLE_SECONDS = 30.0
"""Readings this soon after playing began are set aside: breath CO2 first lowers the pitch."""

COLUMNS = [
    *("time", "rehearsal", "player", "instrument", "side", "note", "cents", "a4_hz"),
    *("reference_cents", "celsius", "playing_minutes", "spells", "minutes_into_spell"),
    *("initial_warmth", "course", "humidity_percent", "pressure_hpa"),
    *("cents_sd", "pair_probability", "flagged", "slides_logged", "remark"),
]


def pair(
    rehearsals: Rehearsals,
    *,
    thermometer: str | Sequence[str] | None = None,
    settle_seconds: float = SETTLE_SECONDS,
    flagged: bool = True,
    without: Iterable[str] = (),
    as_read: bool = False,
    catalogue: Catalogue | None = None,
    beside: Beside | Sequence[Beside] | None = None,
) -> Paired:
    """Pair every reading with its temperature, its playing time and its slide positions.

    Parameters
    ----------
    rehearsals : Rehearsals
        What was logged.
    thermometer : str or sequence of str, optional
        The source of the temperatures; of several, in each rehearsal the first that was there.
        When left out, the one in whose rehearsals most readings were made, and others only
        where it was not there, unless they disagree with it. Temperatures that a
        person typed fill in where it has none.
    settle_seconds : float
        Readings in so many first seconds of playing are left out [s], unless the instrument
        was said to be warm already.
    flagged : bool
        Whether readings that are flagged stay in: unusual ones, and those for which a
        slow thermometer still lagged behind a step.
    without : iterable of str
        Rehearsals whose readings are left out.
    as_read : bool
        Whether temperatures are taken as they were read, though they scatter.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    beside : DataFrame, Path or str, or a sequence of them, optional
        More columns for the readings, to take as covariates: tables, or CSV or Parquet files, see
        `drift.pairing.beside.with_columns`.

    Returns
    -------
    Paired
        Its ``frame`` has one row a reading that could be paired: ``time, rehearsal, player,
        instrument, side, note, cents, a4_hz, reference_cents`` (at the player's reference slide
        positions and A4 = 440 Hz), ``celsius, playing_minutes`` (rests left out), ``spells``
        (minutes of the completed stretches before, alternately playing and resting),
        ``minutes_into_spell, initial_warmth, course`` (pairs of minutes since playing began and °C
        where the air changed fast, as for an instrument carried into the cold; else empty),
        ``humidity_percent, pressure_hpa`` (NaN where none was near enough, as temperatures are),
        ``cents_sd, pair_probability, flagged``, ``slides_logged`` (whether a slide of the player
        was logged in that rehearsal), ``remark``.

    Raises
    ------
    InputError
        When the chosen thermometer has no sample, a rehearsal of ``without`` is not there, or an
        argument is of the wrong kind.

    Notes
    -----
    Temperatures that scatter, as where people read off whole degrees, are first replaced by the
    even course that they scatter about (`drift.pairing.scatter`).

    A temperature that was typed before anybody played, 5 °C or more from the room's, is that of
    where the instruments were before they came in (`drift.pairing.arrivals`): what is in them
    begins there, and follows the air of the room.

    The temperature is interpolated between two samples at most ten minutes apart that the
    thermometer was not away between; else the nearest sample within ten minutes or a typed value
    of the last thirty, whichever is nearer; else the reading is left out. Between two typed values
    at most thirty minutes apart that differ by less than 3 °C the line is taken.

    Examples
    --------
    >>> import drift
    >>> season = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
    >>> paired = drift.pair(season)
    >>> bool(paired.frame["celsius"].between(10, 33).all()), paired.thermometers
    (True, ('hall',))
    """
    if not isinstance(rehearsals, Rehearsals):
        raise InputError(
            f"pair needs rehearsals, not {type(rehearsals).__name__}",
            "load them with drift.load(folder or logbook)",
        )
    given: Any = settle_seconds
    if not (isinstance(given, Real) and settle_seconds >= 0.0):
        raise InputError(
            f"settle_seconds {settle_seconds!r} is not a time", "give seconds, such as 30"
        )
    rehearsals, arrivals = arrivals_of(rehearsals)
    chosen = chosen_thermometers(rehearsals, thermometer)
    temperatures = rehearsals.temperatures
    concerned = temperatures[temperatures["source"].isin([*chosen, TYPED])]
    even = {} if as_read else even_of(unevenness_in(concerned))
    rehearsals = replace(rehearsals, temperatures=evened(temperatures, even))
    readings = rehearsals.readings.reset_index(drop=True)
    table = readings.drop(columns="remark")
    table["note"] = _one_spelling(readings["note"])
    table["celsius"] = temperatures_at(rehearsals, readings, chosen)
    played = playing_before(rehearsals.events, readings)
    played = with_arrivals(played, readings["rehearsal"], arrivals)
    table = pd.concat([table, played], axis=1)
    began = table["began"].to_numpy()
    table["course"] = courses_at(rehearsals, readings, began, chosen, arrivals)
    for name in ("humidity_percent", "pressure_hpa"):
        table[name] = logged_at(rehearsals, readings, name)
    shift, unknown_side = reference_shift(rehearsals, readings, catalogue)
    table["reference_cents"] = (
        readings["cents"] + 1200.0 * np.log2(readings["a4_hz"] / 440.0) + shift
    )
    otherwise = readings["flagged"].to_numpy(dtype=bool)
    lagged = lagged_at(rehearsals, readings, chosen)
    table["flagged"] = otherwise | lagged
    table["slides_logged"] = logged_there(rehearsals, readings)
    table["remark"] = readings["remark"]
    unknown = table["celsius"].isna().to_numpy()
    minutes = table["playing_minutes"].to_numpy()
    reasons = {
        Reason.ASKED: readings["rehearsal"].isin(rehearsals.named(without)).to_numpy(),
        Reason.OTHER_THERMOMETER: unknown & elsewhere_at(rehearsals, readings, chosen),
        Reason.OTHER_REHEARSAL: _misnamed(rehearsals, readings, unknown),
        Reason.NO_TEMPERATURE: unknown,
        Reason.BEFORE_PLAYING: minutes <= 0.0,
        Reason.SETTLING: (minutes * 60.0 < settle_seconds) & (table["initial_warmth"] < 1.0),
        Reason.UNKNOWN_SIDE: unknown_side,
        Reason.FLAGGED: otherwise & (not flagged),
        Reason.THERMOMETER_LAGGED: lagged & (not flagged),
    }
    out, left_out = _left_out(reasons, readings["player"])
    kept = table.loc[~out, COLUMNS].reset_index(drop=True)
    several = [beside] if isinstance(beside, Beside) else beside or ()
    for one in several:
        kept = with_columns(kept, one)
    scatter = {name: one.celsius for name, one in even.items()}
    return Paired(kept, left_out, serving(rehearsals, chosen), scatter)


def _misnamed(
    rehearsals: Rehearsals, readings: pd.DataFrame, unknown: npt.NDArray[np.bool_]
) -> npt.NDArray[np.bool_]:
    """Return which of some readings have a temperature under the name of another rehearsal."""
    found = unknown.copy()
    found[unknown] = under_other_names(rehearsals, readings[unknown]) != ""
    return found


def _one_spelling(notes: pd.Series[str]) -> pd.Series[str]:
    """Return the notes in one spelling: A#3 and Bb3 are one key and share one intercept."""
    codes, given = codes_of(notes)
    spelt = pd.array([note_of_midi(midi_of(note)) for note in given], dtype="str")
    return pd.Series(spelt.take(codes), index=notes.index)


def _left_out(
    reasons: Mapping[Reason, npt.NDArray[np.bool_]], players: pd.Series[str]
) -> tuple[npt.NDArray[np.bool_], tuple[LeftOut, ...]]:
    """Return which readings are left out, and how many for the first reason that applies."""
    out = np.zeros(len(next(iter(reasons.values()))), dtype=bool)
    counts = []
    for reason, applies in reasons.items():
        if (new := applies & ~out).any():
            counts.append(counted(reason, players[new]))
        out |= applies
    return out, tuple(counts)
