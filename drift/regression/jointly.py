"""Draws of everything at once: standard deviations, kinds, players, rehearsals, notes and days."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.regression.columns import CORE
from drift.regression.covariates import Covariate
from drift.regression.evidence import Evidence
from drift.regression.grouping import INTERCEPT
from drift.regression.players import OWN
from drift.regression.walls import drawn_walls, taught_of_kind

if TYPE_CHECKING:
    from drift.regression.bayesian import Found
    from drift.regression.priors import Priors

__all__ = ["JointDraws", "joint_draws"]

Array = npt.NDArray[np.float64]

BATCH = 4_000_000
"""Numbers in the products of the players that are made at a time."""


@dataclass(frozen=True, eq=False)
class JointDraws:
    """Draws of all that the model knows: the same rows of all tables belong together.

    Parameters
    ----------
    sds : DataFrame of shape (n, 6)
        Standard deviations [cents; cents/°C and cents/hour for slopes and slow drifts of players].
    kinds : mapping of str to DataFrame
        The mean of all players of each kind: ``cold`` (cents/°C), ``rise`` (cents), ``slow``
        (cents/hour), ``curvature`` (cents/°C²), covariates (cents, for one of their units),
        ``warm_minutes``, ``cool_minutes``.
    players : mapping of (instrument, player) to DataFrame
        ``cold, rise, slow`` of each player, with what answers allow for walls, as in ``kinds``.
    rehearsals : DataFrame of shape (n, R)
        What each did to everybody [cents].
    intercepts : DataFrame of shape (n, notes)
        Pitch of each note of each player, warmed up at 20 °C, with the covariates where the table
        of them says [cents]; the columns are (instrument, player, side, note).
    log_likelihood : array of shape (n, readings)
        Log density of each reading given all else, in the order of the fit's rows.
    covariates : DataFrame
        One row a covariate: ``mean, sd`` of the readings, and ``at``, where intercepts are given:
        0 for a column of 0 and 1, 1 or 0 for a word (whether it is the commonest), else the mean.
    """

    sds: pd.DataFrame
    kinds: Mapping[str, pd.DataFrame] = field(repr=False)
    players: Mapping[tuple[str, str], pd.DataFrame] = field(repr=False)
    rehearsals: pd.DataFrame = field(repr=False)
    intercepts: pd.DataFrame = field(repr=False)
    log_likelihood: Array = field(repr=False)
    covariates: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False)

    def to_inference_data(self) -> Any:
        """Return the draws for arviz.

        Raises
        ------
        InputError
            If arviz is not installed.
        """
        try:
            import arviz
        except ImportError as missing:
            raise InputError("arviz is not installed", "pip install arviz") from missing
        posterior = {name: self.sds[name].to_numpy()[None] for name in self.sds}
        tables = dict(self.kinds) | {
            f"{what}, {who}": table for (what, who), table in self.players.items()
        }
        for name, table in tables.items():
            posterior |= {f"{name}: {one}": table[one].to_numpy()[None] for one in table}
        likelihood = {"cents": self.log_likelihood[None]}
        return arviz.from_dict(posterior=posterior, log_likelihood=likelihood)


def joint_draws(
    found: Found, rows: pd.DataFrame, priors: Priors, size: int = 1000, seed: int = 0
) -> JointDraws:
    """Return draws of everything at once.

    Parameters
    ----------
    found : Found
        The posterior.
    rows : DataFrame
        The readings that were fitted, with their ``intercept``.
    priors : Priors
        With what outliers are like.
    size, seed : int
        How many, and where chance begins.

    Notes
    -----
    Standard deviations and time constants come from the weighted draws of the fit; given them the
    coefficients of all kinds, the rehearsals, each player's own part, the notes and the days are
    drawn one after the other from normal distributions. How much each reading counts is taken as
    the fit found it. What answers allow for walls of slope, rise and slow drift (`Priors.walls_sd`,
    `Priors.quick_walls_sd`) is in the tables of kinds and players: one draw for all of them, whose
    walls lean the same way. It moves no density and no pitch of a note. `Priors.late_walls_log_sd`,
    which widens the printed minutes upwards alone, is not in the time constants.
    """
    random = np.random.default_rng(seed)
    sample, scores, columns = found.sample, found.scores, found.columns
    chosen = random.choice(len(sample.weights), size, p=sample.weights)
    theta = sample.theta[chosen]
    drawn = list(_in_batches(found.evidence, theta, random))
    common = np.concatenate([one[0] for one in drawn])
    shared = np.concatenate([one[2] for one in drawn])
    own = [np.concatenate([one[1][kind] for one in drawn]) for kind in range(len(columns.kinds))]
    sds = scores.sds(theta)
    labels = ["slope", "rise", "slow"]
    names = ("reading_sd", "day_sd", *(f"player_{name}_sd" for name in labels), "rehearsal_sd")
    intercepts = pd.DataFrame(index=range(size), columns=_notes(rows), dtype=float)
    values, likelihood = intercepts.to_numpy().copy(), np.empty((size, len(columns)))
    players = {}
    for unit, who in enumerate(columns.players):
        kind = int(columns.kind_of_unit[unit])
        place = int(np.flatnonzero(found.evidence.reduced.kinds[kind].units == unit)[0])
        effects = np.hstack([own[kind][:, place], common[:, found.evidence.places(kind)[OWN:]]])
        players[columns.kinds[kind], who] = pd.DataFrame(effects[:, :OWN], columns=CORE[:OWN])
        _notes_and_days(found, priors, unit, theta, effects, shared, values, likelihood, random)
    kinds = {name: _of_kind(found, kind, theta, common) for kind, name in enumerate(columns.kinds)}
    _allow_for_walls(found, priors, chosen, kinds, players, random)
    back = np.argsort(columns.order)
    return JointDraws(
        pd.DataFrame(sds, columns=names).iloc[:, : scores.sds_count],
        kinds,
        players,
        pd.DataFrame(shared, columns=columns.rehearsals[: shared.shape[1]]),
        pd.DataFrame(values, columns=intercepts.columns),
        likelihood[:, back],
        _table_of(columns.covariates),
    )


def _allow_for_walls(
    found: Found,
    priors: Priors,
    chosen: npt.NDArray[np.intp],
    kinds: Mapping[str, pd.DataFrame],
    players: Mapping[tuple[str, str], pd.DataFrame],
    random: np.random.Generator,
) -> None:
    """Add what answers allow for walls to the draws, which are of the ``chosen`` theta."""
    columns, moved = found.columns, list(CORE[:OWN])
    quick, late = random.standard_normal((2, len(chosen)))
    for number, kind in enumerate(columns.kinds):
        of_kind, of_players = taught_of_kind(found, priors, number)
        kinds[kind][moved] += drawn_walls(of_kind[chosen], priors, quick, late)
        for place, unit in enumerate(np.flatnonzero(columns.kind_of_unit == number)):
            taught = of_players[chosen, place]
            players[kind, columns.players[unit]][moved] += drawn_walls(taught, priors, quick, late)


def _notes(rows: pd.DataFrame) -> pd.MultiIndex:
    """Return what has a pitch of its own, in the order of the numbers of the intercepts."""
    first = rows.drop_duplicates("intercept").sort_values("intercept")
    return pd.MultiIndex.from_frame(first[list(INTERCEPT)].astype(str))


def _table_of(covariates: Sequence[Covariate]) -> pd.DataFrame:
    return pd.DataFrame(
        [(one.mean, one.sd, one.at) for one in covariates],
        index=pd.Index([one.label for one in covariates], name="covariate"),
        columns=["mean", "sd", "at"],
        dtype=float,
    )


def _of_kind(found: Found, kind: int, theta: Array, common: Array) -> pd.DataFrame:
    names = [*CORE, *(one.label for one in found.columns.covariates)]
    table = pd.DataFrame(common[:, found.evidence.places(kind)], columns=names)
    for one in found.columns.covariates:
        table[one.label] /= one.sd
    warm, cool = found.scores.times(theta, kind)
    return table.assign(warm_minutes=warm, cool_minutes=cool)


def _in_batches(
    evidence: Evidence, theta: Array, random: np.random.Generator
) -> Iterator[tuple[Array, list[Array], Array]]:
    numbers = (
        sum(one.numbers for one in evidence.tables) + evidence.reduced.rehearsals.shape[1] ** 2
    )
    step = max(1, BATCH // numbers)
    for first in range(0, len(theta), step):
        yield _coefficients(evidence, theta[first : first + step], random)


def _coefficients(
    evidence: Evidence, theta: Array, random: np.random.Generator
) -> tuple[Array, list[Array], Array]:
    """Return the coefficients of all kinds, of each player, and the rehearsals."""
    P, C, H, _, kept = evidence.parts(theta)
    size, count = P.shape[1] - 1, H.shape[1]
    H = np.tril(H) + np.swapaxes(np.tril(H, -1), 1, 2)
    gain = np.linalg.solve(H, np.swapaxes(C, 1, 2)) if count else np.swapaxes(C, 1, 2)
    P = P - np.matmul(C, gain)
    mean = np.linalg.solve(P[:, :size, :size], P[:, :size, size:])[..., 0]
    common = mean + _normal(P[:, :size, :size], random)
    shared = gain[..., size] - np.einsum("nrp,np->nr", gain[..., :size], common)
    shared = shared + _normal(H, random)
    own = []
    for kind, (Q, X, which, K) in enumerate(kept):
        mine = common[:, evidence.places(kind)]
        left = Q[:, :, :OWN, -1] - np.einsum("nuad,nd->nua", Q[:, :, :OWN, :-1], mine)
        left -= np.einsum("nuar,nr->nua", X[which], shared)
        noise = random.standard_normal((*left.shape, 1))
        root = np.linalg.cholesky(K + 1e-14 * np.eye(OWN))
        own.append(mine[:, None, :OWN] + (np.matmul(K, left[..., None]) + root @ noise)[..., 0])
    return common, own, shared


def _normal(precision: Array, random: np.random.Generator) -> Array:
    """Return normal draws of mean zero, one for each precision (n, m, m)."""
    noise = random.standard_normal(precision.shape[:2])
    if not precision.shape[1]:
        return noise
    root = np.swapaxes(np.linalg.cholesky(precision), 1, 2)
    return np.asarray(np.linalg.solve(root, noise[..., None])[..., 0])


def _notes_and_days(
    found: Found,
    priors: Priors,
    unit: int,
    theta: Array,
    effects: Array,
    shared: Array,
    values: Array,
    likelihood: Array,
    random: np.random.Generator,
) -> None:
    """Draw the notes and days of one player, and fill in the log density of each reading."""
    columns, weights = found.columns, found.weights
    rows = np.flatnonzero(columns.unit == unit)
    sd, day_sd = found.scores.sds(theta)[:, :2].T
    rest = columns.cents[rows, None] - _drift(found, unit, rows, theta, effects)
    if shared.shape[1]:
        rest -= shared[:, columns.rehearsal_of_day[columns.day[rows]]].T
    w = weights.whole[rows]
    groups, group = np.unique(columns.group[rows], return_inverse=True)
    days, day = np.unique(columns.day[rows], return_inverse=True)
    of_group = (np.arange(len(groups))[:, None] == group) * w
    of_day = (np.arange(len(days))[:, None] == day) * w
    N = of_day @ (np.arange(len(groups))[:, None] == group).T
    ratio = (day_sd / sd)[:, None] ** 2
    c = ratio / (1.0 + ratio * of_day.sum(axis=1))
    inner = np.diag(of_group.sum(axis=1)) - np.einsum("dg,sd,dh->sgh", N, c, N)
    inner = inner + 1e-12 * np.eye(len(groups))
    by_day = (of_day @ rest).T
    right = (of_group @ rest).T - (c * by_day) @ N
    note = np.linalg.solve(inner, right[..., None])[..., 0] + sd[:, None] * _normal(inner, random)
    noise = random.standard_normal(c.shape)
    off = c * (by_day - note @ N.T) + sd[:, None] * np.sqrt(c) * noise
    moved = effects[:, len(CORE) :] @ np.array([one.shift for one in columns.covariates])
    values[:, groups] = note + moved[:, None]
    residual = rest.T - note[:, group] - off[:, day]
    spread = sd[:, None] / np.sqrt(weights.precision[rows])
    outlying = 1.0 - (1.0 - priors.outlier_share) * (1.0 - columns.harmful[rows])
    near = np.exp(-0.5 * (residual / spread) ** 2) / (spread * np.sqrt(2.0 * np.pi))
    likelihood[:, rows] = np.log((1.0 - outlying) * near + outlying * priors.outlier_density)


def _drift(found: Found, unit: int, rows: Any, theta: Array, effects: Array) -> Array:
    """Return the drift of one player's readings at each draw, shape (readings, draws)."""
    kind = int(found.columns.kind_of_unit[unit])
    scores, fixed = found.scores, found.columns.fixed[rows]
    warm, cool = scores.times(theta, kind)
    cold, rise, begun = found.columns.histories.take(rows).columns(warm, cool, scores.start)
    if begun is not None:
        rise = rise + begun * scores.warmth_at_start(theta, kind)
    return np.asarray(cold * effects[:, 0] + rise * effects[:, 1] + fixed @ effects[:, 2:].T)
