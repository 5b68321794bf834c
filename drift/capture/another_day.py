"""The evening of a rehearsal: its name, typed again on another day, means another one."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from drift.errors import InputError
from drift.times import EVENINGS_APART

if TYPE_CHECKING:
    from drift.logbook.book import Logbook

__all__ = ["check_same_evening", "last_of_evening", "of_another_day"]


def last_of_evening(book: Logbook, rehearsal: str) -> datetime | None:
    """Return when the last thing of a rehearsal happened that people do; None where none did.

    A thermometer may be logged on overnight, and a rehearsal be begun or ended on another day.

    Parameters
    ----------
    book : Logbook
        Open.
    rehearsal : str
        Its name.
    """
    read = (row["time"] for row in book.rows("readings", rehearsal=rehearsal))
    done = (
        row["time"]
        for row in book.rows("events", rehearsal=rehearsal)
        if row["event"] not in ("start", "end")
    )
    return max([*read, *done], default=None)


def of_another_day(last: datetime | None, now: datetime) -> bool:
    """Return whether what happens now belongs to another rehearsal than the last thing did."""
    return last is not None and now - last > EVENINGS_APART


def check_same_evening(rehearsal: str, last: datetime | None, now: datetime) -> None:
    """Refuse what happens now in a rehearsal of another day.

    Raises
    ------
    InputError
        With a name for the new rehearsal, and how to add to the old one.
    """
    if last is None or not of_another_day(last, now):
        return
    day, today = (f"{time.astimezone():%Y-%m-%d}" for time in (last, now))
    raise InputError(
        f"{rehearsal} is a rehearsal of {day}",
        f"begin one of another name, such as {rehearsal.removesuffix(day).strip()} {today}; "
        f"what was forgotten on {day} is entered with its time (at {day} 20:10 play)",
    )
