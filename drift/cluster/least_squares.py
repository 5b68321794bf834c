"""Least squares over hands: two passes, each of sums whose size the readings do not change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import add
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.cluster.dealing import Hand, Numbering, by_kind, named
from drift.cluster.engines import Engine
from drift.findings import Finding, distinct
from drift.regression.at_scale import COLUMNS, Blocks, blocks_of, solved
from drift.regression.classical import DENSE_CELLS, absorbed_line, least_squares
from drift.regression.design import FLAT, estimable, refuse_few, refuse_flat
from drift.regression.diagnostics import (
    breusch_pagan_p,
    condition_number,
    diagnostics_of,
    durbin_watson,
    steps_within,
)
from drift.regression.estimates import Kind
from drift.regression.grouping import less_means
from drift.regression.layout import Lie, lie_of
from drift.regression.line import NAMES, Line, flat_time

__all__ = ["Seen", "Settled", "lines_of", "seen_in"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Seen:
    """What the readings of a kind in a hand are like; those of other hands add to it.

    Parameters
    ----------
    blocks : Blocks
    lie : Lie
    away : array of shape (3,)
        How far each column goes from the means of its intercepts.
    low, high : arrays of shape (2,)
        Ends of temperature and playing time.
    alone : int
        Readings that are the only one of their intercept.
    """

    blocks: Blocks
    lie: Lie
    away: Array
    low: Array
    high: Array
    alone: int

    def __add__(self, other: Seen) -> Seen:
        """Return what both are like."""
        return Seen(
            self.blocks + other.blocks,
            self.lie + other.lie,
            np.maximum(self.away, other.away),
            np.minimum(self.low, other.low),
            np.maximum(self.high, other.high),
            self.alone + other.alone,
        )


@dataclass(frozen=True)
class Left:
    """What a line leaves of the readings of a kind in a hand; those of other hands add to it.

    Parameters
    ----------
    squares, fourths : float
        Sums of the residuals' second and fourth powers.
    cross : array of shape (2, 2)
        Products of temperature and time about their means.
    with_squares : array of shape (2,)
        Products of those with the squared residuals.
    steps : int
        Steps from a reading to the next of the same player and rehearsal.
    stepped : float
        Their squares.
    ends : array of shape (2,)
        The least and the largest squared residual, the first one negative.
    """

    squares: float
    fourths: float
    cross: Array
    with_squares: Array
    steps: int
    stepped: float
    ends: Array

    def __add__(self, other: Left) -> Left:
        """Return what is left of both."""
        return Left(
            self.squares + other.squares,
            self.fourths + other.fourths,
            self.cross + other.cross,
            self.with_squares + other.with_squares,
            self.steps + other.steps,
            self.stepped + other.stepped,
            np.maximum(self.ends, other.ends),
        )


@dataclass(frozen=True)
class Settled:
    """The lines of all kinds, by number.

    Parameters
    ----------
    kinds : mapping of int to Kind
    lines : tuple of Line
        In the same order.
    figures : mapping of int to dict
        Covariance used, how many rehearsals, diagnostics.
    warnings : tuple of Finding
        For the warnings.
    """

    kinds: Mapping[int, Kind]
    lines: tuple[Line, ...]
    figures: Mapping[int, dict[str, Any]]
    warnings: tuple[Finding, ...]


def seen_in(hand: Hand, rehearsals: int) -> dict[int, Seen]:
    """Return what each kind in a hand is like.

    Parameters
    ----------
    hand : Hand
    rehearsals : int
        How many there are anywhere.
    """
    found = {}
    for kind, rows in by_kind(hand.rows):
        intercepts = rows["intercept"].to_numpy()
        table = rows[list(COLUMNS)].to_numpy(dtype=float)
        found[kind] = Seen(
            blocks_of(rows, intercepts, rows["cluster"].to_numpy(dtype=np.int64), rehearsals),
            lie_of(rows),
            np.abs(less_means(table, intercepts)).max(axis=0),
            table[:, :2].min(axis=0),
            table[:, :2].max(axis=0),
            int((np.bincount(intercepts) == 1).sum()),
        )
    return found


def lines_of(
    engine: Engine, hands: Sequence[Any], seen: Mapping[int, Seen], numbering: Numbering
) -> Settled:
    """Return the line of every kind, as `drift.regression.classical.fit_classical` does.

    Parameters
    ----------
    engine : Engine
    hands : sequence
        Handles of the hands.
    seen : mapping of int to Seen
        What each kind is like in all hands.
    numbering : Numbering

    Raises
    ------
    TooLittleData
        If a slope can not be told from the readings; says what is missing.

    Notes
    -----
    What is known from one rehearsal alone depends on the order of its readings (see
    `drift.regression.classical.least_squares`): a kind that was read in no other one is fitted
    here, from the readings of that rehearsal.
    """
    kinds, figures, lines = {}, {}, []
    warned: list[Finding] = []
    for name in numbering.in_order:
        kind = numbering.names.kinds.index(name)
        one = seen[kind]
        if one.blocks.seen.sum() > 1:
            line, facts, left = _apart(engine, hands, one, kind, name)
            rest = _figures(one, left)
            explained = 1.0 - left.squares / float(one.blocks.products[:, 5].sum())
        else:
            line, facts, rest, explained = _together(engine, hands, numbering, kind, one)
        warned += facts.pop("warnings")
        facts.pop("regressor_correlation", None)
        correlation = one.lie.correlation
        players = int((numbering.names.kind_of_unit == kind).sum())
        kinds[kind] = Kind(line, line, {}, one.blocks.readings, explained, correlation, players)
        figures[kind] = facts | rest
        lines.append(line)
    return Settled(kinds, tuple(lines), figures, distinct(warned))


def _apart(
    engine: Engine, hands: Sequence[Any], seen: Seen, kind: int, name: str
) -> tuple[Line, dict[str, Any], Left]:
    blocks = seen.blocks
    varies = {column: bool(far > FLAT) for column, far in zip(COLUMNS, seen.away, strict=True)}
    columns = estimable(name, varies, lambda: seen.lie.correlation)
    refuse_few(name, blocks.readings, blocks.intercepts, len(columns))
    refuse_flat(name, varies)
    slopes = solved(blocks, tuple(list(NAMES).index(column) for column in columns))
    line, facts = absorbed_line(slopes, tuple(columns))
    facts["warnings"] = facts["warnings"] + flat_time(columns)
    if blocks.readings * (blocks.intercepts + 2) <= DENSE_CELLS:
        count = slopes.clusters
        facts["covariance"] = {"kind": "clustered", "freedom": float(count - 1)}
    centre = seen.lie.total / seen.lie.readings
    parts = engine.gather([engine.submit(_left_in, hand, kind, line, centre) for hand in hands])
    return line, facts, reduce(add, (part for part in parts if part is not None))


def _left_in(hand: Hand, kind: int, line: Line, centre: Array) -> Left | None:
    """Return what a line leaves of the readings of a kind in a hand; None if there are none."""
    rows = dict(by_kind(hand.rows)).get(kind)
    if rows is None:
        return None
    rest = rows["reference_cents"].to_numpy(dtype=float) - line.expected(rows)
    residual = less_means(rest, rows["intercept"].to_numpy())
    squared = residual**2
    away = rows[list(NAMES)].to_numpy(dtype=float) - centre
    when = rows["time" if "time" in rows else "playing_minutes"]
    steps = steps_within(residual, _runs(rows), when.to_numpy(dtype=_kind_of(when)))
    return Left(
        float(squared.sum()),
        float((squared**2).sum()),
        away.T @ away,
        away.T @ squared,
        len(steps),
        float((steps**2).sum()),
        np.array([-squared.min(), squared.max()]),
    )


def _runs(rows: pd.DataFrame) -> npt.NDArray[np.int64]:
    return np.asarray(pd.factorize(rows["day"])[0], dtype=np.int64)


def _kind_of(when: pd.Series[Any]) -> str:
    return "datetime64[us]" if when.dtype.kind == "M" else "float64"


def _figures(seen: Seen, left: Left) -> dict[str, Any]:
    """Return what `drift.regression.diagnostics.diagnostics_of` returns, from sums."""
    readings = seen.blocks.readings
    mean = left.squares / readings
    step = left.stepped / left.steps if left.steps else float("nan")
    varying = np.flatnonzero(seen.high - seen.low > FLAT)
    spread = float(left.ends.sum())
    p_value = float("nan")
    if readings > len(varying) + 1 and len(varying) and spread >= 1e-12:
        about = left.fourths - readings * mean**2
        cross = left.cross[np.ix_(varying, varying)]
        p_value = breusch_pagan_p(readings, cross, left.with_squares[varying], about)
    return {
        "durbin_watson": durbin_watson(left.steps, step, mean),
        "breusch_pagan_p": p_value,
        "condition_number": condition_number(seen.lie.correlation),
    }


def _together(
    engine: Engine, hands: Sequence[Any], numbering: Numbering, kind: int, seen: Seen
) -> tuple[Line, dict[str, Any], dict[str, Any], float]:
    """Fit a kind that was read in one rehearsal alone, here."""
    parts = engine.gather([engine.submit(_rows_of, hand, kind) for hand in hands])
    rows = named(_with_intercepts(part for part in parts if part is not None), numbering)
    rows = rows.sort_values("at", ignore_index=True)
    line, residuals, facts = least_squares(rows)
    explained = 1.0 - float(residuals @ residuals) / float(seen.blocks.products[:, 5].sum())
    return line, facts, diagnostics_of(rows, residuals, seen.lie.correlation), explained


def _rows_of(hand: Hand, kind: int) -> pd.DataFrame | None:
    return dict(by_kind(hand.rows)).get(kind)


def _with_intercepts(parts: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """Return rows together, their intercepts numbered one after the other."""
    found, first = [], 0
    for part in parts:
        found.append(part.assign(intercept=part["intercept"] + first))
        first += int(part["intercept"].max()) + 1
    return pd.concat(found, ignore_index=True)
