"""Mixtures of normals: against scipy where there is one component, by sampling where several."""

import numpy as np
import pytest
from scipy import stats

from drift.regression.mixture import Mixture


def test_one_component_is_a_normal():
    mixture = Mixture(np.ones(1), np.array([[2.0], [0.0]]), np.array([[9.0], [1.0]]))
    low, high = mixture.interval()
    assert low == pytest.approx(stats.norm.ppf(0.025, [2.0, 0.0], [3.0, 1.0]), abs=1e-5)
    assert high == pytest.approx(stats.norm.ppf(0.975, [2.0, 0.0], [3.0, 1.0]), abs=1e-5)


def test_moments_and_quantiles_agree_with_sampling():
    random = np.random.default_rng(4)
    weights, means, sds = (
        np.array([0.6, 0.3, 0.1]),
        np.array([0.0, 4.0, -9.0]),
        np.array([1, 2, 0.5]),
    )
    mixture = Mixture(weights, means[None], sds[None] ** 2)
    which = random.choice(3, 1_000_000, p=weights)
    sample = random.normal(means[which], sds[which])
    assert mixture.mean()[0] == pytest.approx(sample.mean(), abs=0.02)
    assert mixture.variance()[0] == pytest.approx(sample.var(), rel=0.01)
    for probability in (0.025, 0.5, 0.975):
        expected = np.quantile(sample, probability)
        assert mixture.quantile(probability)[0] == pytest.approx(expected, abs=0.03)


def test_the_quantile_is_where_the_distribution_function_says():
    mixture = Mixture(np.array([0.5, 0.5]), np.array([[-3.0, 3.0]]), np.array([[1.0, 4.0]]))
    where = mixture.quantile(0.9)[0]
    reached = 0.5 * stats.norm.cdf(where, -3, 1) + 0.5 * stats.norm.cdf(where, 3, 2)
    assert reached == pytest.approx(0.9, abs=1e-6)
