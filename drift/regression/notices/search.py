"""The search: how much better named faults explain the readings, and which of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.instruments import Catalogue
from drift.regression.notices.batch import Batch, Where
from drift.regression.notices.candidates import WATCHED, batches, swaps
from drift.regression.notices.faults import SHARE_OF, Notice, NoticeKind
from drift.regression.notices.null import Node, Null, Piece, log_bayes_factor
from drift.regression.notices.season import Season, season_of

__all__ = ["THRESHOLD", "notices", "notices_of_season"]

Array = npt.NDArray[np.float64]

THRESHOLD = 1.5
"""Accused where the faults together explain the readings so many times better than none does."""
ROUNDS, MOST_OUTLIERS = 3, 3
"""What was found is absorbed and the rest looked at again, so often. Outliers are absorbed all that
are clear, so often beside, and so many of them named: the fit gives them little weight anyway."""
SECOND_SHARE = 0.15
"""A second cause is named from this share on."""
FEWEST_FREEDOM = 8
MOST_AVERAGED, OF_EACH = 40, 12
"""So many columns of all, and so many of each fault, are averaged over the whole grid, the others
judged at its best node. A day that is off makes days look wide, so that at the best node it looks
usual; only where days are taken to be narrower does it stand out."""
SWAPS = ((10.0, 6.0), (2.0, 4.0))
"""Another instrument: all notes together, and each by itself [cents]; one that lies elsewhere, or
one that was tuned to the same pitch. Both are equally likely before looking."""
ABSORBED_SD, ABSORBED_OUTLIER_SD, ABSORBED_SWAP_SD = 15.0, 60.0, 12.0
SMALLEST_NODE = 1e-7
"""Nodes with less weight are left out. A fault that is clear may need one with very little."""


@dataclass(frozen=True)
class _Weighed:
    """A column, or all of a batch taken together, and the log of prior times Bayes factor."""

    log: float
    batch: Batch
    column: int | None

    @property
    def kind(self) -> NoticeKind:
        return self.batch.kind

    @property
    def where(self) -> Where:
        return self.batch.where[self.column or 0]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return self.batch.pieces if self.column is None else self.batch.only(self.column)


def notices(
    rows: pd.DataFrame,
    times: Mapping[str, tuple[float, float]],
    catalogue: Catalogue | None = None,
) -> tuple[Notice, ...]:
    """Return what looks spoilt in the rows of a fit.

    Parameters
    ----------
    rows : DataFrame
        Complete rows, as a fit keeps them.
    times : mapping of str to (float, float)
        Time constants of warming and cooling [min] by instrument.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    tuple of Notice
        The surest first, single readings last; empty where nothing looks spoilt, or there is too
        little to tell.

    Notes
    -----
    A fault is a column ``c`` added to the mean of the readings, with an effect ``N(mu, s²)``.
    ``E``, the sum over faults of their prior share times the mean of the Bayes factors of their
    columns, is an e-value: with a true null model, ``E > K`` in less than one season in ``K``.
    Since the null model is only nearly true, the threshold is judged on simulated seasons
    (`docs/explanation/notices.md`).
    """
    return notices_of_season(season_of(rows, times, catalogue), rows)


def notices_of_season(season: Season, rows: pd.DataFrame) -> tuple[Notice, ...]:
    """Return what looks spoilt in a season made from rows."""
    absorbed: tuple[tuple[Array, float], ...] = ()
    shift = np.zeros(len(season))
    found: list[Notice] = []
    others, cleared = 0, 0
    while others < ROUNDS:
        null = Null(season, absorbed, shift)
        if null.freedom < FEWEST_FREEDOM:
            break
        weighed = _weigh(null)
        if cleared == MOST_OUTLIERS:
            weighed = [one for one in weighed if one.kind is not NoticeKind.OUTLIER]
        if not weighed:
            break
        times, shares = _shares(weighed)
        if times <= THRESHOLD:
            break
        kind = max(shares, key=lambda one: shares[one])
        ranked = sorted((one for one in weighed if one.kind is kind), key=lambda one: -one.log)
        best = ranked[:1]
        if kind is NoticeKind.OUTLIER:
            best = _clear(ranked)
            unsaid = [one for one in best if not _flagged(rows, season, one)]
            told, cleared = unsaid[: max(MOST_OUTLIERS - len(found) + others, 0)], cleared + 1
        else:
            told, others = best, others + 1
        found += [_told(null, rows, one, times, shares) for one in told]
        for one in best:
            more, moved = _absorb(season, one)
            absorbed, shift = (*absorbed, *more), shift + moved
    once: dict[tuple[object, ...], Notice] = {}
    for notice in found:  # what was absorbed in part is found again, with less left of it
        once.setdefault(
            (notice.kind, notice.row, notice.instrument, notice.player, notice.other), notice
        )
    return tuple(sorted(once.values(), key=lambda notice: notice.kind is NoticeKind.OUTLIER))


def _flagged(rows: pd.DataFrame, season: Season, one: _Weighed) -> bool:
    """Return whether the player, or a thermometer that lagged, says that a reading is unusual."""
    return "flagged" in rows and bool(rows["flagged"].iloc[season.order[one.where.rows]].all())


def _clear(ranked: list[_Weighed]) -> list[_Weighed]:
    """Return the first, and what follows it that would be enough by itself."""
    clear = [one for one in ranked[1:MOST_AVERAGED] if one.log > np.log(THRESHOLD)]
    return [ranked[0], *clear]


def _weigh(null: Null) -> list[_Weighed]:
    """Return every column with its log weight."""
    found: list[tuple[Batch, int, float]] = []
    counts: dict[NoticeKind, int] = {}
    for batch, count in batches(null):
        right, size = null.parts(null.best, batch.pieces)
        logs = _logs(null, right, size, batch, null.best.left)
        found += [(batch, column, float(log)) for column, log in enumerate(logs)]
        counts[batch.kind] = counts.get(batch.kind, 0) + count
    prior = {kind: np.log(SHARE_OF[kind] / max(count, 1)) for kind, count in counts.items()}
    found.sort(key=lambda item: -(item[2] + prior[item[0].kind]))
    weighed = []
    so_far: Counter[NoticeKind] = Counter()
    for place, (batch, column, log) in enumerate(found):
        so_far[batch.kind] += 1
        if place < MOST_AVERAGED or so_far[batch.kind] <= OF_EACH:
            log_of = partial(_log_of, null, batch=batch, pieces=batch.only(column))
            log = _mean_over_nodes(null, log_of)
        odds = np.log(batch.odds[column]) if batch.odds else 0.0
        weighed.append(_Weighed(log + prior[batch.kind] + odds, batch, column))
    return weighed + _weigh_swaps(null)


def _logs(null: Null, right: Array, size: Array, batch: Batch, left: float) -> Array:
    mean, sd = np.full(len(right), batch.mean), np.full(len(right), batch.sd)
    return log_bayes_factor(right, size, mean, sd, left, null.freedom)


def _log_of(null: Null, node: Node, batch: Batch, pieces: tuple[Piece, ...]) -> float:
    right, size = null.parts(node, pieces)
    return float(_logs(null, right, size, batch, node.left)[0])


def _mean_over_nodes(null: Null, log_of: Callable[[Node], float]) -> float:
    """Return the log of the mean of Bayes factors over the grid."""
    some = null.weights > SMALLEST_NODE
    logs = np.array([log_of(node) for node, use in zip(null.nodes, some, strict=True) if use])
    top = float(logs.max())
    weights = null.weights[some]
    return top + float(np.log((weights * np.exp(logs - top)).sum() / weights.sum()))


def _weigh_swaps(null: Null) -> list[_Weighed]:
    """Return each player's notes from each rehearsal on, taken as another instrument's."""
    found = [
        (_log_swap(null, null.best, piece), piece, where) for piece, where in swaps(null.season)
    ]
    if not found:
        return []
    found.sort(key=lambda item: -item[0])
    prior = float(np.log(SHARE_OF[NoticeKind.SWAP] / len(found)))
    weighed = []
    for place, (log, piece, where) in enumerate(found):
        if place < MOST_AVERAGED:
            log = _mean_over_nodes(null, partial(_log_swap, null, piece=piece))
        batch = Batch(NoticeKind.SWAP, (piece,), 0.0, 0.0, (where,))
        weighed.append(_Weighed(prior + log, batch, None))
    return weighed


def _log_swap(null: Null, node: Node, piece: Piece) -> float:
    """Return the log Bayes factor of effects of several columns, a mixture of two normals."""
    right, size = null.block(node, piece)
    logs = [_log_block(null, node, right, size, one) for one in _swap_covariances(len(right))]
    return float(np.logaddexp.reduce(logs) - np.log(2.0))


def _log_block(null: Null, node: Node, right: Array, size: Array, prior: Array) -> float:
    whole = np.eye(len(right)) + size @ prior
    gained = float(right @ prior @ np.linalg.solve(whole, right))
    left = max(node.left - gained, 0.0)
    gain = np.log((left + 2.0) / (node.left + 2.0))
    half = 0.5 * float(np.linalg.slogdet(whole)[1])
    return float(-half - 0.5 * (null.freedom + 2.0) * gain)


def _swap_covariances(count: int) -> list[Array]:
    return [each**2 * np.eye(count) + common**2 for common, each in SWAPS]


def _shares(weighed: list[_Weighed]) -> tuple[float, dict[NoticeKind, float]]:
    """Return how many times better, and the share of each cause."""
    logs = np.array([one.log for one in weighed])
    top = float(logs.max())
    weights = np.exp(logs - top)
    shares: dict[NoticeKind, float] = {}
    for one, weight in zip(weighed, weights, strict=True):
        shares[one.kind] = shares.get(one.kind, 0.0) + float(weight)
    total = float(weights.sum())
    times = float(np.exp(min(top, 300.0)) * total)
    return times, {kind: share / total for kind, share in shares.items()}


def _absorb(season: Season, best: _Weighed) -> tuple[list[tuple[Array, float]], Array]:
    """Return what a fault adds to the null model: columns, and a shift where it has a mean."""
    (first, *_) = best.pieces
    columns = np.zeros((len(season), first.values.shape[1]))
    for piece in best.pieces:
        columns[piece.rows] = piece.values
    nothing = np.zeros(len(season))
    if best.kind is NoticeKind.SWAP:
        return [(column, ABSORBED_SWAP_SD) for column in columns.T], nothing
    if best.batch.mean and best.kind is not NoticeKind.A4:
        spread = best.batch.sd
        return [(columns[:, 0], spread)] if spread else [], -columns[:, 0]
    outlier = best.kind is NoticeKind.OUTLIER
    return [(columns[:, 0], ABSORBED_OUTLIER_SD if outlier else ABSORBED_SD)], nothing


def _effect(null: Null, best: _Weighed) -> tuple[float, float]:
    """Return the effect, in its own unit, and the mean of what it does [cents]."""
    if best.kind is NoticeKind.SWAP:
        cents = _effect_of_swap(null, best)
        return cents, cents
    h, a = (float(one[0]) for one in null.parts(null.best, best.pieces))
    mean, variance = best.batch.mean, best.batch.sd**2
    effect = mean + variance * (h - mean * a) / (1.0 + variance * a)
    touched = np.concatenate([piece.values[:, 0] for piece in best.pieces])
    touched = touched[touched != 0.0]
    return effect, effect * float(touched.mean()) if len(touched) else 0.0


def _effect_of_swap(null: Null, best: _Weighed) -> float:
    """Return by how much the notes of another instrument lie away, on average [cents]."""
    (piece,) = best.pieces
    right, size = null.block(null.best, piece)
    prior = _swap_covariances(len(right))[0]
    effect = prior @ np.linalg.solve(np.eye(len(right)) + size @ prior, right)
    return float((piece.values @ effect)[np.isin(piece.rows, best.where.rows)].mean())


def _told(
    null: Null,
    rows: pd.DataFrame,
    best: _Weighed,
    times: float,
    shares: dict[NoticeKind, float],
) -> Notice:
    """Return a column as what a reader is shown."""
    season, where = null.season, best.where
    effect, cents = _effect(null, best)
    row = int(season.order[where.rows[np.argmin(_when(rows, season)[where.rows])]])
    first, last = _counted(season, where)
    others = sorted(((share, kind.value) for kind, share in shares.items()), reverse=True)[1:2]
    second = [NoticeKind(name) for share, name in others if share > SECOND_SHARE]
    unit = where.unit
    time = rows["time"].iloc[row] if "time" in rows else None
    return Notice(
        kind=best.kind,
        share=shares[best.kind],
        times=times,
        rehearsal="" if where.rehearsal is None else season.rehearsals[where.rehearsal],
        player="" if unit is None else season.players[unit],
        instrument=_instrument(season, where),
        side="" if where.side is None else season.sides[where.side],
        since=None if time is None or pd.isna(time) else time.floor("us").to_pydatetime(),
        first=first,
        last=last,
        size=_size(best, effect),
        cents=cents,
        note=_note(rows, row, best.kind),
        other=_other(season, rows, best),
        second=second[0] if second else None,
        row=row,
    )


def _instrument(season: Season, where: Where) -> str:
    """Return whose instrument it is about: a player's, or that of all who play it."""
    if where.unit is not None:
        return season.instruments[where.unit]
    return season.instruments[int(season.unit[where.rows[0]])] if where.section else ""


