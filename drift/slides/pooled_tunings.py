"""What tunings taught of a slide by the way, over all evenings of a player."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd

from drift.instruments.anatomy import Instrument
from drift.logbook.rehearsals import Rehearsals
from drift.pairing.playing import playing_at
from drift.pairing.slide_log import slide_events
from drift.regression.estimates import NORMAL_95
from drift.regression.results import Estimate
from drift.slides.tuning_log import LONG_SD_CENTS
from drift.tonight.tuned import pooled_slope
from drift.tonight.tuning_belief import TuningBelief, believe

__all__ = ["PooledSlope", "pooled_slopes"]

LONGEST_MINUTES = 45.0
"""A tuning takes no longer; what was read before belongs to the rehearsal."""


@dataclass(frozen=True)
class PooledSlope:
    """What a millimetre of a slide does, as the tunings of a player tell it together.

    Attributes
    ----------
    slide, side : str
        Which slide, on which side.
    tunings : int
        How many tunings moved it.
    cents_per_mm : float
        Pulled out by a millimetre [cents/mm], negative.
    relative_sd : float
        Its standard deviation, as a share of it.
    """

    slide: str
    side: str
    tunings: int
    cents_per_mm: float
    relative_sd: float


def pooled_slopes(rehearsals: Rehearsals, player: str, instrument: Instrument) -> list[PooledSlope]:
    """Return the slopes that a player's tunings tell well enough, better than 8 %.

    Parameters
    ----------
    rehearsals : Rehearsals
        All that was logged.
    player : str
        Whose.
    instrument : Instrument
        Of which instrument.

    Notes
    -----
    Each tuning is followed again from what was logged of it. What it began with is taken out of
    all but one (`drift.tonight.tuned.pooled_slope`). One evening never is enough.
    """
    fresh = believe(instrument, positions_mm={}, minutes_played=0.0)
    followed = list(_tunings(rehearsals, player, instrument))
    found = []
    for slide in instrument.slides:
        for side in slide.sides:
            moved = [after for after, moves in followed if slide.name in moves]
            before = _moments(fresh.slope_factor(slide.name, side))
            after = [_moments(one.slope_factor(slide.name, side)) for one in moved]
            mean, sd, shown = pooled_slope(before, after)
            if shown and len(moved) > 1:
                nominal = instrument.cents_per_mm(side, slide.name)
                found.append(PooledSlope(slide.name, side, len(moved), mean * nominal, sd / mean))
    return found


def _moments(factor: Estimate) -> tuple[float, float]:
    return factor.estimate, (factor.high - factor.low) / (2.0 * NORMAL_95)


def _tunings(
    rehearsals: Rehearsals, player: str, instrument: Instrument
) -> Iterator[tuple[TuningBelief, set[str]]]:
    """Yield what is believed after each tuning, and the slides that it moved."""
    events, readings = rehearsals.events, rehearsals.readings
    own = (events["player"] == player) & (events["instrument"] == instrument.name)
    ends = events[own & (events["event"] == "tuned")].groupby("rehearsal")["time"].max()
    slides = slide_events(rehearsals, player, instrument)
    slides = slides[slides["event"] == "slide"]
    read = readings[
        (readings["player"] == player)
        & (readings["instrument"] == instrument.name)
        & ~readings["flagged"].astype(bool)
    ]
    for rehearsal, end in ends.items():
        since = end - pd.Timedelta(minutes=LONGEST_MINUTES)
        notes = read[(read["rehearsal"] == rehearsal) & read["time"].between(since, end)]
        if not len(notes):
            continue
        first = notes["time"].min()
        at = slides[slides["time"] <= first].drop_duplicates("slide", keep="last")
        positions = dict(zip(at["slide"], at["position_mm"].astype(float), strict=True))
        if set(positions) != {slide.name for slide in instrument.slides}:
            continue
        minutes = playing_at(
            events[events["rehearsal"] == rehearsal],
            readings[(readings["rehearsal"] == rehearsal) & (readings["time"] <= end)],
            player,
            first.timestamp() / 60.0,
            instrument.name,
        )[0]
        moves = slides[(slides["time"] > first) & (slides["time"] <= end)]
        yield _followed(instrument, positions, minutes, notes, moves), set(moves["slide"])


def _followed(
    instrument: Instrument, positions: dict[str, float], minutes: float, notes: Any, moves: Any
) -> TuningBelief:
    belief = believe(instrument, positions_mm=positions, minutes_played=minutes)
    steps = sorted(
        [*notes.itertuples(index=False), *moves.itertuples(index=False)], key=lambda row: row.time
    )
    last = steps[0].time
    for row in steps:
        belief, last = belief.passed((row.time - last).total_seconds() / 60.0), row.time
        if hasattr(row, "position_mm"):
            belief = belief.moved(row.slide, float(row.position_mm))
        elif (row.side, row.note) in _known(belief):
            belief = belief.heard(row.side, row.note, float(row.cents), LONG_SD_CENTS)
    return belief


def _known(belief: TuningBelief) -> set[tuple[str, ...]]:
    return {key[1:] for key in belief.places if key[0] == "habit"}
