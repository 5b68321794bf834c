"""Cents and millimetres as players say them: 9 sharp, out 4 mm."""

from __future__ import annotations

from drift.regression.results import Estimate
from drift.tonight.decision import round_mm

__all__ = ["deviation", "interval", "millimetres", "signed"]

MINUS = "\N{MINUS SIGN}"


def signed(cents: float) -> str:
    """Return whole cents with their sign.

    Examples
    --------
    >>> signed(6.2), signed(-3.4), signed(0.3)
    ('+6', '−3', '0')
    """
    whole = round(cents)
    return f"{'+' if whole > 0 else MINUS if whole < 0 else ''}{abs(whole)}"


def deviation(cents: float) -> str:
    """Return a deviation as players say it.

    Examples
    --------
    >>> deviation(9.4), deviation(-2.0), deviation(0.4)
    ('9 sharp', '2 flat', 'in tune')
    """
    whole = round(cents)
    if not whole:
        return "in tune"
    return f"{abs(whole)} {'sharp' if whole > 0 else 'flat'}"


def interval(found: Estimate) -> str:
    """Return an interval beside a deviation, without signs where both ends lie on its side.

    Examples
    --------
    >>> interval(Estimate(9.0, 6.0, 12.0)), interval(Estimate(2.0, -3.0, 6.0))
    ('6 to 12', '−3 to +6')
    >>> interval(Estimate(-9.0, -12.0, -6.0))
    '6 to 12'
    """
    low, high = round(found.low), round(found.high)
    if low > 0 or high < 0:
        near, far = sorted((abs(low), abs(high)))
        return f"{near} to {far}"
    return f"{signed(low)} to {signed(high)}"


def millimetres(length_mm: float, step_mm: float = 0.5) -> str:
    """Return a length as it is set, without its sign.

    Parameters
    ----------
    length_mm : float
        Length [mm].
    step_mm : float
        Step it is rounded to [mm].

    Examples
    --------
    >>> millimetres(-4.1), millimetres(4.3), millimetres(4.4, 1.0)
    ('4 mm', '4.5 mm', '4 mm')
    """
    return f"{abs(round_mm(length_mm, step_mm)):g} mm"
