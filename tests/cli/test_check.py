"""drift check: what it shows, what it mends, and what it leaves alone."""

import csv
import io
import json
from datetime import UTC, datetime, timedelta

import pandas as pd
import pytest

from drift import load, shipped
from drift.logbook import digests
from drift.logbook import file as logbook_file
from drift.logbook.book import Logbook
from drift.logbook.bulk import import_tables
from drift.logbook.records import Event, Temperature
from drift.logbook.schema import MIGRATIONS
from drift.tables.taking import take_tables
from tests.folders import EVENTS_CSV, READINGS, TEMPERATURES, write
from tests.spoilt_seasons import clean

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


@pytest.fixture
def book(tmp_path):
    """A book whose one rehearsal was interrupted, at 31 °C after 20 °C a second before."""
    path = tmp_path / "band.logbook"
    with Logbook(path, writer="the test") as opened:
        opened.start("hall", START)
        for second, celsius in ((1, 20.0), (2, 31.0)):
            time = START.replace(second=second)
            opened.keep(Temperature(time, "hall", celsius, source="stage"))
        opened.keep(Event(START.replace(second=3), "hall", "Rowan", "slide", "main", 50.0))
    return path


def test_in_words(drift, book):
    status, out, err = drift("check", book, "--travel", "main=45", "--zone", "Asia/Tokyo")
    assert (status, err) == (0, "")
    assert out.splitlines() == [
        f"{book}: 1 rehearsal, 4 entries",
        "file intact; to look at: 3",
        "interrupted: hall has no end; drift log goes on with it",
        "jump: hall, stage: 20.0 to 31.0 °C at 2026-10-04 02:00",
        "beyond travel: hall: main at 50 mm, its travel is 45 mm",
    ]


def test_as_json(drift, book):
    status, out, _ = drift("check", book, "--json")
    answer = json.loads(out)
    assert status == 0
    assert (answer["rehearsals"], answer["entries"], answer["intact"]) == (1, 4, True)
    assert [finding["kind"] for finding in answer["findings"]] == ["interrupted", "jump"]


def test_a_book_is_read_once_for_its_digests_and_once_for_all_that_is_looked_at(
    drift, book, monkeypatch
):
    read = []
    blocks = digests.sound_blocks
    monkeypatch.setattr(digests, "sound_blocks", lambda *all: (read.append(1), blocks(*all))[1])
    drift("check", book)
    assert len(read) == 2


def test_nothing_is_changed_without_being_asked(drift, book):
    before = book.read_bytes()
    drift("check", book)
    assert book.read_bytes() == before


def test_an_interrupted_rehearsal_is_ended_when_asked_by_name(drift, book):
    drift("check", book, "--repair")
    with Logbook(book) as opened:
        assert opened.interrupted() == ["hall"]  # a repair closes nothing in silence
    assert "writes now" not in drift("check", book, "--repair")[1]
    status, out, err = drift("check", book, "--end", "hall")
    assert (status, err) == (0, "ended: hall, at the time of the last thing saved in it\n")
    assert "has no end" not in out
    status, _, err = drift("check", book, "--end", "hall")
    assert status == 1
    assert err.splitlines() == [
        "drift check: no rehearsal 'hall' was interrupted",
        "those interrupted: none",
    ]


def test_repair_brings_an_older_book_up_to_date(drift, book, monkeypatch):
    later = (*MIGRATIONS, ("ALTER TABLE reading ADD COLUMN mute TEXT NOT NULL DEFAULT ''",))
    monkeypatch.setattr(logbook_file, "MIGRATIONS", later)
    status, _, err = drift("check", book)
    assert status == 1
    assert err.splitlines()[1] == (
        f"run: drift check {book} --repair (it brings the book up to date)"
    )
    status, out, _ = drift("check", book, "--repair")
    assert status == 0
    assert "1 rehearsal, 4 entries" in out
    assert drift("check", book)[0] == 0


