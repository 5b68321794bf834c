"""One path for every source: the same rows, and the same refusals as the scalar rules."""

import csv
import tempfile
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import drift
from drift import shipped
from drift.cluster.dataset import dataset_of
from drift.errors import DriftError, InputError
from drift.logbook.book import Logbook
from drift.logbook.bulk import import_tables
from drift.logbook.data_package import write_folder
from drift.logbook.folders import read_folder
from drift.logbook.records import RECORDS
from drift.logbook.rehearsals import load, of_folder
from drift.pairing.readings import pair
from drift.tables.problems import TablesRefused
from drift.tables.taking import take_tables
from drift.times import EVENINGS_APART
from tests.folders import HEADER_ONLY, READINGS, folders, write
from tests.tables.scalar import judged

SEASON = "datasets/cold-hall-season"


def same(one, other):
    for table in RECORDS:
        pd.testing.assert_frame_equal(getattr(one, table), getattr(other, table))


@settings(max_examples=40)
@given(folders())
def test_any_valid_folder_comes_back_as_it_was_written(folder):
    with tempfile.TemporaryDirectory() as place:
        written = write_folder(Path(place) / "f", folder, title="any")
        again = read_folder(written)
        assert again.undone == folder.undone
        for table in RECORDS:
            assert again.of(table) == folder.of(table)
        same(load(written), of_folder(folder))


SPOILERS = (
    *("", " ", ",", ",,", '"', "\n", "\r\n", "\n\n", "\n  \n"),
    *("\ufeff", "\u00a0", "_", "é", "\u0664"),
    *("0", "1", "9", "-", "+", ".", ":", "e5", "T", "Z", "True", "nan", "inf", "NA", "b", "#", "♭"),
)  # fmt: skip
# What only the whole table can tell; the scalar rules know one row.
OF_THE_TABLE = ("goes on after rows", "is before the row above", "overlap")


def evenings(taken, *, apart):
    """Return the rehearsal of each record; two of one name that lie days apart have their day."""
    names = [record.rehearsal for record in taken]
    times = {name: [one.time for one in taken if one.rehearsal == name] for name in names}
    several = {name for name, them in times.items() if max(them) - min(them) > EVENINGS_APART}
    return [
        f"{one.rehearsal} {one.time.astimezone():%Y-%m-%d}"
        if apart and one.rehearsal in several
        else one.rehearsal
        for one in taken
    ]


@settings(max_examples=300)
@given(
    st.sampled_from(["readings", "temperatures", "events"]),
    st.floats(0.0, 1.0),
    st.integers(0, 6),
    st.sampled_from(SPOILERS),
)
@example("readings", 0.9375, 6, "\n")  # the end of the row is a row of one comma
@example("readings", 0.5625, 1, "9")  # another day
def test_a_spoilt_table_is_refused_where_the_scalar_rules_refuse_it(table, place, cut, new):
    with tempfile.TemporaryDirectory() as temporary:
        folder = write(Path(temporary) / "f")
        file = folder / f"{table}.csv"
        text = file.read_text(encoding="utf-8")
        first_row = text.index("\n") + 1  # a spoilt header is another matter
        at = first_row + int(place * (len(text) - first_row))
        file.write_bytes((text[:at] + new + text[at + cut :]).encode())
        try:
            taken, lines = judged(file, table)
        except csv.Error:
            with pytest.raises(InputError, match=f"{table}.csv"):
                load(folder)
            return
        try:
            frame = getattr(load(folder), table)
        except TablesRefused as refusal:
            problems = refusal.problems
        else:
            problems = ()
            assert list(frame["time"]) == [record.time for record in taken]
            assert list(frame["rehearsal"]) == evenings(taken, apart=table == "readings")
        own = [p for p in problems if not any(word in p.problem for word in OF_THE_TABLE)]
        assert {problem.place.number for problem in own} == lines


ROWS = READINGS.splitlines()
QUOTED = [row.replace("Rowan", '"Rowan"') for row in ROWS]


