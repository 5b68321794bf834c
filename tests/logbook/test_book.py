"""The logbook: it only grows, takes all of an entry or nothing, and has one writer."""

from __future__ import annotations

import math
import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

import drift
from drift.errors import InputError, LogbookBusy, LogbookError
from drift.logbook import file as logbook_file
from drift.logbook.book import Logbook
from drift.logbook.file import connect, is_logbook, migrate
from drift.logbook.records import (
    EVENTS,
    RECORDS,
    TYPED,
    Calibration,
    Column,
    Event,
    Notice,
    Reading,
    Record,
    Temperature,
    checked,
)
from drift.logbook.schema import HISTORY, MIGRATIONS

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def at(minute: float) -> datetime:
    return START + timedelta(minutes=minute)


READING = Reading(
    START, "hall", "Rowan", "double horn", "F", "F4", 6.0, 440.0, "mute in", 1.5, 0.25, True
)
TEMPERATURE = Temperature(START, "hall", 21.5, 45.0, 1013.0, "stage")
EVENT = Event(START, "hall", "Rowan", "slide", "main", 14.0, "", "double horn")
CALIBRATION = Calibration(START, "Rowan", "double horn", "main", "F", -0.91, -1.0, -0.8, 12, "")
NOTICE = Notice(START, "hall", "stage", "away", "unplugged?")
EACH: dict[str, Record] = {
    record.table: record for record in (READING, TEMPERATURE, EVENT, CALIBRATION, NOTICE)
}


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as opened:
        yield opened


def standing(book, table):
    return [
        type(EACH[table])(**{k: v for k, v in row.items() if k != "entry_id"})
        if table != "calibrations"
        else Calibration(**{k: v for k, v in row.items() if k not in ("entry_id", "rehearsal")})
        for row in book.rows(table)
    ]


@pytest.mark.parametrize("table", RECORDS)
def test_what_is_kept_is_read_back(book, table):
    book.keep(EACH[table])
    assert standing(book, table) == [EACH[table]]


def test_it_is_written_through_to_the_disk(book):
    settings = {
        name: book._file.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "foreign_keys")
    }
    assert settings == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}  # 2: FULL


# -- the limits of the schema are those of the records --------------------------------------------


class Rows:
    """Writes rows past the program, as another program would."""

    def __init__(self, path: Path) -> None:
        self.connection = connect(path, write=True)
        self.connection.execute("INSERT INTO rehearsal (name) VALUES ('hall')")

    def takes(self, table: str, values: dict[str, object]) -> bool:
        kind = table.removesuffix("s")
        names = [name for name in values if name not in ("time", "rehearsal")]
        self.connection.execute("BEGIN")
        try:
            (entry,) = self.connection.execute(
                "INSERT INTO entry (kind, rehearsal_id, time_us) VALUES (?, 1, 0) "
                "RETURNING entry_id",
                (kind,),
            ).fetchone()
            self.connection.execute(
                f"INSERT INTO {kind} (entry_id, {', '.join(names)}) VALUES (?{', ?' * len(names)})",
                (entry, *(values[name] for name in names)),
            )
        except sqlite3.IntegrityError:
            return False
        finally:
            self.connection.execute("ROLLBACK")
        return True


@pytest.fixture
def rows(tmp_path):
    found = Rows(tmp_path / "limits.logbook")
    yield found
    found.connection.close()


def program_takes(table: str, values: dict[str, object]) -> bool:
    try:
        checked(type(EACH[table])(**values))
    except InputError:
        return False
    return True


def numbers(column: Column) -> list[float]:
    whole = column.kind == "whole"
    tried: list[float] = []
    for limit, outward in ((column.lowest, -math.inf), (column.highest, math.inf)):
        if math.isfinite(limit):
            beyond = limit + math.copysign(1, outward) if whole else math.nextafter(limit, outward)
            tried += [limit, beyond]
    return [int(value) for value in tried] if whole else tried


