"""Readings as a staff writes them down, beside the plan of their evening."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from drift.errors import InputError
from drift.findings import Finding
from drift.gig.compared import compare
from drift.gig.on_paper import read_paper
from drift.gig.plan import Assumptions
from drift.gig.planning import plan
from drift.tables.problems import TablesRefused
from drift.words.gig_compared import summary_of
from tests.gigs import minute, schedule, steady, trumpets, tuba

EVENING = schedule(("tune", 0, 10), ("play", 10, 40), ("rest", 40, 60), ("play", 60, 80))
BAND = [trumpets(name="firsts"), trumpets(name="seconds"), tuba(name="low", names=("Alder",))]


def written(tmp_path, text):
    path = tmp_path / "readings.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_sections_hours_and_order_are_as_on_paper(tmp_path):
    """Schedule from 18:00 on; rows by section; neither a rehearsal nor an instrument is named."""
    found = read_paper(
        written(tmp_path, "Section;Time;Note;Cents;Notes\nSeconds;6:20 PM;Bb4;4;\n"
                "Seconds;18:05;Bb4;-12,5;cold\nFirsts;6:20;Bb4;1;\nlow;19:05;Bb2;3;\n"),
        BAND, EVENING,
    )  # fmt: skip
    assert found["section"].tolist() == ["seconds", "seconds", "firsts", "low"]
    assert found["cents"].tolist() == [-12.5, 4.0, 1.0, 3.0]
    assert found["time"].tolist() == [minute(5), minute(20), minute(20), minute(65)]
    assert found["a4_hz"].isna().all()


def test_a_player_or_an_instrument_is_enough(tmp_path):
    text = (
        "time,player,instrument,cents\n18:20,Alder,,1\n18:21,,trumpets,2\n18:22,Wren,BBb tuba,3\n"
    )
    found = read_paper(written(tmp_path, text), BAND, EVENING)
    assert found["section"].tolist() == ["low", "firsts", "low"]


def test_an_evening_over_midnight_has_its_last_readings_on_the_next_day(tmp_path):
    late = schedule(("tune", 240, 250), ("play", 250, 400))  # 22:00 to 00:40
    found = read_paper(
        written(tmp_path, "time,section,cents\n0:20,low,1\n23:50,low,2\n"), BAND, late
    )
    assert found["time"].tolist() == [
        datetime(2026, 10, 9, 23, 50, tzinfo=UTC), datetime(2026, 10, 10, 0, 20, tzinfo=UTC),
    ]  # fmt: skip


@pytest.mark.parametrize(("column", "typed"), [("celsius", "10"), ("fahrenheit", "50")])
def test_the_air_may_be_written_beside_a_reading(tmp_path, column, typed):
    text = f"time,section,cents,{column}\n18:20,low,1,{typed}\n18:21,low,2,\n18:22,low,3,{typed}\n"
    found = read_paper(written(tmp_path, text), BAND, EVENING)
    assert found["celsius"].fillna(-99).tolist() == [10.0, -99.0, 10.0]


def test_everything_that_cannot_be_taken_is_named_at_once(tmp_path):
    text = (
        "time,section,cents,note\nsoon,low,1,\n18:20,kazoos,2,\n18:21,low,flat,\n18:22,low,,\n"
        "18:23,low,3,H4\n"
    )
    with pytest.raises(TablesRefused, match="5 problems") as refused:
        read_paper(written(tmp_path, text), BAND, EVENING)
    told = " ".join(one.told for one in refused.value.problems)
    for words in ("time 'soon'", "section 'kazoos' is not on the roster", "cents 'flat'",
                  "cents is empty", "'H4' is not a note"):  # fmt: skip
        assert words in told
    with pytest.raises(InputError, match="no column section, player or instrument"):
        read_paper(written(tmp_path, "time,cents\n18:20,1\n"), BAND, EVENING)


def test_they_are_compared_section_by_section_and_as_a_band(tmp_path):
    planned = plan(steady(5), BAND, EVENING, assumptions=Assumptions(a4_hz=440.0, draws=200))
    line = planned.planned_cents["seconds"][""]
    rows = f"seconds,6:20 PM,{line[20] + 3:.2f}\nfirsts,6:20 PM,{line[20] + 1:.2f}\n"
    readings = read_paper(written(tmp_path, f"section,time,cents\n{rows}"), BAND, EVENING)
    readings = readings.fillna({"a4_hz": 440.0})
    found = compare(planned, readings, readings[["time"]].assign(celsius=float("nan")))
    assert [s.section for s in found.sections] == ["firsts", "seconds"]
    assert found.band.readings == 2
    assert found.band.error_cents == pytest.approx(2.0, abs=0.01)
    assert found.to_json()["band"]["readings"] == 2
    assert "whole band" in summary_of(found)
    assert found.to_frame()["time"].max() < minute(20) + timedelta(minutes=1)


@pytest.fixture(scope="module")
def planned():
    return plan(steady(5), BAND, EVENING, assumptions=Assumptions(a4_hz=440.0, draws=200))


def beside(planned, tmp_path, rows):
    path = written(tmp_path, f"section,time,note,cents\n{rows}")
    readings = read_paper(path, BAND, planned.schedule).fillna({"a4_hz": 440.0})
    return compare(planned, readings, readings[["time", "celsius"]].dropna())


def test_rows_outside_the_timetable_are_counted_and_named_with_line_and_time(planned, tmp_path):
    """The timetable runs from 18:00 to 19:20: one AM for PM, one too early, one too late."""
    rows = "low,6:39 AM,B♭2,40\nlow,6:20 PM,bb2,3\nlow,5:20 PM,Bb2,-9\nlow,22:40,Bb2,1\n"
    found = beside(planned, tmp_path, rows)
    (outside,) = found.not_judged
    assert (outside.kind, outside.readings) == ("outside", 3)
    assert (outside.lowest_cents, outside.highest_cents) == (-9.0, 40.0)
    assert outside.written == ("line 2, 6:39 AM", "line 4, 5:20 PM", "line 5, 22:40")
    assert found.band.readings == 1
    assert found.to_frame()["note"].tolist() == ["Bb2"]
    text = summary_of(found)
    assert "not judged: 3 outside the timetable (−9 to +40 cents)" in text
    assert "line 2, 6:39 AM; line 4, 5:20 PM; line 5, 22:40" in text
    assert found.to_json()["not_judged"][0]["written"][0] == "line 2, 6:39 AM"


def test_where_all_rows_are_outside_the_timetable_they_are_named(planned, tmp_path):
    with pytest.raises(InputError, match="during the schedule: line 2, 6:39 AM; line 3, 6:40 AM"):
        beside(planned, tmp_path, "low,6:39 AM,,40\nlow,6:40 AM,,40\n")


def test_sections_that_are_not_planned_are_counted(planned, tmp_path):
    """Front line is on the roster with drums; snares have no pitch wherever they are."""
    aside = Finding("not_planned", {"sections": [["Front line", 7]]})
    with_drums = replace(planned, schedule=replace(planned.schedule, notices=(aside,)))
    rows = "low,18:20,,3\nfront line,18:20,,-4\nSnares,18:21,,5\nfront line,6:20 AM,,9\n"
    found = beside(with_drums, tmp_path, rows)
    assert [(one.kind, one.readings) for one in found.not_judged] == [
        ("not_planned", 2), ("outside", 1),
    ]  # fmt: skip
    assert "not judged: 2 of sections that are not planned (−4 to +5 cents)" in summary_of(found)
