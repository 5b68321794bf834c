"""What the tuner should show at a tune."""

import numpy as np
import pytest

import drift
from drift.instruments.catalogue import Catalogue
from drift.tonight import Course, know
from drift.tonight.course import drift_along
from drift.tonight.target import printed_interval, target_at

DRAWS = drift.physics().draws("Bb trumpet", 400, 1)
OUT = Course([0.0, 10.0, 12.0, 60.0], [21.0, 21.0, 5.0, 5.0], (0.0, 10.0, 30.0))


def test_the_mean_of_the_block_is_right_when_the_tuner_showed_the_target():
    target = target_at(DRAWS, OUT, (6.0, 10.0), (30.0, 42.0)).show_cents
    at_tune = drift_along(DRAWS, OUT, [9.0]).cents[:, 0].mean()
    block = drift_along(DRAWS, OUT, np.linspace(30.0, 42.0, 13)).cents.mean()
    assert target.estimate + block - at_tune == pytest.approx(0.0, abs=1e-9)
    assert 15.0 < target.estimate < 45.0


def test_tuned_where_one_plays_it_is_near_zero_with_the_least_interval():
    room = Course([0.0, 120.0], [20.0, 20.0], (0.0,))
    found = target_at(DRAWS, room, (90.0, 94.0), (94.0, 110.0)).show_cents
    assert found.estimate == pytest.approx(0.0, abs=0.2)
    assert (found.high - found.low) / 2 == pytest.approx(3.0)


def test_another_pitch_to_play_at_is_added():
    one, other = (
        target_at(DRAWS, OUT, (6.0, 10.0), (30.0, 42.0), a4_cents=cents).show_cents.estimate
        for cents in (0.0, 7.85)
    )
    assert other - one == pytest.approx(7.85)


def test_each_note_shows_the_target_and_its_own_tendency():
    known = know(Catalogue.shipped().find("Bb trumpet"), DRAWS)
    known.mean[:, known.notes.index(("", "F4"))] = 6.0
    found = target_at(DRAWS, OUT, (6.0, 10.0), (30.0, 42.0), knowledge=known)
    show = found.show_cents
    assert found.notes["F4"].estimate == pytest.approx(show.estimate + 4.0)  # 6 less the mean of 2
    assert found.notes["Bb4"].estimate == pytest.approx(show.estimate - 2.0)
    assert found.notes["F4"].high - found.notes["F4"].low > show.high - show.low


def test_the_printed_interval_is_the_drawn_one_and_at_least_three_cents():
    samples = np.linspace(-10.0, 10.0, 1001)
    found = printed_interval(samples)
    assert found.high == pytest.approx(9.5, abs=0.05)
    assert printed_interval(samples / 10.0).high == pytest.approx(3.0)
