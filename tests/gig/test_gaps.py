"""Gaps of a timetable: in a room that the rows around them name, or outdoors, and both told."""

import io
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from pypdf import PdfReader

from drift.gig.gaps import rest_between
from drift.gig.plan import Assumptions
from drift.gig.planning import plan
from drift.gig.timetable import Entry, arrange
from drift.gig.weather import constant_forecast
from drift.sheets.plan_page import plan_page
from drift.sheets.plan_sheets import director_sheet
from drift.words.gig_timetable import timetable_lines
from drift.words.gig_warnings import warning_text
from tests.gigs import START, minute, steady, trumpets

HALL = "concert hall"


def rows(before=(22.0, HALL), after=(22.0, HALL), minutes=5, offsets=(0.0, 0.0)):
    """A tune and a concert with nothing between them, each with its temperature and remark."""
    end = minute(10 + minutes)
    tune = Entry(minute(0), minute(10), "tune", offsets[0], before[0], before[1])
    return [tune, Entry(end, end + timedelta(minutes=50), "play", offsets[1], after[0], after[1])]


def gap(*args, **kwargs):
    return rest_between(*rows(*args, **kwargs))[0]


def told(*args, **kwargs):
    return warning_text(rest_between(*rows(*args, **kwargs))[1])


@pytest.mark.parametrize(
    ("before", "after", "celsius"),
    [
        ((22.0, HALL), (22.0, "Concert hall, air conditioning"), 22.0),
        ((22.0, HALL), (24.0, "in the hall"), 23.0),  # one room that warms: its middle
        ((22.0, ""), (22.0, "Mozart"), 22.0),
        ((22.0, HALL), (22.0, ""), 22.0),
        ((24.0, "church"), (20.0, "Concert, church"), 22.0),
        ((22.0, "Tune in the hall 22 C"), (22.0, "Concert in the hall 22 C"), 22.0),
        ((22.0, "Tuning band hall"), (22.0, "Concert, Band hall"), 22.0),
        ((22.0, "band room"), (22.0, HALL), None),  # two rooms: what lies between is not known
        ((22.0, "room 1"), (22.0, "room 2"), None),
        ((22.0, "Bus"), (22.0, HALL), None),
        ((24.0, "Warm-up, band room"), (22.0, "Warm-up, hall"), None),
        ((24.0, ""), (22.0, ""), None),
        ((None, HALL), (22.0, HALL), None),
        ((22.0, HALL), (None, "field"), None),
    ],
)
def test_the_air_of_a_gap(before, after, celsius):
    assert gap(before, after).celsius == celsius
    backwards = gap(after, before)
    assert backwards.celsius == celsius


def test_a_gap_is_a_plain_rest_with_the_offset_that_both_rows_have():
    found = gap((None, "field"), (None, "field"), offsets=(3.0, 3.0))
    assert (found.activity, found.celsius, found.offset_celsius) == ("rest", None, 3.0)
    assert gap((None, ""), (None, ""), offsets=(3.0, 1.0)).offset_celsius == 0.0
    # A temperature that is typed with an offset is one air: both together.
    warm = gap((22.0, HALL), (22.0, HALL), offsets=(2.0, 0.0))
    assert warm.celsius + warm.offset_celsius == 23.0
    assert (found.occupied, found.share, found.added, found.warm_up) == ("", None, False, False)


def test_what_is_told_of_a_gap():
    begin = "nothing is scheduled from 18:10 to 18:15: taken as rest "
    assert told() == f"{begin}in the same place at 22 °C (concert hall)"
    assert told((22.0, ""), (22.0, "")) == f"{begin}in the same place at 22 °C"
    beside = "; if the band stays inside, add a row with the temperature there"
    assert told((24.0, "band room")) == f"{begin}outdoors, as forecast{beside}"
    assert told((22.0, HALL), (None, "")) == f"{begin}outdoors, as forecast{beside}"
    assert told((None, ""), (None, "")) == f"{begin}outdoors, as forecast"
    assert told(minutes=120).endswith("(concert hall); if the band goes elsewhere, add a row")


def words(pdf):
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split()
    )


def hot(entries):
    return plan(steady(32), [trumpets()], arrange(entries), assumptions=Assumptions(sun=True))


def test_a_gap_in_a_hall_is_planned_as_a_row_in_the_hall():
    tune, concert = rows()
    rest = Entry(tune.end, concert.start, "rest", celsius=22.0, remark=HALL)
    found, wanted = hot([tune, concert]), hot([tune, rest, concert])
    np.testing.assert_allclose(found.celsius, wanted.celsius)
    np.testing.assert_allclose(
        found.courses["trumpets"].cents, wanted.courses["trumpets"].cents, atol=1e-9
    )
    assert found.cautions == wanted.cautions == ()
    assert found.watch == ()


def test_a_gap_outdoors_is_told_with_its_temperature():
    tune, _ = rows((24.0, "band room"))
    _, concert = rows()
    found = hot([tune, concert])
    (text,) = [warning_text(one) for one in found.warnings if one.kind == "gap_between_rooms"]
    assert "taken as rest outdoors at 32 °C; if the band stays inside, add a row" in text
    assert "hot metal" in {caution.kind for caution in found.cautions}
    # The director reads it too: the sheet has what follows from it.
    for shown in (words(director_sheet(found)), plan_page(found)):
        assert "taken as rest outdoors at 32 °C" in " ".join(shown.split())
    assert "outdoors at 90 °F" in words(director_sheet(found, fahrenheit=True))
    assert found.summary().count("nothing is scheduled") == 0
    assert "Nothing is scheduled" in found.summary()


def test_a_gap_outdoors_in_changing_air_has_a_range():
    forecast = constant_forecast(20.0, START - timedelta(hours=1), START + timedelta(hours=6))
    rising = forecast.table.assign(celsius=np.linspace(20.0, 34.0, len(forecast.table)))
    band = arrange([Entry(minute(0), minute(30), "tune"), Entry(minute(150), minute(180), "play")])
    found = plan(type(forecast)(rising), [trumpets()], band)
    (text,) = [warning_text(one) for one in found.warnings if one.kind == "nothing_scheduled"]
    assert text.endswith("taken as rest outdoors at 23 to 27 °C")
    assert warning_text(found.warnings[0], fahrenheit=True).endswith("outdoors at 73 to 81 °F")


def test_a_check_tells_gaps_beside_a_room():
    lines = [" ".join(line.split()) for line in timetable_lines(arrange(rows()))]
    assert "18:10–18:15 rest 22 °C nothing scheduled" in lines
    assert any(line.startswith("nothing is scheduled from 18:10") for line in lines)
    outside = arrange(rows((None, ""), (None, "")))
    assert not any("nothing is scheduled" in line for line in timetable_lines(outside))


def test_a_gap_over_the_hour_when_clocks_go_back():
    berlin = ZoneInfo("Europe/Berlin")
    night = [datetime(2026, 10, 25, hour, tzinfo=berlin) for hour in (1, 2, 4, 5)]
    band = arrange([Entry(*night[:2], "tune"), Entry(*night[2:], "play")])
    found = plan(constant_forecast(8.0, *night[::3]), [trumpets()], band)
    (text,) = [warning_text(one) for one in found.warnings if one.kind == "nothing_scheduled"]
    assert text.endswith("from 02:00 to 04:00: taken as rest outdoors at 8 °C")
