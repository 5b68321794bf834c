"""Where pitch stands now: against the moment the slides were set."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

import drift
from drift.errors import InputError
from drift.instruments import find
from drift.logbook.rehearsals import load
from drift.regression.results import Estimate
from drift.shipped import folder
from drift.slides.standing import standing
from tests.folders import write
from tests.pairing.test_readings import PLAY, READINGS, TEMPERATURES, reading, sample, slide

NOW = datetime(2026, 10, 3, 18, 40, tzinfo=UTC)


def season(tmp_path, readings=(), temperatures=(), events=()):
    return load(
        write(
            tmp_path / "f",
            readings=READINGS + "".join(readings),
            temperatures=TEMPERATURES + "".join(temperatures),
            events=PLAY + "".join(events),
        )
    )


WARMING = [sample(m, 18 + m / 10) for m in range(0, 41, 5)]


def test_a_room_that_warms_makes_brass_sharp_and_the_slide_goes_out(tmp_path):
    events = [slide(25, "main", 12), slide(25, "F", 8)]
    warming = [sample(m, 10 if m <= 26 else 30) for m in range(0, 41, 2)]
    logged = season(tmp_path, [reading(26)], warming, events)
    learnt = drift.fit(drift.pair(load(folder("datasets/cold-hall-season"))))
    found = standing(logged, "hall", "Rowan", "double horn", NOW, known=learnt)
    assert found.slides_set
    assert found.tuned.celsius == pytest.approx(10.0)  # the first note after the slides were set
    assert found.now.celsius == pytest.approx(30.0)
    assert found.now.playing_minutes == 40.0
    assert 0 < found.cents.low < found.cents.estimate < found.cents.high
    main = found.moves[0]
    assert (main.slide, main.move_mm > 0) == ("main", True)
    assert main.to_mm == pytest.approx(12 + main.move_mm)
    assert found.reason == found.to_json()["reason"] == ""
    span = f"({main.low_mm:.1f} to {main.high_mm:.1f})"
    said = f"main out {main.move_mm:.1f} mm {span}, to {main.to_mm:.1f}"
    assert said in found.in_words()
    assert said in found.summary()
    # Acoustics alone knows the way, and not how far: that is no order to move.
    alone = standing(logged, "hall", "Rowan", "double horn", NOW, known=drift.physics())
    assert (alone.cents.low > 0, alone.reason) == (True, "not sure")


def test_a_known_fit_is_used_as_it_is(tmp_path):
    logged = season(tmp_path, [reading(6)], WARMING)
    found = standing(logged, "hall", "Rowan", "double horn", NOW, known=drift.physics())
    assert not found.slides_set
    assert found.moves[0].to_mm is None  # no position was ever stated


def test_a_change_within_a_tuners_reading_moves_nothing(tmp_path):
    steady = [sample(m, 20) for m in range(0, 41, 5)]
    events = [slide(38, "main", 12)]
    found = standing(
        season(tmp_path, [reading(30)], steady, events),
        "hall",
        "Rowan",
        "double horn",
        NOW,
        known=drift.physics(),
    )
    assert found.reason == "little"
    assert found.in_words() == ["leave the slides where they are"]


def test_without_a_temperature_or_a_reading_it_says_what_is_missing(tmp_path):
    with pytest.raises(InputError, match="no temperature is known near"):
        standing(
            season(tmp_path, [reading(6)], WARMING[:3]),
            "hall",
            "Rowan",
            "double horn",
            NOW,
            known=drift.physics(),
        )
    with pytest.raises(InputError, match="neither a reading nor a slide position"):
        standing(
            season(tmp_path, [], WARMING),
            "hall",
            "Rowan",
            "double horn",
            NOW,
            known=drift.physics(),
        )


@pytest.fixture
def warm(tmp_path):
    found = standing(
        season(tmp_path, [reading(6)], WARMING),
        "hall",
        "Rowan",
        "double horn",
        NOW,
        known=drift.physics(),
    )
    return replace(found, cents=Estimate(8.0, 5.0, 11.0), warmth=0.9, minutes_to_warm=4.2)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({}, ""),
        ({"cents": Estimate(8.0, 4.0, 12.0)}, ""),  # as wide as the change, and not wider
        ({"cents": Estimate(-8.0, -11.0, -5.0)}, ""),
        ({"cents": Estimate(8.0, 3.9, 12.0)}, "not sure"),
        ({"cents": Estimate(4.1, 0.0, 11.5)}, "not sure"),  # its interval denies it
        ({"cents": Estimate(-8.0, -17.0, 1.0)}, "not sure"),
        ({"cents": Estimate(1.9, 1.8, 2.0)}, "little"),
        ({"warmth": 0.79}, "warming up"),
        ({"warmth": 0.80}, ""),
    ],
)
def test_no_move_is_ordered_that_its_own_interval_or_the_warm_up_denies(warm, change, reason):
    found = replace(warm, **change)
    assert found.reason == found.to_json()["reason"] == reason
    assert any(" mm (" in words for words in found.in_words()) == (reason == "")
    assert found.in_words()[0] in found.summary()


def test_what_is_said_instead_of_a_move(warm):
    cold = replace(warm, warmth=0.5)
    assert cold.in_words() == ["still warming up: leave the slides, look again in 5 minutes"]
    resting = replace(cold, now=replace(warm.now, spells=(40.0,), minutes_into_spell=5.0))
    assert resting.in_words() == [
        "not warmed up: leave the slides, look again after 5 minutes of playing"
    ]
    unsure = replace(warm, cents=Estimate(4.1, -0.01, 11.5))
    assert unsure.in_words() == [
        "not sure enough to move: anywhere from +0.0 to +11.5 cents; go by ear"
    ]


def test_an_instrument_just_taken_up_is_still_warming_up(tmp_path):
    logged = season(tmp_path, [reading(1)], WARMING)
    soon = datetime(2026, 10, 3, 18, 4, tzinfo=UTC)
    found = standing(logged, "hall", "Rowan", "double horn", soon, known=drift.physics())
    assert found.warmth < 0.8
    # the prior of the horn: 95 % after about three time constants, less the 4 minutes played
    tau = find("double horn").priors.warm_minutes
    assert found.minutes_to_warm == pytest.approx(3 * tau - 4, abs=1.0)
    assert found.reason == "warming up"


def test_times_are_times_of_day_where_the_player_is(warm):
    east = timezone(timedelta(hours=2))
    assert "the first reading at 20:06 (18.6 °C)" in warm.summary(east)
    assert "-0.0" not in replace(warm, cents=Estimate(-2.5, -5.0, -0.01)).summary()
