"""Instruments that come in from other air: it is typed before anybody plays."""

import numpy as np
import pytest

from drift.instruments import find
from drift.logbook.folders import Folder
from drift.logbook.records import TYPED
from drift.logbook.rehearsals import of_folder
from drift.pairing import pair
from drift.pairing.arrivals import Arrival, arrivals_of
from drift.regression.fits import physics
from drift.tonight.course import drift_along, share_at_once
from drift.tonight.logged import evening_of
from tests.tonight.test_logged import air, at, event, reading

HORN = find("double horn")
ROOM = air(*((minute, 18.0) for minute in range(0, 91, 2)))
MINUTE = at(0).timestamp() / 60.0


def logged(*records):
    return of_folder(Folder(tuple(records), ()))


def outside(minute=3.0, celsius=6.0):
    return air((minute, celsius), source=TYPED)


NOTES = [reading(minute) for minute in (7, 12, 20, 40, 80)]


@pytest.mark.parametrize("room", [ROOM, air((3.2, 18.0), (30, 18.0), (60, 18.0), source=TYPED)])
def test_what_is_typed_before_playing_is_where_instruments_were(room):
    """With a thermometer in the room, and where the room's temperature is typed after it."""
    rows = pair(logged(*room, *outside(), event(5, "play"), *NOTES)).frame
    assert rows["celsius"].tolist() == pytest.approx([18.0] * 5)
    assert rows["spells"].tolist() == [(0.0, pytest.approx(2.0))] * 5
    assert rows["playing_minutes"].tolist() == pytest.approx([2.0, 7.0, 15.0, 35.0, 75.0])
    begin, then, *_ = rows["course"].iloc[0]
    assert begin == (0.0, 6.0)
    assert then == (1.0, pytest.approx(18.0))


def test_the_pitch_begins_as_flat_as_that_air_and_comes_to_that_of_the_room():
    curve = physics().curve("double horn", None)
    came, always = (
        curve.expected(pair(logged(*ROOM, *more, event(5, "play"), *NOTES)).frame)
        for more in (outside(), [])
    )
    late = came - always
    assert late[0] < -15.0  # of 12 °C
    assert (np.diff(late) > 0.0).all()
    assert abs(late[-1]) < 1.0


def test_tonight_and_a_fit_say_the_same_of_it():
    """Draw by draw, but for those whose air follows at once."""
    tables = logged(*ROOM, *outside(), event(5, "play"), *NOTES)
    rows = pair(tables).frame
    evening = evening_of(tables, "hall", "Rowan", HORN, at(80)).evening
    assert evening.course.came_from_celsius == 6.0
    draws = physics().draws("double horn", 400, 1)
    drifts = drift_along(draws, evening.course, [7.0, 12.0, 20.0, 40.0, 80.0]).cents
    expected = physics().curve("double horn", None).expected(rows)
    slowly = drifts[~share_at_once(400)].mean(axis=0)
    assert slowly == pytest.approx(expected, abs=2.0)
    assert slowly[0] < drifts[share_at_once(400)].mean(axis=0)[0] - 15.0


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (outside(celsius=14.0), "it is near the room"),
        (outside(6.0), "somebody played before it"),
        (air((3, 6.0), source="porch"), "it was measured, and not typed"),
    ],
)
def test_what_is_no_arrival(more, why):
    tables = logged(*ROOM, *more, event(5, "play"), *NOTES)
    assert arrivals_of(tables) == (tables, {}), why


def test_what_stands_beside_the_first_reading_is_the_air_of_that_reading():
    """As in a table with a temperature beside each reading: carried out after the first."""
    typed = air((7, 21.0), (12, 8.0), (20, 8.0), (40, 8.0), (80, 8.0), source=TYPED)
    tables = logged(*typed, *NOTES)
    assert arrivals_of(tables) == (tables, {})
    assert pair(tables).frame["celsius"].tolist() == [21.0, 8.0, 8.0, 8.0, 8.0]


def test_a_temperature_that_nothing_follows_is_that_of_the_room():
    tables = logged(*outside(), event(5, "play"), *NOTES)
    assert arrivals_of(tables)[1] == {}


def test_who_is_warm_or_begins_much_later_has_an_instrument_of_the_room():
    warm = event(5, "play")
    warm = type(warm)(warm.time, "hall", "", "play", already_warm=True)
    rows = pair(logged(*ROOM, *outside(), warm, *NOTES)).frame
    assert rows["spells"].tolist() == [()] * 5
    late = pair(logged(*ROOM, *outside(3.0), event(70, "play"), reading(80))).frame
    assert late["spells"].tolist() == [()]
    assert late["course"].tolist() == [()]


def test_out_of_a_warm_room_into_the_cold():
    field = air(*((minute, 4.0) for minute in range(0, 61, 2)))
    tables = logged(*field, *outside(celsius=21.0), event(5, "play"), reading(7), reading(50))
    assert arrivals_of(tables)[1] == {"hall": Arrival(pytest.approx(MINUTE + 3.0), 21.0)}
    first, last = physics().curve("double horn", None).expected(pair(tables).frame)
    always = physics().curve("double horn", None)
    same, _ = always.expected(pair(logged(*field, event(5, "play"), reading(7), reading(50))).frame)
    assert first > same + 15.0
    assert last < -20.0
