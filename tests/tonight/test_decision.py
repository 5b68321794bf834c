"""The one decision, in both modes, and rounding for people."""

import numpy as np
import pytest

from drift.tonight import Action, Reason, round_mm
from drift.tonight.decision import chance_within, decide_playing, decide_tuning


def normal(mean, sd, size=4001):
    """A normal sample without chance: its own quantiles."""
    from scipy.stats import norm

    return mean + sd * norm.ppf((np.arange(size) + 0.5) / size)


@pytest.mark.parametrize(
    ("mean", "sd", "action", "reason"),
    [
        (9.0, 2.0, Action.MOVE, Reason.OFF),
        (-9.0, 2.0, Action.MOVE, Reason.OFF),
        (5.1, 2.4, Action.MOVE, Reason.OFF),
        (4.9, 0.5, Action.LEAVE, Reason.IN_TUNE),  # players notice about five cents
        (9.0, 4.6, Action.READ, Reason.UNSURE),  # less than twice its sd
        (0.0, 6.0, Action.READ, Reason.UNSURE),
        (0.0, 3.5, Action.LEAVE, Reason.IN_TUNE),  # P(|X| >= 5) is 15 %
        (5.5, 2.9, Action.LEAVE, Reason.IN_TUNE),  # no reading would make it surer
    ],
)
def test_while_playing(mean, sd, action, reason):
    found = decide_playing(normal(mean, sd))
    assert (found.action, found.reason) == (action, reason)
    assert (found.cents, found.sd_cents) == pytest.approx((mean, sd), rel=0.02, abs=0.02)


def test_where_no_reading_can_be_taken_the_slides_are_left():
    found = decide_playing(normal(0.0, 6.0), may_ask=False)
    assert (found.action, found.reason) == (Action.LEAVE, Reason.UNSURE)


@pytest.mark.parametrize(
    ("mean", "sd", "read", "action"),
    [
        (0.0, 1.0, False, Action.READ),  # a side is read before it counts as tuned
        (0.0, 1.8, True, Action.LEAVE),  # P(|off| < 3) is 0.904
        (0.0, 1.9, True, Action.READ),
        (18.0, 4.0, True, Action.MOVE),
        (-18.0, 4.0, True, Action.MOVE),
        (7.0, 8.0, True, Action.READ),
    ],
)
def test_while_tuning(mean, sd, read, action):
    assert decide_tuning([(1.0, mean, sd)], read=read).action is action


def test_while_tuning_a_move_that_makes_it_sure_needs_no_other_reading():
    near = [(1.0, 4.0, 1.5)]
    assert decide_tuning(near, read=True, chance_after=0.89).action is Action.READ
    assert decide_tuning(near, read=True, chance_after=0.91).action is Action.MOVE


def test_the_chance_of_a_mixture_counts_each_part_by_its_weight():
    parts = [(0.75, 0.0, 1.0), (0.25, 50.0, 1.0)]
    assert chance_within(parts) == pytest.approx(0.75 * 0.9973, abs=1e-4)
    assert chance_within(parts, shift=-50.0) == pytest.approx(0.25 * 0.9973, abs=1e-4)
    assert chance_within([(1.0, 0.0, 1.0)], more_variance=3.0) == pytest.approx(0.866, abs=1e-3)


@pytest.mark.parametrize(
    ("length", "step", "rounded"),
    [(4.24, 0.5, 4.0), (4.25, 0.5, 4.5), (-4.25, 0.5, -4.5), (4.5, 1.0, 5.0), (0.13, 0.25, 0.25)],
)
def test_rounding_is_the_same_in_both_directions(length, step, rounded):
    assert round_mm(length, step) == rounded


def test_nothing_is_shown_as_minus_nothing():
    assert str(round_mm(-0.1)) == "0.0"
