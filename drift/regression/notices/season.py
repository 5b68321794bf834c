"""A season as plain arrays: what the search for spoilt readings reads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InstrumentError
from drift.instruments import Catalogue
from drift.regression.columns import Columns, columns_of
from drift.regression.priors import Priors

__all__ = ["OWN_SD", "Season", "population_sd", "season_of"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]

CURVATURE = 0.002
POPULATION_SD = (0.5, 8.0, 2.0, 0.003, 0.4, 0.4, 6.0)
"""Slope, rise, slow drift, bend, the logarithms of both time constants, a slower warm-up."""
OWN_SD = (0.25, 4.0, 1.0, 0.0, 0.3, 0.3, 3.0)
"""How players differ in each."""
STEP = 1.3
"""A time constant is moved by this factor each way for the derivative."""
SPAN_CELSIUS = 14.0
CENTS_PER_MM_AND_METRE = 2.0 * 1.2 / np.log(2.0)
"""A millimetre of a U-shaped slide on a tube of one metre [cents]."""
USUAL_LENGTH_M = 2.95
EVENING_MINUTES = 240.0
"""Rehearsals that begin so soon after each other are of one evening."""


@dataclass(frozen=True)
class Season:
    """Readings sorted by unit (a player on an instrument), by day and by time.

    Parameters
    ----------
    cents, as_read : arrays of shape (n,)
        With slides and A4 undone, and as they were read.
    mean : array of shape (n,)
        What acoustics expects [cents].
    base : array of shape (n, 7)
        Columns of the null model: ``A - 20``, ``E/14 - 1``, hours, ``(T - 20)²``, the derivatives
        by the logarithms of both time constants, and a second, slower warm-up.
    pull : array of shape (n,)
        What a millimetre of the common slide does [cents/mm], negative.
    minutes, celsius, initial : arrays of shape (n,)
        Minutes since playing began, air [°C], warmth at the start.
    unrested : array of shape (n,)
        Whether no rest was logged before the reading.
    own_sd : array of shape (n,)
        A reading's own standard uncertainty [cents].
    unit, day, group, rehearsal, evening, kind, key, side : arrays of shape (n,)
        Numbers of the player on an instrument, of that player's day, of the intercept, of the
        rehearsal in order of time, of the evening (rehearsals that begin within four hours), of
        the instrument, of side and note together, and of the side.
    cold_mean, rise_mean : arrays of shape (n,)
        Slope and rise that are expected of the instrument [cents/°C, cents].
    warm_minutes, cool_minutes : arrays of shape (n,)
        Time constants of the instrument [min].
    order : array of shape (n,)
        Row of the table that each reading is.
    players, instruments : tuples of str
        Of each unit.
    rehearsals, sides : tuples of str
        Names by number.
    """

    cents: Array
    as_read: Array
    mean: Array
    base: Array
    pull: Array
    minutes: Array
    celsius: Array
    initial: Array
    unrested: npt.NDArray[np.bool_]
    own_sd: Array
    unit: Codes
    day: Codes
    group: Codes
    rehearsal: Codes
    evening: Codes
    kind: Codes
    key: Codes
    side: Codes
    cold_mean: Array
    rise_mean: Array
    warm_minutes: Array
    cool_minutes: Array
    order: npt.NDArray[np.intp]
    players: tuple[str, ...]
    instruments: tuple[str, ...]
    rehearsals: tuple[str, ...]
    sides: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.cents)

    @property
    def alone(self) -> bool:
        """Whether one player on one instrument is all there is."""
        return len(self.players) == 1


def population_sd() -> Array:
    """Return the prior sds of the coefficients of a kind, in the order of `Season.base`."""
    return np.array(POPULATION_SD)


def season_of(
    rows: pd.DataFrame,
    times: Mapping[str, tuple[float, float]],
    catalogue: Catalogue | None = None,
) -> Season:
    """Return a season from the rows of a fit.

    Parameters
    ----------
    rows : DataFrame
        Complete rows, as a fit keeps them.
    times : mapping of str to (float, float)
        Time constants of warming and cooling [min] by instrument.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    """
    columns = columns_of(rows)
    since = _minutes(rows)
    columns = columns.take(np.lexsort((since[columns.order], columns.day)))
    table = rows.iloc[columns.order]
    base, mean, (cold_mean, rise_mean, warm, cool) = _columns(columns, times, catalogue)
    first = np.full(len(columns.rehearsals), np.inf)
    reh = columns.rehearsal_of_day[columns.day]
    when = _instants(table)
    np.minimum.at(first, reh, when)
    place = np.argsort(first, kind="stable")
    rank = np.argsort(place)
    side, names = pd.factorize(table["side"].astype(str))
    sides = tuple(map(str, names))
    key = pd.factorize(table["side"].astype(str) + "|" + table["note"].astype(str))[0]
    kinds = tuple(columns.kinds[code] for code in columns.kind_of_unit)
    unit_sides = [(kinds[unit], sides[code]) for unit, code in
                  zip(columns.unit, side, strict=True)]  # fmt: skip
    lengths = {pair: _length_m(*pair, catalogue) for pair in set(unit_sides)}
    spells = table["spells"].tolist()
    return Season(
        cents=columns.cents,
        as_read=_column(table, "cents", columns.cents),
        mean=mean,
        base=base,
        pull=np.array([-CENTS_PER_MM_AND_METRE / lengths[pair] for pair in unit_sides]),
        minutes=since[columns.order],
        celsius=columns.histories.celsius,
        initial=table["initial_warmth"].to_numpy(dtype=float),
        unrested=np.array([len(one) == 0 for one in spells]),
        own_sd=columns.own_sd,
        unit=columns.unit,
        day=columns.day,
        group=columns.group,
        rehearsal=rank[reh].astype(np.int64),
        evening=_evening(table, first, place)[rank[reh]],
        kind=columns.kind_of_unit[columns.unit],
        key=key.astype(np.int64),
        side=side.astype(np.int64),
        cold_mean=cold_mean,
        rise_mean=rise_mean,
        warm_minutes=warm,
        cool_minutes=cool,
        order=columns.order,
        players=columns.players,
        instruments=kinds,
        rehearsals=tuple(columns.rehearsals[code] for code in place),
        sides=sides,
    )


def _minutes(rows: pd.DataFrame) -> Array:
    """Return minutes since the playing began, rests included."""
    into = rows["minutes_into_spell"].to_numpy(dtype=float)
    before = np.array([float(sum(one)) for one in rows["spells"].tolist()], dtype=np.float64)
    return np.asarray(into + before, dtype=np.float64)


def _instants(table: pd.DataFrame) -> Array:
    if "time" in table:
        return table["time"].to_numpy(dtype="datetime64[us]").astype(np.int64) / 60e6
    return table.index.to_numpy(dtype=float)


def _evening(table: pd.DataFrame, first: Array, place: npt.NDArray[np.intp]) -> Codes:
    """Return a number for each rehearsal in order of time: the same for those of one evening."""
    if "time" not in table:
        return np.arange(len(place))
    return np.cumsum(np.diff(first[place], prepend=first[place[0]]) > EVENING_MINUTES)


def _column(table: pd.DataFrame, name: str, otherwise: Array) -> Array:
    return np.asarray(table[name], dtype=np.float64) if name in table else otherwise


def _columns(
    columns: Columns, times: Mapping[str, tuple[float, float]], catalogue: Catalogue | None
) -> tuple[Array, Array, Array]:
    """Return base, mean, and (slope, rise, time constants) of each reading's instrument."""
    count = len(columns)
    base, mean = np.zeros((count, 7)), np.zeros(count)
    known_of = np.zeros((4, count))
    priors = Priors()
    for number, name in enumerate(columns.kinds):
        rows = np.flatnonzero(columns.kind_of_unit[columns.unit] == number)
        tw, tc = times[name]
        known = priors.of(name, catalogue)
        factors = np.array([(1, 1), (STEP, 1), (1 / STEP, 1), (1, STEP), (1, 1 / STEP), (3.5, 2)])
        cold, rise, _ = columns.histories.take(rows).columns(tw * factors[:, 0], tc * factors[:, 1])
        width = 2.0 * np.log(STEP) / SPAN_CELSIUS
        base[rows] = np.column_stack([
            cold[:, 0], rise[:, 0], columns.fixed[rows, 0], columns.fixed[rows, 1],
            (rise[:, 1] - rise[:, 2]) / width, (rise[:, 3] - rise[:, 4]) / width,
            rise[:, 5] - rise[:, 0],
        ])  # fmt: skip
        expected = known.cold_mean * cold[:, 0] + known.rise_mean * rise[:, 0]
        mean[rows] = expected + CURVATURE * columns.fixed[rows, 1]
        known_of[:, rows] = np.array([[known.cold_mean], [known.rise_mean], [tw], [tc]])
    return base, mean, known_of


def _length_m(instrument: str, side: str, catalogue: Catalogue | None) -> float:
    try:
        known = (catalogue or Catalogue.shipped()).find(instrument)
        return known.side(side).length_m
    except InstrumentError:
        return USUAL_LENGTH_M
