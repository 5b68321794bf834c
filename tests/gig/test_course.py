"""The course of the pitch, against the model worked out by hand and against the fit itself."""

import numpy as np
import pandas as pd
import pytest

from drift.gig.course import Outdoors, Tuned, _drawn, course_of
from drift.instruments import find
from drift.regression.fits import physics
from tests.gigs import schedule

BAND = schedule(("tune", 0, 15), ("play", 15, 60), ("rest", 60, 120), ("play", 120, 150))


def outdoors(celsius, error=0.0, draws=4000, found=BAND):
    times = found.instants()
    rank = (np.arange(draws) + 0.5) / draws
    errors = pd.Series(rank).map(lambda r: r - 0.5).to_numpy() * 2 * error  # uniform within ± error
    values = np.broadcast_to(np.asarray(celsius, float), len(times))
    return Outdoors(times, values, errors, np.ones(len(times), dtype=bool))


def windows(found=BAND):
    index = found.entry_at(found.instants())
    return [np.array([found.entries[n].activity == "play" for n in index])]


def course(instrument, there, tuned=None, found=BAND):
    return course_of(find(instrument), physics(), found, there, windows(found), tuned or Tuned())


def test_a_long_block_ends_where_the_fit_says():
    # After 60 minutes of playing without a rest the course is what Fit.change answers. The mean is
    # exact on both sides; the ends of the band come from 4000 draws of a spread of 10 cents.
    found = course("Bb trumpet", outdoors(33.0))
    expected = physics().change("Bb trumpet", celsius=33.0, minutes=60.0)
    assert found.cents[60] == pytest.approx(expected.estimate, abs=1e-9)
    assert found.low[60] == pytest.approx(expected.low, abs=1.0)
    assert found.high[60] == pytest.approx(expected.high, abs=1.0)


def test_staying_where_the_band_tuned_changes_nothing_once_warm():
    found = course("Bb trumpet", outdoors(20.0), Tuned(20.0, 60.0))
    assert found.cents[60] == pytest.approx(0.0, abs=1e-9)
    assert found.high[60] - found.low[60] == pytest.approx(0.0, abs=1e-9)
    assert found.cents[0] == pytest.approx(-14.0, abs=2.0)  # cold: the whole rise is missing


def test_waiting_cools():
    found = course("Bb trumpet", outdoors(10.0))
    assert found.cents[120] < found.cents[60] - 5
    assert found.cents[150] > found.cents[120] + 5


def test_every_draw_by_hand():
    # The recursion of w minute by minute and the published form of the drift, for one draw.
    there = outdoors(np.linspace(15.0, 5.0, 151), draws=1)
    drawn = _drawn(physics(), "double horn", BAND.spells_at(there.times), there, Tuned(), 0)
    draw = physics().draws("double horn", 1, 0)
    b, r, tau_w, tau_c = (
        float(part[0]) for part in (draw.cold, draw.rise, draw.warm_minutes, draw.cool_minutes)
    )
    w, states = 0.0, [0.0]
    for start in range(150):
        resting = 60 <= start < 120
        w = w * np.exp(-1 / tau_c) if resting else 1 - (1 - w) * np.exp(-1 / tau_w)
        states.append(w)

    def drift(celsius, w):
        return b * (celsius - 20) + r * (w * (34 - celsius) / 14 - 1)

    tuned = drift(20.0, 1 - np.exp(-30 / tau_w))
    by_hand = [drift(t, w) - tuned for t, w in zip(there.celsius, states, strict=True)]
    np.testing.assert_allclose(drawn[:, 0], by_hand, atol=1e-9)


def test_the_middle_of_a_block_is_between_its_lowest_and_highest():
    found = course("double horn", outdoors(np.linspace(15.0, 5.0, 151)))
    playing = found.cents[windows()[0]]
    assert found.middle[0] == pytest.approx((playing.max() + playing.min()) / 2)
    assert found.middle_low[0] < found.middle[0] < found.middle_high[0]


def test_the_error_of_the_forecast_widens_the_band():
    sure, unsure = (course("Bb trumpet", outdoors(10.0, error)) for error in (0.0, 5.0))
    assert (unsure.high - unsure.low > sure.high - sure.low).all()
    np.testing.assert_allclose(unsure.cents, sure.cents)


def test_a_temperature_of_the_schedule_has_no_error():
    there = outdoors(20.0, 5.0)
    typed = Outdoors(there.times, there.celsius, there.error_celsius, np.zeros(151, dtype=bool))
    assert (typed.drawn == 20.0).all()
    assert np.ptp(there.drawn[0]) == pytest.approx(10.0, abs=0.01)


@pytest.mark.parametrize("name", ["glockenspiel", "rosewood marimba", "electronic keyboard"])
def test_bars_go_the_other_way_and_are_not_warmed_by_breath(name):
    bars = find(name).fixed_pitch
    found = course(name, outdoors(5.0))
    # From the 20 °C they were built at, fifteen degrees colder, wherever the band tuned.
    assert found.cents[0] == pytest.approx(-15 * bars.cents_per_celsius, abs=1e-9)
    assert found.cents[0] >= 0
    assert found.low[0] == pytest.approx(-15 * bars.high, abs=0.5)
    assert found.high[0] == pytest.approx(-15 * bars.low, abs=0.5)
    np.testing.assert_allclose(found.cents, found.cents[0])
    assert found.based_on == "bars"
    np.testing.assert_allclose(course(name, outdoors(5.0), Tuned(28.0)).cents, found.cents)
