"""The likelihood at a node of the grid, against generalised least squares written out by hand."""

import numpy as np
import pytest

from drift.instruments.anatomy import Priors
from drift.regression import anchored
from drift.regression.grid import Grid
from drift.regression.likelihood import TIRING_SD, Likelihood, Part
from drift.regression.warmup import drift_columns, warmth

FLAT = Priors(cold_sd=1e6, rise_sd=1e6)


def part_of(seed, priors=FLAT, count=30):
    random = np.random.default_rng(seed)
    minutes = random.uniform(1, 80, count)
    return Part(
        cents=random.normal(0, 10, count),
        celsius=random.uniform(10, 30, count),
        minutes_into_spell=minutes,
        initial=np.zeros(count),
        playing_hours=minutes / 60,
        spells=[(20.0, 10.0) if flip else () for flip in random.integers(0, 2, count)],
        intercepts=np.arange(count) % 3,
        days=np.sort(random.integers(0, 4, count)),
        priors=priors,
    )


def grid_of(sds, ratios, warm=7.0, cool=11.0, parts=1):
    return Grid(
        np.log(np.atleast_1d(sds)),
        np.log(np.atleast_1d(ratios)),
        np.linspace(1.0, 5.0, 401),
        (np.log([warm]),) * parts,
        (np.log([cool]),) * parts,
    )


def by_hand(part, sd, ratio, warm=7.0, cool=11.0):
    """Columns of slope, rise and intercepts; and the covariance of days, tiring and noise."""
    state = warmth(part.spells, part.minutes_into_spell, warm, cool)
    cold, rise = drift_columns(part.celsius, state)
    dummies = np.eye(part.intercepts.max() + 1)[part.intercepts]
    days = np.eye(part.days.max() + 1)[part.days]
    noise = sd**2 * (np.eye(len(cold)) + ratio**2 * days @ days.T)
    noise += TIRING_SD**2 * np.outer(part.playing_hours, part.playing_hours)
    return np.column_stack([cold, rise, dummies]), noise


def test_flat_priors_and_known_time_constants_give_generalised_least_squares():
    part = part_of(1)
    x, v = by_hand(part, 2.0, 0.6)
    covariance = np.linalg.inv(x.T @ np.linalg.solve(v, x))
    expected = covariance @ x.T @ np.linalg.solve(v, part.cents)
    likelihood = Likelihood(part, np.ones(30), grid_of(2.0, 0.6), 0)
    found = likelihood.given(np.full((1, 1), 1e-12), np.zeros((1, 1)))
    assert found.slope.item() == pytest.approx(expected[0], rel=1e-6)
    assert found.rise.item() == pytest.approx(expected[1], rel=1e-6)
    assert found.slope_variance.item() == pytest.approx(covariance[0, 0], rel=1e-6)
    assert found.covariance.item() == pytest.approx(covariance[0, 1], rel=1e-6)
    assert found.rise_variance.item() == pytest.approx(covariance[1, 1], rel=1e-6)


def test_the_evidence_is_the_marginal_likelihood_with_flat_intercepts():
    """Against the multivariate normal of the contrasts, between pairs of standard deviations."""
    priors = Priors(cold_mean=2.95, cold_sd=0.4, rise_mean=14.0, rise_sd=8.0)
    part = part_of(2, priors)
    sds, ratios = np.array([1.5, 3.0]), np.array([0.3, 1.2])
    grid = grid_of(sds, ratios)
    known = np.full((2, 2), 0.4**-2)
    found = Likelihood(part, np.ones(30), grid, 0).given(known, known * 2.95).log_evidence[:, :, 0]
    # Contrasts: a basis of everything at right angles to the intercepts.
    dummies = np.eye(3)[part.intercepts]
    basis = np.linalg.svd(dummies.T, full_matrices=True)[2][3:]
    expected = np.empty((2, 2))
    for row, sd in enumerate(sds):
        for column, ratio in enumerate(ratios):
            x, v = by_hand(part, sd, ratio)
            v = v + 0.4**2 * np.outer(x[:, 0], x[:, 0]) + 8.0**2 * np.outer(x[:, 1], x[:, 1])
            rest = basis @ (part.cents - 2.95 * x[:, 0] - 14.0 * x[:, 1])
            spread = basis @ v @ basis.T
            expected[row, column] = -0.5 * (
                np.linalg.slogdet(spread)[1] + rest @ np.linalg.solve(spread, rest)
            )
    assert found - found[0, 0] == pytest.approx(expected - expected[0, 0], abs=1e-6)


def test_instruments_that_share_a_slope_give_the_joint_answer():
    """Two parts at one node: the same as one regression with one slope and two rises."""
    priors = Priors(cold_sd=0.4)
    parts = [part_of(3, priors), part_of(4, priors, 24)]
    grid = grid_of(2.0, 0.6, parts=2)
    likelihoods = [Likelihood(p, np.ones(len(p.cents)), grid, k) for k, p in enumerate(parts)]
    belief = anchored._meet(parts, likelihoods, grid)
    (x1, v1), (x2, v2) = (by_hand(part, 2.0, 0.6) for part in parts)
    x = np.zeros((54, 1 + 1 + 3 + 1 + 3))
    x[:30, 0], x[:30, 1:5], x[30:, 0], x[30:, 5:] = x1[:, 0], x1[:, 1:], x2[:, 0], x2[:, 1:]
    v = np.block([[v1, np.zeros((30, 24))], [np.zeros((24, 30)), v2]])
    precision = np.zeros(9)
    precision[[0, 1, 5]] = anchored.sd_of_slope(priors) ** -2, 8.0**-2, 8.0**-2
    mean = np.zeros(9)
    mean[[0, 1, 5]] = 2.95, 14.0, 14.0
    covariance = np.linalg.inv(x.T @ np.linalg.solve(v, x) + np.diag(precision))
    cents = np.concatenate([part.cents for part in parts])
    expected = covariance @ (x.T @ np.linalg.solve(v, cents) + precision * mean)
    for nodes, rise in zip(belief.nodes, (1, 5), strict=True):
        assert nodes.slope.item() == pytest.approx(expected[0], rel=1e-5)
        assert nodes.slope_variance.item() == pytest.approx(covariance[0, 0], rel=1e-4)
        assert nodes.rise.item() == pytest.approx(expected[rise], rel=1e-5)
        assert nodes.rise_variance.item() == pytest.approx(covariance[rise, rise], rel=1e-4)