@pytest.mark.parametrize(
    "rows",
    [
        pytest.param([*ROWS[:2], ROWS[2][:-1]], id="a row too short"),
        pytest.param([ROWS[0], *(row[:-1] for row in ROWS[1:])], id="every row too short"),
        pytest.param([ROWS[0], *(row + "," for row in ROWS[1:])], id="every row too long"),
        pytest.param([ROWS[0], ROWS[1] + ",", ROWS[2]], id="the first row too long"),
        pytest.param([ROWS[0], ROWS[1] + ",", ROWS[2][:-1]], id="one too long, one too short"),
        pytest.param([*QUOTED[:2], QUOTED[2][:-1]], id="quotes and a row too short"),
        pytest.param([*QUOTED[:2], QUOTED[2].replace('n"', 'n"x')], id="text after a quote"),
        pytest.param([row.replace("2026-", "0000-") for row in ROWS], id="a year before the first"),
        pytest.param([row.replace("+02:00", "+02:00\0") for row in ROWS], id="a NUL after a time"),
        pytest.param([row.replace("+02:00", "+02:75") for row in ROWS], id="75 minutes of offset"),
        pytest.param([ROWS[0], ROWS[1].replace(":00+", ":60+"), ROWS[2]], id="a 60th second"),
        pytest.param([ROWS[0], ROWS[1].replace(":00+", ":0a+"), ROWS[2]], id="no second"),
    ],
)
def test_what_a_parser_would_let_pass_is_refused_by_line(tmp_path, rows):
    folder = write(tmp_path / "f", readings="\n".join(rows) + "\n")
    with pytest.raises(InputError, match=r"readings.csv line \d"):
        load(folder)


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_lines_are_counted_through_quotes_and_blank_rows(tmp_path, line_end):
    rows = [ROWS[0], "", ROWS[1] + '"loud, he said"', ",,,,,,,,", "", ROWS[2].replace("6.0", "x")]
    folder = write(tmp_path / "f", readings=line_end.join(rows) + line_end)
    with pytest.raises(InputError, match=r"readings.csv line 6: cents 'x' is not a number"):
        load(folder)


def test_all_problems_are_named_at_once(tmp_path):
    bad = [ROWS[2].replace("6.0", f"x{number}") for number in range(30)]
    folder = write(tmp_path / "f", readings="\n".join([*ROWS[:2], *bad, ROWS[1][:-1]]) + "\n",
                   temperatures="time,rehearsal\n")  # fmt: skip
    with pytest.raises(TablesRefused, match="32 problems; nothing was taken") as refusal:
        load(folder)
    assert len(refusal.value.problems) == 32
    assert "and 12 more" in refusal.value.problem
    assert refusal.value.problem.count("\n") == 21
    first = refusal.value.problems[0]
    assert (first.place.number, first.column, first.value) == (3, "cents", "x0")


def test_one_cause_in_many_rows_is_told_once(tmp_path):
    bad = [ROWS[1].replace("double horn", "double hron")] * 2000
    folder = write(tmp_path / "f", readings="\n".join([ROWS[0], *bad]) + "\n")
    with pytest.raises(TablesRefused, match="2000 problems") as refusal:
        load(folder)
    assert len(refusal.value.problem.splitlines()) < 5


def test_a_frame_is_a_source_like_a_folder():
    season = load(shipped.folder(SEASON))
    tables = {name: getattr(season, name) for name in ("readings", "temperatures", "events")}
    shuffled = {
        name: frame.sample(frac=1.0, random_state=3).set_index("rehearsal", drop=False)
        for name, frame in tables.items()
    }
    spelled = dict(tables["readings"].dtypes)
    assert spelled
    again = load({**tables})
    for name in tables:
        pd.testing.assert_frame_equal(getattr(again, name), tables[name])
    assert len(drift.pair(load(shuffled)).frame) == len(drift.pair(season).frame)


@pytest.mark.parametrize("kind", ["category", "string", object])
def test_the_types_of_pandas_are_taken(kind):
    season = load(shipped.folder(SEASON))
    words = ["rehearsal", "player", "instrument", "side", "note", "remark"]
    frame = season.readings.astype(dict.fromkeys(words, kind))
    frame = frame.astype({"cents": "Float64"}).assign(
        time=frame["time"].astype("datetime64[ns, UTC]")
    )
    pd.testing.assert_frame_equal(load({"readings": frame}).readings, season.readings)


def test_labels_that_are_missing_are_refused_and_counted():
    season = load(shipped.folder(SEASON))
    frame = season.readings.astype({"player": object})
    frame.loc[[3, 5, 7], "player"] = [None, np.nan, pd.NA]
    with pytest.raises(TablesRefused, match="player is empty") as refusal:
        load({"readings": frame})
    assert [problem.place.number for problem in refusal.value.problems] == [3, 5, 7]


def test_a_folder_of_parquet_is_a_source(tmp_path):
    season = load(shipped.folder(SEASON))
    for name in ("readings", "temperatures", "events", "calibrations"):
        getattr(season, name).to_parquet(tmp_path / f"{name}.parquet")
    same(load(tmp_path), season)
    root = tmp_path / "readings.parquet"
    root.unlink()
    season.readings.to_parquet(root, partition_cols=["rehearsal"])
    frame = load(tmp_path).readings
    assert len(frame) == len(season.readings)
    assert set(frame["rehearsal"]) == set(season.readings["rehearsal"])
    assert load(root).readings.equals(frame)  # the readings alone
    root.rename(tmp_path / "readings")
    assert load(tmp_path).readings.equals(frame)
    assert dataset_of(tmp_path).tables["readings"] == tmp_path / "readings"


