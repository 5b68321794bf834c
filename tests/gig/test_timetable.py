"""Schedules: over midnight, with gaps, and what they say of playing and tuning."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pandas as pd
import pytest

from drift.errors import InputError
from drift.gig.activities import read_activity
from drift.gig.timetable import Entry, arrange, read_schedule
from drift.words.gig_timetable import timetable_lines
from drift.words.gig_warnings import warning_text
from tests.gigs import minute, schedule

EAST = timezone(timedelta(hours=-4))


def written(tmp_path, rows, header="start,end,activity"):
    path = tmp_path / "schedule.csv"
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


def test_over_midnight(tmp_path):
    found = read_schedule(
        written(
            tmp_path,
            [
                "2026-12-31T22:30-04:00,23:40,play",
                "23:50,00:05,tune",
                "00:05,2027-01-01T00:45-04:00,play",
            ],
        )
    )
    assert found.start == datetime(2026, 12, 31, 22, 30, tzinfo=EAST)
    assert found.end == datetime(2027, 1, 1, 0, 45, tzinfo=EAST)
    assert [entry.activity for entry in found.entries] == ["play", "rest", "tune", "play"]
    assert list(map(warning_text, found.notices)) == [
        "nothing is scheduled from 23:40 to 23:50: taken as rest outdoors, as forecast"
    ]


def test_offsets_and_temperatures_of_entries(tmp_path):
    path = written(
        tmp_path,
        [
            "2026-10-09T18:00Z,18:20,play,9,,",
            "18:20,18:40,rest,,68,band room",
            "18:40,19:00,tune,,,",
        ],
        "start,end,activity,offset_fahrenheit,fahrenheit,remark",
    )
    first, second, third = read_schedule(path).entries
    assert first.offset_celsius == pytest.approx(5)
    assert second.celsius == pytest.approx(20)
    assert second.remark == "band room"
    assert (third.offset_celsius, third.celsius) == (0.0, None)


def test_times_of_day_belong_to_the_date_given(tmp_path):
    path = written(tmp_path, ["18:30,21:00,play"])
    with pytest.raises(InputError, match="line 2: start '18:30' has no date"):
        read_schedule(path)
    found = read_schedule(path, date=datetime(2026, 10, 9, tzinfo=EAST))
    assert found.start == datetime(2026, 10, 9, 18, 30, tzinfo=EAST)


def test_one_zone_where_the_file_changes_offset(tmp_path):
    found = read_schedule(
        written(
            tmp_path,
            [
                "2026-11-01T00:30-04:00,2026-11-01T01:30-04:00,play",
                "2026-11-01T01:30-05:00,2026-11-01T02:00-05:00,play",
            ],
        )
    )
    assert {entry.start.tzinfo for entry in found.entries} == {EAST}
    lengths = [(e.end - e.start) / timedelta(minutes=1) for e in found.entries]
    assert lengths == [60, 60, 30]


@pytest.mark.parametrize(
    ("rows", "problem"),
    [
        (["2026-10-09T18:00Z,2026-10-09T17:00Z,play"], "line 2: it ends at .* not after its start"),
        (["2026-10-09T18:00Z,18:00,play"], "line 2: it ends at 18:00, not after"),
        (["2026-10-09T18:00Z,19:00,dance"], "line 2: activity 'dance' is not known"),
        (
            ["2026-10-09T18:00Z,19:00,play", "2026-10-09T18:30Z,20:00,rest"],
            "line 3: .* overlaps line 2",
        ),
        (["2026-10-09T18:00Z,19:00,rest"], "nobody plays"),
        (["2026-10-09T18:00Z,2027-10-09T19:00Z,play"], "lasts from 2026-10-09 to 2027-10-09"),
        (["2026-10-09T18:00Z,soon,play"], "line 2: end 'soon' is not a date and time"),
    ],
)
def test_schedules_that_are_refused(tmp_path, rows, problem):
    with pytest.raises(InputError, match=problem):
        read_schedule(written(tmp_path, rows))


def test_entries_that_overlap_are_refused():
    with pytest.raises(InputError, match="play from 18:10 overlaps tune from 18:00 to 18:20"):
        arrange([Entry(minute(0), minute(20), "tune"), Entry(minute(10), minute(30), "play")])


def test_instants_end_with_the_schedule():
    found = schedule(("play", 0, 10))
    assert len(found.instants()) == 11
    assert found.instants(4.0)[-1] == pd.Timestamp(found.end)
    assert len(found.instants(4.0)) == 4
    assert found.entry_at(found.instants()).tolist() == [0] * 11


def test_blocks_follow_the_tunes():
    blocks = schedule(
        ("play", 0, 5), ("tune", 5, 10), ("play", 10, 30), ("tune", 40, 50), ("play", 50, 60)
    ).blocks()
    assert [(b.tune_at, b.ready, b.end, b.scheduled) for b in blocks] == [
        (minute(5), minute(10), minute(40), True),
        (minute(40), minute(50), minute(60), True),
    ]


def test_without_a_tune_slides_are_set_before_playing():
    (block,) = schedule(("rest", 0, 30), ("play", 30, 60)).blocks()
    assert (block.tune_at, block.ready, block.end) == (minute(30), minute(30), minute(60))
    assert not block.scheduled
    assert block.tune_at.tzinfo is UTC


def test_a_warm_up_at_a_temperature_of_its_own_is_not_what_the_slides_are_set_for():
    entries = schedule(("play", 0, 20), ("rest", 20, 30), ("play", 30, 60)).entries
    indoors = arrange([replace(entries[0], celsius=21.0), *entries[1:]])
    (block,) = indoors.blocks()
    assert (block.tune_at, block.end) == (minute(30), minute(60))
    # A concert in a hall has no field: it begins with the first playing.
    hall = arrange([replace(entry, celsius=21.0) for entry in entries])
    assert hall.blocks()[0].tune_at == minute(0)


def test_times_that_run_backwards_are_refused_with_both_rows(tmp_path):
    path = written(
        tmp_path, ["2026-10-09T18:00Z,18:30,play", "18:20,18:40,rest", "18:40,19:00,play"]
    )
    with pytest.raises(InputError, match=r"line 3: start 18:20 is before 18:30 on line 2"):
        read_schedule(path)
    with pytest.raises(InputError, match=r"line 2: end 17:00 is before 18:00 on line 2"):
        read_schedule(written(tmp_path, ["2026-10-09T18:00Z,17:00,play"]))


def test_short_playing_in_the_stands_has_a_share_of_the_time(tmp_path):
    path = written(
        tmp_path,
        ["2026-10-09T18:00Z,18:20,stands", "18:20,18:40,stands 0.2", "18:40,18:46,warm",
         "18:46,19:00,play"],
    )  # fmt: skip
    assert [entry.duty for entry in read_schedule(path).entries] == [0.1, 0.2, 1.0, 1.0]
    with pytest.raises(InputError, match="activity 'stands 2' is not known"):
        read_schedule(written(tmp_path, ["2026-10-09T18:00Z,18:20,stands 2"]))
    with pytest.raises(InputError, match=r"activity 'rest 0\.2' is not known"):
        read_schedule(written(tmp_path, ["2026-10-09T18:00Z,18:20,rest 0.2"]))


def test_a_word_with_brackets_is_what_the_user_says_it_is():
    words = {"Off (3rd quarter)": "rest"}
    assert read_activity("Off (3rd quarter)", words) == ("rest", None)
    assert read_activity("Playoff", {"off": "rest"}) is None


def test_what_a_rest_and_a_warm_up_are_for(tmp_path):
    path = tmp_path / "schedule.csv"
    path.write_text(
        "start,end,activity,remark\n"
        "2026-10-09T17:00Z,17:20,Warm up,Band room\n17:20,17:40,Bus,\n"
        "17:40,17:50,rest,walk to the field\n17:50,17:55,rest,\n"
        "17:55,18:00,stands,no playing\n18:00,18:30,play,field\n"
    )  # fmt: skip
    found = read_schedule(path)
    occupied = ["", "away", "walking", "", "silent", ""]
    assert [entry.occupied for entry in found.entries] == occupied
    assert [entry.warm_up for entry in found.entries] == [True, *[False] * 5]
    assert found.entries[0].remark == "Warm up, Band room"
    assert found.first_playing == found.entries[-1]


def test_a_timetable_written_with_am_and_pm_is_told_so(tmp_path):
    path = tmp_path / "schedule.csv"
    for start, end, half_days in (("6:25 PM", "6:35 p.m.", True), ("18:25", "18:35", False)):
        path.write_text(f"start,end,activity\n10/30/2026 {start},{end},play\n", encoding="utf-8")
        assert read_schedule(path, zone=UTC).half_days == half_days


def test_activities_by_the_words_that_people_write(tmp_path):
    path = tmp_path / "schedule.csv"
    rows = ["2026-10-09T18:00Z,18:30,Half-time show", "18:30,18:40,Bus", "18:40,18:50,TUNING",
            "18:50,19:00,drumline feature", "19:00,19:10,play"]  # fmt: skip
    path.write_text("start,end,activity\n" + "\n".join(rows), encoding="utf-8")
    with pytest.raises(InputError, match="'drumline feature' is not known") as refused:
        read_schedule(path)
    for way in ("play' where the band plays then", "rest' where it rests"):
        assert f"--columns 'drumline feature={way}" in refused.value.remedy
    found = read_schedule(path, columns={"Drumline feature": "rest"}).entries
    assert [entry.activity for entry in found] == ["play", "rest", "tune", "rest", "play"]
    assert [entry.remark for entry in found] == [
        "Half-time show", "Bus", "TUNING", "drumline feature", "",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "words",
    ["Stands (no playing)", "Stands - no playing", "Stands, quiet", "No playing (stands)",
     "Wait in stands", "Waiting in the stands", "stands 0", "Silent in the stands", "Quiet",
     "Stands, not playing", "Rest in the stands", "Walk to the stands", "Line up, do not play",
     "Line up", "Line-up for the show", "Lineup"],
)  # fmt: skip
def test_words_that_say_no_playing_are_a_rest(words):
    assert read_activity(words) == ("rest", None)


@pytest.mark.parametrize(
    ("words", "activity"),
    [("Quiet warm-up", "play"), ("Tune, quiet", "tune"), ("Play quietly", "play"),
     ("Stands", "stands"), ("Stand tunes", "stands"), ("Play in the stands", "stands")],
)  # fmt: skip
def test_quiet_playing_is_playing(words, activity):
    assert read_activity(words) == (activity, None)
    assert read_activity("Stands, quiet", {"stands": "stands"}) == ("stands", None)


@pytest.mark.parametrize(
    "words",
    ["Take stands", "Take the stands", "To the stands", "Move to stands", "Back to the stands",
     "March into the stands", "Leave the stands"],
)  # fmt: skip
def test_a_way_to_the_stands_is_asked_about(words):
    assert read_activity(words) is None
    assert read_activity(words, {words: "rest"}) == ("rest", None)
    assert read_activity(f"{words}, play") == ("play", None)


def test_a_remark_makes_a_rest_of_the_stands(tmp_path):
    rows = ["2026-10-09T18:00Z,18:20,stands,do not play", "18:20,18:40,Stands 0,stands",
            "18:40,19:00,play,no playing on beat 4", "19:00,19:20,stands,pep tunes"]  # fmt: skip
    found = read_schedule(written(tmp_path, rows, "start,end,activity,remark")).entries
    assert [(entry.activity, entry.remark) for entry in found] == [
        ("rest", "stands, do not play"),
        ("rest", "stands"),
        ("play", "no playing on beat 4"),
        ("stands", "pep tunes"),
    ]


def test_where_instruments_were_before_is_not_known_where_a_timetable_begins_outdoors(tmp_path):
    def begins(*rows):
        path = written(tmp_path, rows, "start,end,activity,celsius")
        return read_schedule(path).begins_outdoors

    first = "2026-11-06T18:20Z,18:35,tune,"
    assert begins(first, "19:45,19:55,play,")
    assert begins("2026-11-06T18:15Z,18:20,walk,", "18:20,18:35,tune,")
    assert not begins("2026-11-06T18:00Z,18:15,rest,20", "18:20,18:35,tune,")
    assert not begins("2026-11-06T17:40Z,18:20,rest,", "18:20,18:35,tune,")
    assert not begins("2026-11-06T18:20Z,18:35,tune,20", "19:45,19:55,play,")
    (line,) = [one for one in timetable_lines(read_schedule(written(tmp_path, [first[:-1]])))
               if "taken" in one]  # fmt: skip
    assert "as warm as the air at 18:20" in line
    assert "begin the timetable in it, with its temperature" in line
