"""Tables as version 0.1 wrote them, understood for one more version."""

from __future__ import annotations

import numpy as np

from drift.tables.columns import Column, Packed, Texts
from drift.tables.values import as_texts

__all__ = ["said_in_columns"]

_WARM = "already warm"


def said_in_columns(table: str, columns: dict[str, Column]) -> dict[str, Column]:
    """Return the columns of a table with what a remark said in a column of its own.

    ``! mute in`` flagged a reading; ``already warm`` as the remark of a ``play`` or ``start``
    meant that the instrument had been played just before. A table that has the columns of now is
    returned as it is.
    """
    remark, event = columns.get("remark"), columns.get("event")
    if isinstance(remark, Packed):
        if table == "readings" and not remark.begins_with(b"!").any():
            return columns
        remark = as_texts(remark)
        columns = {**columns, "remark": remark}
    if not isinstance(remark, Texts) or not len(remark.codes):
        return columns
    if table == "readings" and "flagged" not in columns:
        said = np.array([text.startswith("!") for text in remark.known], dtype=bool)
        if not said.any():
            return columns
        rest = [text.removeprefix("!").strip() for text in remark.known]
        return _moved(columns, "flagged", said[remark.codes], rest)
    if table == "events" and "already_warm" not in columns and isinstance(event, Texts):
        said = np.array([text == _WARM for text in remark.known], dtype=bool)
        begins = np.array([text in ("start", "play") for text in event.known], dtype=bool)
        return _moved(
            columns, "already_warm", said[remark.codes] & begins[event.codes], [""] * len(said)
        )
    return columns


def _moved(
    columns: dict[str, Column],
    name: str,
    rows: np.ndarray[tuple[int], np.dtype[np.bool_]],
    rest: list[str],
) -> dict[str, Column]:
    """Return the columns with true in one of them in some rows, and the rest of their remarks."""
    remark = columns["remark"]
    if not rows.any() or not isinstance(remark, Texts):
        return columns
    codes = np.where(rows, remark.codes + len(remark.known), remark.codes)
    flag = Texts(rows.astype(np.int64), ["", "true"])
    return {**columns, "remark": Texts(codes, [*remark.known, *rest]), name: flag}
