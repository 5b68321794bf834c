"""The temperature at a reading: of one thermometer wherever it was, and what people typed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.groups import rows_of
from drift.logbook.records import TYPED
from drift.logbook.rehearsals import Rehearsals
from drift.pairing.nearest import GAP_MINUTES, STEP_CELSIUS, minutes_of, nearer, neighbours

__all__ = [
    "DISAGREE",
    "apart",
    "chosen_among",
    "chosen_thermometers",
    "differences",
    "elsewhere_at",
    "filled",
    "in_rooms_of_their_own",
    "lagged_at",
    "logged_at",
    "samples_in",
    "samples_of",
    "serving",
    "temperatures_at",
]

DISAGREE = 0.7
"""Two thermometers in one room that differ by more are not both right [°C]."""

Array = npt.NDArray[np.float64]
Chosen = str | Sequence[str] | None


def chosen_thermometers(rehearsals: Rehearsals, thermometer: Chosen = None) -> tuple[str, ...]:
    """Return the thermometers to take temperatures from, the first choice first.

    Parameters
    ----------
    rehearsals : Rehearsals
        What was logged.
    thermometer : str or sequence of str, optional
        The choice of a person; several are tried in their order in each rehearsal.

    Returns
    -------
    tuple of str
        As chosen; else the thermometer in whose rehearsals most readings were made, and after it,
        where it was not there, the others, but none that disagrees with it where both were
        there. What people typed is chosen only where there is nothing else. Empty where there is
        no temperature at all.

    Raises
    ------
    InputError
        When there is no sample of a chosen thermometer.
    """
    table = rehearsals.temperatures
    samples = samples_in(table, rehearsals.readings["rehearsal"].value_counts())
    return chosen_among(samples, partial(_difference, table), thermometer)


def samples_in(temperatures: pd.DataFrame, readings: pd.Series[int]) -> pd.DataFrame:
    """Return how many samples each thermometer has in each rehearsal.

    Parameters
    ----------
    temperatures : DataFrame
        ``rehearsal, source`` of all samples.
    readings : Series of int
        How many readings were made, by rehearsal.

    Returns
    -------
    DataFrame
        ``source, rehearsal, samples, readings``, in order of the first sample.
    """
    by = temperatures.groupby(["source", "rehearsal"], sort=False)
    samples = by.size().reset_index(name="samples")
    return samples.assign(readings=samples["rehearsal"].map(readings).fillna(0).astype(float))


def chosen_among(
    samples: pd.DataFrame,
    difference: Callable[[str, str], float],
    thermometer: Chosen = None,
) -> tuple[str, ...]:
    """Return the thermometers to take temperatures from, as `chosen_thermometers`.

    Parameters
    ----------
    samples : DataFrame
        From `samples_in`.
    difference : callable
        Returns how far one thermometer lies above another where both were there [°C], the median;
        NaN where they never were.
    thermometer : str or sequence of str, optional
        The choice of a person.

    Raises
    ------
    InputError
        When there is no sample of a chosen thermometer.
    """
    totals = samples.groupby("source", sort=False)[["readings", "samples"]].sum()
    if thermometer is not None:
        chosen = (thermometer,) if isinstance(thermometer, str) else tuple(thermometer)
        for name in chosen:
            if name not in totals.index:
                most_first = totals.sort_values("samples", ascending=False, kind="stable").index
                known = ", ".join(map(repr, most_first))
                raise InputError(f"no temperature comes from {name!r}", f"there are {known}")
        return chosen
    probes = totals.drop(TYPED, errors="ignore")
    if not len(probes):
        return tuple(str(name) for name in totals.index[:1])
    # The one that was there for most readings first, then by samples.
    order = probes.sort_values(["readings", "samples"], ascending=False, kind="stable")
    first, *others = (str(name) for name in order.index)
    return (first, *(name for name in others if not abs(difference(first, name)) > DISAGREE))


def _difference(temperatures: pd.DataFrame, one: str, other: str) -> float:
    together = differences(temperatures, one, other)
    return float(np.median(together)) if len(together) else float("nan")


def differences(temperatures: pd.DataFrame, one: str, other: str) -> Array:
    """Return how far one thermometer lies above another where both were there [°C]."""
    both = temperatures[temperatures["source"].isin([one, other])]
    found = [
        apart(part[part["source"] == one], part[part["source"] == other])
        for _, part in both.groupby("rehearsal", sort=False)
        if part["source"].nunique() == 2
    ]
    return np.concatenate([*found, np.empty(0)])


def apart(one: pd.DataFrame, other: pd.DataFrame) -> Array:
    """Return how far one thermometer lies above another where both were read [°C]."""
    times, others = minutes_of(one["time"]), minutes_of(other["time"])
    within = (times >= others.min()) & (times <= others.max())
    line = np.interp(times[within], others, other["celsius"].to_numpy(dtype=float))
    return np.asarray(one["celsius"].to_numpy(dtype=float)[within] - line)


def serving(rehearsals: Rehearsals, choice: Sequence[str]) -> tuple[str, ...]:
    """Return those of the chosen thermometers that some temperatures of rehearsals are from."""
    table = rehearsals.temperatures
    read_in = table[table["rehearsal"].isin(rehearsals.readings["rehearsal"].unique())]
    serve = set()
    for _, part in read_in.groupby("rehearsal", sort=False):
        first = _first_here(choice, part)
        serve.add(first)
        others = part[(part["source"] != first) & part["source"].isin(choice)]
        beyond = _gap(samples_of(part, choice)[0], minutes_of(others["time"])) > GAP_MINUTES
        serve |= set(others["source"][beyond])
    return tuple(name for name in choice if name in serve)


def in_rooms_of_their_own(rehearsals: Rehearsals, names: Sequence[str]) -> bool:
    """Return whether thermometers look like those of several rooms, each with its own.

    No rehearsal has two of them, and each comes back after another; where one stood in for another
    or took its place, it does not.
    """
    table = rehearsals.temperatures
    table = table[table["source"].isin(names)].sort_values("time", kind="stable")
    each = table[["rehearsal", "source"]].drop_duplicates()
    if not len(each) or each["rehearsal"].duplicated().any():
        return False
    order = each["source"].to_numpy()
    begins = order[np.flatnonzero(np.concatenate([[True], order[1:] != order[:-1]]))]
    return all((begins == name).sum() > 1 for name in names)


def temperatures_at(
    rehearsals: Rehearsals, readings: pd.DataFrame, thermometer: Chosen = None
) -> Array:
    """Return the temperature at each reading [°C], NaN where there is none near enough.

    Parameters
    ----------
    rehearsals : Rehearsals
        Where the temperatures and the notices of absent thermometers stand.
    readings : DataFrame
        ``time`` and ``rehearsal`` of n readings.
    thermometer : str or sequence of str, optional
        As in `chosen_thermometers`.

    Returns
    -------
    array of shape (n,)
    """
    result = np.full(len(readings), np.nan)
    choice = chosen_thermometers(rehearsals, thermometer)
    by_rehearsal = rehearsals.temperatures.groupby("rehearsal", sort=False)
    samples = {str(name): part for name, part in by_rehearsal}
    away = rehearsals.notices[rehearsals.notices["kind"] == "away"]
    gone = {
        (str(name), str(source)): minutes_of(part["time"])
        for (name, source), part in away.groupby(["rehearsal", "source"], sort=False)
    }
    times = minutes_of(readings["time"])
    for rehearsal, rows in rows_of(readings["rehearsal"]).items():
        here = samples.get(str(rehearsal))
        if here is None:
            continue
        by_hand = _samples(here[here["source"] == TYPED])
        for name in [name for name in choice if name in set(here["source"])] or [TYPED]:
            rows = rows[np.isnan(result[rows])]  # another one serves where the first was not there
            away_at = gone.get((str(rehearsal), name), np.empty(0))
            own = _samples(here[here["source"] == name])
            result[rows] = nearer(own, by_hand, away_at, times[rows], STEP_CELSIUS)
    return result


def logged_at(rehearsals: Rehearsals, readings: pd.DataFrame, column: str) -> Array:
    """Return what else the thermometers logged, at each reading; NaN where nothing is near.

    Parameters
    ----------
    rehearsals : Rehearsals
        Where the samples are, of whichever thermometer.
    readings : DataFrame
        ``time`` and ``rehearsal`` of n readings.
    column : str
        ``humidity_percent`` or ``pressure_hpa``.

    Returns
    -------
    array of shape (n,)
        Interpolated between samples at most ten minutes apart, else the nearest within ten, or
        what a person typed in the last thirty, interpolated where the next was typed within
        thirty: as temperatures are.
    """
    result = np.full(len(readings), np.nan)
    table = rehearsals.temperatures[rehearsals.temperatures[column].notna()]
    if not len(table):
        return result
    samples = {str(name): part for name, part in table.groupby("rehearsal", sort=False)}
    times = minutes_of(readings["time"])
    for rehearsal, rows in rows_of(readings["rehearsal"]).items():
        here = samples.get(str(rehearsal))
        if here is None:
            continue
        typed = here["source"] == TYPED
        by_hand, own = (_samples(here[which], column) for which in (typed, ~typed))
        result[rows] = nearer(own, by_hand, np.empty(0), times[rows])
    return result


def lagged_at(
    rehearsals: Rehearsals, readings: pd.DataFrame, thermometer: Chosen = None
) -> npt.NDArray[np.bool_]:
    """Return for which readings the thermometer still lagged behind a step of the air.

    Parameters
    ----------
    rehearsals : Rehearsals
        Where a slow thermometer's notices ``settling`` and ``settled`` stand.
    readings : DataFrame
        ``time`` and ``rehearsal`` of n readings.
    thermometer : str or sequence of str, optional
        As in `chosen_thermometers`.

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
    choice = chosen_thermometers(rehearsals, thermometer)
    begun = events[(events["event"] == "start") & (events["player"] == "")]
    for rehearsal, rows in rows_of(readings["rehearsal"]).items():
        part = told[told["rehearsal"] == rehearsal]
        if not len(part):
            continue
        here = rehearsals.temperatures[rehearsals.temperatures["rehearsal"] == rehearsal]
        if not len(here):
            continue
        part = part[part["source"] == _first_here(choice, here)]
        again = begun[begun["rehearsal"] == rehearsal]
        times = np.concatenate([minutes_of(part["time"]), minutes_of(again["time"])])
        lags = np.concatenate([part["kind"] == "settling", np.zeros(len(again), dtype=bool)])
        order = np.argsort(times, kind="stable")
        last = np.searchsorted(times[order], minutes_of(readings["time"].iloc[rows]), "right") - 1
        result[rows] = (last >= 0) & lags[order][np.maximum(last, 0)] if len(times) else False
    return result


