"""The course of the pitch, against the model worked out by hand and against the fit itself."""

import numpy as np
import pandas as pd
import pytest

import drift.gig.course
from drift.gig.basis import Basis, BasisKind
from drift.gig.course import Outdoors, Served, Tuned, _drawn, course_of
from drift.gig.roster import Section
from drift.instruments import find
from drift.regression.estimates import ONLY
from drift.regression.fits import fit, physics
from tests.bands import band_season
from tests.gigs import schedule

BAND = schedule(("tune", 0, 15), ("play", 15, 60), ("rest", 60, 120), ("play", 120, 150))


def outdoors(celsius, error=0.0, draws=4000, found=BAND):
    times = found.instants()
    rank = (np.arange(draws) + 0.5) / draws
    errors = pd.Series(rank).map(lambda r: r - 0.5).to_numpy() * 2 * error  # uniform within ± error
    values = np.broadcast_to(np.asarray(celsius, float), len(times))
    return Outdoors(times, values, errors, np.ones(len(times), dtype=bool))


def windows(found=BAND, read_at=11.25):
    index = found.entry_at(found.instants())
    return [Served(np.array([found.entries[n].activity == "play" for n in index]), read_at)]


def course(instrument, there, tuned=None, found=BAND, read_at=11.25):
    return course_of(
        Section(instrument, find(instrument)),
        physics(),
        found,
        there,
        windows(found, read_at),
        tuned or Tuned(),
    )


@pytest.fixture
def alike(monkeypatch):
    """No part of an instrument follows later than the rest."""
    monkeypatch.setattr(drift.gig.course, "LATE_SHARE", 0.0)


@pytest.mark.usefixtures("alike")
@pytest.mark.parametrize("celsius", [2.0, 5.0, 33.0])
def test_a_long_block_ends_where_the_fit_says(celsius):
    """After 60 minutes of playing without a rest the course is what Fit.change answers.

    The bend (0.45 cents at 5 °C) and the slow drift of the half hour since tuning are in both.
    """
    found = course("Bb trumpet", outdoors(celsius))
    expected = physics().change("Bb trumpet", celsius=celsius, minutes=60.0)
    assert found.cents[60] == pytest.approx(expected.estimate, abs=0.03)
    assert found.low[60] == pytest.approx(expected.low, abs=1.0)
    assert found.high[60] == pytest.approx(expected.high, abs=1.0)


@pytest.mark.parametrize("celsius", [2.0, 33.0])
def test_parts_that_follow_late_come_to_the_same_after_an_hour_and_half(celsius):
    long = schedule(("play", 0, 90))
    found = course("Bb trumpet", outdoors(celsius, found=long), found=long)
    expected = physics().change("Bb trumpet", celsius=celsius, minutes=90.0)
    assert found.cents[60] == pytest.approx(found.cents[90], abs=0.5)
    # A little of the part that follows late was cold where it was tuned after half an hour.
    assert found.cents[90] == pytest.approx(expected.estimate, abs=0.5)


def test_after_a_way_from_a_bus_less_is_known_where_a_part_may_follow_late(monkeypatch):
    """Twelve minutes of way and ten of tuning do not cool what follows late."""
    band = schedule(("rest", 0, 30), ("tune", 30, 43), ("play", 43, 60))
    there = outdoors(np.where(np.arange(61) < 18, 21.0, 5.0), found=band)
    shares = {}
    for share in (0.0, 0.5):
        monkeypatch.setattr(drift.gig.course, "LATE_SHARE", share)
        shares[share] = course("Bb trumpet", there, found=band, read_at=39.75).show[0]
    assert shares[0.5].estimate > shares[0.0].estimate
    assert shares[0.5].high - shares[0.5].low > shares[0.0].high - shares[0.0].low + 1.0


def test_slow_drift_goes_on_while_playing_alone_and_ends_at_the_horizon():
    rows, _ = band_season(22, 1, 6)
    rows["reference_cents"] -= 6.0 * rows["playing_minutes"] / 60.0
    known = fit(rows)
    slow = known.curve().entries()["slow_cents_per_hour"].estimate
    assert slow < -3.0
    long = schedule(("play", 0, 60), ("rest", 60, 120), ("play", 120, 300))
    there = outdoors(20.0, found=long)
    cents = course_of(
        Section("Bb trumpet", find("Bb trumpet")), known, long, there, windows(long), Tuned()
    ).cents
    assert cents[60] == pytest.approx(0.5 * slow, abs=0.2)
    horizon = known.draws(size=1).horizon_hours
    assert 1.5 < horizon < 2.0
    assert cents[180] - cents[60] == pytest.approx((horizon - 1.0) * slow, abs=0.2)
    assert cents[300] == pytest.approx((horizon - 0.5) * slow, abs=0.2)


