"""The zone that the times of a table were written in: by its heading, or by their offsets."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timezone, tzinfo

import numpy as np

from drift.tables.columns import Column, Packed, Table, Texts
from drift.tables.headers import Renamed
from drift.tables.headings import without_zone
from drift.tables.understood import Understood

__all__ = ["written_zone", "zone_over"]

_LENGTH = len("-05:00")


def zone_over(mentioned: Sequence[Understood]) -> tzinfo | None:
    """Return the zone that the heading of a column of times gives."""
    heads = [one.given for one in mentioned if isinstance(one, Renamed)
             and one.name in ("time", "day")]  # fmt: skip
    return next(filter(None, (without_zone(head)[1] for head in heads)), None)


def written_zone(table: Table | None) -> tzinfo | None:
    """Return the zone that the times of a table were written in, where that is one."""
    return None if table is None else table.zone or offset_of(table.columns.get("time"))


def offset_of(times: Column | None) -> tzinfo | None:
    """Return the offset that a column of times has; None where they have none or several.

    Examples
    --------
    >>> evening = ["2026-10-06T18:00:00-05:00", "2026-10-06T19:00:00-05:00"]
    >>> print(offset_of(Packed.of(evening)))
    UTC-05:00
    >>> print(offset_of(Packed.of([*evening, "2026-12-01T19:00:00-06:00"])))
    None
    """
    texts = Packed.of(times.known) if isinstance(times, Texts) else times
    if not isinstance(texts, Packed) or len(texts.offsets) < 2:
        return None
    if np.diff(texts.offsets).min() <= _LENGTH:
        return None
    ends = texts.offsets[1:, None] + np.arange(-_LENGTH, 0)
    tails = texts.data[ends]
    return _offset(tails[0].tobytes()) if (tails == tails[0]).all() else None


def _offset(tail: bytes) -> timezone | None:
    try:
        offset = datetime.strptime(tail.decode("ascii"), "%z").utcoffset()
    except ValueError:
        return None
    return timezone(offset) if offset is not None else None
