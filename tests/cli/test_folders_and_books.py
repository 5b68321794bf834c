"""drift import and drift export: without loss, and with two lines when something is wrong."""

import pandas as pd
import pytest

from drift import shipped
from drift.logbook.folders import read_folder
from tests.folders import write

SEASON = shipped.folder("datasets/cold-hall-season")


def test_there_and_back(drift, tmp_path):
    book = tmp_path / "band.logbook"
    status, out, _ = drift("import", book, SEASON)
    assert status == 0
    assert "563 readings" in out
    status, out, _ = drift("import", book, SEASON)
    assert "0 new entries; 1181 were there already" in out
    status, _, _ = drift("export", book, tmp_path / "out")
    assert status == 0
    assert read_folder(tmp_path / "out") == read_folder(SEASON)


def test_there_and_back_by_parquet(drift, tmp_path):
    book, again = tmp_path / "band.logbook", tmp_path / "again.logbook"
    drift("import", book, SEASON)
    status, _, _ = drift("export", book, tmp_path / "out", "--parquet")
    assert status == 0
    status, out, _ = drift("import", again, tmp_path / "out")
    assert status == 0
    assert "1181 new entries" in out
    assert read_folder(tmp_path / "out") == read_folder(SEASON)
    status, _, err = drift("export", book, tmp_path / "out")
    assert status == 1
    assert "already holds readings.parquet" in err


def evening(folder, day, name, slide=True):
    """A folder with one reading, and where its slide was."""
    at, whose = f"2026-06-{day}T18:10:00Z,{name}", "Rowan,Bb trumpet"
    tables = {
        "readings": f"time,rehearsal,player,instrument,note,cents\n{at},{whose},Bb4,-18\n",
        "temperatures": f"time,rehearsal,celsius,source\n{at},31,typed\n",
        "events": f"time,rehearsal,player,instrument,event,slide,position_mm\n{at},{whose},slide,"
        "main,14\n",
    }
    return write(folder, **{n: text for n, text in tables.items() if slide or n != "events"})


@pytest.mark.parametrize("custom", [True, False])
def test_readings_without_positions_are_named_where_positions_are_the_custom(
    drift, tmp_path, custom
):
    book = tmp_path / "band.logbook"
    _, out, _ = drift("import", book, evening(tmp_path / "a", "06", "hall", slide=custom))
    assert "2 new" in out or "3 new" in out
    assert "no slide position" not in out
    parade = evening(tmp_path / "b", "13", "parade", slide=False)
    _, out, _ = drift("import", book, parade)
    assert ("no slide position for parade: if slides were set there, log" in out) is custom
    assert "no slide position" not in drift("import", book, parade)[1]  # nothing new
    _, out, _ = drift("import", book, evening(tmp_path / "c", "13", "parade"))
    assert "1 new entries" in out
    assert "no slide position" not in out


def test_one_rehearsal_and_pseudonyms(drift, tmp_path):
    book = tmp_path / "band.logbook"
    drift("import", book, SEASON)
    status, _out, _ = drift(
        "export", book, tmp_path / "out", "--pseudonyms", "--rehearsal", "2026-05-19 warm"
    )
    assert status == 0
    text = (tmp_path / "out" / "readings.csv").read_text(encoding="utf-8")
    assert "Rowan" not in text
    assert "player 1" in text
    words = ("export", book, tmp_path / "again", "--pseudonyms")
    _, out, _ = drift(*words, "--key", tmp_path / "key.csv")
    assert "do not share it" in out
    head, *names = (tmp_path / "key.csv").read_text(encoding="utf-8").splitlines()
    assert head == "player,pseudonym"
    key = dict(line.split(",") for line in names)
    original = pd.read_csv(SEASON / "readings.csv")["player"]
    shared = pd.read_csv(tmp_path / "again" / "readings.csv")["player"]
    assert sorted(original.map(key)) == sorted(shared)
    status, _, err = drift(
        *words[:2], tmp_path / "x", "--pseudonyms", "--key", tmp_path / "x/k.csv"
    )
    assert status == 1
    assert "would lie in the folder to share" in err
    assert drift(*words[:2], tmp_path / "y", "--key", tmp_path / "k.csv")[0] == 1
    status, _, err = drift("export", book, tmp_path / "more", "--rehearsal", "Tuesday")
    assert status == 1
    assert "there is no rehearsal 'Tuesday'" in err


@pytest.mark.parametrize(
    ("folder", "words"),
    [
        ({"readings": "time,rehearsal\n"}, "no column 'player'"),
        ({"readings": ""}, "is empty"),
        ({"temperatures": "time,rehearsal,celsius,colour\n"}, "unknown column 'colour'"),
    ],
)
def test_a_bad_folder_is_explained_in_two_lines_and_nothing_is_kept(drift, tmp_path, folder, words):
    book = tmp_path / "band.logbook"
    status, out, err = drift("import", book, write(tmp_path / "f", **folder))
    assert (status, out) == (1, "")
    assert words in err
    assert len(err.splitlines()) == 2
    assert not book.exists()


def test_arguments_the_wrong_way_round_are_said_the_right_way(drift, tmp_path):
    status, _, err = drift("import", SEASON, tmp_path / "band.logbook")
    assert status == 1
    assert f"drift import {tmp_path / 'band.logbook'} {SEASON}" in err


def test_a_logbook_that_is_no_database(drift, tmp_path):
    book = tmp_path / "words.logbook"
    book.write_text("this is not a database, only some words in a file\n" * 40)
    status, _, err = drift("import", book, SEASON)
    assert status == 1
    assert "is not a logbook" in err
    assert len(err.splitlines()) == 2


def test_a_folder_or_a_book_that_is_not_there(drift, tmp_path):
    for words in (("import", tmp_path / "b", tmp_path / "no"), ("export", tmp_path / "no", "x")):
        status, _, err = drift(*words)
        assert status == 1
        assert "there is no" in err
        assert len(err.splitlines()) == 2
