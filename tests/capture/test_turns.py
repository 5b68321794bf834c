"""Who plays when in a recording: a table of turns, and everything that can be wrong in it."""

import pytest

from drift.capture.heard import Wanted
from drift.capture.turns import Turn, TurnRow, parse_clock, read_turns, turn_at
from drift.errors import InputError


def table(tmp_path, text: str):
    path = tmp_path / "turns.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_table_of_turns_is_read_in_the_order_of_time(tmp_path):
    path = table(
        tmp_path,
        "start,end,player,instrument,side\n3:40,4:10,Rowan,double horn,Bb\n3:10,3:40,Mia,,\n",
    )
    assert read_turns(path) == [
        TurnRow(190.0, 220.0, "Mia"),
        TurnRow(220.0, 250.0, "Rowan", "double horn", "Bb"),
    ]


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("0", 0), ("190", 190), ("3:10", 190), ("1:02:03.5", 3723.5), ("90:00", 5400)],
)
def test_a_time_in_a_recording(text, seconds):
    assert parse_clock(text) == seconds


@pytest.mark.parametrize("text", ["", "soon", "3:70", "1:75:00", "-3", "3:10:", "nan"])
def test_what_is_not_a_time_is_refused(text):
    with pytest.raises(InputError, match="is not a time in a recording"):
        parse_clock(text)


def test_everything_that_is_wrong_is_told_at_once(tmp_path):
    path = table(tmp_path, "start,end,player\n0:10,0:05,Mia\nsoon,1:00,Rowan\n1:00,2:00,\n")
    with pytest.raises(InputError, match=r"line 2: .*not after.*line 3: 'soon'.*line 4: the play"):
        read_turns(path)


def test_turns_that_overlap_are_refused(tmp_path):
    path = table(tmp_path, "start,end,player\n0:00,0:30,Mia\n0:20,1:00,Rowan\n")
    with pytest.raises(InputError, match="Rowan begins at 20 s, before Mia ends at 30 s"):
        read_turns(path)


def test_a_missing_column_is_named(tmp_path):
    with pytest.raises(InputError, match=r"turns\.csv has no column end and no column player"):
        read_turns(table(tmp_path, "start,who\n0:00,Mia\n"))
    with pytest.raises(InputError, match=r"turns\.csv cannot be read"):
        read_turns(tmp_path / "none" / "turns.csv")


def test_between_turns_is_nobodys_time():
    turns = [Turn(Wanted(player="Mia"), 10, 20), Turn(Wanted(player="Rowan"), 25, 30)]
    assert [turn_at(turns, at) for at in (5, 10, 20, 29.9)] == [None, turns[0], None, turns[1]]
