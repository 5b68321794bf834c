"""What a person is asked about an entry: once before it is saved, or beside the answer."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from drift.capture.answers import Doubt
from drift.errors import InputError
from drift.logbook import records
from drift.logbook.seats import player_among
from drift.note_names import typed_note

__all__ = ["Questions", "first_of_a_slide"]


class Questions:
    """What was asked before it was saved: the same entry, typed again, is the answer."""

    def __init__(self) -> None:
        self._asked: dict[str, str | None] = {}
        self._german: set[str] = set()

    def about_note(self, note: str, called: str, player: str) -> None:
        """Ask which note a capital B is, of a player who has typed German names here."""
        if called:
            self._german.add(player)
        elif note and player in self._german:
            typed_note(note, german=True)

    def about_player(self, name: str, known: Collection[str], once: str | None) -> None:
        """Ask about a player of whom nothing is known: it may be a slip of the finger."""
        if player_among(known, name) not in known and self._is_new(f"player {name}", once):
            raise InputError(
                f"nobody is called {name!r} in this logbook yet",
                f"if that is right, type it again; or first player {name}",
            )

    def about_position(self, record: records.Record, once: str | None) -> None:
        """Ask about a slide that is farther out than slides go: it bends all that comes after."""
        if (
            not isinstance(record, records.Event)
            or (record.position_mm or 0.0) <= records.FAR_OUT_MM
        ):
            return
        if self._is_new(f"slide {record.slide} {record.position_mm:g}", once):
            raise InputError(
                f"{record.position_mm:g} mm is farther out than a slide goes",
                "name the unit (14 mm, 0.5 in); or, if that is right, type it again",
            )

    def _is_new(self, question: str, once: str | None) -> bool:
        """Return whether a question is to be asked; an entry that is sent again is asked again."""
        if question in self._asked and (once is None or once != self._asked[question]):
            return False
        self._asked[question] = once
        return True


def first_of_a_slide(
    events: Iterable[Mapping[str, Any]], moved: records.Event
) -> tuple[Doubt, ...]:
    """Ask where a slide was before it moved, if nobody said: readings count from there."""
    same = moved.slide, moved.player, moved.instrument
    before = any(
        (row["slide"], row["player"], row["instrument"]) == same and row["time"] < moved.time
        for row in events
    )
    return () if before else (Doubt("position_before", (moved.slide,)),)
