"""Schedules from calendars: taken by the words of their titles, or refused by name."""

from datetime import UTC, datetime, timedelta

import pytest

from drift.errors import InputError
from drift.gig.calendar import read_calendar
from drift.gig.planning import plan
from drift.gig.weather import constant_forecast
from drift.tables.problems import TablesRefused
from drift.words.gig_warnings import warning_text
from tests.gigs import trumpets

DAY = datetime(2026, 10, 16, tzinfo=UTC)
COLD = constant_forecast(8.0, DAY, DAY + timedelta(days=1))
HEAD = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//invented//band//EN\r\n"


def written(tmp_path, *events):
    body = "".join(
        f"BEGIN:VEVENT\r\nUID:{n}@invented\r\nDTSTAMP:20261001T000000Z\r\n"
        f"DTSTART{start}\r\nDTEND{end}\r\nSUMMARY:{summary}\r\n"
        + "".join(f"DESCRIPTION:{text}\r\n" for text in description)
        + "END:VEVENT\r\n"
        for n, (start, end, summary, *description) in enumerate(events)
    )
    path = tmp_path / "evening.ics"
    path.write_bytes((HEAD + body + "END:VCALENDAR\r\n").encode())
    return path


def test_a_whole_day_is_left_out_and_so_is_what_the_user_does_not_need(tmp_path):
    path = written(
        tmp_path,
        (";VALUE=DATE:20261016", ";VALUE=DATE:20261017", "Senior night"),
        (":20261016T170000Z", ":20261016T173000Z", "Photos"),
        (":20261016T173000Z", ":20261016T180000Z", "Buses to the stadium 65 F"),
        (":20261016T180000Z", ":20261016T190000Z", "Half-time show"),
    )
    found = read_calendar(path, words={"Photos": "unused"})
    assert [(e.activity, e.occupied) for e in found.entries] == [("rest", "away"), ("play", "")]
    assert warning_text(found.notices[0]) == "entries for a whole day were left out: Senior night"


def test_titles_say_what_is_done(tmp_path):
    zone = ";TZID=America/New_York:"
    found = read_calendar(
        written(
            tmp_path,
            (f"{zone}20261016T183000", f"{zone}20261016T190000", "Half-time show"),
            (f"{zone}20261016T170000", f"{zone}20261016T171500", "Tuning behind the stand"),
            (f"{zone}20261016T171500", f"{zone}20261016T180000", "Bus to the field"),
        )
    )
    assert [e.activity for e in found.entries] == ["tune", "rest", "rest", "play"]
    assert found.start.utcoffset() == timedelta(hours=-4)
    assert "nothing is scheduled from 18:00 to 18:30" in warning_text(found.notices[0])


@pytest.mark.parametrize(
    ("title", "description", "celsius", "activity"),
    [
        ("Tune in the hall 21 C", "", 21.0, "tune"),
        ("Tune in the hall, 68°F", "", 20.0, "tune"),
        ("Tune", "celsius 21", 21.0, "tune"),
        ("Tune", "Doors at five.\\nfahrenheit: 68\\nactivity: play", 20.0, "play"),
        ("Pre-game (stands)", "activity play", None, "play"),
        ("Parent meeting", "activity = rest", None, "rest"),
        ("Tune", "offset_celsius 2", None, "tune"),
        ("Play in room 21", "Call 555 0100", None, "play"),
    ],
)
def test_an_entry_gives_its_temperature_and_activity(
    tmp_path, title, description, celsius, activity
):
    event = (":20261016T170000Z", ":20261016T171500Z", title, description)
    rest = (":20261016T180000Z", ":20261016T181500Z", "Concert")
    entry = read_calendar(written(tmp_path, event, rest)).entries[0]
    assert entry.celsius == (None if celsius is None else pytest.approx(celsius))
    assert (entry.activity, entry.remark) == (activity, title)
    assert entry.offset_celsius == (2.0 if "offset" in description else 0.0)


def test_a_place_is_named_and_a_room_without_a_temperature_is_asked_about(tmp_path):
    path = written(
        tmp_path,
        (":20261016T170000Z", ":20261016T171500Z", "Tuning"),
        (":20261016T180000Z", ":20261016T181500Z", "Concert"),
    )
    path.write_text(path.read_text().replace("Tuning", "Tuning\nLOCATION:Band hall"))
    evening = read_calendar(path)
    assert [e.remark for e in evening.entries] == ["Tuning, Band hall", "nothing scheduled",
                                                   "Concert"]  # fmt: skip
    (asked,) = [one for one in plan(COLD, [trumpets()], evening).warnings
                if one.kind == "room_without_temperature"]  # fmt: skip
    text = warning_text(asked)
    assert "17:00 (Tuning, Band hall)" in text
    assert "taken to be as cold as the forecast" in text


def test_what_a_description_names_wrongly_is_refused(tmp_path):
    path = written(
        tmp_path,
        (":20261016T170000Z", ":20261016T171500Z", "Concert", "activity singing"),
        (":20261016T180000Z", ":20261016T181500Z", "Concert", "celsius warm"),
        (":20261016T190000Z", ":20261016T191500Z", "Concert", "celsius 210"),
    )
    every = r"(?s)activity 'singing' is not known.*celsius 'warm' is not a number.*\(2 rows alike\)"
    with pytest.raises(TablesRefused, match=every):
        read_calendar(path)


def test_what_is_not_understood_is_named_all_at_once(tmp_path):
    path = written(
        tmp_path,
        (":20261016T170000Z", ":20261016T171500Z", "Uniforms"),
        (";VALUE=DATE:20261016", ";VALUE=DATE:20261017", "Concert"),
        (":20261016T180000", ":20261016T181500", "Parade"),
    )
    both = r"(?s)'Uniforms' does not say.*no zone"
    with pytest.raises(TablesRefused, match=both) as refused:
        read_calendar(path)
    assert len(refused.value.problems) == 2


def test_what_is_no_calendar_is_refused(tmp_path):
    path = tmp_path / "evening.ics"
    path.write_text("play at seven", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be read as a calendar"):
        read_calendar(path)


def test_a_title_can_be_given_its_activity(tmp_path):
    path = written(tmp_path, (":20261016T170000Z", ":20261016T171500Z", "Uniforms"),
                   (":20261016T171500Z", ":20261016T173000Z", "Concert"))  # fmt: skip
    found = read_calendar(path, words={"Uniforms": "rest"})
    assert [entry.activity for entry in found.entries] == ["rest", "play"]