@pytest.mark.parametrize(
    ("table", "column"),
    [(table, column) for table, record in RECORDS.items() for column in record.columns
     if column.is_number],
    ids=lambda value: getattr(value, "name", value),
)  # fmt: skip
def test_schema_and_records_agree_on_the_limits_of_a_number(rows, table, column):
    for value in numbers(column):
        values = EACH[table].values() | {column.name: value}
        assert rows.takes(table, values) is program_takes(table, values), value
    empty = EACH[table].values() | {column.name: None}
    has_default = column.default is not None  # which the program fills in before
    if table != "events":  # a slide event needs its millimetres, other events have none
        assert rows.takes(table, empty) is (program_takes(table, empty) and not has_default)


@pytest.mark.parametrize(
    ("table", "column"),
    [(table, column) for table, record in RECORDS.items() for column in record.columns
     if not column.is_number and column.kind != "boolean"
     and column.name not in ("time", "rehearsal", "note")],
    ids=lambda value: getattr(value, "name", value),
)  # fmt: skip
def test_schema_and_records_agree_on_what_may_be_empty(rows, table, column):
    values = EACH[table].values() | {column.name: ""}
    assert rows.takes(table, values) is program_takes(table, values)


@pytest.mark.parametrize("event", [*EVENTS, "START", "pause"])
@pytest.mark.parametrize("slide", ["", "main"])
@pytest.mark.parametrize("position_mm", [None, 0.0, 14.0])
def test_schema_and_records_agree_on_events(rows, event, slide, position_mm):
    values = EVENT.values() | {"event": event, "slide": slide, "position_mm": position_mm}
    for more in (
        {},
        {"side": "F"},
        {"state": "cold"},
        {"side": "F", "state": "warm"},
        {"state": "tepid"},
        {"already_warm": True},
    ):
        assert rows.takes("events", values | more) is program_takes("events", values | more), more


@pytest.mark.parametrize(("table", "column"), [("readings", "flagged"), ("events", "already_warm")])
def test_schema_and_records_agree_on_what_is_true_or_false(rows, table, column):
    values = EACH[table].values() | ({"event": "play", "slide": "", "position_mm": None}
                                     if table == "events" else {})  # fmt: skip
    for value in (True, False, 2, -1):
        assert rows.takes(table, values | {column: value}) is program_takes(
            table, values | {column: value}
        ), value


# -- it only grows --------------------------------------------------------------------------------


def test_no_row_of_the_history_can_be_changed_or_deleted(book):
    for record in EACH.values():
        book.keep(record)
    book.start("hall", at(1))
    book.choose("hall", at(1), "player", "Rowan")
    book.undo("hall", at(2))
    with sqlite3.connect(book.path) as other:
        for table in HISTORY:
            (first, *_), *_ = other.execute(f"PRAGMA table_info({table})").fetchall()
            name = other.execute(f"PRAGMA table_info({table})").fetchall()[first][1]
            assert other.execute(f"SELECT count(*) FROM {table}").fetchone()[0] > 0
            with pytest.raises(sqlite3.IntegrityError, match="only grows"):
                other.execute(f"UPDATE {table} SET {name} = {name}")
            with pytest.raises(sqlite3.IntegrityError, match="only grows"):
                other.execute(f"DELETE FROM {table}")
    other.close()


def test_taking_back_is_an_entry_of_its_own(book):
    book.keep(READING)
    number = book.last_entry
    undone = book.undo("hall", at(1))
    assert (undone["kind"], undone["note"], undone["cents"]) == ("reading", "F4", 6.0)
    assert book.last_entry == number + 1
    assert list(book.rows("readings")) == []
    (row,) = book.rows("readings", undone=True)
    assert (row["entry_id"], row["undone_time"]) == (number, at(1))


def test_only_what_a_person_entered_is_taken_back_and_the_last_first(book):
    book.start("hall", at(0))
    book.choose("hall", at(0), "player", "Rowan")
    book.keep(Event(at(1), "hall", "", "play"))
    book.keep(READING)
    book.keep(Temperature(at(2), "hall", 21.0, source=TYPED))
    book.keep(TEMPERATURE)  # a thermometer's own
    book.keep(NOTICE)
    book.keep(Reading(at(3), "other", "Rowan", "double horn", "F", "F4", 1.0))
    kinds = [book.undo("hall", at(4))["kind"] for _ in range(4)]
    assert kinds == ["temperature", "reading", "event", "choice"]
    with pytest.raises(InputError, match="nothing to undo"):
        book.undo("hall", at(5))
    assert book.interrupted() == ["hall"]  # its start was no entry of a person


