"""A tuning begins with what the logbook knows of its player."""

from datetime import timedelta

import drift
from drift.instruments import find
from drift.shipped import folder
from drift.slides.players_tuning import begin_players_tuning
from drift.tonight.tuning import slides_at
from drift.tonight.tuning_steps import Step

HORN = find("double horn")


def begun(player="Rowan", rehearsal=None, **given):
    rehearsals = drift.load(folder("datasets/cold-hall-season"))
    last = rehearsals.names[-1]
    now = rehearsals.readings["time"].max().to_pydatetime() + timedelta(minutes=1)
    known = drift.fit(drift.pair(rehearsals))
    return begin_players_tuning(rehearsals, known, rehearsal or last, player, HORN, now, **given)


def test_positions_playing_and_habits_come_from_the_logbook():
    tuning = begun()
    assert set(tuning.belief.positions_mm) >= {"main", "F"}
    assert tuning.belief.minutes > 20.0
    places = tuning.belief.places
    learnt = tuning.belief.accounts[0].covariance
    sds = [learnt[at, at] ** 0.5 for key, at in places.items() if key[0] == "habit"]
    assert min(sds) < 2.5  # notes that were read every week
    assert tuning.now.step in (Step.PLAY, Step.SAY_POSITION)


def test_on_another_evening_the_last_positions_are_only_proposed():
    """Many push the slides in for the case: what was logged a week ago is not where they are."""
    tuning = begun(rehearsal="another evening")
    assert tuning.belief.positions_mm == {}
    assert (tuning.now.step, tuning.now.slide) == (Step.SAY_POSITION, "main")
    assert tuning.now.to_mm == begun().belief.positions_mm["main"]
    assert tuning.now.to_mm > 0.0
    tuning = slides_at(tuning, {"main": 3.0, "F": 1.0})
    assert tuning.belief.positions_mm == {"main": 3.0, "F": 1.0}


def test_what_is_given_goes_before_what_was_logged():
    tuning = begun(at={"main": 21.0, "F": 9.0, "Bb": 0.0}, minutes_played=2.0)
    assert tuning.belief.positions_mm == {"main": 21.0, "F": 9.0, "Bb": 0.0}
    assert tuning.now.step is Step.WARM_UP


def test_of_a_stranger_nothing_is_known():
    tuning = begun("Nobody yet", at={"main": 0.0, "F": 0.0, "Bb": 0.0}, minutes_played=30.0)
    covariance = tuning.belief.accounts[0].covariance
    assert covariance[tuning.belief.places["habit", "Bb", "F4"]].max() == 25.0
