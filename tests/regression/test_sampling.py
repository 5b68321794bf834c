"""Weighted draws of densities whose moments are known."""

import numpy as np
import pytest

from drift.regression.sampling import importance, newton

SD = 0.3


def students(freedom):
    """The log density of as many independent Student t of scale `SD` as a point has numbers."""

    def target(x):
        return -0.5 * (freedom + 1) * np.log1p((x / SD) ** 2 / freedom).sum(axis=1)

    return target


def drawn(freedom, size):
    low, high = -np.full(size, 8.0), np.full(size, 8.0)
    mode, curvature = newton(students(freedom), np.zeros(size), low, high)
    return importance(students(freedom), mode, curvature, low, high)


@pytest.mark.parametrize(("freedom", "size"), [(4, 8), (6, 10), (6, 12)])
def test_no_few_draws_of_a_long_tail_rule_the_answer(freedom, size):
    """The first proposal alone leaves a Pareto index of 0.54 to 0.70 to these."""
    sample = drawn(freedom, size)
    assert sample.tail <= 0.5
    assert sample.effective > 0.25 * 1024
    sds = np.sqrt(sample.weights @ sample.theta**2)
    assert sds == pytest.approx(np.full(size, SD * np.sqrt(freedom / (freedom - 2))), rel=0.3)


def test_draws_that_fit_are_taken_as_they_are():
    def normal(x):
        return -0.5 * ((x / SD) ** 2).sum(axis=1)

    low, high = -np.full(3, 8.0), np.full(3, 8.0)
    asked = []

    def counted(x):
        asked.append(len(x))
        return normal(x)

    mode, curvature = newton(normal, np.zeros(3), low, high)
    sample = importance(counted, mode, curvature, low, high)
    assert len(asked) == 1
    assert np.sqrt(sample.weights @ sample.theta**2) == pytest.approx(np.full(3, SD), rel=0.03)
