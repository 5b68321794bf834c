"""What to measure next, so that the answer asked for becomes narrower soonest."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from drift.errors import InputError, TooLittleData
from drift.instruments import Catalogue, canonical_name
from drift.regression.asked import named, refuse_unread
from drift.regression.estimates import ONLY, Curve, Kind
from drift.regression.fits import fit
from drift.regression.results import Fit
from drift.regression.some_more import kind_with

__all__ = ["Addition", "Advice", "additions_around", "additions_near", "advise"]

NEW_REHEARSAL = "a rehearsal yet to come"
NEW_TEMPERATURES = (-8.0, -4.0, 0.0, 4.0, 8.0)
"""Around the mean of those seen (°C): another hall, another season."""

FEASIBLE_CELSIUS = (5.0, 35.0)
STARTS = ((2.0, 20.0), (30.0, 60.0), (2.0, 60.0))
"""From the cold start; when warm; and throughout (minutes of playing)."""

NEAR_CELSIUS = 4.0
"""So much beyond the rooms of their readings players find another (°C)."""

READINGS = 8

TUNED_CELSIUS, MINUTES = 20.0, 30.0
"""Where a drift is asked for: from tuned here, both after so much playing."""

NEARLY = 1.05
"""Widths up to so much wider than the narrowest count as equal: they are expected, not known."""

BEYOND_CELSIUS = 8.0
"""Rooms within so much of the temperatures seen are those that a band is likely to come to (°C)."""


@dataclass(frozen=True)
class Addition:
    """Readings that could be made at one more rehearsal.

    Parameters
    ----------
    celsius : float
        Temperature of the room (°C).
    first_minute, last_minute : float
        Minutes of playing at the first and the last reading.
    readings : int
        How many, spread evenly between.
    """

    celsius: float
    first_minute: float
    last_minute: float
    readings: int = READINGS


@dataclass(frozen=True, eq=False)
class Advice:
    """Additions, ranked by how much they would narrow the answer asked for.

    Parameters
    ----------
    instrument, unit : str
        Whose answer is asked for, and the unit of its width.
    celsius : float or None
        The temperature whose drift is asked for (°C); None for the warm slope.
    width_now : float
        Width of its 95 % interval now.
    options : DataFrame
        ``celsius, first_minute, last_minute, readings, width`` (expected), best first: the
        narrowest, and before it those nearly as narrow that are easier to come by.
    """

    instrument: str
    celsius: float | None
    unit: str
    width_now: float
    options: pd.DataFrame

    def to_frame(self) -> pd.DataFrame:
        """Return a copy of the ranked options."""
        return self.options.copy()

    def summary(self) -> str:
        """Return the best addition in a sentence."""
        from drift.words.advice import summary_of

        return summary_of(self)


def additions_around(found: Fit) -> list[Addition]:
    """Return a few feasible additions around the temperatures seen.

    Parameters
    ----------
    found : Fit
        A fit with readings.
    """
    middle = float(found.rows["celsius"].mean())
    low, high = FEASIBLE_CELSIUS
    temperatures = sorted({round(min(max(middle + step, low), high)) for step in NEW_TEMPERATURES})
    return [
        Addition(float(celsius), *window)
        for celsius, window in itertools.product(temperatures, STARTS)
    ]


def additions_near(rows: pd.DataFrame, celsius: float | None = None) -> list[Addition]:
    """Return additions that a player can get to: usual rooms, somewhat beyond them, and one asked.

    Parameters
    ----------
    rows : DataFrame
        The player's readings, with ``celsius``.
    celsius : float, optional
        The temperature of a place where the player will play (°C): readings there are among them,
        and rooms on that side only.

    Examples
    --------
    >>> rooms = additions_near(pd.DataFrame({"celsius": [16.0, 22.0]}), 5.0)
    >>> sorted({one.celsius for one in rooms})
    [5.0, 12.0]
    """
    low, high = float(rows["celsius"].min()), float(rows["celsius"].max())
    least, most = FEASIBLE_CELSIUS
    colder, warmer = max(low - NEAR_CELSIUS, least), min(high + NEAR_CELSIUS, most)
    if celsius is None:
        rooms = {round(colder), round((low + high) / 2.0), round(warmer)}
    elif celsius < low:
        rooms = {round(max(colder, celsius))}
    elif celsius > high:
        rooms = {round(min(warmer, celsius))}
    else:
        rooms = {round(low), round(high)}
    asked = [] if celsius is None else [celsius]
    return [
        Addition(float(room), *window)
        for room in dict.fromkeys((*asked, *sorted(rooms)))
        for window in STARTS[:2]
    ]


def advise(
    found: Fit,
    instrument: str | None = None,
    *,
    player: str = ONLY,
    celsius: float | None = None,
    options: Sequence[Addition] | None = None,
    catalogue: Catalogue | None = None,
) -> Advice:
    """Rank feasible additions by how much they would narrow the answer asked for.

    Parameters
    ----------
    found : Fit
        A Bayesian fit with readings.
    instrument : str, optional
        Which instrument (default: the one with most readings).
    player : str
        Who would read, and whose answer is asked for (default: the one with most readings reads,
        and the answer is that of `Fit.change`).
    celsius : float, optional
        The temperature whose drift is asked for (from tuned at 20 °C, both after 30 minutes);
        when left out, the warm slope.
    options : sequence of Addition, optional
        What could be measured (default: `additions_around`).
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    Advice

    Raises
    ------
    TooLittleData
        If there are no readings to add to.
    InputError
        If the fit is not a Bayesian one.

    Notes
    -----
    Each addition is made up as the fit expects it, scattered by the reading standard deviation in
    turn above and below, and put to the readings of the player who has most. The draws of the fit
    are weighed anew with them (`drift.regression.some_more`); where they move it too far, the whole
    is fitted again. That takes account of everything the fit knows, the day effect of a new
    rehearsal included; it cannot know what the new readings will teach about the scatter itself.

    A lever pins a line best at its ends, so the best temperature may lie on the other side of
    those seen than the one asked for. Where another does nearly as well (within 5 % of the
    narrowest width), one within 8 °C of those seen and on the side of the one asked for goes
    first.
    """
    if not len(found.rows):
        raise TooLittleData("there are no readings yet", "log a rehearsal first, warm or cold")
    if found.method != "bayesian":
        raise InputError(
            f"advice needs the method bayesian, not {found.method}", "fit with --method bayesian"
        )
    player = named(player)
    mine = found.rows if player == ONLY else found.rows[found.rows["player"] == player]
    if not len(mine):
        raise InputError(f"there are no readings of {player!r}", "name a player who was read")
    name = canonical_name(instrument or str(mine["instrument"].value_counts().index[0]))
    refuse_unread(found, name, player)
    candidates = list(options) if options is not None else additions_around(found)
    if not candidates:
        raise InputError("no addition to choose from", "name at least one")
    records = []
    for addition in candidates:
        more = pd.concat([found.rows, _made_up(found, name, addition, player)], ignore_index=True)
        then = kind_with(found, more, name, catalogue) or _kind_of(found, more, name, catalogue)
        records.append(vars(addition) | {"width": _width(then.of(player), celsius)})
    return Advice(
        name,
        celsius,
        "cents/°C" if celsius is None else "cents",
        _width(found.curve(name, player), celsius),
        _ranked(pd.DataFrame(records), found, celsius),
    )


def _kind_of(found: Fit, rows: pd.DataFrame, name: str, catalogue: Catalogue | None) -> Kind:
    """Return what a fit of more rows, made as the first was, knows of an instrument."""
    made = found.settings
    then = fit(
        rows, start=made.start, covariates=made.covariates, priors=made.priors, catalogue=catalogue
    )
    return then.kinds[name]


def _ranked(options: pd.DataFrame, found: Fit, celsius: float | None) -> pd.DataFrame:
    """Return the options by width; among those nearly the narrowest, the likely rooms first."""
    seen = found.rows["celsius"]
    near = options["celsius"].between(seen.min() - BEYOND_CELSIUS, seen.max() + BEYOND_CELSIUS)
    middle = seen.mean()
    target = middle if celsius is None else celsius
    aside = (options["celsius"] - middle) * (target - middle) < 0.0
    behind = options["width"] > NEARLY * options["width"].min()
    order = options.assign(behind=behind, far=~near & ~behind, aside=aside & ~behind).sort_values(
        ["behind", "far", "aside", "width"], ignore_index=True
    )
    return order[options.columns]


def _width(curve: Curve, celsius: float | None) -> float:
    """Return the width of the 95 % interval of what is asked for."""
    if celsius is None:
        estimate = curve.entries()["warm_cents_per_celsius"]
        return estimate.high - estimate.low
    where = np.array([celsius]), np.array([MINUTES])
    _, low, high = curve.contrast(*where, TUNED_CELSIUS, MINUTES)
    return float(high[0] - low[0])


def _made_up(found: Fit, name: str, addition: Addition, player: str) -> pd.DataFrame:
    """Return the readings of an addition as the fit expects them."""
    rows = found.rows[found.rows["instrument"] == name]
    if player == ONLY:
        player = rows["player"].value_counts().index[0]
    rows = rows[rows["player"] == player]
    pitch = (rows["reference_cents"] - rows["drift"]).groupby([rows["side"], rows["note"]]).mean()
    notes = rows.groupby(["side", "note"]).size().sort_values(ascending=False).index[:3]
    chosen = [notes[number % len(notes)] for number in range(addition.readings)]
    minutes = np.linspace(addition.first_minute, addition.last_minute, addition.readings)
    new = pd.DataFrame(
        {
            "rehearsal": NEW_REHEARSAL,
            "player": player,
            "instrument": name,
            "side": [side for side, _ in chosen],
            "note": [note for _, note in chosen],
            "celsius": addition.celsius,
            "playing_minutes": minutes,
            "minutes_into_spell": minutes,
            "initial_warmth": 0.0,
        }
    )
    new["spells"] = pd.Series([()] * len(new), dtype=object)
    if "course" in rows:
        course = ((0.0, addition.celsius), (addition.last_minute, addition.celsius))
        new["course"] = pd.Series([course] * len(new), dtype=object)
    for covariate in found.settings.covariates:
        new[covariate] = rows[covariate].mode().iloc[0]
    scatter = found.reading_sd_cents * np.where(np.arange(len(new)) % 2 == 0, 1.0, -1.0)
    level = np.array([pitch[key] for key in chosen])
    new["reference_cents"] = level + found.curve(name, player).expected(new) + scatter
    return new
