"""Schedules from calendars: taken by the words of their titles, or refused by name."""

from datetime import timedelta

import pytest

from drift.errors import InputError
from drift.gig.calendar import read_calendar
from drift.tables.problems import TablesRefused
from drift.words.gig_warnings import warning_text

HEAD = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//invented//band//EN\r\n"


def written(tmp_path, *events):
    body = "".join(
        f"BEGIN:VEVENT\r\nUID:{n}@invented\r\nDTSTAMP:20261001T000000Z\r\n"
        f"DTSTART{start}\r\nDTEND{end}\r\nSUMMARY:{summary}\r\nEND:VEVENT\r\n"
        for n, (start, end, summary) in enumerate(events)
    )
    path = tmp_path / "evening.ics"
    path.write_bytes((HEAD + body + "END:VCALENDAR\r\n").encode())
    return path


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


def test_what_is_not_understood_is_named_all_at_once(tmp_path):
    path = written(
        tmp_path,
        (":20261016T170000Z", ":20261016T171500Z", "Uniforms"),
        (";VALUE=DATE:20261016", ";VALUE=DATE:20261017", "Concert"),
        (":20261016T180000", ":20261016T181500", "Parade"),
    )
    all_three = r"(?s)'Uniforms' does not say.*no time.*no zone"
    with pytest.raises(TablesRefused, match=all_three) as refused:
        read_calendar(path)
    assert len(refused.value.problems) == 3


def test_what_is_no_calendar_is_refused(tmp_path):
    path = tmp_path / "evening.ics"
    path.write_text("play at seven", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be read as a calendar"):
        read_calendar(path)
