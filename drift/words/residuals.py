"""What a chart of residuals leaves beyond its axis, in words."""

from __future__ import annotations

from collections.abc import Iterable

from drift.words.cents import signed

__all__ = ["beyond_the_axis"]

MOST = 3
"""So many are named one by one; of more, the ends of their range."""


def beyond_the_axis(residuals: Iterable[float]) -> str:
    """Return how many readings lie beyond an axis, and where [cents].

    Examples
    --------
    >>> beyond_the_axis([48.2]), beyond_the_axis([48.2, -31.0])
    ('1 reading beyond the axis: +48 cents', '2 readings beyond the axis: −31 and +48 cents')
    >>> beyond_the_axis([48.0, 31.0, 29.0, 90.0])
    '4 readings beyond the axis: +29 to +90 cents'
    """
    cents = sorted(residuals)
    readings = "1 reading" if len(cents) == 1 else f"{len(cents)} readings"
    if len(cents) > MOST:
        where = f"{signed(cents[0])} to {signed(cents[-1])}"
    else:
        *most, last = (signed(one) for one in cents)
        where = f"{', '.join(most)} and {last}" if most else last
    return f"{readings} beyond the axis: {where} cents"
