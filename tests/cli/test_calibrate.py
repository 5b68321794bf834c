"""drift calibrate: measured from a folder or a logbook, kept in the logbook, used from then on."""

import io
import json
import sqlite3
from contextlib import closing

import pytest

from drift.logbook import digests
from drift.logbook.book import Logbook
from drift.logbook.rehearsals import load

READINGS = """\
time,rehearsal,player,instrument,side,note,cents
2026-10-03T19:01:00Z,hall,Rowan,Bb trumpet,,Bb4,4.0
2026-10-03T19:02:00Z,hall,Rowan,Bb trumpet,,Bb4,-36.0
2026-10-03T19:03:00Z,hall,Rowan,Bb trumpet,,Bb4,5.0
"""
EVENTS = """\
time,rehearsal,player,event,slide,position_mm,remark
2026-10-03T19:00:30Z,hall,Rowan,slide,main,10,
2026-10-03T19:01:30Z,hall,Rowan,slide,main,25,
2026-10-03T19:02:30Z,hall,Rowan,slide,main,10,
"""
TEMPERATURES = """\
time,rehearsal,celsius,source
2026-10-03T19:00:00Z,hall,21.0,stage
2026-10-03T19:05:00Z,hall,21.2,stage
"""
WORDS = ("--player", "Rowan", "--slide", "main")


@pytest.fixture
def folder(tmp_path):
    path = tmp_path / "hall"
    path.mkdir()
    (path / "readings.csv").write_text(READINGS, encoding="utf-8")
    (path / "events.csv").write_text(EVENTS, encoding="utf-8")
    (path / "temperatures.csv").write_text(TEMPERATURES, encoding="utf-8")
    return path


@pytest.fixture
def book(drift, folder, tmp_path):
    path = tmp_path / "season.drift"
    assert drift("import", path, folder)[0] == 0
    return path


def test_a_folder_only_shows_it(drift, folder):
    before = sorted(file.read_bytes() for file in folder.iterdir())
    status, out, err = drift("calibrate", folder, *WORDS)
    assert (status, err) == (0, "")
    assert "cents/mm" in out
    assert "only shown, not saved" in out
    assert sorted(file.read_bytes() for file in folder.iterdir()) == before


def test_the_number_is_the_difference_over_the_way(drift, folder):
    _, out, _ = drift("calibrate", folder, *WORDS, "--json")
    (slope,) = json.loads(out)["slides"]
    # 40.5 cents over 15 mm of pull, a little more at the inner position than on average.
    assert slope["cents_per_mm"]["estimate"] == pytest.approx(-40.5 / 15, rel=0.02)
    found = slope["cents_per_mm"]
    assert found["low"] < found["estimate"] < found["high"]


def test_a_logbook_keeps_it_and_corrections_use_it(drift, book):
    question = ("slides", "physics", "--instrument", "Bb trumpet", "--celsius", 30, "--json")
    status, out, _ = drift("calibrate", book, *WORDS, "--json")
    assert status == 0
    assert json.loads(out)["saved"] is True
    (row,) = load(book).calibrations.to_dict("records")
    (slope,) = json.loads(out)["slides"]
    assert row["cents_per_mm"] == slope["cents_per_mm"]["estimate"]
    assert (row["player"], row["slide"], row["readings"]) == ("Rowan", "main", 3)
    _, out, _ = drift("slides", book, "--player", "Rowan", "--celsius", 30, "--json")
    answer = json.loads(out)
    assert answer["calibration"][0]["cents_per_mm"] == slope["cents_per_mm"]["estimate"]
    physics = json.loads(drift(*question)[1])
    per_cent = [
        a["moves"][0]["move_mm"]["estimate"] / a["expected_cents"][""]["estimate"]
        for a in (answer, physics)
    ]
    assert per_cent[0] == pytest.approx(
        per_cent[1] * 1.10 * slope["calculated_cents_per_mm"] / slope["cents_per_mm"]["estimate"],
        0.02,
    )


def test_a_logbook_can_be_left_alone(drift, book):
    _, out, _ = drift("calibrate", book, *WORDS, "--only-show")
    assert "only shown, not saved" in out
    assert load(book).calibrations.empty


