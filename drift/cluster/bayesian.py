"""The Bayesian method over hands: what `drift.regression.bayesian` asks of readings elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import reduce
from operator import add
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.cluster.dealing import Hand, Numbering, named
from drift.cluster.engines import Engine
from drift.regression.bayesian import Found, Moved, Posterior, Some, some_of
from drift.regression.blocks import sums_of
from drift.regression.columns import Columns
from drift.regression.evidence import Evidence
from drift.regression.nodes import Box
from drift.regression.priors import InstrumentPriors
from drift.regression.reduce import Taken, gathered, taken_out
from drift.regression.residuals import (
    Look,
    Weights,
    box_of,
    effects_at,
    far_off,
    first_rest,
    first_weights,
    reweighed,
    seen_with,
)
from drift.regression.scores import Scores
from drift.regression.shares import Shares, looked_at

__all__ = ["Elsewhere", "median_of"]

Array = npt.NDArray[np.float64]

BINS, FEW = 4096, 20_000


class Elsewhere:
    """Readings in hands, as `drift.regression.bayesian.Readings` asks for them.

    Parameters
    ----------
    engine : Engine
    hands : sequence
        Handles of the hands: whole players.
    numbering : Numbering
    """

    def __init__(self, engine: Engine, hands: Sequence[Any], numbering: Numbering) -> None:
        self.names = numbering.names
        self.counts = numbering.counts
        self._numbering = numbering
        self._engine, self._hands = engine, list(hands)
        self._weights: list[Any] = []
        self._seen: list[Any] = []
        self._effects = np.zeros(0)

    def weigh(self, kinds: tuple[InstrumentPriors, ...], sd: float) -> None:
        """Give each reading its first weight."""
        away = self._each(_first_rest, kinds)
        far = far_off(median_of(self._engine, away, int(self.counts.sum())))
        self._weights = self._each(_first_weights, far, sd, beside=(away,))

    def evidence(self, scores: Scores, box: Box, some: Some | None = None) -> Evidence:
        """Return what theta is worth, from the sums of all readings, or of some."""
        taken = self._each(_taken, scores, box, some, beside=(self._weights,))
        return Evidence(
            gathered(self._engine.gather(taken), box),
            box,
            scores,
            len(self.names.covariates),
            self.names.histories.carried,
        )

    def look(self, scores: Scores, theta: Array) -> Array:
        """Look at the readings from a theta; return the effects of the rehearsals [cents]."""
        near = self.evidence(scores, box_of(theta, scores))
        effects, self._effects = effects_at(near, self.names, theta)
        given = (scores, theta, effects, self._effects)
        self._seen = self._each(_seen, *given, beside=(self._weights,))
        return self._effects

    def reweigh(self, sd: float, share: float, density: float) -> Moved:
        """Give each reading the weight that it deserves after the last look."""
        before = self._weights
        beside = (self._seen, before)
        self._weights = self._each(_reweighed, sd, share, density, beside=beside)
        pairs = zip(before, self._weights, strict=True)
        handles = [self._engine.submit(Moved.between, *both) for both in pairs]
        moved: Moved = reduce(add, self._engine.gather(handles))
        return moved

    def found(self, posterior: Posterior) -> Found:
        """Return the posterior with names and no readings."""
        none = np.zeros(0)
        seen = Look(none, none, none, none, none, self._effects)
        weights = Weights(none, none, np.ones(len(self.names.players)))
        return Found(columns=self.names, seen=seen, weights=weights, **vars(posterior))

    def shares(self) -> dict[int, Shares]:
        """Return what the drift explains of each kind."""
        beside = (self._seen, self._weights)
        whole: dict[int, Shares] = {}
        for part in self._engine.gather(self._each(_shares, beside=beside)):
            for kind, one in part.items():
                whole[kind] = whole[kind] + one if kind in whole else one
        return whole

    def outliers(self) -> pd.DataFrame:
        """Return the readings that look like outliers, in the order of the data set."""
        beside = (self._seen, self._weights)
        parts = self._engine.gather(self._each(_outliers, beside=beside))
        rows = named(pd.concat(parts, ignore_index=True), self._numbering)
        wanted = ("time", "rehearsal", "player", "instrument", "note", "cents", "residual")
        rows = rows.sort_values("at", ignore_index=True)
        return rows[[*(name for name in wanted if name in rows), "weight"]]

    def _each(
        self, work: Callable[..., Any], *given: Any, beside: Sequence[Sequence[Any]] = ()
    ) -> list[Any]:
        """Return handles of what a function makes of each hand, and of what lies beside it."""
        rows = zip(self._hands, *beside, strict=True)
        return [self._engine.submit(work, *one, *given) for one in rows]


def median_of(engine: Engine, values: Sequence[Any], count: int) -> float:
    """Return the median of numbers in several arrays, of which only counts are gathered.

    Parameters
    ----------
    engine : Engine
    values : sequence
        Handles of arrays of numbers from 0 on.
    count : int
        How many they hold together.
    """
    ranks = [(count - 1) // 2, count // 2]
    low, high, before = 0.0, max(engine.gather([engine.submit(_largest, v) for v in values])), 0
    inside = count
    while inside > FEW:
        edges = np.linspace(low, high, BINS + 1)
        parts = engine.gather([engine.submit(_counted, v, edges) for v in values])
        upto = before + np.cumsum(np.sum(parts, axis=0))
        first = int(np.searchsorted(upto, ranks[0], side="right"))
        last = int(np.searchsorted(upto, ranks[1], side="right"))
        # Between equal numbers there is nothing left to halve.
        if (edges[first], edges[last + 1]) == (low, high):
            break
        before = before if first == 0 else int(upto[first - 1])
        inside = int(upto[last]) - before
        low, high = float(edges[first]), float(edges[last + 1])
    parts = engine.gather([engine.submit(_between, v, low, high) for v in values])
    rest = np.sort(np.concatenate(parts))
    return float(np.mean([rest[rank - before] for rank in ranks]))


def _largest(values: Array) -> float:
    return float(values.max(initial=0.0))


def _counted(values: Array, edges: Array) -> npt.NDArray[np.int64]:
    """Return how many numbers lie in [edge, next edge), the last one at its end as well."""
    place = np.searchsorted(edges, values, side="right") - 1
    inside = (values >= edges[0]) & (values <= edges[-1])
    place = np.minimum(place[inside], len(edges) - 2)
    return np.bincount(place, minlength=len(edges) - 1)


def _between(values: Array, low: float, high: float) -> Array:
    return values[(values >= low) & (values <= high)]


def _columns(hand: Hand) -> Columns:
    if hand.columns is None:
        raise AssertionError("a hand without columns")
    return hand.columns


def _first_rest(hand: Hand, kinds: tuple[InstrumentPriors, ...]) -> Array:
    return first_rest(_columns(hand), kinds)


def _first_weights(hand: Hand, away: Array, far: float, sd: float) -> Weights:
    return first_weights(_columns(hand), away, far, sd)


def _taken(hand: Hand, weights: Weights, scores: Scores, box: Box, some: Some | None) -> Taken:
    columns = _columns(hand)
    if some is not None:
        rows = some.rows(columns)
        columns, weights = columns.take(rows), some_of(weights, rows)
    sums = sums_of(columns, weights.whole, weights.tame, box, scores.kinds, scores.start)
    return taken_out(sums, columns, box, scores.shared)


def _seen(
    hand: Hand, weights: Weights, scores: Scores, theta: Array, effects: Array, rehearsals: Array
) -> Look:
    return seen_with(_columns(hand), weights, scores, theta, effects, rehearsals)


def _reweighed(
    hand: Hand, seen: Look, weights: Weights, sd: float, share: float, density: float
) -> Weights:
    return reweighed(_columns(hand), seen, weights, sd, share, density)


def _shares(hand: Hand, seen: Look, weights: Weights) -> dict[int, Shares]:
    return looked_at(_columns(hand), seen, weights)


def _outliers(hand: Hand, seen: Look, weights: Weights) -> pd.DataFrame:
    columns = _columns(hand)
    some = np.flatnonzero(weights.tame < 0.5)
    rows = hand.rows.iloc[columns.order[some]]
    return rows.assign(residual=seen.residual[some], weight=weights.tame[some])
