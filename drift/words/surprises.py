"""What does not fit in tonight's readings, in words, and what to type about it."""

from __future__ import annotations

from datetime import datetime, timedelta

from drift.notes import shown, written_of
from drift.quantities import METRIC, Units
from drift.tonight.pitch_now import PitchNow
from drift.tonight.surprises import Jump, Surprise
from drift.words.cents import deviation, position, slide_noun

__all__ = ["surprises"]

AT_LEAST = timedelta(milliseconds=1)
"""Minutes are not exact: so that a time is told in its own minute, and not in the one before."""


def surprises(
    now: PitchNow, time: datetime, units: Units = METRIC, semitones: int = 0
) -> list[str]:
    """Return what does not fit in tonight's readings, a sentence each.

    Parameters
    ----------
    now : PitchNow
        The answer as codes and numbers.
    time : datetime
        The moment.
    units : Units
        Of the player.
    semitones : int
        How much higher than they sound the player reads the notes.
    """
    lines = [] if now.jump is None else [_jump(now, now.jump, time, units)]
    if Surprise.UNEXPECTED in now.surprises and now.last is not None:
        cents, expected = now.last_cents or (0.0, 0.0)
        note = now.last.reading.note
        name = shown(written_of(note, semitones) if semitones else note)
        lines.append(
            f"You read {name} {deviation(cents)}; {deviation(expected)} was expected: "
            "check where the slide is, and read once more."
        )
    if Surprise.WATCHING in now.surprises:
        lines.append(
            "Your readings move only half as much as the air asks: "
            "look away from the tuner while you play."
        )
    return lines


def _since(jump: Jump, time: datetime) -> str:
    """Return when readings jumped: with seconds where one before the jump was in that minute."""
    at = (time - timedelta(minutes=jump.minutes_ago) + AT_LEAST).astimezone()
    if jump.before_minutes_ago is None:
        return f"{at:%H:%M}"
    before = (time - timedelta(minutes=jump.before_minutes_ago) + AT_LEAST).astimezone()
    same_minute = f"{before:%Y-%m-%d %H:%M}" == f"{at:%Y-%m-%d %H:%M}"
    return f"{at:%H:%M:%S}" if same_minute and before.second < at.second else f"{at:%H:%M}"


def _jump(now: PitchNow, jump: Jump, time: datetime, units: Units) -> str:
    """Return that readings jumped, since when, and what to type about it."""
    since = _since(jump, time)
    typed, noun = f"at {since} slide {jump.slide}", slide_noun(jump.slide, now.instrument)
    measure = "inches" if units.inches else "millimetres"
    if jump.logged_mm is not None:
        there = position(jump.logged_mm, units, 0.01)
        return (
            f"Your readings jumped at {since}, and the {noun} was logged at {there} only after "
            f"that. If it was there by then, type “{typed} {there}”."
        )
    if Surprise.JUMPED in now.surprises:
        return (
            f"Your readings jumped at {since}: a slide must have moved. If it was the {noun}, "
            f"type “{typed}” and its {measure}."
        )
    return (
        f"Your readings may have shifted at {since}: check where the {noun} is. "
        f"If it moved, type “{typed}” and its {measure}."
    )
