"""Each reading with the temperature around it, the playing before it, and its slides undone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.groups import codes_of, rows_of
from drift.instruments import Catalogue
from drift.logbook.records import TYPED
from drift.logbook.rehearsals import Rehearsals, is_typed
from drift.notes import midi_of, note_of_midi
from drift.pairing.playing import playing_before
from drift.pairing.slide_log import reference_shift

__all__ = ["GAP_MINUTES", "SETTLE_SECONDS", "TYPED_MINUTES", "left_out", "pair"]

GAP_MINUTES = 10.0
"""Samples further apart than this are not interpolated, nor is one this far off taken."""

TYPED_MINUTES = 30.0
"""A temperature that a person typed holds this long."""

SETTLE_SECONDS = 30.0
"""Readings this soon after playing began are set aside: breath CO2 first lowers the pitch."""

Array = npt.NDArray[np.float64]


def pair(
    rehearsals: Rehearsals,
    *,
    thermometer: str | None = None,
    settle_seconds: float = SETTLE_SECONDS,
    flagged: bool = True,
    catalogue: Catalogue | None = None,
) -> pd.DataFrame:
    """Pair every reading with its temperature, its playing time and its slide positions.

    Parameters
    ----------
    rehearsals : Rehearsals
        What was logged.
    thermometer : str, optional
        The source of the temperatures. When left out, in each rehearsal the one with the most
        samples; temperatures that a person typed fill in where it has none.
    settle_seconds : float
        Readings in so many first seconds of playing are left out [s].
    flagged : bool
        Whether readings that are flagged stay in: those taken otherwise (a remark that begins
        with ``!``), and those for which a slow thermometer still lagged behind a step.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    DataFrame
        One row a reading that could be paired: ``time, rehearsal, player, instrument, side,
        note, cents, a4_hz, reference_cents`` (at the player's reference slide positions and A4 =
        440 Hz), ``celsius, playing_minutes`` (rests left out), ``spells`` (minutes of the
        completed stretches before, alternately playing and resting), ``minutes_into_spell``,
        ``flagged, remark``. ``attrs["left_out"]`` counts the readings left out by reason.

    Raises
    ------
    InputError
        When the chosen thermometer has no sample.

    Notes
    -----
    The temperature is interpolated between two samples at most ten minutes apart that the
    thermometer was not away between; else the nearest sample within ten minutes or a typed value
    of the last thirty, whichever is nearer; else the reading is left out.

    Examples
    --------
    >>> import drift
    >>> season = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
    >>> paired = drift.pair(season)
    >>> bool(paired["celsius"].between(10, 33).all())
    True
    """
    if thermometer is not None and thermometer not in set(rehearsals.temperatures["source"]):
        known = ", ".join(map(repr, rehearsals.thermometers.index))
        raise InputError(f"no temperature comes from {thermometer!r}", f"there are {known}")
    readings = rehearsals.readings.reset_index(drop=True)
    table = readings.drop(columns="remark")
    table["note"] = _one_spelling(readings["note"])
    table["celsius"] = temperatures_at(rehearsals, readings, thermometer)
    table = pd.concat([table, playing_before(rehearsals.events, readings)], axis=1)
    shift, unknown_side = reference_shift(rehearsals, readings, catalogue)
    table["reference_cents"] = (
        readings["cents"] + 1200.0 * np.log2(readings["a4_hz"] / 440.0) + shift
    )
    codes, remarks = codes_of(readings["remark"])
    otherwise = np.array([remark.startswith("!") for remark in remarks], dtype=bool)[codes]
    lagged = lagged_at(rehearsals, readings, thermometer)
    table["flagged"] = otherwise | lagged
    table["remark"] = readings["remark"]
    reasons = {
        f"no temperature within {GAP_MINUTES:g} minutes": table["celsius"].isna().to_numpy(),
        "before the player began to play": (table["playing_minutes"] <= 0.0).to_numpy(),
        f"in the first {settle_seconds:g} s of playing": (
            table["playing_minutes"] * 60.0 < settle_seconds
        ).to_numpy(),
        "slides were moved and the side is not stated": unknown_side,
        "flagged as taken otherwise": otherwise & (not flagged),
        "the thermometer lagged behind a step": lagged & (not flagged),
    }
    return _kept(table, reasons)


def left_out(paired: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the reasons why readings were left out of a paired table, each with its count."""
    return list(paired.attrs.get("left_out", []))


def temperatures_at(
    rehearsals: Rehearsals, readings: pd.DataFrame, thermometer: str | None = None
) -> Array:
    """Return the temperature at each reading [°C], NaN where there is none near enough.

    Parameters
    ----------
    rehearsals : Rehearsals
        Where the temperatures and the notices of absent thermometers stand.
    readings : DataFrame
        ``time`` and ``rehearsal`` of n readings.
    thermometer : str, optional
        As in `pair`.

    Returns
    -------
    array of shape (n,)
    """
    result = np.full(len(readings), np.nan)
    by_rehearsal = rehearsals.temperatures.groupby("rehearsal", sort=False)
    samples = {str(name): part for name, part in by_rehearsal}
    away = rehearsals.notices[rehearsals.notices["kind"] == "away"]
    gone = {
        (str(name), str(source)): _minutes(part["time"])
        for (name, source), part in away.groupby(["rehearsal", "source"], sort=False)
    }
    times = _minutes(readings["time"])
    for rehearsal, rows in rows_of(readings["rehearsal"]).items():
        here = samples.get(str(rehearsal))
        if here is None:
            continue
        chosen = thermometer or _most_samples(here)
        when, away_at = times[rows], gone.get((str(rehearsal), chosen), np.empty(0))
        found, distance = _from_probe(*_samples(here, chosen), away_at, when)
        held, age = _from_typed(*_samples(here, TYPED), when)
        result[rows] = np.where(age < distance, held, found)
    return result