def test_problems_are_told_in_two_lines(drift, folder):
    for words, problem in (
        (("--player", "Ada", "--slide", "main"), "there is no player 'Ada'"),
        (("--player", "Rowan", "--slide", "third"), "has no slide 'third'"),
    ):
        status, out, err = drift("calibrate", folder, *words)
        assert (status, out) == (1, "")
        assert problem in err.splitlines()[0]
        assert len(err.splitlines()) == 2
    assert drift("calibrate", folder)[0] == 2


WRONG_SIGN = READINGS.replace("-36.0", "36.0")


@pytest.fixture
def wrong_book(drift, folder, tmp_path):
    (folder / "readings.csv").write_text(WRONG_SIGN, encoding="utf-8")
    path = tmp_path / "wrong.drift"
    assert drift("import", path, folder)[0] == 0
    return path


def test_a_slide_that_sharpens_when_pulled_is_never_kept(drift, wrong_book):
    status, out, err = drift("calibrate", wrong_book, *WORDS)
    assert (status, out) == (1, "")
    problem, remedy = err.splitlines()
    assert "+2.1" in problem
    assert "pulling would sharpen, which no slide does; nothing was saved" in problem
    assert "check the signs of the readings at 10, 25 mm" in remedy
    assert load(wrong_book).calibrations.empty
    status, out, _ = drift("calibrate", wrong_book, *WORDS, "--only-show")
    assert status == 0
    assert "note: pulling seems to sharpen" in out


def test_an_interval_with_zero_in_it_is_never_kept(drift, folder, tmp_path):
    (folder / "readings.csv").write_text(READINGS.replace("-36.0", "3.0"), encoding="utf-8")
    path = tmp_path / "near.drift"
    drift("import", path, folder)
    status, _, err = drift("calibrate", path, *WORDS)
    assert status == 1
    assert "the interval includes zero, and nothing was saved" in err.splitlines()[0]
    assert "positions further apart" in err.splitlines()[1]
    assert load(path).calibrations.empty


def test_a_side_that_readings_say_nothing_of_does_not_keep_the_other_from_being_saved(
    drift, tmp_path, monkeypatch
):
    """The main slide was moved once on an ordinary evening, then measured on the B♭ side."""
    evening = ["temp 21", "play warm", "slide main 10", "F4 +3 F", "F4 -2 F", "slide main 12"]
    evening += ["F4 +4 F", "F4 -3 F", "end"]
    sitting = ["temp 21", "play warm", "slide main 10", "Bb4 +4 Bb", "Bb4 +5 Bb", "slide main 25"]
    sitting += ["Bb4 -14 Bb", "Bb4 -15 Bb", "slide main 10", "Bb4 +5 Bb", "Bb4 +4 Bb", "end"]
    book = tmp_path / "horn.logbook"
    horn = ("--player", "Rowan", "--instrument", "double horn")
    for name, typed in {"evening": evening, "sitting": sitting}.items():
        monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(typed) + "\n"))
        assert drift("log", book, "--rehearsal", name, *horn)[0] == 0
    status, out, _ = drift("calibrate", book, *WORDS)
    assert status == 0
    assert "on the F side does" in out
    assert f"saved in {book}: the B♭ side; the F side was not measured well enough" in out
    with Logbook(book) as opened:
        assert [row["side"] for row in opened.rows("calibrations")] == ["Bb"]


def test_the_latest_can_be_taken_back_and_the_book_keeps_both(drift, book):
    drift("calibrate", book, *WORDS)
    drift("calibrate", book, *WORDS)
    status, out, err = drift("calibrate", book, *WORDS, "--undo")
    assert (status, err) == (0, "")
    assert len(load(book).calibrations) == 1
    taken, after = out.splitlines()
    assert taken.startswith("undone: Rowan, B♭ trumpet: the main slide does -2.7")
    assert after.startswith("from now on: Rowan, B♭ trumpet: the main slide does -2.7")
    _, out, _ = drift("calibrate", book, *WORDS[:2], "--slide", "MAIN", "--undo", "--json")
    answer = json.loads(out)
    assert [row["player"] for row in answer["undone"]] == ["Rowan"]
    assert answer["still_saved"] == []
    assert after.endswith(" UTC)")
    with Logbook(book) as opened:
        assert len(list(opened.rows("calibrations", undone=True))) == 2
    _, out, _ = drift("slides", book, "--player", "Rowan", "--celsius", 30, "--json")
    assert json.loads(out)["calibration"] == []
    status, _, err = drift("calibrate", book, *WORDS, "--undo")
    assert status == 1
    assert "no measured main slide of Rowan is saved here" in err


