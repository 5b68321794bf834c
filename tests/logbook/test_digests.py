"""A logbook that is damaged does not answer, and gives back what it still holds."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest

from drift.cli import main
from drift.errors import LogbookError
from drift.logbook import digests
from drift.logbook.blocks import BLOCK
from drift.logbook.book import Logbook
from drift.logbook.digests import DamagedError, head_path, newest_head, read_head
from drift.logbook.folders import read_folder
from drift.logbook.records import Event, Reading, Temperature
from drift.logbook.rehearsals import load
from drift.logbook.salvage import salvage
from drift.logbook.schema import APPLICATION_ID, MIGRATIONS
from tests.logbook.damages import try_damages

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def reading(number):
    time = START + timedelta(seconds=number)
    return Reading(time, "hall", "Rowan", "double horn", "F", "F4", number / 10)


@pytest.fixture
def book(tmp_path):
    """A closed book of 20 readings, the eighth taken back."""
    path = tmp_path / "band.logbook"
    with Logbook(path, writer="the test") as opened:
        for number in range(20):
            opened.keep(reading(number))
        opened.undo("hall", START + timedelta(hours=1), entry=8)
    return path


def past_the_program(book, *statements):
    """Change a book as damage would: past the triggers."""
    with sqlite3.connect(book) as other:
        for (name,) in other.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"):
            other.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            other.execute(statement)
    other.close()


@pytest.mark.parametrize("count", [15, pytest.param(200, marks=pytest.mark.slow)])
def test_damages_never_change_an_answer(tmp_path, count):
    """None answers differently, invents a record or ends in a traceback."""
    outcomes = try_damages(tmp_path, count, "judged on")
    bad = [row for row in outcomes if row[2] not in ("the same", "refused")]
    bad += [row for row in outcomes if row[3] not in ("everything", "a part", "cannot be opened")]
    assert not bad
    assert sum(times for row, times in outcomes.items() if row[2] == "refused") > count / 4


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE reading SET cents = cents + 1e-13 WHERE entry_id = 5",
        "UPDATE entry SET time_us = time_us + 1 WHERE entry_id = 5",
        "UPDATE rehearsal SET name = 'Hall'",
        "UPDATE entry SET rehearsal_id = NULL WHERE entry_id = 5",
        "UPDATE entry SET kind = 'event' WHERE entry_id = 5",
        "DELETE FROM reading WHERE entry_id = 5",
        "DELETE FROM undo",
        "UPDATE undo SET undone_id = 9",
        "INSERT INTO entry (kind, rehearsal_id, time_us) VALUES ('reading', 1, 0)",
        "DELETE FROM digest WHERE last_id = 21",
        "DELETE FROM digest",
        "UPDATE digest SET digest = zeroblob(32) WHERE last_id = 21",
    ],
)
def test_any_change_past_the_program_is_refused(book, statement):
    load(book)
    past_the_program(book, statement)
    with pytest.raises(DamagedError, match=r"not as they were saved|no digest|missing|replaced"):
        load(book)


def test_a_cut_tail_is_noticed_by_the_head_outside(book):
    tables = "reading", "undo", "entry", "digest"
    past_the_program(
        book,
        *(f"DELETE FROM {t} WHERE {'last_id' if t == 'digest' else 'entry_id'} > 18"
          for t in tables),
    )  # fmt: skip
    with pytest.raises(DamagedError, match="entries 19 to 21 are missing"):
        load(book)
    head_path(book).unlink()  # which an older copy put back on purpose may need
    assert len(load(book).readings) == 18


def test_what_was_saved_last_by_whatever_way_has_a_head(book):
    head = read_head(book)
    assert head is not None
    assert head.last_entry == 21
    with Logbook(book, writer="the test") as opened:
        opened.keep(reading(30))
    assert read_head(book).last_entry == 22
    head_path(book).write_text("nonsense")
    assert read_head(book) is None
    assert len(load(book).readings) == 20


def test_a_damaged_check_number_loses_nothing_where_the_block_holds(book):
    whole = salvage(book)
    past_the_program(book, "UPDATE digest SET checks = zeroblob(length(checks))")
    assert len(load(book).readings) == 19
    assert salvage(book) == whole
    assert whole.lost == ()


def test_what_seeking_by_its_number_does_not_find_is_taken_from_its_block(book, monkeypatch):
    """A damaged tree can give an entry with its neighbours and not alone."""
    whole, rows = salvage(book), digests.rows_of
    monkeypatch.setattr(
        digests, "rows_of", lambda sqlite, first, last: rows(sqlite, first, last - (first == last))
    )
    assert salvage(book) == whole


def test_a_damaged_block_is_not_written_on(book):
    past_the_program(book, "UPDATE reading SET cents = 3.25 WHERE entry_id = 5")
    with (
        Logbook(book, writer="the test") as opened,
        pytest.raises(DamagedError, match="entries 1 to 21 are not as they were saved"),
    ):
        opened.keep(reading(30))


def test_blocks_follow_each_other(tmp_path):
    path = tmp_path / "band.logbook"
    with Logbook(path, writer="the test") as opened:
        opened.keep_all([reading(number) for number in range(BLOCK - 1)])
        opened.keep_all([reading(BLOCK - 1), reading(BLOCK)])
        opened.keep_all([Temperature(START, "hall", n / 100) for n in range(3 * BLOCK)])
        opened.keep(Event(START, "hall", "", "play"))
    assert len(load(path).readings) == BLOCK + 1
    assert len(load(path).temperatures) == 3 * BLOCK
    past_the_program(path, f"UPDATE temperature SET celsius = 9.99 WHERE entry_id = {2 * BLOCK}")
    with pytest.raises(DamagedError, match=f"entries {BLOCK + 1} to {2 * BLOCK} are not"):
        load(path)
    assert salvage(path).lost == (2 * BLOCK,)


@pytest.mark.slow
@pytest.mark.parametrize("entry", [3, 5 * BLOCK, 8 * BLOCK + 1, 10 * BLOCK + 4])
@pytest.mark.parametrize("value", ["9.99", "'no number'"])
def test_of_blocks_that_are_read_together_the_one_that_does_not_hold_is_named(
    tmp_path, entry, value
):
    """Some blocks are read with one query: a value of another kind spoils its own alone."""
    path = tmp_path / "band.logbook"
    with Logbook(path, writer="the test") as opened:
        opened.keep_all([reading(number % 400) for number in range(10 * BLOCK + 7)])
    assert len(load(path).readings) == 10 * BLOCK + 7
    past_the_program(
        path,
        "PRAGMA writable_schema = ON",
        "UPDATE sqlite_schema SET sql = replace(sql, ') STRICT', ')') WHERE name = 'reading'",
    )
    past_the_program(
        path,
        "PRAGMA ignore_check_constraints = ON",
        f"UPDATE reading SET cents = {value} WHERE entry_id = {entry}",
    )
    first = (entry - 1) // BLOCK * BLOCK + 1
    last = min(first + BLOCK - 1, 10 * BLOCK + 7)
    with pytest.raises(DamagedError, match=f"entries {first} to {last} are not"):
        load(path)
    assert salvage(path).lost == (entry,)


def test_check_names_what_does_not_hold_and_salvages_the_rest(book, tmp_path, capsys):
    past_the_program(
        book,
        "UPDATE reading SET cents = 3.25 WHERE entry_id = 5",
        "DELETE FROM reading WHERE entry_id IN (11, 12)",
    )
    assert main(["check", str(book)]) == 1
    out, err = capsys.readouterr()
    assert "not as they were saved: 3 entries: 5, 11 to 12\n" in out
    assert "entries 1 to 21 are not as they were saved" in err
    assert main(["check", str(book), "--salvage", str(tmp_path / "saved")]) == 0
    assert "3 entries: 5, 11 to 12" in capsys.readouterr().out
    folder = read_folder(tmp_path / "saved")
    assert [r.cents for r in folder.of("readings")] == [
        n / 10 for n in range(20) if n not in (4, 7, 10, 11)
    ]
    assert [record.cents for record, _ in folder.undone] == [0.7]


def test_zeroed_pages_are_refused_in_two_lines(book, capsys):
    content = bytearray(book.read_bytes())
    content[4096:] = bytes(len(content) - 4096)
    book.write_bytes(content)
    assert main(["check", str(book)]) == 1
    assert len(capsys.readouterr().err.splitlines()) == 2
    assert main(["check", str(book), "--salvage", str(book.with_name("saved"))]) in (0, 1)


def test_a_foreign_database_with_our_mark_is_refused_in_two_lines(tmp_path, capsys):
    path = tmp_path / "band.logbook"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE song (title)")
        other.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        other.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
    other.close()
    with pytest.raises(LogbookError, match="no such table"):
        load(path)
    assert main(["fit", str(path)]) == 1
    assert len(capsys.readouterr().err.splitlines()) == 2


def test_a_new_book_has_nothing_to_do_with_the_head_of_an_earlier_one(book):
    book.unlink()
    with Logbook(book, writer="the test") as opened:
        assert list(opened.sound_blocks()) == []


def test_an_older_copy_is_not_written_on_unless_it_is_meant(book, tmp_path):
    with Logbook(book, writer="the test") as opened:
        opened.backup(tmp_path / "older")
        opened.keep(reading(30))
    shutil.copyfile(tmp_path / "older", book)
    with pytest.raises(DamagedError, match="entries 22 to 22 are missing") as refusal:
        Logbook(book, writer="the test")
    assert "delete the file LOGBOOK.head" in refusal.value.remedy
    assert len(load(tmp_path / "older").readings) == 19


def test_a_copy_without_its_head_answers(book, tmp_path):
    shutil.copyfile(book, tmp_path / "copy.logbook")
    assert load(tmp_path / "copy.logbook").same_as(load(book))


def test_a_last_digest_that_cannot_be_read_is_refused():
    # As a damaged page can leave it, past the constraints of the table.
    with closing(sqlite3.connect(":memory:")) as spoilt:
        spoilt.execute("CREATE TABLE digest (last_id, first_id, digest, checks)")
        spoilt.execute("INSERT INTO digest VALUES (20, 1, NULL, NULL)")
        with pytest.raises(DamagedError, match="the last digest cannot be read"):
            newest_head(spoilt)


@pytest.mark.parametrize("error", [MemoryError(), UnicodeDecodeError("utf-8", b"\xff", 0, 1, "")])
def test_a_file_in_which_sqlite_finds_no_text_or_no_end_is_refused(book, monkeypatch, error):
    """Before it is opened as well, when it is looked up whether it is open elsewhere."""

    class Damaged(sqlite3.Connection):
        def execute(self, *words):
            if "sqlite_schema" in words[0] or "FROM digest" in words[0]:
                raise error
            return super().execute(*words)

    connect = sqlite3.connect
    monkeypatch.setattr(
        sqlite3, "connect", lambda *a, **k: connect(*a, **{"factory": Damaged, **k})
    )
    with pytest.raises(LogbookError, match="is damaged: "):
        load(book)
    with pytest.raises(LogbookError, match="is damaged: "):
        salvage(book)
