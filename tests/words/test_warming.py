"""How long to warm up: the interval, the usual time, and what the millimetres count on."""

from dataclasses import replace

import pytest

from drift.regression.estimates import Estimate
from drift.regression.fits import physics
from drift.slides.correction import correct
from drift.slides.warming import warm_share
from drift.words.slides import steps
from drift.words.warming import counts_on, warm_up

HORN = correct(physics(), "double horn", 5.0, 30.0)


def warming(estimate, low, high, from_data, minutes=30.0):
    found = Estimate(estimate, low, high, from_data=from_data)
    return replace(HORN, warm_after=found, minutes=minutes)


def test_a_time_that_was_measured_has_its_interval():
    known = warming(18.8, 15.0, 23.5, 0.8)
    assert warm_up(known) == (
        "Warm up first, about 19 minutes (15 to 24), where you are going to play."
    )
    assert counts_on(known) == ""


def test_a_time_hardly_known_is_never_an_order():
    found = warming(70.0, 29.0, 137.0, 0.34)
    assert warm_up(found) == (
        "Warm up first where you are going to play: about 18 minutes are usual for its size. How "
        "long yours takes is little known yet (29 to 137 minutes)."
    )
    assert "about 70 minutes" not in " ".join(steps(found))


def test_nobody_is_told_to_warm_up_for_longer_than_people_do():
    slow = warming(52.0, 47.0, 58.0, 0.9)
    assert warm_up(slow).startswith("Warm up first as long as you can where you are going to play")
    assert "about 52 minutes (47 to 58 minutes)" in warm_up(slow)


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (0.0, "After 0 minutes of playing it is still cold"),
        (30.0, "After 30 minutes of playing it is about 70 % warm"),
        (60.0, ""),  # 92 %
    ],
)
def test_what_the_millimetres_count_on_is_said_where_it_is_not_warm_by_then(minutes, said):
    found = warming(70.0, 29.0, 137.0, 0.34, minutes)
    assert counts_on(found).startswith(said)
    assert bool(counts_on(found)) is bool(said)
    assert counts_on(found) in steps(found)[0]


def test_the_share_is_that_of_three_time_constants():
    assert warm_share(30.0, 90.0) == pytest.approx(1 - 2.718281828**-1)
    assert warm_share(0.0, 18.0) == 0.0
    assert warm_share(5.0, 0.0) == 1.0  # bars
