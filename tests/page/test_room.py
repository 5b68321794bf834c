"""One rehearsal, several people: who entered what, when it was typed, what is taken back."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.errors import InputError, InstrumentError
from drift.logbook.book import Logbook
from drift.logbook.records import Event
from drift.page import Room
from drift.page.stand import Stand
from drift.page.typed import Typed
from sensors.errors import SensorError
from tests.page.visits import START, SetClock, entry


def typed(line: str, **more: object) -> Typed:
    return Typed.of(entry(line, **more))


def test_each_browser_enters_for_its_own_player(room: Room) -> None:
    room.enter(typed("F4 +6 F", player="Ann"))
    room.enter(typed("Bb4 -3", player="Ben", instrument="Bb trumpet"))
    room.enter(typed("slide main 14", player="Ann"))
    assert [(r["player"], r["instrument"]) for r in room.book.rows("readings")] == [
        ("Ann", "double horn"),
        ("Ben", "Bb trumpet"),
    ]
    slide = next(r for r in room.book.rows("events") if r["event"] == "slide")
    assert slide["player"] == "Ann"


def test_who_names_nobody_enters_for_the_one_last_chosen(room: Room) -> None:
    room.enter(typed("F4 +6 F", player="", instrument=""))
    assert next(room.book.rows("readings"))["player"] == "Rowan"


def test_player_typed_in_one_browser_changes_no_other(room: Room) -> None:
    before = room.book.last_entry
    reply = room.enter(typed("player Cyd"))
    assert (reply.player, reply.instrument) == ("Cyd", "")  # not the horn of another
    assert room.enter(typed("instrument Bb trumpet")).instrument == "Bb trumpet"
    assert not room.enter(typed("instrument kazoo of doom")).answer.saved
    back = room.enter(typed("player rowan", player="Cyd", instrument="Bb trumpet"))
    assert (back.player, back.instrument) == ("Rowan", "double horn")
    assert room.book.last_entry == before


def test_entry_that_waited_has_the_time_it_was_typed(room: Room, clock: SetClock) -> None:
    clock.pass_by(minutes=10)
    room.enter(typed("F4 +6 F", waited_seconds=240.0))
    room.enter(typed("F4 +7 F"))
    times = [row["time"] - START for row in room.book.rows("readings")]
    assert times == [timedelta(minutes=6), timedelta(minutes=10)]


def test_same_key_is_kept_once(room: Room) -> None:
    once = typed("F4 +6 F")
    assert room.enter(once).answer.saved
    assert room.enter(once).answer.saved
    assert len(list(room.book.rows("readings"))) == 1


def test_undo_takes_back_the_entry_that_was_shown_and_not_a_newer_one(room: Room) -> None:
    room.enter(typed("F4 +6 F", player="Ann"))
    mine = next(room.book.rows("readings"))["entry_id"]
    room.enter(typed("F4 +9 F", player="Ben"))
    undo = typed("undo", entry=mine)
    assert room.enter(undo).answer.text == "saved undo of F4 +6.0 cents on the F side"
    assert room.enter(undo).answer.saved, "sent again after a lost answer"
    assert [row["player"] for row in room.book.rows("readings")] == ["Ben"]
    assert room.live_entries is not None
    assert [row["player"] for row in room.live_entries.readings] == ["Ben"]
    assert not room.enter(typed("undo", entry=mine)).answer.saved


def test_undo_that_waited_takes_back_what_was_typed_before_it(room: Room) -> None:
    """All waited: what was shown when they were typed is the reading before them."""
    room.enter(typed("F4 +6 F"))
    assert room.live_entries is not None
    shown = room.live_entries.seen
    slide, other = typed("slide main 9"), typed("slide F 6")
    undo = typed("undo", entry=shown, after=slide.once)
    again = typed("undo", entry=shown, after=other.once)
    for one, told in ((slide, "slide main 9"), (undo, "undo of slide main 9"),
                      (undo, "undo of slide main 9"),  # sent again after a lost answer
                      (other, "slide F 6"), (again, "undo of slide F 6")):  # fmt: skip
        assert room.enter(one).answer.text.startswith(f"saved {told} mm")
    third = typed("undo", entry=shown, after=again.once)
    assert room.enter(third).answer.text.startswith("saved undo of F4 +6.0")


def test_what_was_imported_is_not_offered_by_the_large_undo(book: Path, clock: SetClock) -> None:
    with Logbook(book, writer="import") as kept:
        kept.keep(Event(START, "hall", "Nell", "slide", "Bb", 4.0))
    with Room(book, clock) as room:
        room.begin("hall", player="Nell", instrument="double horn")
        room.enter(typed("F4 +6 F", player="Nell"))
        listed = Stand(room).regions()["entries"]
    imported, entered = sorted(
        re.findall(r'data-entry="(\d+)"( data-imported)?', listed), key=lambda one: int(one[0])
    )
    assert imported[1]
    assert not entered[1]


def test_entry_of_a_rehearsal_that_is_over_goes_there(room: Room, clock: SetClock) -> None:
    room.enter(typed("end"))
    assert not room.going_on
    clock.pass_by(hours=1)
    room.begin("second half")
    room.enter(typed("F4 +6 F", waited_seconds=3700.0))
    assert [row["rehearsal"] for row in room.book.rows("readings")] == ["hall"]
    answer = room.enter(typed("F4 +6 F", rehearsal="another band")).answer
    assert answer.text.startswith("not saved: this logbook has no rehearsal 'another band'")


def test_one_rehearsal_at_a_time(room: Room) -> None:
    room.begin("hall")  # a button pressed twice
    with pytest.raises(InputError, match="hall is still going on"):
        room.begin("other")


def test_refused_beginnings_leave_nothing_begun(book: Path, clock: SetClock) -> None:
    addresses = [f"replay:{book.with_name('nothing.csv')}"]
    with Room(book, clock, thermometers=addresses) as room:
        with pytest.raises(SensorError, match=r"nothing\.csv"):
            room.begin("hall")
        assert room.book.rehearsals() == []
    with Room(book, clock) as room:
        with pytest.raises(InstrumentError, match="kazoo"):
            room.begin("hall", instrument="kazoo")
        with pytest.raises(InputError, match="too long"):
            room.begin("h" * 101)
        with pytest.raises(InputError, match="no name"):
            room.begin("  ")
        assert room.book.rehearsals() == []
        assert not room.going_on


def test_interrupted_rehearsal_goes_on_soon_and_not_next_week(book: Path, clock: SetClock) -> None:
    with Room(book, clock) as room:
        room.begin("hall")
        room.enter(typed("F4 +6 F"))
    clock.pass_by(minutes=5)
    with Room(book, clock) as room:
        assert room.go_on()
        assert room.rehearsal == "hall"
        assert room.live_entries is not None
        assert len(room.live_entries.readings) == 1
    clock.pass_by(days=7)
    with Room(book, clock) as room:
        assert not room.go_on()
        assert room.desk is None


def test_ended_rehearsal_does_not_go_on(book: Path, clock: SetClock) -> None:
    with Room(book, clock) as room:
        room.begin("hall")
        room.enter(typed("end"))
    with Room(book, clock) as room:
        assert not room.go_on()


def test_written_notes_are_kept_as_sounding_ones(book: Path, clock: SetClock) -> None:
    with Room(book, clock, written=True) as room:
        room.begin("hall")
        room.enter(typed("C5 +6 F"))
        assert next(room.book.rows("readings"))["note"] == "F4"


@pytest.mark.parametrize("word", ["now", "help"])
def test_questions_are_left_to_the_page(room: Room, word: str) -> None:
    assert room.enter(typed(word)).answer.asks == word


def test_clock_that_a_tablet_has_wrong_does_not_matter(room: Room, clock: SetClock) -> None:
    room.enter(typed("F4 +6 F", waited_seconds=-50.0))
    assert next(room.book.rows("readings"))["time"] == START


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)
FIELDS = st.sampled_from([*Typed.__dataclass_fields__, "time", ""])


@given(st.dictionaries(FIELDS, JSON) | JSON)
def test_anything_that_is_sent_is_an_entry_or_refused(sent: object) -> None:
    try:
        one = Typed.of(sent)
    except InputError:
        return
    assert len(one.line) <= 500
    assert 0.0 <= one.waited_seconds <= 48 * 3600.0


def test_entries_that_waited_keep_the_order_they_were_typed_in(room: Room, clock: SetClock) -> None:
    room.enter(typed("F4 +1 F", waited_seconds=3.000))
    clock.pass_by(milliseconds=2)  # on its way the second was faster than the first
    room.enter(typed("C4 -3 F", waited_seconds=3.008))
    room.enter(typed("Bb3 0 F", waited_seconds=60))  # of another browser
    rows = sorted(room.book.rows("readings"), key=lambda row: row["time"])
    assert [row["note"] for row in rows] == ["Bb3", "F4", "C4"]


def test_what_one_window_types_keeps_its_order_however_long_the_first_was_on_its_way(
    room: Room, clock: SetClock
) -> None:
    """The program was busy for three seconds: the second waited in the browser alone."""
    first = typed("slide main 14")
    clock.pass_by(seconds=3)
    room.enter(first)
    room.enter(typed("F4 +6 Bb", after=first.once, waited_seconds=2.0))
    room.enter(typed("C4 -3 F", waited_seconds=2.5))  # of another window
    slide, reading, other = (
        next(row["time"] for row in room.book.rows(table) if row.get(column) == value)
        for table, column, value in (
            ("events", "slide", "main"), ("readings", "note", "F4"), ("readings", "note", "C4")
        )
    )  # fmt: skip
    assert slide < reading
    assert other == clock.now() - timedelta(seconds=2.5)


def test_side_given_later_takes_the_place_of_the_reading_at_once(room: Room) -> None:
    horn = {"player": "Rowan", "instrument": "double horn"}
    room.enter(typed("F4 -7", **horn))
    reply = room.enter(typed("Bb", **horn))
    assert reply.text == "saved F4 -7.0 cents on the B♭ side"
    assert room.live_entries is not None
    assert [row["side"] for row in room.live_entries.readings] == ["Bb"]
