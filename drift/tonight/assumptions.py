"""What the estimate of pitch tonight takes for granted before the readings, number by number.

None of these comes from a published measurement. Each is an assumption, or common practice where
it says so; they were chosen on simulated evenings and judged on others (``docs/explanation``).
"""

from __future__ import annotations

__all__ = [
    "AIR_SD_CELSIUS",
    "AT_ONCE_PROBABILITY",
    "BASE_SD_CENTS",
    "BEND_SD_CENTS",
    "DAY_SD_CENTS",
    "DRAWS",
    "FIRST_BEND_SD_CENTS",
    "FIRST_SLIDE_SHARE",
    "MOVES_PER_HOUR",
    "MOVE_SD_CENTS",
    "NOTE_SD_CENTS",
    "OUTLIER_DENSITY",
    "OUTLIER_SHARE",
    "PULLED_IN",
    "READING_SD_CENTS",
    "REHEARSALS_THAT_SHOW_A_DAY",
    "REHEARSALS_THAT_SHOW_WATCHING",
    "SETTING_SD_MM",
    "SIDE_SD_CENTS",
    "SIDE_TONIGHT_SD_CENTS",
    "STORIES",
    "WALK_SD_CENTS",
    "WATCHING_SHARE",
]

DRAWS = 600
"""Draws of the drift of an instrument that an answer carries along."""
STORIES = 24
"""Accounts of the evening (which reading is an outlier, when a slide moved) that are kept."""

BASE_SD_CENTS, SIDE_SD_CENTS, NOTE_SD_CENTS = 20.0, 5.0, 5.0
"""A note before any reading: base of the instrument, plus its side, plus its own tendency."""
DAY_SD_CENTS, READING_SD_CENTS = 2.0, 3.0
"""Spread of the days and of a reading until the fit knows the player's own."""
REHEARSALS_THAT_SHOW_A_DAY = 2
"""From so many rehearsals on the fit's own spread of the days is used (at least 1 cent)."""
SIDE_TONIGHT_SD_CENTS = 2.6
"""A further side of an instrument is tuned anew, to the first: who tunes both until each is within
three cents with a probability of 0.9 (`decide_tuning`) leaves them 3 / 1.645 * sqrt(2) cents apart
(one standard deviation), beside their usual difference."""

WALK_SD_CENTS = 2.0
"""The level of the evening wanders by this much in an hour (square root of time)."""
BEND_SD_CENTS, FIRST_BEND_SD_CENTS = 1.5, 3.0
"""Warming up is not one exponential: spread over a whole warm-up, with a fit of the player's own
rehearsals and from acoustics alone."""

SETTING_SD_MM = 0.3
"""A slide set by eye to half a millimetre (common practice)."""

OUTLIER_SHARE, OUTLIER_DENSITY = 0.02, 0.01
"""One reading in fifty is an outlier, anywhere within 100 cents."""
MOVES_PER_HOUR, MOVE_SD_CENTS = 0.12, 12.0
"""Slides that were moved and not logged: how often, and by how much."""
FIRST_SLIDE_SHARE = 0.8
"""So many of them are moves of the instrument's first slide."""
WATCHING_SHARE, PULLED_IN = 0.03, 0.5
"""A player who watches the tuner, and the share of the deviation that is then pulled in."""
REHEARSALS_THAT_SHOW_WATCHING = 3
"""With fewer rehearsals a watched tuner cannot be told from a flat curve."""

AIR_SD_CELSIUS = 1.0
"""The air ahead wanders by this much in an hour (square root of time)."""
AT_ONCE_PROBABILITY = 0.15
"""Chance that the air inside a carried instrument follows the air around it at once."""
