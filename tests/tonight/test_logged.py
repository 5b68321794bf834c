"""From the tables of a logbook to an evening."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from drift.errors import InputError
from drift.instruments import find
from drift.logbook.folders import Folder
from drift.logbook.records import TYPED, Event, Reading, Temperature
from drift.logbook.rehearsals import of_folder
from drift.tonight.logged import evening_of

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)
HORN = find("double horn")


def at(minute):
    return START + timedelta(minutes=minute)


def reading(minute, cents=5.0, **given):
    given = {"side": "F", "note": "F4"} | given
    return Reading(at(minute), "hall", "Rowan", "double horn", cents=cents, **given)


def slide(minute, name, mm, player="Rowan", rehearsal="hall"):
    return Event(at(minute), rehearsal, player, "slide", name, mm)


def event(minute, what, player=""):
    return Event(at(minute), "hall", player, what)


def air(*pairs, source="stage"):
    return [Temperature(at(m), "hall", celsius, source=source) for m, celsius in pairs]


STAGE = air(*((m, 18.0 + m / 10) for m in range(0, 41, 5)))


def logged(*records, now=40):
    tables = of_folder(Folder((*records,), ()))
    return evening_of(tables, "hall", "Rowan", HORN, at(now))


def test_air_playing_and_readings_are_on_one_clock():
    found = logged(*STAGE, event(5, "play"), event(25, "rest"), event(30, "play"), reading(12))
    evening = found.evening
    assert found.now_minutes == 40.0
    assert evening.course.switches_minutes == pytest.approx((5.0, 25.0, 30.0))
    assert evening.course.celsius_at(12.0) == pytest.approx(19.2)
    assert [(r.minutes, r.note, r.cents) for r in evening.readings] == [(12.0, "F4", 5.0)]
    assert found.conditions.playing
    assert found.conditions.playing_minutes == pytest.approx(30.0)
    assert found.conditions.celsius == 22.0
    assert found.notes == (("F", "F4"),)


def test_nothing_after_the_moment_is_known():
    records = [*STAGE, event(0, "play"), reading(12), reading(35), slide(30, "main", 20.0)]
    found = logged(*records, now=20)
    assert len(found.evening.readings) == 1
    assert found.evening.settings == ()
    assert found.evening.course.air_minutes[-1] == 20.0


def test_slides_of_before_and_of_tonight_are_told_apart():
    found = logged(
        slide(-100, "main", 10.0, rehearsal="last week"),
        slide(-90, "main", 12.0, rehearsal="last week"),
        slide(8, "main", 15.0), slide(9, "F", 7.0, player=""), slide(9, "main", 3.0, player="Ada"),
        *STAGE, event(0, "play"), reading(12),
    )  # fmt: skip
    evening = found.evening
    assert evening.reference_mm == {"main": 10.0, "F": 7.0}
    assert evening.start_mm == {"main": 12.0}
    assert [(s.minutes, s.slide, s.position_mm) for s in evening.settings] == [
        (8.0, "main", 15.0), (9.0, "F", 7.0),
    ]  # fmt: skip


def test_flagged_readings_are_marked_and_those_of_others_left_out():
    other = Reading(at(13), "hall", "Ada", "double horn", "F", "F4", 1.0)
    flagged = reading(14, flagged=True, remark="mute in")
    found = logged(*STAGE, event(0, "play"), reading(12), other, flagged)
    assert [(r.minutes, r.flagged) for r in found.evening.readings] == [(12.0, False), (14.0, True)]


def test_what_was_typed_fills_in_where_the_thermometer_was_away():
    probe = air((0, 18.0), (2, 18.2))
    typed = air((1, 30.0), (25, 21.0), source=TYPED)
    course = logged(*probe, *typed, event(0, "play"), reading(12)).evening.course
    assert course.air_minutes.tolist() == [0.0, 2.0, 25.0]
    assert course.air_celsius.tolist() == [18.0, 18.2, 21.0]


@pytest.mark.parametrize(
    ("temperatures", "known"),
    [
        ([], False),
        (air((29, 20.0)), False),  # more than ten minutes ago
        (air((31, 20.0)), True),
        (air((11, 20.0), source=TYPED), True),  # typed: half an hour
        (air((9, 20.0), source=TYPED), False),
    ],
)
def test_a_temperature_near_the_moment_is_needed(temperatures, known):
    if known:
        found = logged(*temperatures, event(0, "play"), reading(12))
        assert np.isfinite(found.evening.course.air_celsius).all()
    else:
        with pytest.raises(InputError, match=r"no temperature is known at \d\d:\d\d"):
            logged(*temperatures, event(0, "play"), reading(12))


def test_the_pitch_is_that_of_the_last_reading():
    assert logged(*STAGE).a4_hz == 440.0
    found = logged(*STAGE, reading(10), reading(12, a4_hz=442.0))
    assert found.a4_hz == 442.0
