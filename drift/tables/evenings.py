"""A name that stands for more than one evening: each of them is a rehearsal of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from drift.tables.columns import Rows, Texts
from drift.tables.headers import PACKAGE, REHEARSAL
from drift.tables.understood import Several
from drift.times import EVENINGS_APART, from_microseconds

__all__ = ["Evenings", "evenings_of", "keeps_names"]

NONE: Mapping[str, Rows] = MappingProxyType({})

_APART_US = EVENINGS_APART // timedelta(microseconds=1)


class Evenings:
    """The evenings of the names that stand for more than one.

    Parameters
    ----------
    begins, ends : mapping of str to array of int
        By name, when each evening's first and last reading was made [microseconds since 1970];
        without them every name stands for one evening.
    zone : tzinfo, optional
        In which days are told (default: that of this computer).
    """

    def __init__(
        self,
        begins: Mapping[str, Rows] = NONE,
        ends: Mapping[str, Rows] = NONE,
        zone: tzinfo | None = None,
    ) -> None:
        self._middles = {name: (begins[name][1:] + ends[name][:-1]) // 2 for name in begins}
        self._names = {name: _named(name, begins[name].tolist(), zone) for name in begins}

    def understood(self, source: str) -> list[Several]:
        """Return what is to be mentioned of a file whose readings told the evenings."""
        return [Several(source, name, tuple(each)) for name, each in self._names.items()]

    def of(self, values: Mapping[str, Any]) -> Mapping[str, Any]:
        """Return the columns of a table with the evening of each row as its rehearsal.

        Parameters
        ----------
        values : mapping of str to Texts, Packed or array
            With ``rehearsal`` and ``time``; a table without them stays as it is.
        """
        rehearsal = values.get(REHEARSAL)
        if not isinstance(rehearsal, Texts) or not self._names:
            return values
        known, codes = list(rehearsal.known), rehearsal.codes.astype(np.int64)
        for code, name in enumerate(rehearsal.known):
            if name in self._names:
                rows = np.flatnonzero(rehearsal.codes == code)
                which = np.searchsorted(self._middles[name], values["time"][rows], side="right")
                codes[rows] = len(known) + which
                known += self._names[name]
        return {**values, REHEARSAL: Texts(codes, known)}


def evenings_of(readings: Mapping[str, Any], zone: tzinfo | None = None) -> Evenings:
    """Return the evenings that the readings of one name make, where they are more than one.

    Parameters
    ----------
    readings : mapping of str to Texts, Packed or array
        ``rehearsal`` and ``time`` among them.
    zone : tzinfo, optional
        In which days are told (default: that of this computer).
    """
    rehearsal, times = readings[REHEARSAL], readings["time"]
    begins: dict[str, Rows] = {}
    ends: dict[str, Rows] = {}
    if isinstance(rehearsal, Texts) and len(times):
        first = np.full(len(rehearsal.known), np.iinfo(np.int64).max)
        last = np.full(len(rehearsal.known), np.iinfo(np.int64).min)
        np.minimum.at(first, rehearsal.codes, times)
        np.maximum.at(last, rehearsal.codes, times)
        for code in np.flatnonzero((last > first) & (last - first > _APART_US)):
            of_one = np.sort(times[rehearsal.codes == code])
            breaks = np.flatnonzero(np.diff(of_one) > _APART_US)
            if len(breaks):
                begins[rehearsal.known[code]] = of_one[np.concatenate([[0], breaks + 1])]
                ends[rehearsal.known[code]] = of_one[np.append(breaks, len(of_one) - 1)]
    return Evenings(begins, ends, zone)


def _named(name: str, begins: Sequence[int], zone: tzinfo | None) -> list[str]:
    """Return a name for each evening: with its day, and with the time where a day has two."""
    when: list[datetime] = [from_microseconds(time).astimezone(zone) for time in begins]
    days = [f"{time:%Y-%m-%d}" for time in when]
    return [
        f"{name} {day}" if days.count(day) == 1 else f"{name} {time:%Y-%m-%d %H:%M}"
        for day, time in zip(days, when, strict=True)
    ]


def keeps_names(source: object) -> bool:
    """Return whether a logbook was written there, whose names stand for what they stood for."""
    return isinstance(source, Path | str) and (Path(source) / PACKAGE).is_file()
