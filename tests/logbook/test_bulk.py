"""Tables into a logbook in bulk: all or nothing, nothing twice, no guard left out."""

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drift import shipped
from drift.errors import LogbookError
from drift.logbook import bulk
from drift.logbook.blocks import BLOCK, checks_of, rows_of
from drift.logbook.book import Logbook
from drift.logbook.bulk import import_tables
from drift.logbook.digests import DamagedError, read_head
from drift.logbook.folders import folder_of
from drift.logbook.records import Event, Reading
from drift.logbook.rehearsals import load
from drift.tables.loading import load_tables
from drift.tables.taking import take_tables
from tests.folders import write

SEASON = shipped.folder("datasets/cold-hall-season")
START = datetime(2026, 10, 3, 17, 5, tzinfo=UTC)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as opened:
        yield opened


@pytest.fixture
def small_pieces(monkeypatch):
    """Write and cover a block at a time, so that a season fills several pieces."""
    monkeypatch.setattr(bulk, "_AT_ONCE", BLOCK)


def tables(tmp_path, **texts):
    return take_tables(write(tmp_path / "folder", **texts))


def test_a_season_is_saved_as_it_is_loaded(book, small_pieces):
    assert import_tables(book, take_tables(SEASON)) == 1181
    saved = load(book.path)
    for name, frame in load_tables(SEASON).frames.items():
        pd.testing.assert_frame_equal(getattr(saved, name), frame)


def test_the_digests_are_those_of_entries_saved_one_by_one(book, tmp_path, small_pieces):
    """The chain is a function of the rows alone, however they were written."""
    before = Event(START, "hall", "", "remark", remark="before")  # so that pieces are cut mid-way
    book.keep(before)
    import_tables(book, take_tables(SEASON))
    with Logbook(tmp_path / "single.logbook", writer="the test") as single:
        single.keep(before)
        single.keep_all(folder_of(load_tables(SEASON)).records)
        heads = [read_head(one.path) for one in (book, single)]
    assert heads[0] == heads[1]
    assert heads[0].last_entry == 1182


TEXTS = st.sampled_from(["", 'said "so"', "B\u266d \u2013 100 %", "%r {}", "\U0001f3b5"])
NUMBERS = st.floats(-200.0, 200.0) | st.sampled_from([0.0, -0.0, 1e-300, 100 / 3])