def test_one_entry_is_taken_back_by_its_number_once(book):
    first = book.keep(READING)
    book.keep(Reading(at(1), "hall", "Maren", "double horn", "F", "A4", -2.0))
    assert book.undo("hall", at(2), entry=first)["player"] == "Rowan"
    with pytest.raises(InputError, match="nothing to undo"):
        book.undo("hall", at(3), entry=first)
    assert [row["player"] for row in book.rows("readings")] == ["Maren"]


# -- keys ----------------------------------------------------------------------------------------


def test_an_entry_that_comes_again_with_its_key_is_kept_once(book):
    first = book.keep(READING, once="browser:1")
    assert book.keep(READING, once="browser:1") == first
    assert book.keep(READING, once="browser:2") != first
    assert len(list(book.rows("readings"))) == 2


def test_choices_ends_and_undos_have_keys_too(book):
    book.keep(READING)
    book.keep(READING)
    assert book.undo("hall", at(1), once="u") == book.undo("hall", at(2), once="u")
    assert len(list(book.rows("readings"))) == 1
    chosen = book.choose("hall", at(3), "player", "Rowan", once="c")
    assert book.choose("hall", at(3), "player", "Rowan", once="c") == chosen
    assert book.end("hall", at(4), once="e") == book.end("hall", at(5), once="e")


def test_many_records_are_kept_all_or_none(book):
    bad = Temperature(at(1), "hall", 99.0)
    with pytest.raises(InputError, match="99 °C is outside -40 to 60"):
        book.keep_all([TEMPERATURE, READING, bad])
    assert book.last_entry == 0
    assert book.rehearsals() == []
    assert book.keep_all([TEMPERATURE, READING]) == 2
    assert book.last_entry == 2


def test_what_is_refused_leaves_nothing_behind(book):
    with pytest.raises(InputError, match="player is empty"):
        book.choose("hall", START, "player", "  ")
    with pytest.raises(InputError, match="cannot be printed"):
        book.choose("hall", START, "player", "Row\udce4n")
    with pytest.raises(InputError, match=r"U\+000A"):
        book.keep(Event(START, "hall", "", "remark", remark="a\nb"))
    assert (book.last_entry, book.rehearsals()) == (0, [])


# -- interruptions -------------------------------------------------------------------------------


def test_a_rehearsal_is_interrupted_until_it_is_ended(book):
    book.start("hall", at(0))
    assert book.interrupted() == ["hall"]
    assert book.last_time("hall") == at(0)
    book.end("hall", at(60))
    assert book.interrupted() == []
    assert book.last_time("hall") == at(60)
    assert book.last_time("elsewhere") is None
    book.start("hall", at(90))  # gone on with
    assert book.interrupted() == ["hall"]


def test_an_imported_rehearsal_without_an_end_is_not_interrupted(book):
    book.keep_all([Event(at(0), "hall", "", "start"), READING])
    assert book.interrupted() == []


def test_the_last_choice_stands_until_it_is_taken_back(book):
    book.choose("hall", at(0), "player", "Rowan")
    book.choose("hall", at(1), "player", " Maren ")
    assert book.choices("hall") == {"player": "Maren"}
    book.undo("hall", at(2))
    assert book.choices("hall") == {"player": "Rowan"}


def test_pseudonyms_last(book):
    assert book.pseudonyms(["Rowan", "Maren", ""]) == {"Maren": "player 1", "Rowan": "player 2"}
    assert book.pseudonyms(["Ada", "Rowan"])["Ada"] == "player 3"
    assert book.pseudonyms([])["Rowan"] == "player 2"


# -- the file ------------------------------------------------------------------------------------


def test_a_book_to_read_must_be_there(tmp_path):
    with pytest.raises(LogbookError, match="there is no logbook"):
        Logbook(tmp_path / "no.logbook")


def test_a_book_opened_for_reading_takes_nothing(book):
    with Logbook(book.path) as reader, pytest.raises(LogbookError, match="opened for reading"):
        reader.keep(READING)


@pytest.mark.parametrize("writer", [None, "the test"])
def test_a_file_of_something_else_is_refused_and_left_alone(tmp_path, writer):
    path = tmp_path / "notes.txt"
    path.write_text("these are only words\n" * 200)
    before = path.read_bytes()
    with pytest.raises(LogbookError, match="is not a logbook"):
        Logbook(path, writer=writer)
    assert path.read_bytes() == before
    assert not is_logbook(path)