def test_what_was_taken_back_is_exported_and_imported_again(drift, book, tmp_path):
    drift("calibrate", book, *WORDS)
    drift("calibrate", book, *WORDS, "--undo")
    assert drift("export", book, tmp_path / "out")[0] == 0
    assert drift("import", tmp_path / "again.drift", tmp_path / "out")[0] == 0
    assert load(tmp_path / "again.drift").calibrations.empty


@pytest.mark.slow
def test_a_row_of_an_older_book_by_which_pulling_sharpens_is_told_and_forgotten(drift, book):
    before = drift("slides", book, "--player", "Rowan", "--celsius", 30)
    drift("calibrate", book, *WORDS)
    with closing(sqlite3.connect(book)) as older, older:
        older.execute("PRAGMA ignore_check_constraints = 1")
        older.execute("INSERT INTO entry (kind, time_us) VALUES ('calibration', 2000000000000000)")
        older.execute(
            "INSERT INTO calibration SELECT (SELECT max(entry_id) FROM entry), player, instrument, "
            "slide, side, 2.13, 1.5, 2.7, 3, '' FROM calibration"
        )
        digests.append(older)  # as the version that took such a row would have left it
        newest = digests.newest_head(older)
    assert newest is not None
    digests.write_head(book, newest)
    status, out, err = drift("slides", book, "--player", "Rowan", "--celsius", 30)
    assert status == 0
    assert "note: the measured main slide is not used" in err
    assert "The main slide does -2.7" in out
    assert "does +2.13 cents/mm" in drift("calibrate", book, *WORDS, "--undo")[1]
    assert drift("slides", book, "--player", "Rowan", "--celsius", 30)[2] == ""
    drift("calibrate", book, *WORDS, "--undo")
    assert drift("slides", book, "--player", "Rowan", "--celsius", 30) == before


def test_a_folder_keeps_nothing_to_forget(drift, folder):
    status, _, err = drift("calibrate", folder, *WORDS, "--undo")
    assert status == 1
    assert "a folder has nothing to undo" in err


def test_a_row_that_sharpens_is_refused_on_import_by_line(drift, folder, tmp_path):
    (folder / "calibrations.csv").write_text(
        "time,player,instrument,slide,side,cents_per_mm\n"
        "2026-10-03T19:05:00Z,Rowan,Bb trumpet,main,,2.1\n",
        encoding="utf-8",
    )
    status, _, err = drift("import", tmp_path / "b.drift", folder)
    assert status == 1
    assert "calibrations.csv line 2: 2.1 cents/mm is outside -20 to -0.01" in err


def test_rehearsals_can_be_named(drift, folder):
    """What was read in others is left out; one that does not exist is refused by its name."""
    with (folder / "readings.csv").open("a", encoding="utf-8") as file:
        for minute, cents in enumerate((4.0, -26.0, 5.0), 1):
            file.write(f"2026-10-04T19:0{minute}:00Z,church,Rowan,Bb trumpet,,Bb4,{cents}\n")
    with (folder / "events.csv").open("a", encoding="utf-8") as file:
        for minute, mm in enumerate((10, 25, 10)):
            file.write(f"2026-10-04T19:0{minute}:30Z,church,Rowan,slide,main,{mm},\n")

    def slope(*names):
        words = (word for name in names for word in ("--rehearsal", name))
        (found,) = json.loads(drift("calibrate", folder, *WORDS, *words, "--json")[1])["slides"]
        return found["readings_by_rehearsal"], found["cents_per_mm"]["estimate"]

    both = slope()
    assert both == slope("hall", "church")
    assert both[0] == {"hall": 3, "church": 3}
    assert slope("hall")[0] == {"hall": 3}
    assert slope("hall")[1] < both[1] < slope("church")[1]
    status, _, err = drift("calibrate", folder, *WORDS, "--rehearsal", "hal")
    assert status == 1
    assert "there is no rehearsal 'hal'" in err
