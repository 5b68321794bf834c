"""The page records that the computer's clock was set, as the terminal does."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from drift.page import Room, State
from drift.page.typed import Typed
from tests.page.visits import START, SetClock, entry
from tests.running_log import rows, wait_for


class ComputerClock:
    """A clock that is set an hour ahead whenever a test says so."""

    def __init__(self) -> None:
        self.hours = 0

    def now(self) -> datetime:
        return START + timedelta(hours=self.hours)

    def monotonic(self) -> float:
        return 0.0


def test_a_step_of_the_computers_clock_is_in_the_book(book: Path, clock: SetClock) -> None:
    computer = ComputerClock()
    with Room(book, clock, watched=computer) as room:
        room.begin("hall")

        def recorded() -> bool:
            computer.hours += 1
            return bool(list(room.book.rows("notices")))

        wait_for(recorded, "the notice")
        assert room.listeners == []  # the clock is no thermometer
    notice = rows(book, "notices")[0]
    assert (notice["kind"], notice["source"], notice["time"]) == ("step", "clock", START)


def test_entries_that_come_at_once_count_at_once(room: Room, clock: SetClock) -> None:
    """They get times one after another, and the last of them is a little ahead of the clock."""
    for line in ("temp 20", "play warm", "slide main 12", "slide F 8", "slide Bb 0"):
        room.enter(Typed.of(entry(line)))
    clock.pass_by(minutes=5)
    for _ in range(3):
        room.enter(Typed.of(entry("F4 +6 Bb")))
    assert clock.now() == START + timedelta(minutes=5)
    state = State(room)
    state._work_out(room.now())
    (known,) = state.stand.standings
    assert known.now.pitch.readings == 3
    clock.pass_by(seconds=30)
    assert room.now() == clock.now()


def test_a_clock_that_was_set_back_is_believed(room: Room, clock: SetClock) -> None:
    room.enter(Typed.of(entry("temp 20")))
    clock.pass_by(minutes=-30)
    assert room.now() == clock.now()
