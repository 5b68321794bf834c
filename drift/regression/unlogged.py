"""Whether slides that were set for the air and not logged may be behind a day that is off.

Who tunes on a hot evening pulls out, and reads lower than instruments drift; in the cold it is the
other way round. Where no slide was logged that looks like colder air, or like another A4.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = ["LIKELY", "OTHER_AIR_CELSIUS", "POSSIBLE", "set_for_the_air", "slides_unlogged"]

POSSIBLE, LIKELY = "possible", "likely"
OTHER_AIR_CELSIUS = 3.0
"""Nobody sets slides for air that is nearer to that of the other rehearsals [°C]."""
OFF_CENTS = 4.0
"""Rehearsals usually differ by less for everybody [cents]."""


def slides_unlogged(
    rows: pd.DataFrame, rehearsals: Collection[str], cents: float, player: str = ""
) -> str:
    """Return whether slides that were set and not logged may be why rehearsals are off.

    Parameters
    ----------
    rows : DataFrame
        A paired table, with ``slides_logged`` where that is known.
    rehearsals : collection of str
        Those that are off.
    cents : float
        By how much, positive when sharp [cents].
    player : str
        Who is off, empty for everybody.

    Returns
    -------
    str
        ``likely`` where readings are low in warmer air than that of the other rehearsals, or high
        in colder air; ``possible``; empty where slides were logged there, or nothing says.
    """
    if "slides_logged" not in rows:
        return ""
    there = rows["rehearsal"].isin([*rehearsals])
    mine = there & (rows["player"] == player) if player else there
    logged = rows["slides_logged"].astype(str).str.casefold().isin(["true", "1"])
    if not mine.any() or logged[mine].any():
        return ""
    others = float(rows["celsius"][~there].mean())  # NaN where there are none
    other_air = float(rows["celsius"][mine].mean()) - others
    set_so = abs(other_air) >= OTHER_AIR_CELSIUS and cents * other_air < 0.0
    return LIKELY if set_so else POSSIBLE


def set_for_the_air(fit: Fit) -> tuple[str, ...]:
    """Return the rehearsals that everybody was off in as slides make it that nobody logged.

    Parameters
    ----------
    fit : Fit
        With effects of rehearsals.
    """
    effects = fit.rehearsal_effects
    usual = float(np.median([*effects.values()])) if effects else 0.0
    off = {name: cents - usual for name, cents in effects.items()}
    return tuple(
        name
        for name, cents in off.items()
        if abs(cents) >= OFF_CENTS and slides_unlogged(fit.rows, [name], cents) == LIKELY
    )
