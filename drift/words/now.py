"""Where the pitch of a player is, in words: the terminal and the page show the same lines."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from drift.notes import shown
from drift.regression.results import Fit
from drift.slides.player_now import PlayerNow
from drift.tonight.target import Target
from drift.words.tonight import answer, targets_in_words

__all__ = ["around", "basis", "in_words", "target_lines"]


def in_words(now: PlayerNow) -> list[str]:
    """Return who plays what in which conditions, what to do, and what that rests on."""
    who = f"{now.player}, {shown(now.pitch.instrument)}"
    return [f"{who}: {around(now)}", *answer(now.pitch), f"from {basis(now.earlier_readings)}"]


def target_lines(targets: Mapping[str, Target], at: datetime, celsius: float) -> list[str]:
    """Return what the tuner should show now, for playing from a time on in other air."""
    place = f"from {at:%H:%M} on at {celsius:g} °C"
    return targets_in_words(targets, place)


def around(now: PlayerNow) -> str:
    """Return the air and the playing at the moment."""
    conditions = now.conditions
    state = "playing" if conditions.playing else "resting"
    far = " (outside the temperatures measured so far: extrapolated)" if now.extrapolated else ""
    celsius = f"{conditions.celsius:z.1f} °C{far}"
    return f"{celsius}, {conditions.playing_minutes:.0f} min played ({state})"


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