@pytest.mark.parametrize("writer", [None, "the test"])
def test_another_programs_database_is_refused_and_left_alone(tmp_path, writer):
    path = tmp_path / "other.db"
    other = sqlite3.connect(path)
    with other:
        other.execute("CREATE TABLE song (title)")
    other.close()
    before = path.read_bytes()
    with pytest.raises(LogbookError, match="a database, but not a logbook"):
        Logbook(path, writer=writer)
    assert path.read_bytes() == before


def test_an_empty_file_becomes_a_book_only_for_a_writer(tmp_path):
    path = tmp_path / "empty.logbook"
    path.touch()
    with pytest.raises(LogbookError, match="not a logbook"):
        Logbook(path)
    with Logbook(path, writer="the test") as book:
        book.keep(READING)
    assert is_logbook(path)


def test_a_newer_book_is_refused(book):
    book.close()
    newer = sqlite3.connect(book.path)
    newer.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    newer.close()
    for writer in (None, "the test"):
        with pytest.raises(LogbookError, match="newer version") as refusal:
            Logbook(book.path, writer=writer)
        assert refusal.value.remedy == "update the program"


LATER = (*MIGRATIONS, ("ALTER TABLE reading ADD COLUMN mute TEXT NOT NULL DEFAULT ''",))


def test_an_older_book_is_brought_up_to_date_with_all_it_holds(book, monkeypatch):
    book.keep(READING)
    book.close()
    monkeypatch.setattr(logbook_file, "MIGRATIONS", LATER)
    with pytest.raises(LogbookError, match=f"older schema {len(MIGRATIONS)}") as refusal:
        Logbook(book.path)
    assert "drift check" in refusal.value.remedy
    with Logbook(book.path, writer="the test") as newer:
        assert standing(newer, "readings") == [READING]
        assert newer.damage() == []
    with Logbook(book.path) as reader:
        assert len(list(reader.rows("readings"))) == 1


def first_version(path):
    """A book as version 0.1 made it."""
    connection = sqlite3.connect(path, isolation_level=None)
    migrate(connection, MIGRATIONS[:1])
    connection.execute("INSERT INTO rehearsal (name) VALUES ('hall')")
    tables = {
        "reading": [
            ("Rowan", "double horn", "F", "F4", 6.0, 440.0, "! mute in"),
            ("Rowan", "double horn", "F", "F4", 7.0, 440.0, "!"),
            ("Rowan", "double horn", "F", "F4", 8.0, 440.0, "fine!"),
        ],
        "event": [
            ("", "", "play", "", None, "already warm"),
            ("", "", "remark", "", None, "already warm"),
            ("Rowan", "double horn", "slide", "main", 14.0, "pencil mark"),
        ],
    }
    for table, rows in tables.items():
        for values in rows:
            (entry,) = connection.execute(
                "INSERT INTO entry (kind, rehearsal_id, time_us) VALUES (?, 1, 0) "
                "RETURNING entry_id", (table,),
            ).fetchone()  # fmt: skip
            marks = ", ?" * len(values)
            connection.execute(f"INSERT INTO {table} VALUES (?{marks})", (entry, *values))
    return connection


def test_what_remarks_hid_in_the_first_version_has_columns(tmp_path):
    first_version(tmp_path / "band.logbook").close()
    with Logbook(tmp_path / "band.logbook", writer="the test") as book:
        said = [(row["cents"], row["flagged"], row["remark"]) for row in book.rows("readings")]
        assert said == [(6.0, True, "mute in"), (7.0, True, ""), (8.0, False, "fine!")]
        happened = [
            (row["event"], row["position_mm"], row["already_warm"], row["remark"])
            for row in book.rows("events")
        ]
        assert happened == [
            ("play", None, True, ""),
            ("remark", None, False, "already warm"),
            ("slide", 14.0, False, "pencil mark"),
        ]
        assert book.damage() == []
        for table in ("reading", "event"):
            with pytest.raises(sqlite3.IntegrityError, match="only grows"):
                book._file.execute(f"DELETE FROM {table}")