def elsewhere_at(
    rehearsals: Rehearsals, readings: pd.DataFrame, thermometer: Chosen = None
) -> npt.NDArray[np.bool_]:
    """Return for which readings only thermometers that were not chosen have samples.

    Parameters
    ----------
    rehearsals : Rehearsals
        Where the temperatures stand.
    readings : DataFrame
        ``rehearsal`` of n readings.
    thermometer : str or sequence of str, optional
        As in `chosen_thermometers`.

    Returns
    -------
    array of bool, shape (n,)
    """
    table = rehearsals.temperatures
    usable = table["source"].isin([*chosen_thermometers(rehearsals, thermometer), TYPED])
    only_others = set(table["rehearsal"]) - set(table.loc[usable, "rehearsal"])
    return readings["rehearsal"].isin(only_others).to_numpy()


def samples_of(temperatures: pd.DataFrame, choice: Sequence[str]) -> tuple[Array, Array]:
    """Return minutes since 1970 and temperatures of a rehearsal's first choice, in order of time.

    Parameters
    ----------
    temperatures : DataFrame
        ``time, celsius, source`` of one rehearsal.
    choice : sequence of str
        Thermometers, the first choice first; what people typed is taken where none was there.
    """
    first = _first_here(choice, temperatures)
    return _samples(temperatures[temperatures["source"] == first])


