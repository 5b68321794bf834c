"""What surrounds an instrument: the air and the periods of playing and rest."""

import pytest

import drift
from drift.errors import ReachError
from drift.tonight import Conditions
from drift.tonight.conditions import minutes_to_warm


def test_periods_alternate_between_playing_and_rest():
    resting = Conditions(21.0, periods_minutes=(30.0, 10.0, 5.0), minutes_into_period=2.0)
    assert (resting.playing, resting.playing_minutes) == (False, 35.0)
    assert Conditions.after(21.0, 30.0).playing_minutes == 30.0


def test_warmth_follows_the_time_constants_of_each_draw():
    draws = drift.physics().draws("Bb trumpet", 50, 1)
    cold, warm = (Conditions.after(20.0, minutes).warmth(draws) for minutes in (0.0, 120.0))
    assert cold.max() == 0.0
    assert warm.min() > 0.9
    just_played = Conditions(20.0, initial_warmth=1.0)
    assert just_played.warmth(draws).min() == 1.0


def test_minutes_to_warm_are_three_time_constants_from_cold_and_none_when_warm():
    assert minutes_to_warm(6.0, 0.0) == pytest.approx(17.97, abs=0.01)
    assert minutes_to_warm(6.0, 0.99) == 0.0


@pytest.mark.parametrize(
    ("given", "problem"),
    [
        ({"celsius": float("nan")}, "nan °C is not a temperature"),
        ({"humidity_percent": 120.0}, "120 % is not a relative humidity"),
        ({"periods_minutes": (-1.0,)}, "a period of -1 minutes is not possible"),
        ({"minutes_into_period": float("inf")}, "a period of inf minutes is not possible"),
        ({"initial_warmth": 1.2}, "an initial warmth of 1.2 is not possible"),
    ],
)
def test_what_cannot_be_is_refused_with_its_value(given, problem):
    with pytest.raises(ReachError, match=problem):
        Conditions(**({"celsius": 20.0} | given))