def test_a_step_to_a_newer_schema_is_whole_or_not_at_all(tmp_path):
    path = tmp_path / "band.logbook"
    connect(path, write=True).close()
    connection = sqlite3.connect(path, isolation_level=None)
    broken = (*MIGRATIONS, ("CREATE TABLE mute (name)", "INSERT INTO nowhere VALUES (1)"))
    with pytest.raises(sqlite3.OperationalError, match="nowhere"):
        migrate(connection, broken)
    assert connection.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)
    assert not connection.execute("SELECT 1 FROM sqlite_schema WHERE name = 'mute'").fetchall()
    migrate(connection, (*broken[:-1], ("CREATE TABLE mute (name)",)))
    assert connection.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS) + 1,)
    connection.close()


def test_a_table_to_which_others_refer_is_made_anew(tmp_path):
    """The step to smaller indexes keeps rows, keys, references, guards and the next number."""
    path = tmp_path / "band.logbook"
    with closing(sqlite3.connect(path, isolation_level=None)) as older:
        migrate(older, MIGRATIONS[:5])
        older.execute("INSERT INTO rehearsal (name) VALUES ('hall')")
        older.execute("INSERT INTO entry VALUES (7, 'reading', 1, 0, 'key:1')")
        older.execute(
            "INSERT INTO reading VALUES (7, 'Rowan', 'double horn', 'F', 'F4', 6.0, 440.0, "
            "NULL, NULL, 0, '')"
        )
    with Logbook(path, writer="the test") as book:
        assert book.has("key:1")
        assert book.keep(replace(READING, cents=1.0), once="key:1") == 7
        assert book.keep(READING) == 8
        assert book.damage() == []
        for statement, refused in (
            ("DELETE FROM entry", "only grows"),
            ("INSERT INTO entry VALUES (9, 'undo', 1, 0, 'key:1')", "UNIQUE constraint"),
            ("INSERT INTO undo VALUES (9, 8)", "FOREIGN KEY constraint"),
        ):
            with pytest.raises(sqlite3.IntegrityError, match=refused):
                book._file.execute(statement)


def test_a_step_that_leaves_a_row_without_its_entry_is_not_taken(tmp_path):
    path = tmp_path / "band.logbook"
    with Logbook(path, writer="the test") as book:
        book.keep(READING)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA foreign_keys = ON")
        lost = (*MIGRATIONS, ("DROP TRIGGER entry_never_delete", "DELETE FROM entry"))
        with pytest.raises(sqlite3.IntegrityError, match="row 1 of reading refers to nothing"):
            migrate(connection, lost)
        assert connection.execute("SELECT count(*) FROM entry").fetchone() == (1,)
        assert connection.execute("PRAGMA foreign_keys").fetchone() == (1,)


@pytest.mark.parametrize(
    "query", [("once = 'a'", "entry_by_key"), ("rehearsal_id = 1", "entry_by_rehearsal")]
)
def test_what_is_looked_up_has_an_index(book, query):
    where, index = query
    (plan,) = book._file.select(f"EXPLAIN QUERY PLAN SELECT entry_id FROM entry WHERE {where}")
    assert index in plan[-1]


def test_one_writer_many_readers(book):
    with pytest.raises(LogbookBusy, match=r"is being written by the test") as refusal:
        Logbook(book.path, writer="a second one")
    assert refusal.value.remedy == "end that one first, or use another logbook"
    with Logbook(book.path) as one, Logbook(book.path) as two:
        book.keep(READING)
        assert [len(list(reader.rows("readings"))) for reader in (one, two)] == [1, 1]
        assert one.being_written_by() == "the test"
    book.close()
    with Logbook(book.path, writer="a second one") as second:
        assert second.being_written_by() == "a second one"


