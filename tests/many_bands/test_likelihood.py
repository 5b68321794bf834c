"""What readings say alone: the prior divided out, rounded, and put back together."""

import numpy as np
import pytest

from drift.bands.likelihood import Likelihood, divided, proper


def random_likelihood(seed, rank=6):
    random = np.random.default_rng(seed)
    root = random.normal(size=(6, rank)) * 3.0
    A = root @ root.T
    return Likelihood(A, A @ random.normal(size=6))


@pytest.mark.parametrize("seed", range(5))
def test_a_posterior_is_prior_and_likelihood(seed):
    given = random_likelihood(seed)
    covariance = np.linalg.inv(np.eye(6) + given.information)
    found = divided(covariance @ given.pull, covariance)
    assert found.information == pytest.approx(given.information, abs=0.2)  # below 0.1 is left out
    strong = random_likelihood(seed).information + np.eye(6)
    covariance = np.linalg.inv(np.eye(6) + strong)
    found = divided(covariance @ given.pull, covariance)
    assert found.information == pytest.approx(strong)
    assert found.pull == pytest.approx(given.pull)


def test_what_was_not_learned_is_exactly_nothing():
    found = divided(np.full(6, 0.02), np.diag([0.95, 0.97, 1.02, 1.0, 0.99, 1.05]))
    assert not found.information.any()
    assert not found.pull.any()


@pytest.mark.parametrize("seed", range(5))
def test_rounding_keeps_it_symmetric_and_nearly_the_same(seed):
    given = random_likelihood(seed)
    found = given.rounded()
    assert (found.information == found.information.T).all()
    scale = np.sqrt(np.outer(np.diag(given.information), np.diag(given.information)))
    assert np.abs((found.information - given.information) / scale).max() <= 0.005
    assert found.pull == pytest.approx(given.pull, rel=0.005)
    again = Likelihood.unpacked(found.packed())
    assert again.information == pytest.approx(found.information, rel=1e-5)
    assert again.pull == pytest.approx(found.pull, rel=1e-5)


def test_what_rounding_broke_is_made_positive():
    given = random_likelihood(3, rank=2).rounded()
    assert np.linalg.eigvalsh(given.information)[0] < -1e-6
    found = proper(given)
    assert np.linalg.eigvalsh(found.information)[0] > -1e-9
    assert found.information == pytest.approx(given.information, abs=0.1)
