"""What the logbook teaches, and where pitch stands for everyone: worked out beside the page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pandas as pd

from drift.errors import DriftError
from drift.instruments import Catalogue
from drift.logbook.rehearsals import Rehearsals, load
from drift.pairing import Paired, pair
from drift.regression.results import Fit
from drift.slides.standing import Standing, learnt_from, standing

__all__ = ["Learnt", "Unknown", "learn", "standings"]


@dataclass(frozen=True)
class Learnt:
    """What the logbook teaches.

    Attributes
    ----------
    season : Rehearsals
        Everything logged so far.
    paired : Paired
        Its readings with temperature and playing time.
    known : Fit
        The regression, or acoustics alone where the readings are too few.
    basis : str
        Which of the two, in words.
    """

    season: Rehearsals
    paired: Paired
    known: Fit
    basis: str


@dataclass(frozen=True)
class Unknown:
    """A player whose pitch cannot be told yet, and why."""

    player: str
    instrument: str
    problem: str
    remedy: str


def learn(path: Path, before: Learnt | None = None, catalogue: Catalogue | None = None) -> Learnt:
    """Return what a logbook teaches.

    Parameters
    ----------
    path : Path
        The logbook.
    before : Learnt, optional
        What it taught before; its fit serves again while the paired readings are the same.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    """
    season = load(path, catalogue)
    paired = pair(season, catalogue=catalogue)
    if before is not None and paired.same_as(before.paired):
        return Learnt(season, paired, before.known, before.basis)
    return Learnt(season, paired, *learnt_from(paired, catalogue))


def standings(
    learnt: Learnt, rehearsal: str, now: datetime, catalogue: Catalogue | None = None
) -> tuple[Standing | Unknown, ...]:
    """Return where pitch stands for each player of a rehearsal, in order of their names."""
    return tuple(
        _standing(learnt, rehearsal, player, instrument, now, catalogue)
        for player, instrument in _present(learnt.season, rehearsal)
    )


def _present(season: Rehearsals, rehearsal: str) -> list[tuple[str, str]]:
    """Return who plays what in a rehearsal, as far as readings and slides say."""
    tables = (season.readings, season.events)
    rows = pd.concat([t[t["rehearsal"] == rehearsal][["player", "instrument"]] for t in tables])
    rows = rows[(rows["player"] != "") & (rows["instrument"] != "")]
    return sorted({(str(player), str(name)) for player, name in rows.itertuples(index=False)})


def _standing(
    learnt: Learnt,
    rehearsal: str,
    player: str,
    instrument: str,
    now: datetime,
    catalogue: Catalogue | None,
) -> Standing | Unknown:
    try:
        return standing(
            learnt.season,
            rehearsal,
            player,
            instrument,
            now,
            known=learnt.known,
            catalogue=catalogue,
        )
    except DriftError as refusal:
        return Unknown(player, instrument, refusal.problem, refusal.remedy)
