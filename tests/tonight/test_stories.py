"""Accounts of the evening: the algebra against dense formulas, and what they tell apart."""

import numpy as np
import pytest

from drift.tonight import stories
from drift.tonight.stories import INLIER, OUTLIER

ONE = np.array([1.0])


def single(sd=5.0, draws=3):
    return stories.begin(np.zeros((draws, 1)), np.array([[sd**2]]), {1.0: 1.0})


def test_without_jumps_and_outliers_it_is_the_posterior_of_a_normal():
    found = single()
    for cents in (4.0, 6.0):
        found = stories.observe(found, ONE, cents, np.zeros(3), 9.0, {}, outlier=1e-12)
    precision = 1 / 25 + 2 / 9
    assert found.verdicts[0] == (INLIER, INLIER)
    assert found.mean[0, 0, 0] == pytest.approx(10 / 9 / precision)
    assert found.covariance[0, 0, 0] == pytest.approx(1 / precision)
    assert np.exp(found.log_weight).sum() == pytest.approx(1.0)


def test_draws_that_expect_what_was_read_gain_weight():
    shift = np.array([0.0, 10.0, 20.0])
    found = stories.observe(single(1.0), ONE, 10.0, shift, 1.0, {}, outlier=1e-12)
    weights = np.exp(found.log_weight[0])
    expected = np.exp(-0.25 * (10.0 - shift) ** 2)
    np.testing.assert_allclose(weights / weights.sum(), expected / expected.sum(), rtol=1e-6)


def test_one_stray_reading_is_an_outlier_and_two_that_agree_are_a_move():
    jumps = {"main": (ONE, 0.01)}
    found = single(1.0)
    for cents in (0.0, 0.0, -35.0):
        found = stories.observe(found, ONE, cents, np.zeros(3), 9.0, jumps)
    moved = lambda verdicts, gain: "main" in verdicts  # noqa: E731
    after_one = found.chance(moved)
    assert found.chance(lambda verdicts, gain: verdicts[-1] == INLIER) < 0.01
    back = stories.observe(found, ONE, 0.0, np.zeros(3), 9.0, jumps)
    assert back.chance(lambda verdicts, gain: verdicts[2] == OUTLIER) > 0.9
    again = stories.observe(found, ONE, -34.0, np.zeros(3), 9.0, jumps)
    assert again.chance(moved) > max(0.9, after_one)


def test_a_setting_makes_its_own_number_known_and_no_other():
    both = stories.begin(np.ones((3, 2)), np.array([[4.0, 1.0], [1.0, 9.0]]), {1.0: 1.0})
    found = stories.reset(both, 1, 0.25)
    assert found.covariance[0].tolist() == [[4.0, 0.0], [0.0, 0.25]]
    assert found.mean[0, 0].tolist() == [1.0, 0.0]


def test_moments_are_those_of_the_mixture():
    two = stories.begin(np.array([[0.0], [4.0]]), np.array([[1.0]]), {1.0: 1.0})
    assert two.moments(ONE, np.zeros(2)) == pytest.approx((2.0, np.sqrt(5.0)))


def test_a_watched_tuner_shows_part_of_the_deviation():
    shares = stories.begin(np.full((3, 1), 20.0), np.array([[1.0]]), {1.0: 0.9, 0.5: 0.1})
    found = shares
    for _ in range(3):
        found = stories.observe(found, ONE, 10.0, np.zeros(3), 4.0, {})
    assert found.chance(lambda verdicts, gain: gain < 1.0) > 0.9
