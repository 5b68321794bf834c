"""One name for all evenings of a season: each is a rehearsal of its own."""

from __future__ import annotations

from datetime import UTC, datetime

import pandas as pd
import pytest

import drift
from drift.cli import main
from drift.logbook.book import Logbook
from drift.logbook.records import Reading
from drift.tables.checking import Conventions
from drift.tables.taking import take_tables
from drift.words.tables import all_understood

PLAYED = ("Bb trumpet", "", "Bb4", -3.0)
HEAD = "rehearsal,time,player,instrument,note,cents"


def readings(*times: str, name: str = "hall") -> str:
    rows = [f"{name},{time},Ann,Bb trumpet,Bb4,{-place}" for place, time in enumerate(times)]
    return "\n".join([HEAD, *rows, ""])


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "readings.csv").write_text(
        readings(
            *(f"2026-10-{day:02d}T18:{minute}:00Z" for day in (5, 12, 19) for minute in (10, 40))
        )
    )
    (tmp_path / "temperatures.csv").write_text(
        "rehearsal,time,celsius\n"
        + "".join(
            f"hall,2026-10-{day:02d}T18:{minute:02d}:00Z,2{day % 7}\n"
            for day in (5, 12, 19)
            for minute in range(0, 60, 5)
        )
    )
    (tmp_path / "events.csv").write_text(
        "rehearsal,time,player,event,slide,position_mm\n"
        "hall,2026-10-05T18:00:00Z,,play,,\n"
        "hall,2026-10-18T09:00:00Z,Ann,slide,main,14\n"  # at home, the day before
    )
    return tmp_path


def test_each_evening_of_a_name_is_a_rehearsal_in_every_table(folder):
    taken = take_tables(folder, Conventions(zone=UTC))
    names = [f"hall 2026-10-{day:02d}" for day in (5, 12, 19)]
    for table in ("readings", "temperatures", "events"):
        column = taken.tables[table].values["rehearsal"]
        found = [column.at(row) for row in range(taken.tables[table].rows)]
        assert sorted(set(found)) == (names if table != "events" else [names[0], names[2]])
    assert (
        "readings.csv: 'hall' stands for 3 evenings, taken as 'hall 2026-10-05' to 'hall "
        "2026-10-19'" in " ".join(all_understood(taken.understood))
    )


def test_the_playing_of_an_evening_begins_anew(folder):
    paired = drift.pair(drift.load(folder, zone="UTC"))
    assert paired.frame["playing_minutes"].max() < 60.0
    assert paired.frame["rehearsal"].nunique() == 3


def test_the_table_of_a_logger_goes_by_the_evenings_of_names_that_take_turns():
    """Each name goes on from its first week to its last, but only one of them at a time."""
    days = {5: "cold room", 6: "warm room", 12: "cold room", 13: "warm room"}
    rows = [
        (f"2026-10-{day:02d}T18:{minute}:00Z", name, f"of the {name}", "Bb trumpet", "Bb4", -3.0)
        for day, name in days.items()
        for minute in (10, 40)
    ]
    columns = ["time", "rehearsal", "player", "instrument", "note", "cents"]
    air = [f"2026-10-{day:02d}T18:{minute:02d}:00Z" for day in days for minute in range(0, 60, 5)]
    tables = {
        "readings": pd.DataFrame(rows, columns=columns),
        "temperatures": pd.DataFrame({"time": air, "celsius": 20.0}),
    }
    taken = take_tables(tables, Conventions(zone=UTC)).tables["temperatures"]
    named = {taken.values["rehearsal"].at(row) for row in range(taken.rows)}
    assert named == {f"{name} 2026-10-{day:02d}" for day, name in days.items()}


def test_two_evenings_of_one_day_have_their_times(tmp_path):
    file = tmp_path / "readings.csv"
    file.write_text(readings("2026-10-05T02:10:00Z", "2026-10-05T18:10:00Z"))
    column = take_tables(file, Conventions(zone=UTC)).tables["readings"].values["rehearsal"]
    assert [column.at(0), column.at(1)] == ["hall 2026-10-05 02:10", "hall 2026-10-05 18:10"]


def test_a_long_day_is_one_rehearsal_and_names_of_their_own_stay(tmp_path):
    file = tmp_path / "readings.csv"
    file.write_text(
        readings("2026-10-05T08:10:00Z", "2026-10-05T19:10:00Z")
        + readings("2026-10-12T18:10:00Z", name="tent").partition("\n")[2]
    )
    taken = take_tables(file, Conventions(zone=UTC))
    assert set(taken.tables["readings"].values["rehearsal"].known) >= {"hall", "tent"}
    assert not any("evenings" in line for line in all_understood(taken.understood))


def test_what_was_exported_keeps_the_names_of_its_logbook(tmp_path):
    """Else a folder that comes back would add all of its rows again under other names."""
    book, out = tmp_path / "band.logbook", tmp_path / "out"
    with Logbook(book, writer="the test") as opened:
        for day in (5, 12):  # as a logbook of before may hold it
            opened.keep(Reading(datetime(2026, 10, day, 18, tzinfo=UTC), "hall", "Ann", *PLAYED))
    assert main(["export", str(book), str(out)]) == 0
    column = take_tables(out).tables["readings"].values["rehearsal"]
    assert [column.at(row) for row in (0, 1)] == ["hall", "hall"]