def test_a_backup_can_be_checked_too(drift, book, tmp_path):
    status, _, err = drift("check", book, "--backup", tmp_path / "copy")
    assert (status, err) == (0, f"backup: {tmp_path / 'copy'}\n")
    status, out, _ = drift("check", tmp_path / "copy")
    assert status == 0
    assert "1 rehearsal, 4 entries" in out
    status, _, err = drift("check", book, "--backup", tmp_path / "copy")
    assert status == 1
    assert "is already there" in err


@pytest.mark.parametrize("share", [0.0, 0.5])
def test_a_damaged_book_is_explained_in_two_lines(drift, book, share):
    """Damaged in its schema: it cannot even be opened; damaged later: it is looked through."""
    content = bytearray(book.read_bytes())
    first = max(int(len(content) * share) // 4096, 1)
    for page in range(first, len(content) // 4096, 2):
        content[page * 4096 : page * 4096 + 100] = b"\xff" * 100
    book.write_bytes(content)
    status, _, err = drift("check", book)
    assert status == 1
    assert "is damaged" in err.splitlines()[0]
    assert "--salvage FOLDER" in err.splitlines()[1]
    assert len(err.splitlines()) == 2


def test_a_book_that_is_not_there_is_not_made(drift, tmp_path):
    for more in ((), ("--repair",), ("--end", "hall")):
        status, _, err = drift("check", tmp_path / "no.logbook", *more)
        assert status == 1
        assert "there is no logbook" in err
    assert list(tmp_path.iterdir()) == []


def test_a_folder_is_checked_before_it_is_imported(drift, tmp_path):
    folder = write(tmp_path / "f", readings=READINGS.replace("4.0", "flat").replace("6.0", "900"))
    status, out, err = drift("check", folder)
    assert status == 1
    assert [line.partition(": ")[0] for line in out.splitlines()] == [
        f"{folder / 'readings.csv'} line {line}" for line in (2, 3)
    ]
    assert "2 problems" in err
    _, out, _ = drift("check", folder, "--json")
    first = json.loads(out)["problems"][0]
    assert (first["line"], first["column"], first["value"]) == (2, "cents", "flat")
    _, out, _ = drift("check", folder, "--csv")
    assert [row["value"] for row in csv.DictReader(out.splitlines())] == ["flat", "900"]


def test_a_folder_in_order_is_called_so(drift, tmp_path):
    text = READINGS.replace("cents,", "Deviation (cents),").replace("time,", "Time,")
    status, out, err = drift("check", write(tmp_path / "f", readings=text))
    assert (status, out) == (
        0,
        f"{tmp_path / 'f'}: 2 readings, 3 temperatures, 1 events; nothing wrong\n",
    )
    assert "columns are read so: 'Time' as time, 'Deviation (cents)' as cents\n" in err


@pytest.mark.slow
def test_where_nobody_logged_when_playing_began_is_to_be_looked_at(drift, tmp_path):
    folder = write(tmp_path / "f")
    (folder / "events.csv").unlink()
    _, out, _ = drift("check", folder)
    assert "to look at: 1\nNo event says when playing began on hall: taken as a minute" in out
    book = tmp_path / "band.logbook"
    drift("import", book, folder)
    _, out, _ = drift("check", book)
    assert "\nplaying assumed: No event says when playing began on hall" in out


def test_readings_of_a_folder_without_a_temperature_are_counted(drift, tmp_path):
    folder = write(tmp_path / "f")
    (folder / "temperatures.csv").write_text("time,rehearsal,source,celsius\n")
    _, out, _ = drift("check", folder)
    assert "to look at: 1\n2 of 2 readings (hall) have no temperature near enough: 10 min" in out


def test_times_are_told_in_the_zone_that_was_given(drift, tmp_path):
    sheet = tmp_path / "log.csv"
    sheet.write_text(
        "rehearsal,time,player,instrument,note,cents,celsius\n"
        "hall,2026-10-05 18:45,Wren,flute,A4,3,20\n"
        "hall,2026-10-05 18:21,Wren,flute,A4,3,20\n"
    )
    _, out, _ = drift("check", sheet, "--zone", "America/New_York")
    assert "time 2026-10-05T18:21:00-04:00 is before the row above (2026-10-05T18:45:00-04:" in out


BEYOND = (
    "rehearsal,time,player,instrument,note,cents,celsius\n"
    "hall,2026-10-05 18:45,Wren,flute,A2,3,20\n"
    "hall,2026-10-05 18:50,Wren,flute,A4,3,20\n"
)


@pytest.mark.slow
def test_every_line_of_tables_and_logbooks_is_told_in_the_zone_that_was_given(drift, tmp_path):
    sheet, book = tmp_path / "log.csv", tmp_path / "band.logbook"
    sheet.write_text(BEYOND)
    where = ("--zone", "America/New_York")
    assert "Wren, A2, 1 reading at 18:45; the flute" in drift("check", sheet, *where)[1]
    assert drift("import", book, sheet, *where)[0] == 0
    assert "Wren, A2, 1 reading at 18:45; the flute" in drift("check", book, *where)[1]
    status, _, err = drift("check", book, "--zone", "Nowhere/Land")
    assert status != 0
    assert "there is no time zone 'Nowhere/Land'" in err


def test_without_a_zone_times_of_tables_are_told_as_they_were_written(drift, tmp_path):
    sheet = tmp_path / "log.csv"
    sheet.write_text(BEYOND.replace(":45", ":45:00-05:00").replace(":50", ":50:00-05:00"))
    assert "Wren, A2, 1 reading at 18:45; the flute" in drift("check", sheet)[1]


@pytest.mark.usefixtures("in_berlin")
def test_without_a_zone_times_name_this_computers_and_what_is_typed_says_another(drift, tmp_path):
    book = tmp_path / "band.logbook"
    with Logbook(book, writer="the test") as opened:
        opened.start("hall", START)
        opened.keep(Event(START, "hall", "Rowan", "slide", "main", 120.0))
        opened.end("hall", START + timedelta(hours=1))
    assert "at 2026-10-03 19:00 slide main and the mm\n" in drift("check", book)[1]
    told = drift("check", book, "--zone", "America/New_York")[1]
    assert (
        "at 2026-10-03 13:00 slide main and the mm (by a clock in America/New_York; drift log "
        "goes by this computer's)\n"
    ) in told


def test_what_the_tables_show_is_spoilt(drift, tmp_path):
    path = tmp_path / "band.logbook"
    with Logbook(path, writer="the test") as opened:
        opened.start("hall", START)
        for minute in range(0, 60, 5):
            time = START + timedelta(minutes=minute)
            opened.keep(Temperature(time, "hall", 54.0 + minute / 60, source="stage"))
        opened.end("hall", START + timedelta(hours=1))
    status, out, _ = drift("check", path)
    assert status == 0
    assert "fahrenheit: The temperatures of hall look like °F under celsius" in out


@pytest.mark.slow
def test_what_rows_show_together_is_told_before_they_are_imported(drift, tmp_path, monkeypatch):
    """One hour late by the logger's clock; each temperature by itself is right."""
    season = load(shipped.folder("datasets/cold-hall-season"))
    late = season.temperatures["time"] + pd.Timedelta(hours=1)
    folder = tmp_path / "late"
    folder.mkdir()
    season.readings.to_parquet(folder / "readings.parquet")
    season.events.to_parquet(folder / "events.parquet")
    season.temperatures.assign(time=late).to_parquet(folder / "temperatures.parquet")
    status, out, _ = drift("check", folder)
    assert status == 0
    assert "temperatures 1 hour earlier fit. Check clock and time zone of the thermometer." in out
    assert out.count("Check clock and time zone of the thermometer.") == 1  # of all together
    assert sum(name in out for name in season.names) >= len(season.names) // 2
    _, out, _ = drift("check", folder, "--json")
    assert any("1 hour earlier fit" in one for one in json.loads(out)["to_look_at"])
    monkeypatch.setattr("drift.cli.table_check.MOST_COMPARED", 100)
    _, out, _ = drift("check", folder)
    assert "to look at: 1\nRows were not compared with each other" in out


@pytest.mark.slow
def test_what_the_regression_notices_is_told_of_tables_as_of_a_logbook(drift, tmp_path):
    season = load(shipped.folder("datasets/cold-hall-season"))
    readings = season.readings
    cents = readings["cents"].where(readings["player"] != "Isolde", -readings["cents"])
    folder = tmp_path / "turned"
    folder.mkdir()
    readings.assign(cents=cents).to_parquet(folder / "readings.parquet")
    for name in ("temperatures", "events"):
        getattr(season, name).to_parquet(folder / f"{name}.parquet")
    told = "All of Isolde's readings, in every rehearsal, fit with signs turned"
    _, out, _ = drift("check", folder)
    assert [told in line for line in out.splitlines()].count(True) == 1
    book = tmp_path / "band.logbook"
    drift("import", book, folder)
    of_book = json.loads(drift("check", book, "--json")[1])["findings"]
    texts = {one["text"] for one in of_book if one["kind"] == "sign"}
    assert texts
    assert texts <= set(json.loads(drift("check", folder, "--json")[1])["to_look_at"])


@pytest.mark.slow
def test_what_looks_spoilt_in_a_folder_is_told_before_it_is_imported(drift, tmp_path):
    """Half of it in °F within the limits of a temperature of air: 12 °C are 54 °F."""
    folder = _with_fahrenheit(tmp_path / "f")
    status, out, _ = drift("check", folder)
    count, line, alone = out.partition("; ")[2].splitlines()
    assert (status, count) == (0, "to look at: 2")
    assert "readings (2026-04-21 mild evening) have no temperature near enough" in alone
    assert "temperatures.parquet: temperatures of " in line
    assert "look like °F; if they are, call the column fahrenheit" in line
    _, out, _ = drift("check", folder, "--json")
    assert json.loads(out)["problems"] == []
    assert ["look like °F" in one for one in json.loads(out)["to_look_at"]] == [True, False]
    _, _, err = drift("import", tmp_path / "hot.logbook", folder)
    assert "look like °F; if they are" in err


@pytest.mark.slow
def test_slides_farther_out_than_slides_go_are_named_before_and_after_they_are_imported(
    drift, tmp_path, monkeypatch
):
    events = EVENTS_CSV + "2026-10-03T19:05:00+02:00,hall,Ilse,slide,main,140,\n"
    folder = write(tmp_path / "f", events=events)
    status, out, err = drift("check", folder)
    far = "main at 140 mm is farther out than a slide goes; give mm from fully in"
    line = f"{folder / 'events.csv'} line 3: {far}"
    assert (status, err, out.partition("; ")[2]) == (0, "", f"to look at: 1\n{line}\n")
    assert json.loads(drift("check", folder, "--json")[1])["to_look_at"] == [line]
    book = tmp_path / "band.logbook"
    assert far in drift("import", book, folder)[2]
    status, out, _ = drift("check", book)
    line = next(text for text in out.splitlines() if text.startswith("far out: "))
    then = datetime(2026, 10, 3, 17, 5, tzinfo=UTC).astimezone()
    right = f"at {then:%Y-%m-%d %H:%M} slide main and the mm"
    assert (status, line) == (
        0,
        "far out: hall: Ilse, main at 140 mm is farther out than a slide goes; "
        f"enter it right in drift log with its time: {right}",
    )
    found = json.loads(drift("check", book, "--json")[1])["findings"]
    assert [one["position_mm"] for one in found if one["kind"] == "far out"] == [140.0]
    assert "far out" not in drift("check", book, "--travel", "main=150")[1]
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{right.replace('and the mm', '14')}\nend\n"))
    seat = ("--rehearsal", "hall", "--player", "Ilse", "--instrument", "Bb trumpet")
    assert "in place of slide main 140 mm" in drift("log", book, *seat)[1]
    assert "far out" not in drift("check", book)[1]


@pytest.mark.slow
def test_a_fit_with_a_rehearsal_in_fahrenheit_blames_nothing_else(drift, tmp_path):
    _, out, _ = drift("fit", _with_fahrenheit(tmp_path / "f"))
    hot = next(line for line in out.splitlines() if "look like °F" in line)
    assert hot.startswith("warning: the temperatures of ")
    assert "name their column fahrenheit" in hot
    assert "fit with signs turned" not in out


@pytest.mark.slow
def test_signs_turned_all_season_are_told_by_check_fit_and_report_and_nothing_else(drift, tmp_path):
    made = clean((45, 3), 6, 3, "flute")
    made.readings["cents"] *= -1.0
    book = tmp_path / "band.logbook"
    with Logbook(book, writer="test") as opened:
        import_tables(opened, take_tables(made.tables()))
    told = "All readings, in every rehearsal, fit with signs turned"
    _, out, _ = drift("check", book)
    assert out.count("\nsign: ") == 1
    assert told in out
    assert "look at: 1\n" in out
    _, out, _ = drift("fit", book)
    assert [told in line for line in out.splitlines() if line.startswith("to look at")] == [True]
    drift("report", book, "--out", tmp_path / "season.html")
    assert told in (tmp_path / "season.html").read_text("utf-8")


def _with_fahrenheit(folder):
    """Return the folder of a cold season of which one rehearsal was measured in °F."""
    season = load(shipped.folder("datasets/cold-hall-season"))
    temperatures = season.temperatures
    coldest = temperatures.groupby("rehearsal")["celsius"].mean().idxmin()
    there = temperatures["rehearsal"] == coldest
    celsius = temperatures["celsius"]
    hot = temperatures.assign(celsius=celsius.where(~there, celsius * 1.8 + 32.0).clip(upper=60.0))
    folder.mkdir()
    for name in ("readings", "events"):
        getattr(season, name).to_parquet(folder / f"{name}.parquet")
    hot.to_parquet(folder / "temperatures.parquet")
    return folder


def test_a_table_in_fahrenheit_is_told_what_to_call_its_column(drift, tmp_path):
    rows = TEMPERATURES.replace("21.2", "70.2")
    folder = write(tmp_path / "f", readings=READINGS, temperatures=rows)
    status, out, _ = drift("check", folder)
    assert status == 1
    assert out.count("in °F, call the column fahrenheit") == 1


def test_a_wide_table_is_told_how_it_is_read(drift, tmp_path):
    wide = (
        "time,rehearsal,player,instrument,F4,Bb4\n2026-10-03T19:05:00+02:00,hall,Rowan,horn,1,2\n"
    )
    status, out, _ = drift("check", write(tmp_path / "f", readings=wide))
    assert status == 1
    assert (
        "unknown column 'F4', 'Bb4'; a table with a column for each note is read with --wide" in out
    )


def test_a_title_above_the_heading_is_told_to_be_deleted(drift, tmp_path):
    _, out, _ = drift("check", write(tmp_path / "f", readings=f"Our readings\n{READINGS}"))
    assert "'Our readings'; if this is a title above the heading, delete its line" in out
    _, out, _ = drift("check", write(tmp_path / "f", readings=READINGS.replace("remark", "own")))
    assert "this is a title" not in out


def test_a_column_of_ones_own_is_told_where_it_goes(drift, tmp_path):
    own = READINGS.replace("remark", "mouthpiece")
    _, out, _ = drift("check", write(tmp_path / "f", readings=own))
    assert "a table beside: drift fit --beside FILE, or drift.pair(logged, beside=table)" in out
    _, out, _ = drift("check", write(tmp_path / "f", readings=READINGS.replace("cents", "cnts")))
    assert "did you mean cents? the columns are" in out
    assert "beside" not in out


def test_an_instrument_that_is_not_known_is_shown_once_of_many_rows(drift, tmp_path):
    head, row, _ = READINGS.splitlines()
    rows = [row.replace("double horn", "serpent").replace(":05:", f":{n:02}:") for n in range(30)]
    _, out, err = drift("check", write(tmp_path / "f", readings="\n".join([head, *rows]) + "\n"))
    assert len(out.splitlines()) == 1
    assert "no instrument 'serpent' in the catalogue (30 rows alike)" in out
    assert "30 problems, all alike\n" in err


def test_a_clock_without_an_offset_is_told_once_of_hundreds_of_rows(drift, tmp_path):
    head, row, _ = READINGS.splitlines()
    rows = [row.replace("19:05:00+02:00", f"19:{n // 60:02}:{n % 60:02}") for n in range(450)]
    folder = write(tmp_path / "f", readings="\n".join([head, *rows]) + "\n")
    _, out, err = drift("check", folder)
    assert len(out.splitlines()) == 1
    assert "has no offset from UTC (450 rows alike); say where the clock was" in out
    assert "450 problems, all alike\n" in err
    _, out, _ = drift("check", folder, "--csv")
    assert len(out.splitlines()) == 451
    both = write(tmp_path / "h", readings="\n".join([head, *rows, rows[0].replace("4.0", "flat")]))
    assert "452 problems of 2 kinds\n" in drift("check", both)[2]
    one = write(tmp_path / "g", readings=READINGS.replace("4.0", "flat"))
    _, _, err = drift("check", one)
    assert ": 1 problem\n" in err


def test_a_player_who_is_missing_is_asked_for_without_contradiction(drift, tmp_path):
    _, out, _ = drift("check", write(tmp_path / "f", readings=READINGS.replace("Rowan", "")))
    assert "player is empty; give the player: who played\n" in out


def test_names_of_rehearsals_that_differ_between_tables_are_told(drift, tmp_path):
    folder = write(tmp_path / "f")
    air = folder / "temperatures.csv"
    air.write_text(air.read_text().replace(",hall,", ",stage,"))
    _, out, _ = drift("check", folder)
    assert (
        "2 of 2 readings have their temperatures under another rehearsal (hall under stage)" in out
    )
    assert "near enough" not in out
    book = tmp_path / "band.logbook"
    drift("import", book, folder)
    _, out, _ = drift("check", book)
    assert "other rehearsal: hall: 2 readings from" in out
    assert "no temperature within" not in out
    air.write_text(air.read_text().replace(",stage,", ",").replace(",rehearsal,", ","))
    status, out, err = drift("check", folder)
    assert (status, out) == (0, f"{folder}: 2 readings, 3 temperatures, 1 events; nothing wrong\n")
    assert "each row belongs to the rehearsal whose readings were made at its time" in err


def test_a_column_in_hertz_is_told_once(drift, tmp_path):
    head, row, *_ = READINGS.splitlines()
    rows = [
        row.replace("19:05", f"19:{5 + at:02}").replace("4.0", hertz).replace("F4", note)
        for at, (note, hertz) in enumerate([("F4", "347.9"), ("Bb4", "460,1 Hz"), ("F4", "352")])
    ]
    slip = rows[0].replace("347.9", "900").replace("19:05", "19:15")
    folder = write(tmp_path / "f", readings="\n".join([head.replace(",", ";"), *[
        one.replace(",", ";").replace("460;1", "460,1") for one in (*rows, slip)
    ]]) + "\n")  # fmt: skip
    status, out, _ = drift("check", folder)
    slipped, hertz = (line.removeprefix(f"{folder}/readings.csv ") for line in out.splitlines())
    assert (status, slipped.partition(";")[0]) == (1, "line 5: 900 cents is outside -200 to 200")
    assert hertz == (
        "line 2: 347.9 is the pitch of F4 in Hz, not in cents (3 rows alike); give how many cents "
        "the note was off: 1200 log2(Hz read / Hz of the note)"
    )
    _, _, err = drift("fit", folder)
    assert "4 problems of 2 kinds" in err
    assert "(3 rows alike)" in err
    _, out, _ = drift("check", folder, "--csv")
    assert len(out.splitlines()) == 5
