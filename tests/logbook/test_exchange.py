"""Between logbook and folder: what goes in comes out."""

import json
import tempfile
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import frictionless
import pandas as pd
import pytest
from hypothesis import given, settings
from pyarrow.parquet import ParquetFile

from drift import shipped
from drift.errors import InputError
from drift.logbook import data_package
from drift.logbook.book import Logbook
from drift.logbook.bulk import import_tables
from drift.logbook.data_package import write_folder
from drift.logbook.exchange import (
    export_folder,
    for_spreadsheets,
    players_of,
    streamed,
    with_pseudonyms,
)
from drift.logbook.folders import Folder, read_folder
from drift.logbook.records import Event, Reading
from drift.logbook.rehearsals import of_folder, of_logbook
from drift.tables.taking import take_tables
from tests.folders import folders, write


def same(one: Folder, other: Folder) -> bool:
    """Whether two folders hold the same instants and values, each as often."""
    return Counter(one.records) == Counter(other.records) and Counter(one.undone) == Counter(
        other.undone
    )


@settings(max_examples=40)
@given(folders())
def test_any_valid_folder_comes_back_equal(folder):
    with tempfile.TemporaryDirectory() as place:
        first = write_folder(Path(place) / "first", folder, title="any")
        read = read_folder(first)
        assert same(read, folder)
        with Logbook(Path(place) / "book", writer="test") as book:
            loaded = take_tables(first)
            assert import_tables(book, loaded) == len(folder.records) + len(folder.undone)
            assert import_tables(book, loaded) == 0
            out = export_folder(book)
            tables = of_logbook(book)
        assert same(out, folder)
        again = read_folder(write_folder(Path(place) / "second", out, title="any"))
        assert same(again, folder)
        expected = of_folder(folder)
        assert len(tables.readings) == len(expected.readings)


@pytest.mark.slow
@settings(max_examples=15)
@given(folders())
def test_any_valid_folder_goes_through_parquet(folder):
    with tempfile.TemporaryDirectory() as place:
        read = read_folder(write_folder(Path(place) / "f", folder, title="any", parquet=True))
        assert same(read, folder)
        assert not list((Path(place) / "f").glob("*.csv"))


def test_parquet_keeps_the_types_of_the_tables(tmp_path):
    season = read_folder(shipped.folder("datasets/cold-hall-season"))
    folder = write_folder(tmp_path / "season", season, title="a season", parquet=True)
    kinds = pd.read_parquet(folder / "readings.parquet").dtypes
    assert str(kinds["time"]) == "datetime64[us, UTC]"
    assert str(kinds["cents"]) == "float64"
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    for resource in package["resources"]:
        assert resource["format"] == "parquet"
        assert (folder / resource["path"]).is_file()


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_an_export_is_a_valid_data_package(tmp_path):
    season = read_folder(shipped.folder("datasets/cold-hall-season"))
    folder = write_folder(tmp_path / "season", season, title="a season")
    report = frictionless.Package(str(folder / "datapackage.json")).validate()
    assert report.valid, report.flatten(["type", "message"])
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    fields = package["resources"][0]["schema"]["fields"]
    assert next(f for f in fields if f["name"] == "cents")["unit"] == "cent"


def test_an_export_does_not_write_over_tables(tmp_path):
    folder = read_folder(write(tmp_path / "f"))
    with pytest.raises(InputError, match=r"already holds readings\.csv"):
        write_folder(tmp_path / "f", folder, title="again")


def test_pseudonyms_replace_names_in_remarks_too_and_last(tmp_path):
    text = (
        tmp_path / "f",
        "Rowan,double horn,F,F4,4.0,,",
        "Rowan,double horn,F,F4,4.0,,rowan late",
    )
    folder = write(text[0])
    table = (folder / "readings.csv").read_text().replace(text[1], text[2])
    (folder / "readings.csv").write_text(table)
    with Logbook(tmp_path / "book", writer="test") as book:
        import_tables(book, take_tables(folder))
        names = book.pseudonyms(players_of(export_folder(book)))
        assert book.pseudonyms(["Rowan", "Isolde"]) == names | {"Isolde": "player 2"}
        out = with_pseudonyms(export_folder(book), names)
    assert "rowan" not in repr(out).lower()
    assert out.of("readings")[0].remark == "player 1 late"
    assert names == {"Rowan": "player 1"}


