"""Where the pitch of a player is, in words: the terminal and the page show the same lines."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from drift.notes import shown
from drift.quantities import METRIC, Units
from drift.regression.results import Fit
from drift.slides.player_now import PlayerNow
from drift.tonight.decision import NOTICED_CENTS
from drift.tonight.evening import NotUsed
from drift.tonight.target import Target
from drift.words.cents import degrees, deviation
from drift.words.tonight import NOTHING_SAID, answer, targets_in_words

__all__ = ["around", "basis", "in_words", "rests_on", "target_lines"]


def in_words(
    now: PlayerNow,
    units: Units = METRIC,
    semitones: int = 0,
    said: Mapping[NotUsed, int] = NOTHING_SAID,
) -> list[str]:
    """Return who plays what in which conditions, what to do, and what that rests on.

    Parameters
    ----------
    now : PlayerNow
        The answer as codes and numbers.
    units : Units
        Of the player.
    semitones : int
        How much higher than they sound the player reads the notes.
    said : mapping of NotUsed to int
        As in `drift.words.tonight.answer`.
    """
    who = f"{now.player}, {shown(now.pitch.instrument)}"
    return [
        f"{who}: {around(now, units)}",
        *answer(now.pitch, now.time, units=units, semitones=semitones, said=said),
        f"from {rests_on(now)}",
    ]


def target_lines(
    targets: Mapping[str, Target],
    at: datetime,
    celsius: float,
    units: Units = METRIC,
    semitones: int = 0,
) -> list[str]:
    """Return what the tuner should show now, for playing from a time on in other air.

    Parameters
    ----------
    targets : mapping of str to Target
        By side.
    at : datetime
        When the playing begins.
    celsius : float
        The air there [°C].
    units : Units
        Of the player.
    semitones : int
        How much higher than they sound the player reads the notes.
    """
    place = f"from {at:%H:%M} on at {degrees(celsius, units, 0)}"
    return [*targets_in_words(targets, place, semitones), *_out_of_reach(targets)]


def _out_of_reach(targets: Mapping[str, Target]) -> list[str]:
    """Return what the tuner shows with the slide all the way in, and what then remains, by side."""
    short = {side: one for side, one in targets.items() if -one.remaining_cents >= NOTICED_CENTS}
    lines = [
        f"{f'{shown(side)} side: all' if side else 'All'} the way in it shows "
        f"{deviation(one.show_cents.estimate + one.remaining_cents)}: "
        f"{deviation(one.remaining_cents)} remains on average, less once you are warm."
        for side, one in short.items()
    ]
    return [*lines, "Tell the director before the band tunes."] if lines else []


def around(now: PlayerNow, units: Units = METRIC) -> str:
    """Return the air and the playing at the moment."""
    conditions = now.conditions
    state = "playing" if conditions.playing else "resting"
    far = " (outside the temperatures measured so far: extrapolated)" if now.extrapolated else ""
    came = conditions.came_from_celsius
    before = "" if came is None else f", instruments came in from {degrees(came, units)}"
    air = f"{degrees(conditions.celsius, units)}{far}{before}"
    if not conditions.begun:
        return f"{air}, not played yet"
    return f"{air}, {conditions.playing_minutes:.0f} min played ({state})"


def rests_on(now: PlayerNow) -> str:
    """Return what an answer rests on: tonight's readings, those of earlier rehearsals, acoustics.

    Earlier rehearsals count from where they can be fitted on.
    """
    tonight, earlier = now.pitch.readings, now.earlier_readings
    if not tonight:
        return basis(earlier)
    told = f"{tonight} reading{'' if tonight == 1 else 's'} of tonight"
    if earlier:
        return f"{told}, {earlier} of earlier rehearsals and acoustics"
    return f"{told} and acoustics; earlier rehearsals: too few readings yet"


def basis(readings: int | Fit) -> str:
    """Return what an answer rests on.

    Examples
    --------
    >>> basis(0), basis(557)
    ('acoustics alone: too few readings yet', '557 readings and acoustics')
    """
    count = readings if isinstance(readings, int) else len(readings.rows)
    if not count:
        return "acoustics alone: too few readings yet"
    return f"{count} reading{'' if count == 1 else 's'} and acoustics"
