"""When the next reading is due, in words."""

from __future__ import annotations

from math import ceil

from drift.reminders import Due

__all__ = ["due_in_words"]


def due_in_words(due: Due | None) -> str:
    """Return when a player should take the next reading.

    Parameters
    ----------
    due : Due or None
        When; None where the air or the playing is not known.

    Examples
    --------
    >>> wanted = (2.0, 5.0, 7.0)
    >>> due_in_words(Due(3.2, 5.0, 1, wanted)), due_in_words(Due(-0.5, 5.0, 1, wanted))
    ('Next reading in 4 minutes (1 of 3 taken).', 'A reading is due now (1 of 3 taken).')
    >>> due_in_words(Due(None, 0.0, 3, wanted))
    'No more readings are wanted tonight (3 of 3 taken).'
    """
    if due is None:
        return "Log the playing and a temperature first: when a reading is due follows from them."
    so_far = f"({due.taken} of {len(due.wanted)} taken)"
    if due.in_minutes is None:
        return f"No more readings are wanted tonight {so_far}."
    if due.in_minutes <= 0.0:
        return f"A reading is due now {so_far}."
    minutes = max(ceil(due.in_minutes - 0.05), 1)
    return f"Next reading in {minutes} minute{'' if minutes == 1 else 's'} {so_far}."