def test_staying_where_the_band_tuned_changes_nothing_once_warm():
    found = course("Bb trumpet", outdoors(20.0), Tuned(20.0, 60.0))
    assert found.cents[60] == pytest.approx(0.0, abs=1e-9)
    assert found.high[60] - found.low[60] == pytest.approx(0.0, abs=1e-9)
    assert found.cents[0] == pytest.approx(-14.0, abs=2.0)  # cold: the whole rise is missing


def test_waiting_cools():
    found = course("Bb trumpet", outdoors(10.0))
    assert found.cents[120] < found.cents[60] - 5
    assert found.cents[150] > found.cents[120] + 5


@pytest.mark.slow
def test_every_draw_by_hand():
    # Air and excess in a hundred small steps a minute, and the form of the drift, for one draw.
    there = outdoors(np.linspace(15.0, 11.0, 151), draws=1)
    drawn = _drawn(physics(), Section("horns", find("double horn")), BAND, there, Tuned(), 0)
    draw = physics().draws("double horn", 1, 0, ONLY)
    b, r, tau_w, tau_c = (
        float(part[0]) for part in (draw.cold, draw.rise, draw.warm_minutes, draw.cool_minutes)
    )
    slow, bend = float(draw.slow[0]), float(draw.curvature[0])
    # A quarter of this draw follows 2.7 times as slowly.
    times, parts = np.array([1.0, 2.7]), np.array([0.75, 0.25])
    air, excess, played = np.full(2, 15.0), np.zeros(2), 0.0
    by_hand = [b * (15 - 20) - r + bend * 25]
    for start in range(150):
        tau, breath = (times * tau_c, 0.0) if 60 <= start < 120 else (times * tau_w, 1.0)
        for step in range(1000):
            around = there.celsius[start] + (step + 0.5) / 1000 * np.diff(there.celsius)[start]
            # From one entry to the next the air of the minute is that of its beginning.
            around = there.celsius[start] if start + 1 in (15, 60, 120) else around
            air += (around - air) / tau / 1000
            excess += (breath * (34 - around) - excess) / tau / 1000
        played += breath / 60
        inside = parts @ air
        bent = bend * (inside - 20) ** 2
        by_hand.append(b * (inside - 20) + r * (parts @ excess / 14 - 1) + slow * played + bent)
    tuned = r * (parts @ (1 - np.exp(-30 / (times * tau_w))) - 1) + slow / 2
    np.testing.assert_allclose(drawn[:, 0], np.array(by_hand) - tuned, atol=0.02)


def test_an_instrument_carried_into_the_cold_follows_slowly():
    # 21 °C for half an hour, then 1 °C: at once the drift would fall by 20 b = 59 cents.
    band = schedule(("tune", 0, 30), ("rest", 30, 60), ("play", 60, 90))
    there = outdoors(np.where(np.arange(91) < 30, 21.0, 1.0), found=band)
    found = course("Bb trumpet", there, found=band)
    assert -22 < found.cents[33] - found.cents[30] < -8
    assert found.cents[60] < found.cents[33] - 10


def test_the_target_is_the_pitch_at_the_tune_less_the_mean_of_the_block():
    found = course("Bb trumpet", outdoors(np.linspace(20.0, 5.0, 151)))
    at_the_tune = found.cents[11] + 0.25 * (found.cents[12] - found.cents[11])
    (show,) = found.show
    assert show.estimate == pytest.approx(at_the_tune - found.mean[0])
    assert show.high - show.low >= 6.0  # never narrower than 3 cents each way


def test_the_mean_of_a_block_is_that_of_its_playing():
    found = course("double horn", outdoors(np.linspace(15.0, 5.0, 151)))
    playing = found.cents[windows()[0].window]
    assert found.mean[0] == pytest.approx(playing.mean())
    assert found.mean_low[0] < found.mean[0] < found.mean_high[0]


def test_the_error_of_the_forecast_widens_the_band():
    sure, unsure = (course("Bb trumpet", outdoors(10.0, error)) for error in (0.0, 5.0))
    assert (unsure.high - unsure.low > sure.high - sure.low)[1:].all()
    np.testing.assert_allclose(unsure.cents, sure.cents, atol=0.2)


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
    assert found.based_on == Basis(BasisKind.BARS)
    np.testing.assert_allclose(course(name, outdoors(5.0), Tuned(28.0)).cents, found.cents)
