"""What a fit is asked that it cannot answer is refused, by the name of what is wrong."""

import numpy as np
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

import drift
from drift.errors import InputError
from drift.regression.advice import advise
from drift.regression.asked import read_or_new
from drift.regression.fits import fit, physics
from tests.bands import band_season
from tests.nearly import nearly


@pytest.fixture(scope="module")
def band():
    """Two players, p000 and p001, on the same kind of instrument."""
    return fit(band_season(3, 2, 4)[0])


@pytest.mark.parametrize("ask", ["change", "predict", "draws", "covariance", "curve"])
@pytest.mark.parametrize("who", ["P99", "P001", "New", ""])
def test_a_player_who_was_not_read_is_no_new_player_unless_asked_for_as_one(band, ask, who):
    more = {"change": {"celsius": 30.0}, "predict": {"celsius": 30.0}}.get(ask, {})
    with pytest.raises(InputError, match=f"no readings of '{who}'") as refusal:
        getattr(band, ask)(player=who, **more)
    assert 'player="new"' in refusal.value.remedy
    assert "p001" in refusal.value.remedy


def test_acoustics_alone_has_read_nobody():
    with pytest.raises(InputError, match="no readings of 'Rowan'"):
        physics().change("double horn", celsius=30.0, player="Rowan")
    assert physics().change("double horn", celsius=30.0, player="new") == physics().change(
        "double horn", celsius=30.0
    )


def test_a_player_of_another_instrument_is_named_with_it():
    rows = band_season(3, 2, 4)[0]
    kind = rows["instrument"].iloc[0]
    other = rows[rows["player"] == "p000"].assign(player="Rowan", instrument="double horn")
    both = fit(pd.concat([rows, other], ignore_index=True))
    with pytest.raises(InputError, match=f"(?s)no readings of p001 on a double horn.*{kind}"):
        both.change("double horn", celsius=30.0, player="p001")
    with pytest.raises(InputError, match=f"no readings of Rowan on a {kind}"):
        both.change(celsius=30.0, player="Rowan")


def test_a_line_through_one_player_answers_for_that_one_alone():
    line = fit(band_season(3, 1, 4)[0], "least-squares")
    assert line.change(celsius=30.0, player="p000") == line.change(celsius=30.0)
    with pytest.raises(InputError, match="no readings of 'p001'"):
        line.change(celsius=30.0, player="p001")


def test_slides_are_corrected_for_somebody_who_was_not_read(band):
    """A plan of slides is for whoever plays: without readings, as a new player."""
    known, new = (
        drift.correct(band, "Bb trumpet", celsius=30.0, player=who) for who in ("Vesper", "new")
    )
    assert known.expected_cents == new.expected_cents
    assert read_or_new(band, "Bb trumpet", "p001") == "p001"
    assert read_or_new(band, "Bb trumpet", "Vesper") == "new"


@pytest.mark.parametrize(
    ("wrong", "problem", "remedy"),
    [
        ({"level": 95}, "level 95 is not between 0 and 1", "give 0.95 for 95 %"),
        ({"level": 0}, "level 0 is not between", "such as 0.95"),
        ({"level": "wide"}, "level 'wide' is not between", "such as 0.95"),
        ({"celsius": 86}, "celsius 86 is outside -40 to 60", "86 °F are 30.0 °C"),
        ({"celsius": np.nan}, "celsius nan is outside", "in °C"),
        ({"celsius": "30"}, "celsius '30' is not a number", "give a number"),
        ({"tuned_celsius": -300.0}, "tuned_celsius -300 is outside", "in °C"),
        ({"minutes": -5}, "minutes -5 is not a time of playing", "give 0"),
        ({"tuned_minutes": np.nan}, "tuned_minutes nan is not a time", "give 0"),
    ],
)
def test_a_change_that_nobody_can_mean_is_refused(band, wrong, problem, remedy):
    with pytest.raises(InputError, match=problem) as refusal:
        band.change(**({"celsius": 30.0} | wrong))
    assert remedy in refusal.value.remedy


def test_a_prediction_is_asked_for_as_a_change_is(band):
    with pytest.raises(InputError, match="celsius 86 is outside"):
        band.predict([20.0, 86.0])
    with pytest.raises(InputError, match="minutes -1 is not"):
        band.predict(20.0, [0.0, -1.0])
    with pytest.raises(InputError, match="level 95 is not"):
        band.predict(20.0, level=95)
    assert len(band.predict(20, range(3))) == 3


@pytest.mark.parametrize("size", [0, -1, 2.5, "many", True])
def test_a_number_of_draws_is_a_whole_one(band, size):
    for ask in (band.draws, band.joint_draws):
        with pytest.raises(InputError, match="is not a number of draws"):
            ask(size=size)


@pytest.mark.slow
def test_a_player_given_as_a_number_is_the_one_of_that_name():
    rows = band_season(3, 2, 4)[0]
    one = fit(rows.assign(player=rows["player"].map({"p000": 25, "p001": 7})))
    kind, number = next(iter(one.kinds)), 25
    named = {"player": "25"}
    changed = one.change(celsius=5, **named).to_json()
    for other in (np.int64(25), 25.0):
        assert one.change(celsius=5, player=other).to_json() == nearly(changed)
    assert one.change(celsius=5, player=number).to_json() == nearly(changed)
    assert one.curve(kind, number) is one.curve(kind, "25")
    assert_frame_equal(one.predict(5, player=number), one.predict(5, **named))
    assert one.draws(player=number).cold == pytest.approx(one.draws(**named).cold)
    assert_frame_equal(one.covariance(player=number), one.covariance(**named))
    assert len(one.only(number).rows) == (rows["player"] == "p000").sum()
    assert one.plot(player=number).get_title() == one.plot(**named).get_title()
    slides = drift.correct(one, kind, 5, player=number).to_json()
    assert slides == nearly(drift.correct(one, kind, 5, **named).to_json())
    assert_frame_equal(advise(one, player=number).to_frame(), advise(one, **named).to_frame())
    with pytest.raises(InputError, match="there are no readings of '26'"):
        one.change(celsius=5, player=26)
