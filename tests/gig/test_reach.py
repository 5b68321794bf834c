"""How far slides reach, against every combination of positions on a grid."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drift.gig.reach import reach_of_slides, real_slopes
from tests.gigs import bells, horns, trumpets, tuba


def test_one_slide_reaches_what_its_ends_do():
    section = trumpets(at_mm={"main": 12.0}, travel_mm={"main": 32.0})
    low, high = reach_of_slides(section)
    instrument = section.instrument
    assert low == pytest.approx(
        instrument.cents_of_moves("", {"main": 20.0}, real_slopes(instrument)), abs=1e-6
    )
    assert high == pytest.approx(
        instrument.cents_of_moves("", {"main": -12.0}, real_slopes(instrument)), abs=1e-6
    )


def brute(section, step):
    """Lowest and highest change that brings both sides of a horn to the same pitch, on a grid."""
    instrument = section.instrument
    grids = [
        np.arange(-section.at_mm[s], section.travel_mm[s] - section.at_mm[s] + 1e-9, step)
        for s in section.movable
    ]
    alike, real = [], real_slopes(instrument)
    for moves in itertools.product(*grids):
        named = dict(zip(section.movable, moves, strict=True))
        f, bb = (instrument.cents_of_moves(side, named, real) for side in ("F", "Bb"))
        if abs(f - bb) < 0.45 * step:  # half a step of the F slide is 0.44 cents
            alike.append((f + bb) / 2)
    return min(alike), max(alike)


@pytest.mark.parametrize(
    ("at", "travel"),
    [((20, 12), (45, 30)), ((5, 2), (45, 30)), ((20, 28), (45, 30)), ((44, 12), (45, 60))],
)
def test_both_sides_of_a_horn_against_brute_force(at, travel):
    section = horns(
        at_mm=dict(zip(("main", "F"), map(float, at), strict=True)),
        travel_mm=dict(zip(("main", "F"), map(float, travel), strict=True)),
    )
    # The grid is a millimetre of slide, at most 1.2 cents, and its sides match within 0.45.
    assert reach_of_slides(section) == pytest.approx(brute(section, 1.0), abs=2.0)


def test_sides_that_cannot_move_together_do_not_move():
    # Without the main slide the B flat side stays where it is.
    assert reach_of_slides(horns(stuck=("main",))) == pytest.approx((0, 0), abs=1e-9)
    assert reach_of_slides(tuba(stuck=("main",))) == (0, 0)
    assert reach_of_slides(bells()) == (0, 0)


def test_what_is_not_known_is_no_limit():
    assert reach_of_slides(trumpets(at_mm={}, travel_mm={})) == (-math.inf, math.inf)
    low, high = reach_of_slides(trumpets(at_mm={"main": 12.0}, travel_mm={}))
    assert low == -math.inf
    assert high == pytest.approx(31.2, abs=0.2)  # 12 mm at 1.10 x 2.346 cents/mm


@given(st.floats(0, 45), st.floats(0, 30))
@settings(max_examples=30)
def test_where_slides_stand_is_within_their_reach(main, f):
    low, high = reach_of_slides(horns(at_mm={"main": main, "F": f}))
    assert low <= 1e-7
    assert high >= -1e-7
