"""Every command that answers from a folder of tables reads them as they are."""

import argparse
import importlib

import pandas as pd
import pytest

from drift.cli import COMMANDS, main, module_of
from drift.logbook.rehearsals import load

ZONE = "Europe/Berlin"
EVENING = pd.Timestamp("2026-03-03 19:00", tz=ZONE)

#: What a command is asked beside its source.
ASKED = {
    "fit": [],
    "check": [],
    "report": ["--out", "{out}/report.html"],
    "slides": ["--instrument", "Bb trumpet", "--celsius", "28"],
    "calibrate": ["--player", "Ada", "--slide", "main"],
    "gig": ["--celsius", "28", "--from", "14:00", "--to", "15:00", "--instrument", "Bb trumpet",
            "--date", "2026-06-06", "--draws", "100"],
    "summary": ["--out", "{out}/band.json"],
}  # fmt: skip

#: These have a use for --zone whatever the source is.
OF_THE_OUTPUT = {"check", "fit", "gig", "report", "slides"}

#: The metavars of what may be a folder of tables, by command where it is not SOURCE.
TABLES = {"check": "LOGBOOK", "import": "FOLDER"}


def parser_of(command):
    parser = argparse.ArgumentParser()
    importlib.import_module(module_of(command)).add_arguments(parser)
    return parser


def readers():
    """Return the commands that take a rehearsal folder."""
    found = []
    for command in COMMANDS:
        names = {action.metavar for action in parser_of(command)._actions}
        if TABLES.get(command, "SOURCE") in names:
            found.append(command)
    return found


def local(minutes):
    return (EVENING + pd.to_timedelta(minutes, "min")).strftime("%d/%m/%Y %H:%M:%S")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return tables in local time, days first, one column a note; the slide is moved once."""
    minutes = list(range(40, 101, 3))
    out = [12.0 if minute < 60 or minute > 80 else 24.0 for minute in minutes]
    cents = [4.0 - 1.1 * (millimetres - 12.0) for millimetres in out]
    path = tmp_path_factory.mktemp("tables")
    readings = pd.concat(
        pd.DataFrame({"time": [local(one) for one in minutes], "player": player, "Bb4": cents})
        for player in ("Ada", "Ben", "Cleo")
    ).sort_values("time", kind="stable")
    readings = readings.assign(rehearsal="hall", instrument="Bb trumpet")
    readings.to_csv(path / "readings.csv", index=False)
    air = {"time": [local(minute) for minute in range(0, 120, 5)], "celsius": 20.5}
    pd.DataFrame(air).to_csv(path / "temperatures.csv", index=False)
    moves = [(0, "play", "", ""), (1, "slide", "main", 12), (59, "slide", "main", 24),
             (81, "slide", "main", 12)]  # fmt: skip
    events = pd.DataFrame(moves, columns=["time", "event", "slide", "position_mm"])
    events = events.assign(
        time=events["time"].map(local), player=["", "Ada", "Ada", "Ada"], rehearsal="hall"
    )
    events.to_csv(path / "events.csv", index=False)
    return path


HOW = ("--zone", ZONE, "--dates", "day-first", "--wide")


def asked(command, source, out):
    return [command, source, *(word.format(out=out) for word in ASKED[command])]


def test_all_commands_that_read_a_folder_are_known_here():
    assert set(readers()) == {*ASKED, "import"}


@pytest.mark.parametrize("command", readers())
def test_every_command_has_the_same_words_for_how_tables_are_written(command):
    words = {word for action in parser_of(command)._actions for word in action.option_strings}
    assert words >= {"--zone", "--dates", "--wide"}


@pytest.mark.parametrize("command", ASKED)
@pytest.mark.slow
def test_every_command_reads_tables_as_they_are(drift, folder, tmp_path, command):
    status, _, err = drift(*asked(command, folder, tmp_path), *HOW)
    assert status == 0, err
    status, out, err = drift(*asked(command, folder, tmp_path), "--dates", "day-first", "--wide")
    assert status == 1
    assert "has no offset from UTC" in out + err


def test_what_was_imported_is_what_the_others_read(drift, folder, tmp_path):
    book = tmp_path / "band.logbook"
    assert drift("import", book, folder, *HOW)[0] == 0
    tables = load(folder, zone=ZONE, dates="day-first", wide=True)
    assert load(book).readings["time"].equals(tables.readings["time"])


@pytest.mark.parametrize("command", [name for name in ASKED if name != "check"])
@pytest.mark.slow
def test_how_tables_are_written_has_no_use_for_a_logbook(drift, folder, tmp_path, command):
    book = tmp_path / "band.logbook"
    drift("import", book, folder, *HOW)
    status, _, err = drift(*asked(command, book, tmp_path), "--wide")
    assert (status, "--wide says how tables are written" in err) == (1, True)
    status, _, err = drift(*asked(command, book, tmp_path), "--zone", ZONE)
    assert status == (0 if command in OF_THE_OUTPUT else 1), err


@pytest.mark.slow
def test_a_report_names_the_command_that_makes_it_again(folder, tmp_path, capsys):
    page = tmp_path / "report.html"
    assert main(["report", str(folder), "--out", str(page), *HOW]) == 0
    assert f"--zone {ZONE} --dates day-first --wide" in page.read_text(encoding="utf-8")
    assert "19:59" in page.read_text(encoding="utf-8")


@pytest.mark.slow
def test_an_offset_for_a_gig_is_that_of_its_readings_too(drift, folder, tmp_path):
    words = asked("gig", folder, tmp_path)
    for offset in ("+01:00", "+05:30"):
        status, _, err = drift(*words, f"--zone={offset}", "--dates", "day-first", "--wide")
        assert status == 0, err
