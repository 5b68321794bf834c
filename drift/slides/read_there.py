"""Whether readings contradict that an instrument is in tune where that is only assumed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.regression.results import Estimate, Fit
from drift.slides.caveats import About, Caveat
from drift.slides.player_now import know_player
from drift.tonight.course import Course
from drift.tonight.decision import NOTICED_CENTS
from drift.tonight.evening import Evening
from drift.tonight.pitch_now import pitch_now

__all__ = ["off_where_tuned"]


def off_where_tuned(
    fit: Fit,
    instrument: Instrument,
    player: str | None,
    at: Mapping[str, float],
    read_from: Mapping[str, float],
    conditions: tuple[float, float, float],
    calibration: MeasuredSlopes,
) -> Iterator[Caveat]:
    """Yield the side that is furthest off by the readings, where one is for certain.

    Parameters
    ----------
    fit : Fit
        What is known of the drift and of its readings.
    instrument, player
        Whose.
    at : mapping of str to float
        Positions where it is taken to be in tune [mm].
    read_from : mapping of str to float
        Positions that the player's readings were brought to [mm].
    conditions : (float, float, float)
        Temperature [°C], minutes of playing and pitch [Hz] where it is taken to be in tune.
    calibration : mapping
        Measured cents per millimetre, by slide and side.

    Notes
    -----
    A side counts whose 95 % interval there leaves out zero, and that is off by five cents or more.
    The interval is that of an evening without readings, as `drift.tonight.pitch_now` gives it; a
    fit by a straight line, which knows no warming up, gives none.
    """
    rows = fit.rows
    read = (
        set(rows.loc[(rows["player"] == player) & (rows["instrument"] == instrument.name), "side"])
        if player and len(rows) and fit.method == "bayesian"
        else set()
    )
    if not read or not at or not at.keys() <= read_from.keys():
        return
    celsius, minutes, a4_hz = conditions
    there = Evening(
        Course(np.array([0.0, minutes]), np.full(2, celsius), (0.0,)),
        reference_mm=read_from,
        start_mm=at,
    )
    known = know_player(fit, str(player), instrument, (), calibration)
    found = pitch_now(known, there, minutes, a4_hz=a4_hz).sides
    off = {side: one.off_cents for side, one in found.items() if side in read}
    sure = {side: cents.estimate for side, cents in off.items() if _sure(cents)}
    if sure:
        side = max(sure, key=lambda name: abs(sure[name]))
        yield Caveat(About.OFF_WHERE_TUNED, side=side, value=sure[side])


def _sure(cents: Estimate) -> bool:
    return abs(cents.estimate) >= NOTICED_CENTS and not cents.low <= 0.0 <= cents.high
