"""How well each rehearsal is predicted from the others, without a refit."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import logsumexp

from drift.regression.bayesian import Found, evidence_of, some_of
from drift.regression.sampling import pareto_index

__all__ = ["rehearsals_left_out"]

WORST_PARETO_K = 0.7
LOG_2_PI = float(np.log(2.0 * np.pi))


def rehearsals_left_out(found: Found) -> pd.DataFrame:
    """Return the log predictive density of each rehearsal given all the others.

    Parameters
    ----------
    found : Found
        The posterior.

    Returns
    -------
    DataFrame
        ``rehearsal, readings, log_density`` (of all its readings together, in 1/cents each),
        ``pareto_k`` and ``trusted``: not where it is above 0.7, for the rehearsal then moves
        standard deviations or time constants too far; fit again without it
        (`drift.regression.comparison.compare` does). NaN where an instrument was read in that
        rehearsal alone.

    Notes
    -----
    Everything but standard deviations and time constants is integrated exactly: with the evidence
    ``p(y|theta)`` of all readings, and that of all but the rehearsal's ``y_t``::

        1/p(y_t | others) = E[p(others|theta)/p(y|theta)]   over the posterior of all

    Notes that no other rehearsal has count for nothing. How much each reading counts, and the nodes
    of the sums, are as the fit found them. Each rehearsal takes as long as the sums of all others:
    some seconds for a thousand readings of four kinds of instrument.

    References
    ----------
    .. [1] A. Gelfand, D. Dey, H. Chang, "Model determination using predictive distributions", in
       Bayesian Statistics 4, Oxford, 147-167 (1992).
    """
    columns, theta = found.columns, found.sample.theta
    whole = found.evidence.given(theta).log
    where = columns.rehearsal_of_day[columns.day]
    records = []
    for number, name in enumerate(columns.rehearsals):
        kept, gone = np.flatnonzero(where != number), np.flatnonzero(where == number)
        record = {"rehearsal": name, "readings": len(gone)}
        kinds = columns.kind_of_unit[columns.unit[kept]]
        if len(np.unique(kinds)) < len(columns.kinds):
            records.append(record | {"log_density": np.nan, "pareto_k": np.nan, "trusted": False})
            continue
        others = evidence_of(
            columns.take(kept), some_of(found.weights, kept), found.scores, found.evidence.box
        )
        lost = others.given(theta).log - whole
        free = found.evidence.reduced.free - others.reduced.free
        log = np.log(found.sample.weights)
        density = -float(logsumexp(lost + log)) - 0.5 * free * LOG_2_PI
        density += 0.5 * float(found.weights.tame[gone] @ np.log(found.weights.precision[gone]))
        k = pareto_index(lost + log)
        trusted = bool(k <= WORST_PARETO_K)
        records.append(record | {"log_density": density, "pareto_k": k, "trusted": trusted})
    return pd.DataFrame(records)
