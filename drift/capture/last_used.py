"""What was used at the last rehearsal, to be proposed at the next."""

from __future__ import annotations

from dataclasses import dataclass

from drift.logbook.book import Logbook
from drift.logbook.records import TYPED
from drift.quantities import Units, parse_units

__all__ = ["LastUsed", "last_used", "units_last_used"]


@dataclass(frozen=True)
class LastUsed:
    """Who played what at the latest rehearsal, and how it was logged.

    Attributes
    ----------
    player, instrument : str
        Empty where none was named.
    a4_hz : float or None
        Pitch of A4 [Hz].
    written : bool
        Whether notes were typed as the player reads them.
    thermometer : str
        Name of the thermometer read last; empty where the temperature was typed, or never read.
    """

    player: str = ""
    instrument: str = ""
    a4_hz: float | None = None
    written: bool = False
    thermometer: str = ""


def last_used(book: Logbook) -> LastUsed:
    """Return who played what at the latest rehearsal, and how it was logged.

    Parameters
    ----------
    book : Logbook
        Open.
    """
    rehearsals = book.rehearsals()
    if not rehearsals:
        return LastUsed()
    latest = rehearsals[-1]
    chosen = book.choices(latest)
    readings = list(book.rows("readings", rehearsal=latest))
    last = readings[-1] if readings else {}
    player = chosen.get("player") or str(last.get("player", ""))
    a4 = chosen.get("a4") or last.get("a4_hz")
    sources = [row["source"] for row in book.rows("temperatures", rehearsal=latest)]
    return LastUsed(
        player,
        book.instrument_of(player, latest) if player else "",
        float(a4) if a4 else None,
        chosen.get("notes") == "written",
        next((str(name) for name in reversed(sources) if name != TYPED), ""),
    )


def units_last_used(book: Logbook) -> Units:
    """Return the units that were chosen last in a book: °C and millimetres before any choice."""
    for rehearsal in reversed(book.rehearsals()):
        if units := parse_units(book.choices(rehearsal).get("units", "")):
            return units
    return Units()
