"""Absorbing intercepts and day effects, against matrices written out in full."""

import numpy as np
import pytest

from drift.regression.absorbing import Absorber


@pytest.fixture
def case():
    random = np.random.default_rng(8)
    count = 40
    players = random.integers(0, 3, count)
    intercepts = players * 4 + random.integers(0, 4, count)
    days = players * 5 + random.integers(0, 5, count)
    _, intercepts = np.unique(intercepts, return_inverse=True)
    _, days = np.unique(days, return_inverse=True)
    weights = random.uniform(0.2, 1.0, count)
    return intercepts, days, weights, random.normal(size=(count, 3))


def in_full(intercepts, days, weights, ratio):
    """P = V^-1 - V^-1 G (G' V^-1 G)^-1 G' V^-1, and V and G."""
    g = np.eye(intercepts.max() + 1)[intercepts]
    z = np.eye(days.max() + 1)[days]
    v = np.diag(1 / weights) + ratio**2 * z @ z.T
    inverse = np.linalg.inv(v)
    return inverse - inverse @ g @ np.linalg.inv(g.T @ inverse @ g) @ g.T @ inverse, v, g, z


@pytest.mark.parametrize("ratio", [0.0, 0.05, 0.7, 20.0])
def test_products_are_those_of_generalised_least_squares(case, ratio):
    intercepts, days, weights, values = case
    absorber = Absorber(intercepts, days, weights)
    shrinkage = absorber.shrinkage(np.array([ratio]))
    left, right = absorber.columns(values[:, :1]), absorber.columns(values)
    expected = values[:, 0] @ in_full(intercepts, days, weights, ratio)[0] @ values
    assert absorber.product(left, right, shrinkage)[0] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("ratio", [0.05, 0.7, 20.0])
def test_the_determinant_is_that_of_the_restricted_likelihood(case, ratio):
    """Up to what does not depend on the ratio: ``|V| |G' V^-1 G|`` against its value at zero."""
    intercepts, days, weights, _ = case

    def restricted(value):
        _, v, g, _ = in_full(intercepts, days, weights, value)
        return np.linalg.slogdet(v)[1] + np.linalg.slogdet(g.T @ np.linalg.inv(v) @ g)[1]

    found = Absorber(intercepts, days, weights).log_determinant(np.array([ratio]))[0]
    assert found == pytest.approx(restricted(ratio) - restricted(0.0), rel=1e-9)


def test_residuals_are_those_of_the_best_linear_prediction(case):
    intercepts, days, weights, values = case
    y, ratio = values[:, 0], 0.8
    projector, _, g, z = in_full(intercepts, days, weights, ratio)
    effects = ratio**2 * z.T @ projector @ y
    w = np.diag(weights)
    level = np.linalg.solve(g.T @ w @ g, g.T @ w @ (y - z @ effects))
    expected = y - z @ effects - g @ level
    found = Absorber(intercepts, days, weights).residuals(y, ratio)
    assert found == pytest.approx(expected, abs=1e-9)


def test_freedom_counts_readings_beyond_the_first_of_each_intercept():
    absorber = Absorber(np.array([0, 0, 0, 1, 2]), np.zeros(5, dtype=int), np.ones(5))
    assert absorber.free == 2.0
