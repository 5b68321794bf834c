"""What a typed target is for: a time and a temperature, or the next playing of a plan."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from drift.capture.entries import Target
from drift.errors import InputError
from drift.gig.next_playing import example_typed, read_next_playing

__all__ = ["when_and_where"]


def when_and_where(
    asked: Target, now: datetime, plan: Path | None, fahrenheit: bool = False
) -> tuple[datetime, float]:
    """Return when the playing begins that a target is for, and its air [°C].

    Parameters
    ----------
    asked : Target
        As it was typed.
    now : datetime
        The moment, in the zone of the place.
    plan : Path or None
        A folder that ``drift gig`` has filled, or with a schedule and a forecast.

    fahrenheit : bool
        Whether who asks types °F.

    Raises
    ------
    InputError
        When the plan is asked for and there is none, or nothing is played any more.
    """
    if not asked.planned:
        return asked.time_after(now), asked.celsius
    if plan is None:
        raise InputError(
            "no plan was given",
            "type when and at how many degrees you play next, such as "
            f"{example_typed(fahrenheit)}; or start with --plan and a folder that drift gig has "
            "filled",
        )
    coming = read_next_playing(plan, now, fahrenheit)
    return coming.at.astimezone(now.tzinfo), coming.celsius
