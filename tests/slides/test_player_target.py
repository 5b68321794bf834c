"""What the tuner should show now, from the logbook to the words."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from drift.capture.desk import Desk
from drift.errors import InputError
from drift.logbook.book import Logbook
from drift.study import Study
from drift.words.cents import deviation
from drift.words.now import target_lines

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
NOW = START + timedelta(minutes=30)


@pytest.fixture
def study(tmp_path):
    """A trumpet tuned in a warm room after half an hour of playing."""
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        desk = Desk(book, "hall")
        desk.start(START, player="Kim", instrument="Bb trumpet")
        for minute, line in ((0, "play"), (1, "temp 21"), (25, "Bb4 +2"), (28, "temp 21")):
            assert desk.enter(line, START + timedelta(minutes=minute)).saved, line
    return Study.open(tmp_path / "band.logbook")


def asked(study, minutes, celsius):
    at = NOW + timedelta(minutes=minutes)
    (target,) = study.target("hall", "Kim", "Bb trumpet", NOW, at=at, celsius=celsius).values()
    return target.show_cents


def test_before_a_cold_field_the_tuner_shows_sharp_and_before_a_hot_one_flat(study):
    assert asked(study, 20, 4.0).estimate > 15.0
    assert asked(study, 20, 34.0).estimate < -10.0
    # Playing on at once in the same air from a warm instrument: what is right now stays right.
    assert abs(asked(study, 0, 21.0).estimate) < 3.0


def test_a_rest_in_the_same_air_is_tuned_sharp(study):
    """A cold instrument begins flat: while warm it has to show more."""
    assert asked(study, 120, 21.0).estimate > asked(study, 0, 21.0).estimate + 1.0


def test_the_notes_carry_their_tendencies_into_the_words(study):
    at = NOW + timedelta(minutes=20)
    found = study.target("hall", "Kim", "Bb trumpet", NOW, at=at, celsius=4.0)
    (alone,) = target_lines(found, at, 4.0)  # all notes show the same: one line
    little = ", which is little known yet: tune again from 17:50 on at 4 °C."
    assert f" on every note{little}" in alone
    (side,) = found
    sharp = replace(found[side].show_cents, estimate=found[side].show_cents.estimate + 5.0)
    apart = {side: replace(found[side], notes={**found[side].notes, "Bb4": sharp})}
    first, notes = target_lines(apart, at, 4.0)
    assert first.startswith("In this room let the tuner show ")
    assert first.endswith(f"){little}")
    assert "B♭4 " in notes


def test_a_slide_that_cannot_reach_the_target_is_said_with_what_remains(tmp_path):
    """The barrel is 2.75 mm out: all the way in is not far enough for a cold field."""

    def lines(position_mm):
        with Logbook(tmp_path / f"{position_mm}.logbook", writer="the test") as book:
            desk = Desk(book, "hall")
            desk.start(START, player="Kim", instrument="Bb clarinet")
            typed = ((0, "play warm"), (1, "temp 14"), (27, "F4 -22"), (28, "F4 -24"))
            for minute, line in ((0, f"slide barrel {position_mm}"), *typed):
                assert desk.enter(line, START + timedelta(minutes=minute)).saved, line
        study = Study.open(tmp_path / f"{position_mm}.logbook")
        at = NOW + timedelta(minutes=40)
        found = study.target("hall", "Kim", "Bb clarinet", NOW, at=at, celsius=5.0)
        return found[""], target_lines(found, at, 5.0)

    target, told = lines(2.75)
    assert target.remaining_cents < -10.0
    ends = deviation(target.show_cents.estimate + target.remaining_cents)
    assert told[-2:] == [
        f"All the way in it shows {ends}: {deviation(target.remaining_cents)} remains on average, "
        "less once you are warm.",
        "Tell the director before the band tunes.",
    ]
    target, told = lines(12)
    assert target.remaining_cents == 0.0
    assert "remains" not in " ".join(told)


def test_what_remains_is_not_said_where_no_slide_was_logged(study):
    at = NOW + timedelta(minutes=20)
    found = study.target("hall", "Kim", "Bb trumpet", NOW, at=at, celsius=4.0)
    assert found[""].remaining_cents == 0.0
    assert "remains" not in " ".join(target_lines(found, at, 4.0))


@pytest.mark.parametrize("minutes", [-1, 12 * 60 + 1])
def test_only_playing_within_twelve_hours_is_asked_about(study, minutes):
    with pytest.raises(InputError, match=r"is more than twelve hours ahead|is over"):
        asked(study, minutes, 4.0)
