"""Standard errors where a covariate has one value a player: players are what there are few of."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from statsmodels.stats.sandwich_covariance import S_crosssection

from drift.findings import Finding
from drift.regression.line import FEW_CLUSTERS
from drift.regression.terms import Terms

__all__ = ["clustered_both_ways", "how_clustered"]

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int64]


def how_clustered(ordered: pd.DataFrame, terms: Terms) -> tuple[Codes | None, list[Finding]]:
    """Return the players to cluster by as well, where a term calls for it, and the warnings.

    Parameters
    ----------
    ordered : DataFrame
        The readings of an instrument.
    terms : Terms
        What the line holds beside temperature and playing time.

    Returns
    -------
    codes : array of shape (n,), optional
        The player of each reading; None where no term has one value a player, or where there are
        as many such terms as players could tell apart: their slopes then fit each player exactly.
    warnings : list of Finding
    """
    labels = terms.of_players(ordered)
    codes, names = pd.factorize(ordered["player"])
    if not labels:
        return None, []
    values = {"terms": list(labels), "players": len(names), "enough": FEW_CLUSTERS}
    if len(names) < len(labels) + 2:
        return None, [Finding("no_players_to_spare", values)]
    few = [Finding("few_players", values)] if len(names) < FEW_CLUSTERS else []
    return codes, few


def clustered_both_ways(
    bread: Array, scores: Array, players: Codes, rehearsals: Codes, first: int
) -> Array:
    """Return the covariance of coefficients that allows for players and rehearsals alike.

    Parameters
    ----------
    bread : array of shape (k, k)
        Inverse of ``X'WX``.
    scores : array of shape (n, k)
        Each row of ``X``, times its weighted residual.
    players, rehearsals : arrays of shape (n,)
        Numbers from zero. Of a single rehearsal only the players count.
    first : int
        So many coefficients are wanted, the first ones.

    Returns
    -------
    array of shape (first, first)
        Positive semi-definite: eigenvalues below zero, which a difference can have, are taken for
        zero.

    Notes
    -----
    Sums of scores by player, plus those by rehearsal, less those by a player's rehearsal, each
    with ``G/(G-1) (n-1)/(n-k)``.

    References
    ----------
    .. [1] A. C. Cameron, J. B. Gelbach, D. L. Miller, "Robust inference with multiway clustering",
       J. Business & Economic Statistics 29, 238-249 (2011). From memory.
    """
    meat = _outer(scores, players)
    if rehearsals.max() > 0:
        days = pd.factorize(players * (rehearsals.max() + 1) + rehearsals)[0]
        meat = meat + _outer(scores, rehearsals) - _outer(scores, days)
    count, size = scores.shape
    found = bread[:first] @ meat @ bread[:, :first] * ((count - 1.0) / (count - size))
    values, vectors = np.linalg.eigh(0.5 * (found + found.T))
    return np.asarray(vectors * np.maximum(values, 0.0) @ vectors.T)


def _outer(scores: Array, codes: Any) -> Array:
    """Return the sum of outer products of the sums of each cluster, corrected for their number."""
    count = int(codes.max()) + 1
    return np.asarray(S_crosssection(scores, codes) * (count / (count - 1.0)))