def test_a_paired_table_is_called_so_where_readings_are_expected(tmp_path):
    paired = pair(load(shipped.folder(SEASON))).frame
    paired.to_parquet(tmp_path / "paired.parquet")
    with pytest.raises(TablesRefused, match=r"this is a table of drift\.pair"):
        load(tmp_path / "paired.parquet")


@pytest.mark.parametrize(
    ("header", "rows"),
    [
        ("Time,Rehearsal,Player,Instrument,Side,Note,Cents,A4 (Hz),Remark", ","),
        ("time;rehearsal;player;instrument;side;note;cents;a4_hz;remark", ";"),
        ("TIME\tREHEARSAL\tPLAYER\tINSTRUMENT\tSIDE\tNOTE\tCENTS\tA4\tCOMMENTS", "\t"),
    ],
)
def test_tables_as_spreadsheets_write_them(tmp_path, header, rows):
    comma = rows != ","
    lines = [row.replace(",", rows) for row in ROWS[1:]]
    lines = [row.replace("4.0", "4,0").replace("6.0", "6,0") if comma else row for row in lines]
    folder = write(tmp_path / "f", readings="\ufeff" + "\r\n".join([header, *lines]) + "\r\n")
    assert load(folder).readings["cents"].tolist() == [4.0, 6.0]


def test_times_without_an_offset_need_a_zone(tmp_path):
    text = READINGS.replace("2026-10-03T19:05:00+02:00", "10/13/2026 7:05 PM")
    text = text.replace("2026-10-03T19:15:00+02:00", "10/13/2026 7:15 PM")
    folder = write(tmp_path / "f", readings=text)
    with pytest.raises(InputError, match="has no offset from UTC"):
        load(folder)
    times = load(folder, zone="Europe/Berlin").readings["time"]
    assert [time.isoformat() for time in times] == [
        "2026-10-13T17:05:00+00:00", "2026-10-13T17:15:00+00:00",
    ]  # fmt: skip


def test_day_and_month_are_never_guessed(tmp_path):
    text = READINGS.replace("2026-10-03T19:05:00+02:00", "9/12/2026 6:30 PM")
    text = text.replace("2026-10-03T19:15:00+02:00", "9/12/2026 6:40 PM")
    folder = write(tmp_path / "f", readings=text)
    with pytest.raises(InputError, match="could name two days"):
        load(folder, zone="Europe/Berlin")
    days = [
        load(folder, zone="Europe/Berlin", dates=dates).readings["time"][0].isoformat()[:10]
        for dates in ("day-first", "month-first")
    ]
    assert days == ["2026-12-09", "2026-09-12"]


def test_the_hour_that_comes_twice_is_refused(tmp_path):
    text = READINGS.replace("2026-10-03T19:05:00+02:00", "2026-10-25 02:30:00")
    with pytest.raises(InputError, match="comes twice or never in Europe/Berlin"):
        load(write(tmp_path / "f", readings=text), zone="Europe/Berlin")


def test_a_spreadsheet_is_a_source(tmp_path):
    book = openpyxl.Workbook()
    for name, text in (("Readings", READINGS),):
        sheet = book.active
        sheet.title = name
        for row in csv.reader(text.splitlines()):
            sheet.append([float(f) if f.replace(".", "").isdigit() else f for f in row])
    book.save(tmp_path / "evening.xlsx")
    assert load(tmp_path / "evening.xlsx").readings["cents"].tolist() == [4.0, 6.0]


def test_a_row_of_a_spreadsheet_is_named_by_its_number_there(tmp_path):
    book = openpyxl.Workbook()
    rows = list(csv.reader(READINGS.splitlines()))
    place = rows[0].index("cents")
    rows[2][place] = "sharp"
    for number, row in enumerate(rows, start=4):  # three empty rows above the heading
        for column, cell in enumerate(row, start=1):
            book.active.cell(number, column, cell)
    book.save(tmp_path / "evening.xlsx")
    with pytest.raises(InputError, match=r"row 6\b"):
        load(tmp_path / "evening.xlsx")


def test_header_rows_alone_are_empty_tables(tmp_path):
    found = load(write(tmp_path / "f", **HEADER_ONLY))
    assert all(len(getattr(found, table)) == 0 for table in RECORDS)


def test_a_zone_or_an_order_that_does_not_exist_is_named(tmp_path):
    folder = write(tmp_path / "f")
    with pytest.raises(DriftError, match="there is no time zone 'Europe/Nowhere'"):
        load(folder, zone="Europe/Nowhere")
    with pytest.raises(DriftError, match="dates 'guess' is not an order"):
        load(folder, dates="guess")


