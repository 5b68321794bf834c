"""Numbers, intervals, counts, dates and times of day as a report prints them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import tzinfo

import pandas as pd

from drift.notes import shown
from drift.regression.results import Estimate
from drift.words.letters import capital

__all__ = ["day", "hour", "interval", "minus", "named", "number", "plural", "some"]

MOST_NAMES = 5


def number(value: float, decimals: int = 1, *, sign: bool = False) -> str:
    """Return a number as people write it; a dash where there is none.

    Examples
    --------
    >>> number(-2.345), number(4.0, sign=True), number(float("nan"))
    ('−2.3', '+4.0', '–')
    """
    if not math.isfinite(value):
        return "–"
    text = f"{value:{'+' if sign else ''}.{decimals}f}"
    return text.replace("-", "−") if float(text) else text.lstrip("+-")


def minus(text: str) -> str:
    """Return text with minus signs before its numbers; dates and options keep their hyphens.

    Examples
    --------
    >>> minus("-3 cents on 2026-10-03 (--travel)")
    '−3 cents on 2026-10-03 (--travel)'
    """
    return re.sub(r"(?<![-\w])-(?=\d)", "\N{MINUS SIGN}", text)


def interval(estimate: Estimate, decimals: int = 1, *, sign: bool = False) -> str:
    """Return the limits of an interval.

    Examples
    --------
    >>> interval(Estimate(2.0, 1.0, 3.0), sign=True)
    '+1.0 to +3.0'
    """
    low, high = (number(end, decimals, sign=sign) for end in (estimate.low, estimate.high))
    return f"{low} to {high}"


def plural(count: int, one: str, many: str = "") -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> plural(1, "reading"), plural(2, "reading")
    ('1 reading', '2 readings')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def some(names: Sequence[str]) -> str:
    """Return the first names, and how many more there are."""
    more = len(names) - MOST_NAMES
    return ", ".join(names[:MOST_NAMES]) + (f" and {more} more" if more > 0 else "")


def day(time: pd.Timestamp, zone: tzinfo) -> str:
    """Return the date of an instant in a zone."""
    return time.astimezone(zone).strftime("%Y-%m-%d")


def hour(time: pd.Timestamp, zone: tzinfo) -> str:
    """Return the time of day of an instant in a zone."""
    return time.astimezone(zone).strftime("%H:%M")


def named(instrument: str) -> str:
    """Return the name of an instrument as it begins a sentence."""
    return capital(shown(instrument))
