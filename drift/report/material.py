"""What a report is composed from, and how its numbers are written."""

from __future__ import annotations

import math
import platform
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import tzinfo
from importlib.metadata import PackageNotFoundError, version

import pandas as pd

from drift.evidence import Evidence
from drift.notes import shown
from drift.regression.results import Estimate

__all__ = ["Made", "Material", "day", "hour", "interval", "number", "plural", "versions"]

PROGRAMS = ("rehearsal-drift", "numpy", "pandas", "scipy", "statsmodels", "matplotlib")


@dataclass(frozen=True)
class Made:
    """How a report came to be, as the outermost layer knows it.

    Attributes
    ----------
    command : str
        What was typed; empty where nothing was.
    versions : mapping of str to str
        Versions by name of the program.
    """

    command: str = ""
    versions: Mapping[str, str] = field(default_factory=dict)


def versions() -> dict[str, str]:
    """Return the versions of Python and of the programs that the numbers of a report rest on."""
    return {"Python": platform.python_version()} | {name: _version(name) for name in PROGRAMS}


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:  # run from a checkout without being installed
        return "not installed"


@dataclass(frozen=True, kw_only=True)
class Material(Evidence):
    """The evidence, and how a report tells it.

    Attributes
    ----------
    zone : tzinfo
        The zone that times are told in.
    made : Made
        How the report came to be.
    """

    zone: tzinfo
    made: Made

    def of(self, table: pd.DataFrame, name: str) -> pd.DataFrame:
        """Return the rows of a table that belong to one rehearsal."""
        return table[table["rehearsal"] == name]


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


def day(time: pd.Timestamp, zone: tzinfo) -> str:
    """Return the date of an instant in a zone."""
    return time.astimezone(zone).strftime("%Y-%m-%d")


def hour(time: pd.Timestamp, zone: tzinfo) -> str:
    """Return the time of day of an instant in a zone."""
    return time.astimezone(zone).strftime("%H:%M")


def named(instrument: str) -> str:
    """Return the name of an instrument as it begins a sentence."""
    text = shown(instrument)
    return text[:1].upper() + text[1:]