def test_an_open_document_spreadsheet_is_read_like_any_other(tmp_path):
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    rows = [
        ["time", "rehearsal", "player", "instrument", "note", "cents"],
        ["2026-10-03T19:00:00Z", "hall", "Rowan", "Bb trumpet", "F4", "6"],
    ]
    book, sheet = OpenDocumentSpreadsheet(), Table(name="readings")
    for row in rows:
        line = TableRow()
        for text in row:
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=text))
            line.addElement(cell)
        sheet.addElement(line)
    book.spreadsheet.addElement(sheet)
    book.save(str(tmp_path / "band.ods"))
    readings = load(tmp_path / "band.ods").readings
    assert readings[["player", "note", "cents"]].values.tolist() == [["Rowan", "F4", 6.0]]


def test_a_line_that_ends_in_a_return_alone_is_counted(tmp_path):
    spoilt = READINGS.replace("\n", "\r", 1) + "too,few\n"
    with pytest.raises(InputError, match="line 4: 2 fields where the header has"):
        load(write(tmp_path / "f", readings=spoilt))


def test_progress_counts_rows_of_tables_and_of_a_logbook(tmp_path):
    season = shipped.folder(SEASON)
    told = []
    tables = load(season, progress=lambda *one: told.append(one))
    rows = sum(len(getattr(tables, name)) for name in RECORDS)
    assert len(tables.readings) in [done for done, _ in told[1:]]
    assert 0 < told[0][0] < len(tables.readings)  # a large table shows how far it is
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert {of for _, of in told} == {rows}
    assert told[-1] == (rows, rows)
    with Logbook(tmp_path / "book", writer="test") as book:
        import_tables(book, take_tables(season))
    told.clear()
    load(tmp_path / "book", progress=lambda *one: told.append(one))
    assert told[-1] == (rows, rows)
    assert len(told) > 1
    assert [done for done, _ in told] == sorted(done for done, _ in told)


def test_a_column_in_another_unit_is_one_cause_with_its_count():
    season = load(shipped.folder(SEASON))
    warm = season.temperatures.assign(celsius=season.temperatures["celsius"] * 1.8 + 90.0)
    with pytest.raises(TablesRefused, match=r"\(\d+ rows alike\)") as refusal:
        load({"readings": season.readings, "temperatures": warm})
    assert len(refusal.value.problems) == len(warm)
    assert len(str(refusal.value).splitlines()) == 3


@pytest.mark.parametrize(("count", "lines"), [(5, 5), (6, 1), (25, 1)])
def test_a_few_wrong_values_are_told_one_by_one_and_many_as_one_cause(count, lines):
    season = load(shipped.folder(SEASON))
    warm = season.temperatures.copy()
    warm.loc[warm.index[:count], "celsius"] = 70.0 + np.arange(count) / 10.0
    with pytest.raises(TablesRefused) as refusal:
        load({"readings": season.readings, "temperatures": warm})
    assert len(refusal.value.problems) == count
    told = [one for one in str(refusal.value).splitlines() if "is outside -40 to 60" in one]
    assert len(told) == lines
    assert f"({count} rows alike)" in told[0] or lines == count


def test_a_name_is_judged_though_another_value_of_its_row_is_wrong():
    readings = pd.DataFrame(
        {"time": "2026-10-03T19:00:00+02:00", "rehearsal": "hall", "player": "Rowan",
         "instrument": ["kazoo", "double horn"], "side": ["", "Z"], "note": ["H9", "F4"],
         "cents": ["1", "x"]}
    )  # fmt: skip
    with pytest.raises(TablesRefused, match="'H9' is not a note") as refusal:
        load({"readings": readings})
    told = [(one.place.number, one.problem) for one in refusal.value.problems]
    assert [row for row, _ in told] == [0, 0, 1, 1]
    for text in ("'H9' is not a note", "kazoo", "'x' is not a number", "'Z'"):
        assert any(text in problem for _, problem in told), text


def test_a_logbook_gives_the_rows_and_the_fit_of_the_folder_that_it_was_made_of(tmp_path):
    folder = shipped.folder(SEASON)
    with Logbook(tmp_path / "book", writer="test") as book:
        import_tables(book, take_tables(folder))
    paired, again = (drift.pair(load(source)) for source in (folder, tmp_path / "book"))
    assert again.same_as(paired)
    expected, found = (drift.fit(one, method="least-squares") for one in (paired, again))
    np.testing.assert_allclose(found.rows["residual"], expected.rows["residual"], atol=1e-9)


def test_of_how_many_kinds_problems_are_is_said(tmp_path):
    bad = [*[ROWS[1].replace("double horn", "double hron")] * 5, ROWS[2].replace("6.0", "x")]
    folder = write(tmp_path / "f", readings="\n".join([ROWS[0], *bad]) + "\n")
    with pytest.raises(TablesRefused, match="6 problems of 2 kinds; nothing was taken"):
        load(folder)