def test_a_damaged_file_is_explained(book):
    book.keep_all([Temperature(at(n / 60), "hall", 20.0, source="stage") for n in range(2000)])
    book.close()
    content = bytearray(book.path.read_bytes())
    page = 4096
    pages = len(content) // page
    for number in range(pages // 2, pages, 3):  # past the schema
        content[number * page : number * page + 200] = b"\xff" * 200
    book.path.write_bytes(content)
    with Logbook(book.path) as damaged:
        assert damaged.damage() != []
        with pytest.raises(LogbookError, match="is damaged: database disk image is malformed"):
            list(damaged.rows("temperatures"))


def test_a_damaged_index_is_rebuilt(book):
    book.keep(READING)
    book.close()
    raw = sqlite3.connect(book.path, isolation_level=None)
    index = raw.execute("SELECT * FROM sqlite_schema WHERE name = 'entry_by_rehearsal'").fetchone()
    raw.execute("PRAGMA writable_schema = ON")
    raw.execute("DELETE FROM sqlite_schema WHERE name = 'entry_by_rehearsal'")
    raw.close()
    raw = sqlite3.connect(book.path, isolation_level=None)  # knows nothing of the index now
    raw.execute("INSERT INTO entry (kind, rehearsal_id, time_us) VALUES ('undo', 1, 0)")
    raw.execute("PRAGMA writable_schema = ON")
    raw.execute("INSERT INTO sqlite_schema VALUES (?, ?, ?, ?, ?)", index)
    raw.close()
    with Logbook(book.path, writer="the test") as again:
        assert any("entry_by_rehearsal" in line for line in again.damage())
        again.mend()
        assert again.damage() == []
        assert standing(again, "readings") == [READING]


# -- several at once -----------------------------------------------------------------------------


def test_threads_write_one_book_and_lose_nothing(book):
    def write(number):
        for n in range(25):
            book.keep(Temperature(at(n), "hall", float(n), source=f"probe {number}"))

    threads = [threading.Thread(target=write, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found = [(row["source"], row["celsius"]) for row in book.rows("temperatures")]
    assert sorted(found) == [(f"probe {k}", float(n)) for k in range(8) for n in range(25)]


def test_an_entry_that_fails_is_never_seen_by_another_thread(book):
    begun, looked = threading.Event(), threading.Event()
    seen = []

    def look():
        begun.wait()
        seen.append(list(book.rows("readings")))
        looked.set()

    thread = threading.Thread(target=look)
    thread.start()

    def fail():
        with book._file.transaction():
            book._insert(READING, None)
            begun.set()
            looked.wait(0.2)  # the look must wait for the end of the transaction
            raise InputError("no", "no")

    with pytest.raises(InputError, match="no"):
        fail()
    thread.join()
    assert seen == [[]]


def test_a_book_is_read_as_it_stood_at_one_moment(book):
    book.keep(READING)
    with book.at_one_moment() as moment:
        assert len(list(moment.rows("readings"))) == 1
        book.undo("hall", at(1))
        book.keep(TEMPERATURE)
        assert len(list(moment.rows("readings"))) == 1
        assert list(moment.rows("readings", undone=True)) == []
        assert list(moment.rows("temperatures")) == []
    assert list(book.rows("readings")) == []


def test_a_backup_is_whole_while_the_book_is_written(book, tmp_path):
    book.keep(READING)
    stop = threading.Event()

    def write():
        while not stop.is_set():
            book.keep_all([TEMPERATURE] * 5)

    thread = threading.Thread(target=write)
    thread.start()
    try:
        for number in range(5):
            book.backup(tmp_path / f"copy{number}")
    finally:
        stop.set()
        thread.join()
    for number in range(5):
        with Logbook(tmp_path / f"copy{number}") as copy:
            assert copy.damage() == []
            assert standing(copy, "readings") == [READING]
            assert len(list(copy.rows("temperatures"))) % 5 == 0
    assert not list(tmp_path.glob("*.part*"))


def test_a_backup_overwrites_nothing(book, tmp_path):
    (tmp_path / "precious").write_text("words")
    with pytest.raises(LogbookError, match="precious is already there"):
        book.backup(tmp_path / "precious")
    assert (tmp_path / "precious").read_text() == "words"
    with pytest.raises(LogbookError, match="could not be read or written"):
        book.backup(tmp_path / "no folder" / "copy")


def test_no_book_is_opened_beside_sqlite(tmp_path):
    # tests/conftest.py forbids it in every test; here it is shown that it would be noticed.
    code = compile("open(path, 'rb')", str(Path(drift.__file__).parent / "made_up.py"), "eval")
    with pytest.raises(AssertionError, match="is opened beside SQLite"):
        eval(code, {"path": str(tmp_path / "band.logbook"), "open": open})
