"""Rows that share a name: a number for each name, and the rows of each."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

__all__ = ["codes_of", "rows_of"]

Codes = npt.NDArray[np.int64]

LEAST_RUN = 4
"""Names whose runs are this long on average are looked up once a run."""


def codes_of(column: pd.Series[Any]) -> tuple[Codes, pd.Index[Any]]:
    """Return a number for each row, from zero, and the names in the order of the numbers.

    Parameters
    ----------
    column : Series of shape (n,)
        Names, such as text or categories.

    Returns
    -------
    codes : array of shape (n,)
    names : Index
        In order of first appearance; those of categories in their own order.

    Notes
    -----
    As `pandas.factorize`, and much faster where the same name stands in many rows together, as a
    rehearsal does.

    Examples
    --------
    >>> codes, names = codes_of(pd.Series(["hall", "hall", "shed", "hall"]))
    >>> codes.tolist(), names.tolist()
    ([0, 0, 1, 0], ['hall', 'shed'])
    """
    if isinstance(column.dtype, pd.CategoricalDtype):
        codes = column.cat.codes.to_numpy().astype(np.int64)
        names = column.cat.categories
        if (np.bincount(codes, minlength=len(names)) > 0).all():
            return codes, names
        column = column.astype(names.dtype)
    if column.dtype != "str":
        codes, names = pd.factorize(column, use_na_sentinel=False)
        return codes.astype(np.int64, copy=False), pd.Index(names)
    values = column.to_numpy(dtype=object)
    begins = np.flatnonzero(np.concatenate([[True], values[1:] != values[:-1]]))
    if len(begins) * LEAST_RUN > len(values):
        return _numbered(values)
    codes, names = _numbered(values[begins])
    return np.repeat(codes, np.diff(begins, append=len(values))), names


def rows_of(column: pd.Series[Any]) -> dict[Any, npt.NDArray[np.intp]]:
    """Return the rows of each name, in order.

    Examples
    --------
    >>> {name: rows.tolist() for name, rows in rows_of(pd.Series(["a", "b", "a"])).items()}
    {'a': [0, 2], 'b': [1]}
    """
    codes, names = codes_of(column)
    order = np.argsort(codes, kind="stable")
    ends = np.cumsum(np.bincount(codes, minlength=len(names)))
    return dict(zip(names, np.split(order, ends)[:-1], strict=True))


def _numbered(texts: npt.NDArray[np.object_]) -> tuple[Codes, pd.Index[Any]]:
    """Return numbers, every text looked up; a missing one is a name like others."""
    codes, names = pd.factorize(texts)
    if len(codes) and codes.min() < 0:
        codes, names = pd.factorize(texts, use_na_sentinel=False)
    return codes.astype(np.int64, copy=False), pd.Index(names, dtype="str")
