"""Terms that are the same in all readings of an instrument: no mute on a flute."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np
import pandas as pd

from drift.findings import Finding
from drift.regression.grouping import numbered
from drift.regression.terms import Terms

__all__ = ["said_of", "same_everywhere"]


def same_everywhere(rows: pd.DataFrame, terms: Terms) -> dict[str, frozenset[str]]:
    """Return the terms that are the same in all readings of an instrument, by instrument.

    Parameters
    ----------
    rows : DataFrame
        Complete rows.
    terms : Terms
        What a line holds beside temperature and playing time.

    Returns
    -------
    dict of str to frozenset of str
        Labels. One that is so in every instrument is in none of them: nothing tells what it does.
    """
    codes, names = numbered(rows, ["instrument"])
    if not len(terms):
        return dict.fromkeys(map(str, names), frozenset())
    found: dict[str, frozenset[str]] = {}
    for number, name in enumerate(names):
        table = terms.columns(rows[codes == number])
        same = (table == table[0]).all(axis=0)
        found[str(name)] = frozenset(np.array(terms.labels, dtype=object)[same])
    nowhere = frozenset.intersection(*found.values())
    return {name: labels - nowhere for name, labels in found.items()}


def said_of(left_out: Mapping[str, Collection[str]]) -> list[Finding]:
    """Return the warnings that terms are left out, one for those of the same instruments."""
    where: dict[str, list[str]] = {}
    for instrument, labels in left_out.items():
        for label in sorted(labels):
            where.setdefault(label, []).append(instrument)
    together: dict[tuple[str, ...], list[str]] = {}
    for label, instruments in where.items():
        together.setdefault(tuple(instruments), []).append(label)
    return [
        Finding("same_everywhere", {"terms": labels, "instruments": list(instruments)})
        for instruments, labels in together.items()
    ]
