"""The page records that the computer's clock was set, as the terminal does."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from drift.page import Room
from tests.page.visits import START, SetClock
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
