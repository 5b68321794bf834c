"""What an examination finds in rehearsals, and what it leaves in peace."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from drift.errors import InputError
from drift.logbook.book import Logbook
from drift.logbook.records import TYPED, Event, Notice, Reading, Temperature
from drift.logbook.rehearsals import of_logbook
from drift.pairing.examination import close_interrupted, examine, suspicious
from drift.words.examination import finding_text

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def at(minute: float) -> datetime:
    return START + timedelta(minutes=minute)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as opened:
        yield opened


def temperatures(*pairs, source="stage"):
    return [Temperature(at(minute), "hall", celsius, source=source) for minute, celsius in pairs]


def clock(minute: float) -> str:
    return f"{at(minute):%H:%M} UTC"


def reading(minute, instrument="double horn"):
    return Reading(at(minute), "hall", "Rowan", instrument, "", "F4", 5.0)


def notice(minute, kind, text="", source="stage"):
    return Notice(at(minute), "hall", source, kind, text)


def found(book, *records, **options):
    book.keep_all(list(records))
    return [(one.kind, finding_text(one)) for one in suspicious(of_logbook(book), **options)]


def test_a_quiet_rehearsal_has_nothing_to_look_at(book):
    ramp = temperatures(*((n / 2, 18 + n / 60) for n in range(240)))
    assert found(book, *ramp, *(reading(n) for n in range(5, 100, 5))) == []
    examined = examine(book)
    assert examined.intact
    assert examined.findings == ()
    assert "file intact; no suspicious values" in examined.summary()


def test_readings_that_are_all_taken_as_the_playing_begins(book):
    play = Event(at(0), "hall", "", "play")
    ramp = temperatures(*((n / 2, 18 + n / 60) for n in range(240)))
    (one,) = found(book, play, *ramp, *(reading(n / 10) for n in range(2, 6)))
    text = (
        "hall: all 4 readings were taken in the first 30 s of playing, so they cannot show warm-up"
    )
    assert one == ("all at once", text)
    assert found(book, reading(0.51)) == []  # 30.6 s


def test_who_came_already_warm_has_no_warm_up_to_show(book):
    play = Event(at(0), "hall", "", "play", already_warm=True)
    ramp = temperatures(*((n / 2, 18 + n / 60) for n in range(240)))
    assert found(book, play, *ramp, *(reading(n / 10) for n in range(2, 6))) == []


def test_a_rehearsal_of_several_evenings_is_named(book):
    day = 24 * 60
    air = temperatures(*((day * night + n, 20.0 + n / 60) for night in (0, 7) for n in (0, 5, 9)))
    (one,) = found(book, *air, reading(3), reading(6), reading(7 * day + 3))
    kind, text = one
    assert kind == "several evenings"
    assert text.startswith("hall: 2 evenings, from 20")
    assert "give each evening a name of its own" in text


def test_one_reading_is_not_all_at_once(book):
    assert found(book, *temperatures((0, 20.0), (1, 20.1)), reading(0.1)) == []


def test_the_one_who_examines_is_not_said_to_write(book):
    book.start("hall", at(0))
    (one,) = examine(book).findings
    assert finding_text(one) == "hall has no end; the test writes now"
    (one,) = examine(book, writer="the test").findings
    assert finding_text(one) == "hall has no end; drift log goes on with it"


def test_a_jump(book):
    (one,) = found(book, *temperatures((0, 20.0), (1, 20.1), (2, 31.0), (3, 31.1)))
    assert one == ("jump", "hall, stage: 20.1 to 31.0 °C at 2026-10-03 17:02 UTC")


def test_a_bad_cable_does_not_fill_the_screen(book):
    lines = found(book, *temperatures(*((n, 20.0 + 15.0 * (n % 2)) for n in range(100))))
    assert [kind for kind, _ in lines] == ["jump"] * 6
    assert lines[-1][1] == "hall, stage: and 94 more"


def test_two_thermometers_in_different_places_are_no_jump(book):
    stage = temperatures(*((n, 20.0 + n / 100) for n in range(10)))
    outdoors = temperatures(*((n + 0.1, 5.0 + n / 100) for n in range(10)), source="outdoors")
    assert found(book, *stage, *outdoors) == []


def test_a_stuck_thermometer(book):
    moving = temperatures(*((n, 20 + n / 100) for n in range(30)))
    stuck = temperatures(*((n, 21.5) for n in range(30, 100)))
    (one,) = found(book, *moving, *stuck)
    assert one == (
        "stuck",
        "hall, stage: 21.50 °C without a change for 69 minutes from 2026-10-03 17:30 UTC",
    )


def test_the_same_value_after_a_gap_or_for_less_than_an_hour_is_not_stuck(book):
    assert found(book, *temperatures(*((n, 21.5) for n in range(59)))) == []
    assert found(book, *temperatures((100, 21.5), (130, 21.5), (160, 21.5), (190, 21.5))) == []


def test_what_a_person_typed_is_neither_stuck_nor_a_jump(book):
    typed = temperatures((0, 20.0), (1, 31.0), (9, 31.0), (18, 31.0), (80, 31.0), source=TYPED)
    assert found(book, *typed) == []


def test_absences_and_refused_lines_are_one_line_each(book):
    lines = found(
        book,
        *temperatures(*((n, 20 + n / 100) for n in range(3))),
        notice(3, "away", "unplugged?"),
        notice(4, "away", "still"),
        notice(5.5, "back", "back after 150 s"),
        notice(6, "refused", "no number: 'x' (x)"),
        notice(7, "refused", "another"),
        notice(8, "garbage", "wrong rate?"),
        notice(9, "away", "it says nothing"),
        notice(10, "dialect", "speaks nmea"),
    )
    assert lines == [
        ("offline", "hall, stage: for 2.5 minutes from 2026-10-03 17:03 UTC (unplugged?)"),
        (
            "offline",
            "hall, stage: from 2026-10-03 17:09 UTC (it says nothing), and did not come back",
        ),
        (
            "refused",
            "hall, stage: 3 notices of lines that are no temperature, such as: no number: 'x' (x)",
        ),
    ]


def test_a_step_of_the_clock_and_lost_samples_are_shown(book):
    lines = found(
        book,
        notice(1, "step", "the computer's clock was set back by 3600.0 s", "clock"),
        notice(2, "lost", "50 samples were lost: too many waited for the logbook"),
    )
    assert lines == [
        ("step", "hall: the computer's clock was set back by 3600.0 s"),
        ("lost", "hall: 50 samples were lost: too many waited for the logbook"),
    ]


def test_readings_without_a_temperature_are_told_with_their_times(book):
    lines = found(book, *temperatures((0, 20.0)), reading(5), reading(25), reading(26))
    assert lines == [
        (
            "no temperature",
            f"hall: 2 readings from {clock(25)} to {clock(26)} with no temperature within 10 "
            f"minutes; add what was read then: at 17:25 temp and the degrees",
        ),
    ]


def test_a_slide_beyond_its_travel(book):
    moves = [
        Event(at(n), "hall", "Rowan", "slide", "main", millimetres)
        for n, millimetres in enumerate((14.0, 45.0, 45.5))
    ]
    assert found(book, *moves, travel={"main": 45.0, "F": 30.0}) == [
        ("beyond travel", "hall: main at 45.5 mm, its travel is 45 mm"),
    ]
    assert found(book) == []  # no travel is known


def test_an_instrument_that_is_in_no_catalogue(book):
    lines = found(book, *temperatures((0, 20.0)), reading(1, "zinc trumpet"))
    assert [kind for kind, _ in lines] == ["unknown instrument"]
    assert "zinc trumpet" in lines[0][1]


def test_notes_that_no_such_instrument_sounds(book):
    notes = [Reading(at(n), "hall", "Rowan", "double horn", "F", "F9", 3.0) for n in (5, 9)]
    fine = Reading(at(12), "hall", "Rowan", "double horn", "F", "F4", 3.0)
    assert found(book, *temperatures((0, 20.0), (10, 20.5)), *notes, fine) == [
        (
            "beyond compass",
            f"hall: Rowan, F9, 2 readings from {clock(5)} to {clock(9)}; the double horn sounds "
            "B1 to F5: look whether note or instrument was mistyped",
        )
    ]


def test_many_notes_beyond_a_compass_do_not_fill_the_screen(book):
    notes = [
        Reading(at(n), "hall", f"player {n}", "double horn", "F", "F9", 3.0) for n in range(1, 9)
    ]
    lines = found(book, *temperatures((0, 20.0), (8, 20.5)), *notes)
    assert [kind for kind, _ in lines] == ["beyond compass"] * 6
    assert lines[-1][1] == "and 3 more"


def test_readings_whose_side_cannot_be_inferred(book):
    moves = [Event(at(n), "hall", "Rowan", "slide", "F", mm) for n, mm in ((1, 8.0), (6, 12.0))]
    readings = [reading(5), reading(8)]  # the first while the slide was where it is counted from
    named = Reading(at(9), "hall", "Rowan", "double horn", "F", "F4", 5.0)
    assert found(book, *temperatures((0, 20.0), (8, 20.5)), *moves, *readings, named) == [
        (
            "side not stated",
            f"hall: Rowan, 1 reading at {clock(8)}; slides were moved, so on which side it was "
            "played cannot be inferred and no answer uses it: name the side with each (F4 +6 Bb)",
        )
    ]


def test_an_interrupted_rehearsal_is_shown_until_it_is_closed_at_its_last_entry(book):
    book.start("hall", at(0))
    book.keep(reading(5))
    book.keep_all(temperatures((4, 20.0), (6, 20.1)))
    (finding,) = examine(book).findings
    assert finding.kind == "interrupted"
    assert finding_text(finding) == "hall has no end; the test writes now"
    with pytest.raises(InputError, match="no rehearsal 'Tuesday' was interrupted") as refusal:
        close_interrupted(book, "Tuesday")
    assert refusal.value.remedy == "those interrupted: hall"
    close_interrupted(book, "hall")
    assert examine(book).findings == ()
    assert list(book.rows("events"))[-1]["time"] == at(6)
    with pytest.raises(InputError, match="was interrupted"):
        close_interrupted(book, "hall")
