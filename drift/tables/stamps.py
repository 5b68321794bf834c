"""Times of RFC 3339 for many rows at once, a position of the text at a time."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from drift.tables.columns import Packed, arrow_of, numbers_of
from drift.times import EARLIEST, LATEST, to_microseconds

__all__ = ["MISSING", "decoded", "within"]

MISSING = np.iinfo(np.int64).min
"""Stands where no time is given."""

_DATE_AND_TIME = 19
_OFFSET = 6
_UTC_LENGTHS = (20, *range(22, 28))
_DIGITS = (0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15, 17, 18)
_BLOCK = 1 << 16
_FIRST, _LAST = to_microseconds(EARLIEST), to_microseconds(LATEST)

Bytes = npt.NDArray[np.uint8]
Flags = npt.NDArray[np.bool_]
Micros = npt.NDArray[np.int64]


class _Layout(NamedTuple):
    """How a text of RFC 3339 is laid out: how long, how many decimals, and whether it ends in Z."""

    width: int
    zulu: bool

    @property
    def decimals(self) -> int:
        """Characters of the fraction, its point included."""
        return self.width - _DATE_AND_TIME - (1 if self.zulu else _OFFSET)


def decoded(texts: Packed) -> tuple[Micros, Flags]:
    """Return times of RFC 3339 as microseconds since 1970, and which rows are such times.

    Parameters
    ----------
    texts : Packed
        n texts.

    Returns
    -------
    microseconds : array of shape (n,)
        In UTC; arbitrary where the row is not such a time.
    taken : array of bool of shape (n,)
        Exactly those that `drift.times.parse_time` takes.

    Notes
    -----
    Where every text is as long as a time in UTC, Arrow reads them. Else texts of one layout are
    looked at as one matrix of bytes, a column of it at a time. A test holds the answer to the
    scalar rule on random and on spoiled texts.
    """
    starts, ends = texts.offsets[:-1], texts.offsets[1:]
    lengths = ends - starts
    if not len(texts.data):
        return np.zeros(len(starts), dtype=np.int64), np.zeros(len(starts), dtype=bool)
    last = texts.data[np.maximum(ends - 1, 0)]
    if (last == ord("Z")).all() and np.isin(lengths, _UTC_LENGTHS).all():
        read = _by_arrow(texts)
        if read is not None:
            return read, within(read)
    zulu = (last == ord("Z")) | (last == ord("z"))
    return _by_layout(texts, lengths * 2 + zulu)


def _by_arrow(texts: Packed) -> Micros | None:
    """Return times of RFC 3339 that end in Z; None where one of them is no such time.

    Of the other spellings that Arrow knows none that ends in Z is as long as these.
    """
    import pyarrow as pa
    from pyarrow import compute

    try:
        found = compute.cast(arrow_of(texts), pa.timestamp("us", "UTC"))
    except pa.ArrowInvalid:
        return None
    return numbers_of(found, np.int64).copy()


def _by_layout(texts: Packed, kinds: Micros) -> tuple[Micros, Flags]:
    """Return microseconds and validity, one layout after the other."""
    starts = texts.offsets[:-1]
    micros, taken = np.zeros(len(starts), dtype=np.int64), np.zeros(len(starts), dtype=bool)
    for kind in np.unique(kinds):
        layout = _Layout(int(kind) // 2, bool(kind % 2))
        if layout.decimals != 0 and not 2 <= layout.decimals <= 7:
            continue
        rows = np.flatnonzero(kinds == kind)
        for block in np.split(rows, range(_BLOCK, len(rows), _BLOCK)):
            matrix = texts.data[starts[block][:, None] + np.arange(layout.width)]
            micros[block], taken[block] = _decode(np.ascontiguousarray(matrix.T), layout)
    return micros, taken


def within(micros: Micros) -> Flags:
    """Return which instants can be reckoned with."""
    return np.asarray((micros >= _FIRST) & (micros <= _LAST))


def _decode(text: Bytes, layout: _Layout) -> tuple[Micros, Flags]:
    """Return microseconds and validity of texts of one layout, a byte position a row."""
    digit = text - np.uint8(48)  # unsigned: what is not a digit becomes large
    offset_at = layout.width - _OFFSET
    places = [*_DIGITS, *range(_DATE_AND_TIME + 1, _DATE_AND_TIME + layout.decimals)]
    good = (text[4] == ord("-")) & (text[7] == ord("-"))
    good &= (text[13] == ord(":")) & (text[16] == ord(":"))
    good &= np.isin(text[10], np.frombuffer(b"Tt ", dtype=np.uint8))
    if layout.decimals:
        good &= text[_DATE_AND_TIME] == ord(".")
    if not layout.zulu:
        places += [offset_at + 1, offset_at + 2, offset_at + 4, offset_at + 5]
        good &= np.isin(text[offset_at], np.frombuffer(b"+-", dtype=np.uint8))
        good &= text[offset_at + 3] == ord(":")
    for place in places:
        good &= digit[place] <= 9
    number = digit.astype(np.int64)
    micros = _instants(number, good)
    if layout.decimals:
        fraction = np.zeros(len(good), dtype=np.int64)
        for place in range(_DATE_AND_TIME + 1, _DATE_AND_TIME + layout.decimals):
            fraction = fraction * 10 + number[place]
        micros += fraction * 10 ** (7 - layout.decimals)
    if not layout.zulu:
        hours, minutes = _pair(number, offset_at + 1), _pair(number, offset_at + 4)
        good &= (hours <= 23) & (minutes <= 59)
        east = np.where(text[offset_at] == ord("-"), -1, 1)
        micros -= east * (hours * 60 + minutes) * 60_000_000
    return micros, good & within(micros)


def _pair(number: Micros, place: int) -> Micros:
    return np.asarray(number[place] * 10 + number[place + 1])


def _instants(number: Micros, good: Flags) -> Micros:
    """Return date and time in microseconds, unsetting ``good`` where there is no such day."""
    year = _pair(number, 0) * 100 + _pair(number, 2)
    month, day, hour = _pair(number, 5), _pair(number, 8), _pair(number, 11)
    minute, second = _pair(number, 14), _pair(number, 17)
    good &= (year >= 1) & (month >= 1) & (month <= 12) & (day >= 1)
    good &= (hour <= 23) & (minute <= 59) & (second <= 59)
    months = np.where(good, (year - 1970) * 12 + month - 1, 0)
    first = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    next_first = (months + 1).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    good &= first + day - 1 < next_first
    seconds = (first + day - 1) * 86400 + hour * 3600 + minute * 60 + second
    return np.asarray(seconds * 1_000_000)