def filled(temperatures: pd.DataFrame, choice: Sequence[str]) -> tuple[Array, Array]:
    """Return `samples_of`, and those of the next choice, or typed, where they leave a gap."""
    times, celsius = samples_of(temperatures, choice)
    for name in (*choice, TYPED):
        more, said = _samples(temperatures[temperatures["source"] == name])
        beyond = _gap(times, more) > GAP_MINUTES
        times = np.concatenate([times, more[beyond]])
        celsius = np.concatenate([celsius, said[beyond]])
        order = np.argsort(times, kind="stable")
        times, celsius = times[order], celsius[order]
    return times, celsius


def _gap(times: Array, when: Array) -> Array:
    """Return how far moments are from the nearest of some samples [min], infinite without any."""
    if not len(times):
        return np.full(len(when), np.inf)
    return np.asarray(np.abs(times[neighbours(times, when)[2]] - when))


def _first_here(choice: Sequence[str], temperatures: pd.DataFrame) -> str:
    """Return the first choice that a rehearsal has samples of; else what people typed."""
    here = set(temperatures["source"])
    return next((name for name in choice if name in here), TYPED)


def _samples(table: pd.DataFrame, column: str = "celsius") -> tuple[Array, Array]:
    """Return the minutes and what was measured then, in order of time."""
    times = minutes_of(table["time"])
    order = np.argsort(times, kind="stable")
    return times[order], table[column].to_numpy(dtype=float)[order]