def lagged_at(
    rehearsals: Rehearsals, readings: pd.DataFrame, thermometer: str | None = None
) -> npt.NDArray[np.bool_]:
    """Return for which readings the thermometer still lagged behind a step of the air.

    Parameters
    ----------
    rehearsals : Rehearsals
        Where a slow thermometer's notices ``settling`` and ``settled`` stand.
    readings : DataFrame
        ``time`` and ``rehearsal`` of n readings.
    thermometer : str, optional
        As in `pair`.

    Returns
    -------
    array of bool, shape (n,)

    Notes
    -----
    It lags from ``settling`` to ``settled``, five time constants later, or until logging was
    begun again.
    """
    result = np.zeros(len(readings), dtype=bool)
    notices, events = rehearsals.notices, rehearsals.events
    told = notices[notices["kind"].isin(["settling", "settled"])]
    if not len(told):
        return result
    begun = events[(events["event"] == "start") & (events["player"] == "")]
    for rehearsal, rows in rows_of(readings["rehearsal"]).items():
        part = told[told["rehearsal"] == rehearsal]
        if not len(part):
            continue
        here = rehearsals.temperatures[rehearsals.temperatures["rehearsal"] == rehearsal]
        if not len(here):
            continue
        part = part[part["source"] == (thermometer or _most_samples(here))]
        again = begun[begun["rehearsal"] == rehearsal]
        times = np.concatenate([_minutes(part["time"]), _minutes(again["time"])])
        lags = np.concatenate([part["kind"] == "settling", np.zeros(len(again), dtype=bool)])
        order = np.argsort(times, kind="stable")
        last = np.searchsorted(times[order], _minutes(readings["time"].iloc[rows]), "right") - 1
        result[rows] = (last >= 0) & lags[order][np.maximum(last, 0)] if len(times) else False
    return result


def _most_samples(temperatures: pd.DataFrame) -> str:
    """Return the thermometer with the most samples; what was typed only where there is none."""
    sources = temperatures["source"].unique()
    if len(sources) == 1:
        return str(sources[0])
    probes = temperatures[~is_typed(temperatures)]
    counted = probes if len(probes) else temperatures
    return str(counted["source"].value_counts().index[0])


def _samples(temperatures: pd.DataFrame, source: str) -> tuple[Array, Array]:
    """Return the minutes and temperatures of one source in order of time."""
    own = temperatures["source"].to_numpy(dtype=object) == source
    times, celsius = _minutes(temperatures["time"])[own], temperatures["celsius"].to_numpy()[own]
    order = np.argsort(times, kind="stable")
    return times[order], celsius[order]


def _from_probe(times: Array, celsius: Array, away: Array, when: Array) -> tuple[Array, Array]:
    """Interpolate where two samples are near enough; else take the nearest within the gap.

    Returns the temperatures and how far off their samples are [min]: 0 where interpolated,
    infinite where there is none.
    """
    if not len(times):
        return np.full(len(when), np.nan), np.full(len(when), np.inf)
    after = np.clip(np.searchsorted(times, when), 1, max(len(times) - 1, 1))
    left, right = after - 1, np.minimum(after, len(times) - 1)
    between = (times[left] <= when) & (when <= times[right])
    near = times[right] - times[left] <= GAP_MINUTES
    absences = np.searchsorted(np.sort(away), times)
    bridged = absences[left] == absences[right]
    nearest = np.where(np.abs(when - times[left]) <= np.abs(times[right] - when), left, right)
    distance = np.abs(times[nearest] - when)
    distance[distance > GAP_MINUTES] = np.inf
    value = np.where(np.isfinite(distance), celsius[nearest], np.nan)
    interpolated = between & near & bridged
    return (
        np.where(interpolated, np.interp(when, times, celsius), value),
        np.where(interpolated, 0.0, distance),
    )


def _from_typed(times: Array, celsius: Array, when: Array) -> tuple[Array, Array]:
    """Return the last typed temperature and its age [min], infinite where it no longer holds."""
    if not len(times):
        return np.full(len(when), np.nan), np.full(len(when), np.inf)
    last = np.searchsorted(times, when, side="right") - 1
    age = np.where(last >= 0, when - times[np.maximum(last, 0)], np.inf)
    age[age > TYPED_MINUTES] = np.inf
    return np.where(np.isfinite(age), celsius[np.maximum(last, 0)], np.nan), age


def _minutes(times: pd.Series[Any]) -> Array:
    """Return minutes since 1970 (differences of them are what is used)."""
    return times.to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6


def _one_spelling(notes: pd.Series[str]) -> pd.Series[str]:
    """Return the notes in one spelling: A#3 and Bb3 are one key and share one intercept."""
    codes, given = codes_of(notes)
    spelt = pd.array([note_of_midi(midi_of(note)) for note in given], dtype="str")
    return pd.Series(spelt.take(codes), index=notes.index)


def _kept(table: pd.DataFrame, reasons: Mapping[str, npt.NDArray[np.bool_]]) -> pd.DataFrame:
    out = np.zeros(len(table), dtype=bool)
    counts = []
    for reason, applies in reasons.items():
        count = int((applies & ~out).sum())
        if count:
            counts.append({"reason": reason, "count": count})
        out |= applies
    kept = table[~out].reset_index(drop=True)
    kept.attrs["left_out"] = counts
    return kept[
        [
            *("time", "rehearsal", "player", "instrument", "side", "note", "cents", "a4_hz"),
            *("reference_cents", "celsius", "playing_minutes", "spells", "minutes_into_spell"),
            "initial_warmth",
            *("flagged", "remark"),
        ]
    ]
