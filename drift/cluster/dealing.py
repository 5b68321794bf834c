"""From parts by rehearsal to hands by player: what a note of a player has is in one hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.cluster.pairs import NAMES, Piece, Summary
from drift.regression.columns import Columns, columns_from, names_only

__all__ = [
    "READINGS_A_HAND",
    "Hand",
    "Numbering",
    "by_kind",
    "dealt",
    "hand_of",
    "named",
    "numbering_of",
]

Codes = npt.NDArray[np.int64]

READINGS_A_HAND = 600_000
"""About so many readings are held together."""

GONE = ("spells", "minutes_into_spell", "initial_warmth", "course", "cents_sd", "pair_probability")
"""Columns that `Columns` holds in another form."""


@dataclass(frozen=True)
class Numbering:
    """Numbers that mean the same in every hand.

    Parameters
    ----------
    names : Columns
        Of no reading: kinds, players, rehearsals and days.
    player_names : tuple of str
        In alphabetical order.
    notes : tuple of (side, note)
        In alphabetical order.
    unit_keys, day_keys : arrays
        Kind and player of every unit, unit and rehearsal of every day, each as one number.
    counts : array of shape (units,)
        Readings of each unit.
    hand : array of shape (units,)
        In which hand each unit is.
    hands : int
        How many there are.
    in_order : tuple of str
        The kinds in the order of their first reading.
    """

    names: Columns
    player_names: tuple[str, ...]
    notes: tuple[tuple[str, str], ...]
    unit_keys: Codes
    day_keys: Codes
    counts: Codes
    hand: Codes
    hands: int
    in_order: tuple[str, ...]


@dataclass(frozen=True)
class Hand:
    """The readings of some players.

    Parameters
    ----------
    rows : DataFrame
        ``instrument, player, rehearsal, note, intercept, unit, day, kind`` and the columns of the
        line, in the order of the data set.
    columns : Columns, optional
        The same for the Bayesian method.
    """

    rows: pd.DataFrame
    columns: Columns | None


def numbering_of(summaries: Sequence[Summary], most: int = READINGS_A_HAND) -> Numbering:
    """Return numbers for all names that occur in any part, and the hands of the players.

    Parameters
    ----------
    summaries : sequence of Summary
        In the order of the parts.
    most : int
        About so many readings go into a hand.
    """
    days = pd.concat([one.days for one in summaries], ignore_index=True)
    in_order = tuple(str(name) for name in days["instrument"].unique())
    kinds, players, rehearsals = (
        sorted({str(name) for name in days[column]})
        for column in ("instrument", "player", "rehearsal")
    )
    kind, who, where = (
        pd.Index(names).get_indexer(pd.Index(days[column]))
        for names, column in (
            (kinds, "instrument"), (players, "player"), (rehearsals, "rehearsal"),
        )
    )  # fmt: skip
    units, unit = np.unique(kind * len(players) + who, return_inverse=True)
    day_keys = np.unique(unit * len(rehearsals) + where)
    counts = np.bincount(unit, days["readings"].to_numpy(), len(units)).astype(np.int64)
    hours = np.zeros(len(kinds))
    for one in summaries:
        for name, longest in one.hours.items():
            place = kinds.index(name)
            hours[place] = max(hours[place], longest)
    names = names_only(
        kinds=kinds,
        players=[players[code] for code in units % len(players)],
        kind_of_unit=units // len(players),
        rehearsals=rehearsals,
        rehearsal_of_day=day_keys % len(rehearsals),
        hours=hours,
        carried=any(one.carried for one in summaries),
    )
    before = np.cumsum(counts) - counts
    hand = np.unique(before // most, return_inverse=True)[1]
    return Numbering(
        names,
        tuple(players),
        tuple(sorted({note for one in summaries for note in one.notes})),
        units,
        day_keys,
        counts,
        hand,
        int(hand.max()) + 1,
        in_order,
    )


def dealt(piece: Piece, numbering: Numbering, hand: int) -> pd.DataFrame:
    """Return those rows of a part that belong into a hand, by the numbers of all."""
    rows = piece.rows
    if not len(rows):
        return rows
    names = numbering.names
    codes = {name: rows[name].cat.codes.to_numpy() for name in NAMES}
    known = {name: rows[name].cat.categories for name in NAMES}
    kind = pd.Index(names.kinds).get_indexer(known["instrument"])[codes["instrument"]]
    who = pd.Index(numbering.player_names).get_indexer(known["player"])[codes["player"]]
    where = pd.Index(names.rehearsals).get_indexer(known["rehearsal"])[codes["rehearsal"]]
    unit = np.searchsorted(numbering.unit_keys, kind * len(numbering.player_names) + who)
    mine = np.flatnonzero(numbering.hand[unit] == hand)
    day = np.searchsorted(numbering.day_keys, unit[mine] * len(names.rehearsals) + where[mine])
    found: dict[str, Any] = {
        str(name): rows[name].array[mine] for name in rows if name not in NAMES
    }
    numbers = {"unit": unit[mine], "day": day, "note": _notes(numbering, known, codes, mine)}
    numbers["kind"], numbers["cluster"] = kind[mine], where[mine]
    return pd.DataFrame({name: codes.astype(np.int32) for name, codes in numbers.items()} | found)


def hand_of(dealt_rows: Sequence[pd.DataFrame], numbering: Numbering, past: bool) -> Hand:
    """Return a hand from what all parts dealt to it, in their order."""
    names = numbering.names
    rows = pd.concat([one for one in dealt_rows if len(one)], ignore_index=True)
    unit, day = (rows[name].to_numpy(dtype=np.int64) for name in ("unit", "day"))
    note = rows["note"].to_numpy(dtype=np.int64)
    intercept = pd.factorize(unit * len(numbering.notes) + note)[0]
    rows["intercept"] = intercept.astype(np.int32)
    columns = columns_from(rows, names, unit, day) if past else None
    return Hand(rows.drop(columns=[name for name in GONE if name in rows]), columns)


def named(rows: pd.DataFrame, numbering: Numbering) -> pd.DataFrame:
    """Return rows of a hand with names in place of numbers."""
    names = numbering.names
    unit, cluster, note = (rows[name].to_numpy() for name in ("unit", "cluster", "note"))
    kinds = np.array(names.kinds, dtype=object)[rows["kind"].to_numpy()]
    players = np.array(names.players, dtype=object)[unit]
    texts = {
        "rehearsal": np.array(names.rehearsals, dtype=object)[cluster],
        "player": players,
        "instrument": kinds,
        "side": np.array([side for side, _ in numbering.notes], dtype=object)[note],
        "note": np.array([name for _, name in numbering.notes], dtype=object)[note],
    }
    rest = rows.drop(columns=["unit", "day", "note", "kind", "cluster"])
    return pd.DataFrame(
        {
            str(name): pd.Series(values, index=rows.index, dtype="str")
            for name, values in texts.items()
        }
        | {str(name): rest[name] for name in rest}
    )


def by_kind(rows: pd.DataFrame) -> Iterator[tuple[int, pd.DataFrame]]:
    """Yield the number of each kind in a hand, and its rows with intercepts numbered anew."""
    kinds = rows["kind"].to_numpy()
    present = np.unique(kinds)
    for kind in present:
        part = rows if len(present) == 1 else rows[kinds == kind]
        yield int(kind), part.assign(intercept=pd.factorize(part["intercept"])[0])


def _notes(
    numbering: Numbering, known: dict[str, pd.Index], codes: dict[str, Any], mine: Any
) -> Codes:
    """Return the number of the side and note of each row."""
    place = {pair: number for number, pair in enumerate(numbering.notes)}
    width = len(known["note"])
    table = np.array(
        [place.get((str(side), str(note)), -1) for side in known["side"] for note in known["note"]]
    )
    return np.asarray(table[codes["side"][mine].astype(np.int64) * width + codes["note"][mine]])
