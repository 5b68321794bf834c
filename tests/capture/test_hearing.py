"""What the microphone proposes at a desk: kept once, dropped, or waiting on."""

from contextlib import contextmanager
from datetime import timedelta

import pytest

from drift.capture.desk import Desk
from drift.capture.heard import parse_sides
from drift.capture.hearing import Hearing
from drift.errors import LogbookError
from drift.instruments import find
from drift.logbook.book import Logbook
from tests.microphones import BEGAN, FedMicrophone, FixedClock, played

LATER = BEGAN + timedelta(seconds=30)
HORN = {"double horn": parse_sides("Bb,F4=F", find("double horn"))}


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="test") as opened:
        yield opened


@contextmanager
def listening(book, sound, *, player="Rowan", instrument="double horn", wait=True, **more):
    """Listen at the desk of a rehearsal until the sound was heard."""
    desk = Desk(book, "hall")
    desk.start(BEGAN, player=player, instrument=instrument)
    microphone = FedMicrophone(sound)
    if not wait:
        microphone.go.clear()
    with Hearing(microphone, desk, FixedClock(), **more):
        if wait:
            assert microphone.given.wait(30)
        yield desk, microphone


def readings(book):
    return [(r["player"], r["note"], r["side"], r["cents"]) for r in book.rows("readings")]


def test_the_oldest_is_kept_and_another_dropped(book):
    with listening(book, played(("F4", 5), ("Bb3", -3), ("C4", 2)), sides=HORN) as (desk, _):
        assert desk.enter("k", LATER).text == "saved F4 +5.0 cents on the F side"
        assert desk.enter("d 3", LATER).text == "dropped C4 +2.0 cents on the B♭ side"
        assert [one.number for one in desk.hearing.waiting] == [2]
        again = desk.enter("k 3", LATER)
        assert again.text.startswith("not saved: no proposed reading number 3 waits; it was kept")
        assert not again.saved
    assert readings(book) == [("Rowan", "F4", "F", pytest.approx(5, abs=0.1))]
    row = next(book.rows("readings"))
    assert row["remark"] == "by microphone, spread 0.0 cents"
    # The first tone sounds from 1 s to 3 s.
    assert row["time"] - BEGAN == pytest.approx(timedelta(seconds=2), abs=timedelta(seconds=0.1))


def test_an_entry_that_is_sent_again_keeps_nothing_more(book):
    with listening(book, played(("F4", 5), ("Bb3", -3)), sides=HORN) as (desk, _):
        assert desk.enter("k", LATER, once="a").text.startswith("saved F4")
        assert desk.enter("k", LATER, once="a").text == "saved already"
        assert len(desk.hearing.waiting) == 1
    assert desk.enter("k", LATER, once="a").saved, "also after listening has ended"
    assert not desk.enter("k", LATER, once="b").saved
    assert len(readings(book)) == 1


def test_undo_takes_back_what_was_kept(book):
    with listening(book, played(("F4", 5)), sides=HORN) as (desk, _):
        desk.enter("k", LATER)
        assert desk.enter("undo", LATER).text.startswith("saved undo of F4 +5.0 cents")
    assert readings(book) == []


def test_a_side_that_no_rule_gives_is_said_with_the_entry(book):
    with listening(book, played(("F4", 5))) as (desk, _):
        asked = desk.enter("k", LATER).text
        assert asked == (
            "not saved: which side of the double horn was played cannot be heard; "
            "type k 1 F or k 1 Bb, or start with --side"
        )
        assert not desk.enter("k A", LATER).saved
        assert len(desk.hearing.waiting) == 1, "it waits on"
        assert desk.enter("k B♭", LATER).text == "saved F4 +5.0 cents on the B♭ side"


def test_what_the_book_refuses_waits_on(book, monkeypatch):
    with listening(book, played(("F4", 5)), sides=HORN) as (desk, _):

        def full(*_, **__):
            raise LogbookError("the disk is full", "make room")

        with monkeypatch.context() as patched:
            patched.setattr(Logbook, "keep", full)
            assert desk.enter("k", LATER).text == "not saved: the disk is full; make room"
        assert desk.enter("k", LATER).saved
    assert len(readings(book)) == 1


def test_a_tone_belongs_to_the_player_who_was_listened_to(book):
    with listening(book, played(("F4", 5)), sides=HORN) as (desk, _):
        desk.enter("player Ash", LATER)
        desk.enter("instrument Bb trumpet", LATER)
        assert desk.enter("k", LATER).text == "saved F4 +5.0 cents on the F side"
    (row,) = book.rows("readings")
    assert (row["player"], row["instrument"]) == ("Rowan", "double horn")


def test_the_next_instrument_is_listened_for_and_after_undo_the_last_again(book):
    with listening(book, played(("C6", 0)), sides=HORN, wait=False) as (desk, microphone):
        desk.enter("player Ash", BEGAN)
        desk.enter("instrument Bb trumpet", BEGAN)
        desk.enter("instrument double horn", BEGAN)
        desk.enter("undo", BEGAN)
        microphone.go.set()
        assert microphone.given.wait(30)
        assert desk.enter("k", LATER).text == "saved C6 +0.0 cents"  # too high for the horn
    assert readings(book)[0][:2] == ("Ash", "C6")


def test_at_a_desk_of_many_who_keeps_it_names_the_player(book):
    with listening(book, played(("F4", 5), ("Bb3", -3)), anyone=True) as (desk, _):
        desk.enter("k 1", LATER, player="Ash", instrument="Bb trumpet")
        desk.enter("k 2 F", LATER, player="Birch", instrument="double horn")
    assert [row[:3] for row in readings(book)] == [("Ash", "F4", ""), ("Birch", "Bb3", "F")]


def test_an_entry_older_than_the_list_means_another_list(book):
    with listening(book, played(("F4", 5)), sides=HORN) as (desk, _):
        before = desk.enter("k 1", BEGAN - timedelta(seconds=1)).text
        assert before.startswith("not saved: the list has changed since")
        assert len(desk.hearing.waiting) == 1


def test_only_notes_asked_for_are_proposed(book):
    sound = played(("F4", 5), ("Bb3", -3))
    with listening(book, sound, sides=HORN, notes=frozenset({58})) as (desk, _):
        assert [one.heard.note for one in desk.hearing.waiting] == ["Bb3"]
        assert desk.hearing.refused == "F4 is not among the notes asked for"


def test_without_a_microphone_it_is_said(book):
    desk = Desk(book, "hall")
    answer = desk.enter("k", LATER)
    assert answer.text.startswith("not saved: no microphone is listening; ")