def _size(best: _Weighed, effect: float) -> float:
    """Return an effect in the unit that `Notice.size` has."""
    if best.kind in (NoticeKind.A4, NoticeKind.REST):
        return best.where.size
    return 1.0 - WATCHED * effect if best.kind is NoticeKind.WATCHES else effect


def _note(rows: pd.DataFrame, row: int, kind: NoticeKind) -> str:
    about_one = kind in (NoticeKind.WRONG_NOTE, NoticeKind.OUTLIER)
    return str(rows["note"].iloc[row]) if about_one else ""


def _when(rows: pd.DataFrame, season: Season) -> Array:
    if "time" in rows:
        times = rows["time"].to_numpy(dtype="datetime64[us]").astype(np.int64)
        return np.asarray(times[season.order], dtype=float)
    return season.rehearsal * 1e6 + season.minutes


def _counted(season: Season, where: Where) -> tuple[int, int]:
    """Return which readings of the player's rehearsal are concerned, from 1; zeros for all."""
    if where.unit is None or where.rehearsal is None:
        return 0, 0
    day = np.flatnonzero((season.unit == where.unit) & (season.rehearsal == where.rehearsal))
    here = np.flatnonzero(np.isin(day, where.rows))
    if len(here) in (0, len(day)):
        return 0, 0
    return int(here[0]) + 1, int(here[-1]) + 1


def _other(season: Season, rows: pd.DataFrame, best: _Weighed) -> str:
    if best.kind is NoticeKind.NAMES:
        return season.players[best.where.other]
    if best.kind is NoticeKind.WRONG_NOTE:
        return str(rows["note"].iloc[int(season.order[best.where.other])])
    if best.kind is NoticeKind.A4:
        return ", ".join(season.rehearsals[number] for number in best.where.more)
    return ""