@pytest.mark.parametrize("text", ["=1+1", "+49 30", "-3 dB mute", "@home", " =cmd", "\uff1d1"])
def test_a_text_like_a_formula_is_written_as_it_is_unless_a_spreadsheet_asks(text):
    time = datetime(2026, 10, 3, 17, tzinfo=UTC)
    reading = Reading(time, text, text, "double horn", "F", "F4", -6.0, remark=text)
    folder = Folder((reading,), ((Event(time, "hall", "", "remark", remark=text), time),))
    disarmed = for_spreadsheets(folder)
    (cell,), ((undone, _),) = disarmed.records, disarmed.undone
    assert cell.player == cell.rehearsal == cell.remark == undone.remark == f"'{text}"
    assert cell.cents == -6.0, "a number stays one"
    assert (cell.note, undone.rehearsal) == ("F4", "hall")


def test_a_plain_export_keeps_a_formula(tmp_path):
    time = datetime(2026, 10, 3, 17, tzinfo=UTC)
    folder = Folder((Event(time, "hall", "", "remark", remark="=1+1"),), ())
    written = write_folder(tmp_path / "plain", folder, title="plain")
    assert same(read_folder(written), folder)


@pytest.mark.parametrize("parquet", [False, True])
def test_a_book_is_exported_a_block_at_a_time(tmp_path, monkeypatch, parquet):
    """Nothing is held but a block, and what is written is the same."""
    monkeypatch.setattr(data_package, "ROWS_AT_ONCE", 100)
    season = shipped.folder("datasets/cold-hall-season")
    told = []
    with Logbook(tmp_path / "book", writer="test") as book:
        import_tables(book, take_tables(season))
        first = next(book.rows("readings"))
        book.take_back([first["entry_id"]], datetime(2026, 12, 1, tzinfo=UTC))
        whole = export_folder(book)
        with streamed(book) as contents:
            written = write_folder(
                tmp_path / "out", contents, title="a season", parquet=parquet,
                progress=lambda *one: told.append(one),
            )  # fmt: skip
    assert same(read_folder(written), whole)
    assert len(whole.undone) == 1
    readings = [rows for table, rows in told if table == "readings"]
    assert readings[:3] == [100, 200, 300]
    assert dict(told)["readings"] == len(whole.of("readings"))
    if parquet:
        assert ParquetFile(written / "readings.parquet").num_row_groups == len(readings)


def test_what_is_written_meanwhile_is_not_in_an_export(tmp_path):
    season = shipped.folder("datasets/cold-hall-season")
    with Logbook(tmp_path / "book", writer="test") as book:
        import_tables(book, take_tables(season))
        before = export_folder(book)
        with streamed(book) as contents:
            found = contents.of("readings")
            next(found)
            book.keep(Event(datetime(2026, 12, 1, tzinfo=UTC), "late", "", "play"))
            assert 1 + len(list(found)) == len(before.of("readings"))
            assert len(list(contents.of("events"))) == len(before.of("events"))


def test_names_are_replaced_and_formulas_disarmed_while_a_book_is_read(tmp_path):
    time = datetime(2026, 10, 3, 17, tzinfo=UTC)
    folder = Folder((Reading(time, "hall", "Rowan", "double horn", "F", "F4", -6.0,
                             remark="=rowan"),))  # fmt: skip
    with Logbook(tmp_path / "book", writer="test") as book:
        import_tables(book, take_tables(write_folder(tmp_path / "f", folder, title="f")))
        with streamed(book) as contents:
            assert players_of(contents) == {"Rowan"}
            changed = for_spreadsheets(with_pseudonyms(contents, {"Rowan": "player 1"}))
            (reading,) = changed.of("readings")
    assert (reading.player, reading.remark) == ("player 1", "'=player 1")