@settings(max_examples=25)
@given(
    st.lists(
        st.tuples(NUMBERS, st.none() | st.floats(0.001, 200.0), st.booleans(), TEXTS),
        min_size=1, max_size=2 * BLOCK,
    ),
    st.integers(0, 3),
)  # fmt: skip
def test_digests_of_rows_in_hand_are_those_of_rows_read_back(rows, before):
    """What SQLite keeps otherwise than it was given, such as the sign of a zero, is no damage."""
    cents, spread, flagged, remark = zip(*rows, strict=True)
    readings = {
        "time": pd.date_range(START, periods=len(rows), freq="s"), "rehearsal": "hall",
        "player": "Rowan", "instrument": "double horn", "side": "F", "note": "F4",
        "cents": cents, "cents_sd": spread, "flagged": flagged, "remark": remark,
    }  # fmt: skip
    slopes = {
        "time": [START] * 2, "player": "Rowan", "instrument": "double horn", "slide": "main",
        "side": "F", "cents_per_mm": -0.9, "readings": [12, None],
    }  # fmt: skip
    taken = take_tables({"readings": pd.DataFrame(readings), "calibrations": pd.DataFrame(slopes)})
    with (
        TemporaryDirectory() as folder,
        Logbook(Path(folder) / "band.logbook", writer="the test") as book,
    ):
        book.keep_all([Event(START, "hall", "", "remark", remark="before")] * before)
        assert import_tables(book, taken) == len(rows) + 2
        book.check()
        with book._file.alone() as sqlite:
            for last, _, checks in sqlite.execute("SELECT last_id, first_id, checks FROM digest"):
                assert checks == checks_of(rows_of(sqlite, last + 1 - len(checks) // 4, last))


def test_the_history_only_grows_after_an_import_too(book):
    import_tables(book, take_tables(SEASON))
    with sqlite3.connect(book.path) as file:
        for statement in ("DELETE FROM reading", "UPDATE entry SET time_us = 0"):
            with pytest.raises(sqlite3.IntegrityError, match="only grows"):
                file.execute(statement)


def test_an_import_that_fails_saves_nothing(book, small_pieces):
    """The tables are checked; the limits of the book stand on their own all the same."""
    taken = take_tables(SEASON)
    taken.tables["readings"].values["cents"][400] = 900.0
    with pytest.raises(LogbookError, match="CHECK constraint failed: cents BETWEEN -200 AND 200"):
        import_tables(book, taken)
    assert (book.last_entry, book.rehearsals()) == (0, [])


def test_rows_are_known_again_by_their_values_and_counted(book, tmp_path):
    row = "2026-10-03T19:05:00+02:00,hall,Rowan,double horn,F,F4,4.0\n"
    header = "time,rehearsal,player,instrument,side,note,cents\n"
    once, twice = (tables(tmp_path, readings=header + row * n) for n in (1, 2))
    assert import_tables(book, twice) == 2 + 3 + 1
    assert import_tables(book, once) == 0
    assert import_tables(book, tables(tmp_path, readings=header + row * 3)) == 1
    other = row.replace("4.0", "4.1")
    assert import_tables(book, tables(tmp_path, readings=header + row + other)) == 1


def test_what_was_logged_here_is_known_when_it_comes_back(book, tmp_path):
    """Not only what was imported: an export of a book holds nothing that is new to it."""
    book.keep(Reading(START, "hall", "Rowan", "double horn", "F", "F4", 4.0), once="key:1")
    rows = "2026-10-03T17:05:00Z,hall,Rowan,double horn,F,F4,4.0,,\n"
    header = "time,rehearsal,player,instrument,side,note,cents,a4_hz,remark\n"
    assert import_tables(book, tables(tmp_path, readings=header + rows)) == 3 + 1


def test_what_was_taken_back_stays_taken_back(book, tmp_path):
    loaded = tables(tmp_path)
    import_tables(book, loaded)
    newest = max(row["entry_id"] for row in book.rows("readings"))
    book.undo("hall", START + timedelta(hours=1), entry=newest)
    assert import_tables(book, loaded) == 0
    assert len(list(book.rows("readings"))) == 1


def test_a_row_that_stands_is_not_known_by_one_that_was_taken_back_in_the_tables(book, tmp_path):
    """A reading typed, taken back and typed again is in the tables once of each."""
    reading = (
        '""time"": ""2026-10-03T17:05:00Z"", ""rehearsal"": ""hall"", ""player"": ""Rowan"", '
        '""instrument"": ""double horn"", ""side"": ""F"", ""note"": ""F4"", ""cents"": ""4.0""'
    )
    undone = f'undone_time,table,entry\n2026-10-03T19:06:00+02:00,readings,"{{{reading}}}"\n'
    both = tables(tmp_path, undone=undone)
    assert len(both.undone["readings"].at) == 1
    assert import_tables(book, both) == 2 + 3 + 1 + 1
    assert import_tables(book, both) == 0
    (taken_back,) = book.rows("readings", undone=True)
    assert taken_back["undone_time"] == datetime(2026, 10, 3, 17, 6, tzinfo=UTC)
    assert len(list(book.rows("readings"))) == 2


def test_nothing_is_imported_into_a_damaged_book(book, tmp_path):
    import_tables(book, tables(tmp_path))
    with sqlite3.connect(book.path) as file:
        file.execute("DROP TRIGGER reading_never_update")
        file.execute("UPDATE reading SET cents = cents + 1")
    with pytest.raises(DamagedError, match="entries 1 to 6 are not as they were saved"):
        import_tables(book, tables(tmp_path, events="time,rehearsal,player,event\n"))


def test_progress_rises_to_all_rows(book, small_pieces):
    seen = []
    import_tables(book, take_tables(SEASON), progress=lambda done, of: seen.append((done, of)))
    assert [of for _, of in seen] == [1181] * len(seen)
    assert len(seen) >= 1181 // BLOCK
    assert seen == sorted(seen)
    assert seen[-1] == (1181, 1181)


def test_no_key_is_saved_for_an_imported_row(book):
    """Keys of a million rows took as much of the file as the rows."""
    import_tables(book, take_tables(SEASON))
    with sqlite3.connect(book.path) as file:
        assert file.execute("SELECT count(once) FROM entry").fetchone() == (0,)
