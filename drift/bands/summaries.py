"""One band's summary of one season: which sections it may show, and what their readings say."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from functools import reduce
from operator import add

import numpy as np
import pandas as pd

from drift.bands.band_file import PLAYERS, REHEARSALS, BandSummary, Section
from drift.bands.likelihood import Likelihood
from drift.bands.moments import learned
from drift.bands.reference import kinds
from drift.bands.written import Written
from drift.errors import InputError
from drift.pairing import Paired
from drift.regression.fits import rows_to_fit

__all__ = ["fingerprints", "next_summary", "rows_of_season", "seasons_of", "summarise"]

FEWEST_PLAYERS = 3
LARGEST_SHARE = 0.7
"""A section is withheld where one player has more than this share of its readings."""


def summarise(
    rows: pd.DataFrame, band: str, season: str, progress: Callable[[int, int], None] | None = None
) -> BandSummary:
    """Return what a band knows from one season.

    Parameters
    ----------
    rows : DataFrame
        The readings of that season alone, from `rows_of_season`.
    band : str
        The random number of the band.
    season : str
        The year.
    progress : callable, optional
        Called with the number of steps that are done and of those that may be needed, for each
        kind of instrument anew.

    Raises
    ------
    InputError
        If no section may be shown.

    Notes
    -----
    Each kind of instrument is fitted by itself under the fixed reference prior, whatever prior the
    band uses for its own answers. Sections of fewer than three players are withheld, those in
    which one player has more than 70 % of the readings, and instruments that are not in the
    shipped catalogue.
    """
    shown = _shown(rows)
    if not shown:
        raise InputError(
            f"no section of {season} has {FEWEST_PLAYERS} players with enough readings each",
            "a summary says nothing of fewer, nor where one has most readings; log more players",
        )
    found = {name: learned(part, name, progress) for name, part in shown.items()}
    spreads = reduce(add, (one.spreads for one in found.values()), Likelihood.nothing())
    return BandSummary(
        band=band,
        season=season,
        sections={
            name: _section(shown[name], one.instrument.rounded()) for name, one in found.items()
        },
        spreads=spreads.rounded(),
        withheld=int(rows["instrument"].nunique()) - len(shown),
    )


def next_summary(
    paired: Paired,
    written: Written,
    season: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[BandSummary, Written]:
    """Return the summary to hand on, and the record with it.

    Parameters
    ----------
    paired : Paired
        All readings of the band.
    written : Written
        What was handed on before.
    season : str, optional
        Which year; by default the latest in which there are readings.
    progress : callable, optional
        As in `summarise`.

    Raises
    ------
    InputError
        If there is nothing to show, or if the difference from an earlier version of the season
        would show a player.
    """
    chosen = seasons_of(paired)[-1] if season is None else season
    rows = rows_of_season(paired, chosen)
    now = fingerprints(rows)
    written.refuse_small_change(chosen, now)
    return summarise(rows, written.band, chosen, progress), written.with_version(chosen, now)


def seasons_of(paired: Paired) -> tuple[str, ...]:
    """Return the years in which there are readings, the latest last."""
    years = _years(_complete(paired))
    return tuple(f"{year}" for year in sorted(set(years)))


def rows_of_season(paired: Paired, season: str) -> pd.DataFrame:
    """Return the readings of one season: of the rehearsals that began in that year.

    Seasons never share a reading, so that what they say can be added.

    Raises
    ------
    InputError
        If there are none.
    """
    rows = _complete(paired)
    years = _years(rows)
    chosen = rows[np.array([f"{year}" == season for year in years], dtype=bool)]
    if not len(chosen):
        there = ", ".join(seasons_of(paired))
        raise InputError(f"there are no readings of {season}", f"there are readings of {there}")
    return chosen.reset_index(drop=True)


def fingerprints(rows: pd.DataFrame) -> dict[str, tuple[str, ...]]:
    """Return for each section that is shown the digests of its players' readings, sorted.

    They are for the band's own record of what it wrote, not for the file: two versions of a
    section differ in as many players as in digests.
    """
    wanted = ["reference_cents", "celsius", "playing_minutes"]
    found = {}
    for name, part in _shown(rows).items():
        digests = []
        for player, own in part.groupby("player", sort=True):
            numbers = own[wanted].to_numpy(dtype=float).round(6) + 0.0
            text = f"{player}\n" + "\n".join(sorted(map(str, numbers.tolist())))
            digests.append(hashlib.sha256(text.encode()).hexdigest()[:24])
        found[name] = tuple(sorted(digests))
    return found


def _shown(rows: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Return the rows of each section that may be shown."""
    found = {}
    for name in sorted(set(rows["instrument"].astype(str)) & set(kinds())):
        part = rows[rows["instrument"] == name].reset_index(drop=True)
        counts = part["player"].value_counts()
        if len(counts) >= FEWEST_PLAYERS and counts.max() <= LARGEST_SHARE * len(part):
            found[name] = part
    return found


def _section(rows: pd.DataFrame, likelihood: Likelihood) -> Section:
    players = rows["player"].nunique()
    days = len(rows[["player", "rehearsal"]].drop_duplicates()) / players
    ends = np.quantile(rows["celsius"], [0.05, 0.95])
    return Section(
        likelihood,
        players=_rough(players, (6, 12), PLAYERS),
        rehearsals=_rough(days, (1.5, 4.5), REHEARSALS),
        readings=int(float(f"{len(rows):.1g}")),
        celsius=(5 * round(ends[0] / 5), 5 * round(ends[1] / 5)),
    )


def _rough(count: float, limits: Sequence[float], names: Sequence[str]) -> str:
    """Return the name of the range that a count lies in."""
    return names[sum(count >= limit for limit in limits)]


def _complete(paired: Paired) -> pd.DataFrame:
    return rows_to_fit(paired)[0]


def _years(rows: pd.DataFrame) -> list[int]:
    """Return for each reading the year in which its rehearsal began."""
    if "time" not in rows or rows["time"].isna().any():
        raise InputError(
            "the readings have no times, so their season is not known", "pair a logbook or a folder"
        )
    began = rows.groupby("rehearsal")["time"].transform("min")
    return [int(year) for year in pd.to_datetime(began, utc=True).dt.year]
