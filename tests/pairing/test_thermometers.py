"""Pairing where there are several thermometers, absent ones and slow ones."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from drift.capture.listener import Listener
from drift.errors import InputError
from drift.logbook.book import Logbook
from drift.logbook.folders import Folder
from drift.logbook.records import TYPED, Event, Notice, Reading, Temperature
from drift.logbook.rehearsals import of_folder, of_logbook
from drift.pairing import LeftOut, Reason, pair
from drift.pairing.thermometers import in_rooms_of_their_own
from sensors.reading import Sample
from sensors.response import Slow
from tests.capture.test_listener import FakeClock, Said

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def at(minute):
    return START + timedelta(minutes=minute)


def readings(*minutes, flagged=False):
    return [
        Reading(at(m), "hall", "Rowan", "double horn", "F", "F4", 5.0, flagged=flagged)
        for m in minutes
    ]


def probe(name, *pairs):
    return [Temperature(at(minute), "hall", celsius, source=name) for minute, celsius in pairs]


def notice(minute, kind, source="stage"):
    return Notice(at(minute), "hall", source, kind)


def paired(*records, **options):
    play = Event(at(0), "hall", "", "play")
    return pair(of_folder(Folder((play, *records), ())), **options)


STAGE = probe("stage", *((m, 20.0 + m / 10) for m in range(0, 41, 2)))  # 0.1 °C a minute
CASE = probe("case", *((m, 30.0) for m in range(0, 41, 5)))


def test_the_thermometer_with_most_samples_is_used_unless_one_is_chosen():
    assert paired(*STAGE, *CASE, *readings(11)).frame["celsius"].tolist() == [pytest.approx(21.1)]
    chosen = paired(*STAGE, *CASE, *readings(11), thermometer="case")
    assert chosen.frame["celsius"].tolist() == [30.0]
    with pytest.raises(InputError, match="no temperature comes from 'outdoors'") as refusal:
        paired(*STAGE, *CASE, *readings(11), thermometer="outdoors")
    assert refusal.value.remedy == "there are 'stage', 'case'"


def in_the_field(record):
    return replace(record, rehearsal="field", time=record.time + timedelta(days=7))


FIELD = [
    in_the_field(record)
    for record in (Event(at(0), "hall", "", "play"), *readings(11, 21), *CASE[:4])
]


def test_one_thermometer_serves_all_rehearsals():
    """The stage's has most samples in all, though in the field the case's has."""
    few = [in_the_field(record) for record in STAGE[4:6]]
    table = paired(*STAGE, *readings(11), *FIELD, *few)
    assert table.thermometers == ("stage",)
    assert table.frame["celsius"].tolist() == pytest.approx([21.1, 21.0])
    assert table.left_out == (LeftOut(Reason.NO_TEMPERATURE, 1),)


def test_a_rehearsal_without_the_thermometer_of_the_others_is_served_by_its_own():
    """A serial port may have another name every evening; its readings are no less good for it."""
    table = paired(*STAGE, *readings(11, 12, 13), *FIELD)
    assert table.thermometers == ("stage", "case")
    assert table.frame["celsius"].tolist() == pytest.approx([21.1, 21.2, 21.3, 30.0, 30.0])
    assert table.left_out == ()


def test_the_thermometer_of_most_readings_comes_first_however_often_another_speaks():
    chatty = probe("chatty", *((m / 10, 20.0) for m in range(400)))
    table = paired(*[in_the_field(record) for record in chatty], *STAGE, *readings(11, 12, 13),
                   *FIELD[:3])  # fmt: skip
    assert table.thermometers == ("stage", "chatty")


def test_a_thermometer_that_disagreed_beside_the_other_serves_no_rehearsal_alone():
    choir = [
        replace(record, rehearsal="choir", time=record.time + timedelta(days=1))
        for record in (Event(at(0), "hall", "", "play"), *STAGE, *readings(11, 12, 13))
    ]
    table = paired(*STAGE, *CASE, *readings(11), *choir, *FIELD)
    assert table.thermometers == ("stage",)
    assert set(table.frame["rehearsal"]) == {"hall", "choir"}
    assert table.left_out == (LeftOut(Reason.OTHER_THERMOMETER, 2),)


def test_rehearsals_without_the_chosen_thermometer_are_left_out_and_counted():
    table = paired(*STAGE, *readings(11), *FIELD, thermometer="stage")
    assert table.frame["rehearsal"].tolist() == ["hall"]
    assert table.left_out == (LeftOut(Reason.OTHER_THERMOMETER, 2),)


def test_of_several_chosen_thermometers_the_first_that_was_there_is_used():
    both = paired(*STAGE, *CASE, *readings(11), *FIELD, thermometer=("stage", "case"))
    assert both.thermometers == ("stage", "case")
    assert both.frame["celsius"].tolist() == pytest.approx([21.1, 30.0, 30.0])
    assert both.left_out == ()


def test_what_was_typed_serves_a_rehearsal_without_a_thermometer():
    typed = [in_the_field(record) for record in probe(TYPED, (10, 15.0))]
    table = paired(*STAGE, *readings(11), *FIELD[:3], *typed)
    assert table.thermometers == ("stage",)
    assert table.frame["celsius"].tolist() == pytest.approx([21.1, 15.0, 15.0])


def test_what_was_typed_does_not_outvote_a_thermometer():
    typed = probe(TYPED, *((m, 25.0) for m in (1, 2, 3, 4, 5)))
    table = paired(*probe("stage", (0, 20.0), (4, 20.4)), *typed, *readings(2))
    assert table.frame["celsius"].tolist() == [pytest.approx(20.2)]


@pytest.mark.parametrize(
    ("away", "celsius"),
    [
        ([], 20.5),  # bridged: 20 to 21 °C over ten minutes
        ([notice(2, "away"), notice(9, "back")], 20.0),  # the nearer of the two samples
        ([notice(2, "away", "case"), notice(9, "back", "case")], 20.5),  # another one was away
    ],
)
def test_an_absence_is_not_bridged(away, celsius):
    table = paired(*probe("stage", (0, 20.0), (10, 21.0)), *away, *readings(5 - 1e-6))
    assert table.frame["celsius"].tolist() == [pytest.approx(celsius, abs=1e-3)]


def test_while_the_thermometer_is_away_typed_temperatures_fill_in():
    table = paired(
        *probe("stage", (0, 20.0), (1, 20.1), (40, 24.0), (41, 24.1)),
        notice(2, "away"),
        notice(40, "back"),
        *probe(TYPED, (10, 22.0)),
        *readings(1, 12, 35, 40.5),
    )
    # interpolated; typed two minutes before; nearest sample five minutes after; interpolated
    assert table.frame["celsius"].tolist() == pytest.approx([20.1, 22.0, 24.0, 24.05])


def test_nothing_fills_a_long_absence_without_a_typed_temperature():
    table = paired(*probe("stage", (0, 20.0), (40, 24.0)), notice(1, "away"), *readings(5, 20, 35))
    assert table.frame["time"].tolist() == [at(5), at(35)]
    assert table.left_out == (LeftOut(Reason.NO_TEMPERATURE, 1),)


SLOW = [notice(10, "settling"), notice(20, "settled")]


def test_readings_behind_a_slow_thermometer_are_flagged_and_can_be_left_out():
    records = [*STAGE, *SLOW, *readings(9, 10, 19, 20, 30), *readings(31, flagged=True)]
    table = paired(*records)
    assert table.frame["flagged"].tolist() == [False, True, True, False, False, True]
    assert table.left_out == ()
    kept = paired(*records, flagged=False)
    assert kept.frame["time"].tolist() == [at(9), at(20), at(30)]
    assert kept.left_out == (
        LeftOut(Reason.FLAGGED, 1),
        LeftOut(Reason.THERMOMETER_LAGGED, 2),
    )


def test_only_the_thermometer_that_is_used_can_lag():
    slow_case = [notice(10, "settling", "case"), notice(20, "settled", "case")]
    records = [*STAGE, *CASE, *slow_case, *readings(15)]
    assert paired(*records).frame["flagged"].tolist() == [False]
    assert paired(*records, thermometer="case").frame["flagged"].tolist() == [True]


def test_a_lag_that_nobody_ended_is_over_when_logging_begins_again():
    again = Event(at(25), "hall", "", "start")
    table = paired(*STAGE, SLOW[0], again, *readings(15, 26))
    assert table.frame["flagged"].tolist() == [True, False]


def test_nothing_else_that_holds_for_everyone_ends_a_lag():
    table = paired(*STAGE, SLOW[0], Event(at(12), "hall", "", "remark", remark="x"), *readings(15))
    assert table.frame["flagged"].tolist() == [True]


def test_half_way_between_two_samples_the_earlier_one_is_taken():
    table = paired(*probe("stage", (0, 20.0), (16, 26.0)), *readings(8))
    assert table.frame["celsius"].tolist() == [20.0]


def test_a_slow_probe_carried_into_a_warm_hall(tmp_path):
    """Time constant two minutes, a step of ten degrees at minute 5: flagged until minute 15."""
    air = [(m / 6, 10.0 if m < 30 else 20.0) for m in range(180)]
    shown, probe_celsius = [], 10.0
    for minute, celsius in air:
        probe_celsius += (celsius - probe_celsius) * (1.0 - math.exp(-1.0 / 12.0))  # 10 s of 120 s
        shown.append(Sample(at(minute), round(probe_celsius, 2), source="case"))
    said = Said(*shown, name="case")
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        book.keep_all([Event(at(0), "hall", "", "play"), *readings(*range(1, 29))])
        with Listener(Slow(said, 120.0), book, "hall", FakeClock()):
            said.emptied.wait()
        table = pair(of_logbook(book))
    flagged = (table.frame["time"][table.frame["flagged"]] - at(0)).dt.total_seconds() / 60.0
    # The first sample after the step shows it: 0.8 °C in ten seconds, the air 10 °C ahead.
    assert flagged.tolist() == pytest.approx(list(range(5, 15)))


def test_humidity_comes_from_whichever_thermometer_logged_it():
    damp = [
        Temperature(at(minute), "hall", 25.0, humidity_percent=40.0 + minute, source="case")
        for minute in (0, 10)
    ]
    frame = paired(*STAGE, *damp, *readings(5, 15, 30)).frame
    assert frame["celsius"].iloc[0] == pytest.approx(20.5)
    assert frame["humidity_percent"].tolist()[:2] == [45.0, 50.0]
    assert math.isnan(frame["humidity_percent"].iloc[2])
    assert frame["pressure_hpa"].isna().all()


def test_humidity_that_was_typed_holds_as_long_as_the_temperature_beside_it():
    typed = Temperature(at(0), "hall", 25.0, humidity_percent=40.0, source="typed")
    frame = paired(typed, *readings(12, 29)).frame
    assert frame["humidity_percent"].tolist() == [40.0, 40.0]
    with_probe = Temperature(at(25), "hall", 25.0, humidity_percent=60.0, source="case")
    frame = paired(typed, with_probe, *readings(12, 29)).frame
    assert frame["humidity_percent"].tolist() == [40.0, 60.0]


def rooms(*names, beside=()):
    """Return samples of thermometers, one a rehearsal, a day apart; others beside the first."""
    records = [
        replace(sample, rehearsal=f"day {day}", time=sample.time + timedelta(days=day))
        for day, name in [*enumerate(names), *((0, name) for name in beside)]
        for sample in probe(name, (0, 20.0), (5, 21.0))
    ]
    return of_folder(Folder(tuple(records)))


@pytest.mark.parametrize(
    ("names", "own"),
    [
        (("hall", "annex", "hall", "annex"), True),
        (("hall", "annex", "annex", "hall", "hall", "annex"), True),
        (("hall", "hall", "spare", "hall"), False),
        (("old", "old", "new", "new"), False),
    ],
)
def test_rooms_with_a_thermometer_each_are_told_from_a_stand_in(names, own):
    assert in_rooms_of_their_own(rooms(*names), sorted(set(names))) == own


def test_thermometers_that_were_in_one_rehearsal_have_no_rooms_of_their_own():
    logged = rooms("hall", "annex", "hall", "annex", beside=("annex",))
    assert not in_rooms_of_their_own(logged, ["hall", "annex"])
