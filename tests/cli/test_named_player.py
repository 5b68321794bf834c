"""The name after --player: one rule for every command that takes it."""

from datetime import UTC, datetime

import pytest

from drift.cli.named_player import ANYBODY, settle_player
from drift.errors import InputError
from drift.logbook.book import Logbook
from drift.logbook.records import Event
from drift.logbook.seats import player_meant
from drift.shipped import folder

SEASON = folder("datasets/cold-hall-season")
START = datetime(2026, 10, 3, 17, tzinfo=UTC)
HORN = ("--instrument", "double horn")
READING = {
    "fit": (SEASON,),
    "slides": (SEASON, *HORN, "--celsius", 33),
    "report": (SEASON, "--one-page", *HORN, "--out", "page.pdf"),
    "calibrate": (SEASON, *HORN, "--slide", "main"),
}


def options(player):
    return type("Options", (), {"player": player})()


@pytest.mark.parametrize(
    ("typed", "known", "meant"),
    [
        ("Ilse", ["Ilse", "ilse"], "Ilse"),
        ("ilse", ["Ilse", "Rowan"], "Ilse"),
        (" ILSE ", ["Ilse"], "Ilse"),
        ("mary ann", ["Maryann", "Ann"], "Maryann"),
    ],
)
def test_a_name_in_other_letters_is_taken_and_said_once(capsys, typed, known, meant):
    for may_be_new in (False, True):
        given = options(typed)
        settle_player(given, known, may_be_new=may_be_new)
        assert given.player == meant
        said = capsys.readouterr().err
        same = typed == meant
        assert said == ("" if same else f"note: --player {typed.strip()} is taken as {meant}\n")


@pytest.mark.parametrize("may_be_new", [False, True])
def test_a_name_that_may_be_two_is_refused_with_both(may_be_new):
    with pytest.raises(InputError, match="'ILSE' may be Ilse or ilse") as refusal:
        settle_player(options("ILSE"), ["Ilse", "ilse", "Rowan"], may_be_new=may_be_new)
    assert refusal.value.remedy == "write the name as one of these"


def test_a_name_that_nobody_has_is_refused_with_the_near_one():
    with pytest.raises(InputError, match="there is no player 'Ilze'") as refusal:
        settle_player(options("Ilze"), ["Ilse", "Rowan"])
    assert refusal.value.remedy == "did you mean Ilse? There are Ilse, Rowan"
    with pytest.raises(InputError, match="there is no player 'Xaver'") as refusal:
        settle_player(options("Xaver"), ["Rowan", "Ilse"])
    assert refusal.value.remedy == "there are Ilse, Rowan"
    with pytest.raises(InputError, match="there is no player 'Xaver'") as refusal:
        settle_player(options("Xaver"), [])
    assert refusal.value.remedy == "nobody is named there"
    with pytest.raises(InputError, match="there is no player 'Xaver'") as refusal:
        settle_player(options("Xaver"), ["Ilse"], otherwise=ANYBODY)
    assert refusal.value.remedy == f"there are Ilse; {ANYBODY}"


@pytest.mark.parametrize(
    ("command", "answers"), [("slides", True), ("fit", True), ("report", False)]
)
def test_commands_that_answer_for_anybody_say_so(drift, command, answers):
    status, _, err = drift(command, *READING[command], "--player", "Xaver")
    assert status == 1
    assert (ANYBODY in err) is answers


def test_who_is_new_may_record_and_is_told_of_a_near_name(capsys):
    for name, said in (
        ("Ilze", "note: Ilze is new here; if you meant Ilse, begin again with --player Ilse\n"),
        ("Xaver", ""),
    ):
        given = options(name)
        settle_player(given, ["Ilse", "Rowan"], may_be_new=True)
        assert (given.player, capsys.readouterr().err) == (name, said)


@pytest.mark.parametrize("nobody", [None, ""])
def test_without_a_name_nothing_is_settled(nobody):
    given = options(nobody)
    settle_player(given, ["Ilse"])
    assert given.player == nobody


class Settled(Exception):
    """The name is settled: what a command does with it is tested elsewhere."""


@pytest.fixture
def settled(monkeypatch):
    """Stop a command where the name is settled."""

    def settle(players, name, *, may_be_new=False, otherwise=""):
        raise Settled(player_meant(players, name, may_be_new=may_be_new), may_be_new)

    monkeypatch.setattr("drift.logbook.seats.player_meant", settle)


@pytest.mark.parametrize("command", READING)
def test_every_command_that_reads_takes_other_letters(drift, settled, command):
    with pytest.raises(Settled, match="Rowan") as found:
        drift(command, *READING[command], "--player", "ro WAN")
    assert found.value.args == ("Rowan", False)


@pytest.mark.parametrize("command", ["log", "tune", "page", "listen", "calibrate"])
def test_every_command_that_writes_takes_other_letters(drift, settled, tmp_path, command):
    path = tmp_path / "band.logbook"
    with Logbook(path, writer="the test") as book:
        book.keep(Event(START, "attic", "Ilse", "play"))
    given = {
        "page": ("--port", 0),
        "listen": ("tone.wav", "--into"),
        "calibrate": ("--undo", "--slide", "head"),
    }.get(command, ())
    hall = () if command == "calibrate" else ("--rehearsal", "hall", "--instrument", "flute")
    where = (*given, path) if command == "listen" else (path, *given)
    with pytest.raises(Settled, match="Ilse") as found:
        drift(command, *where, *hall, "--player", "ilse")
    assert found.value.args == ("Ilse", command != "calibrate")


@pytest.mark.slow
def test_fit_answers_for_who_is_meant_and_says_so_once(drift):
    status, out, err = drift("fit", SEASON, "--player", "ro WAN")
    assert (status, err) == (0, "note: --player ro WAN is taken as Rowan\n")
    assert out == drift("fit", SEASON, "--player", "Rowan")[1]
