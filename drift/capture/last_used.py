"""What was used at the last rehearsal, to be proposed at the next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from drift.instruments import Catalogue, find
from drift.logbook.book import Logbook
from drift.logbook.records import TYPED
from drift.quantities import METRIC, Units, parse_units

__all__ = [
    "LastUsed",
    "chosen_notes",
    "chosen_units",
    "last_used",
    "slides_as_before",
    "units_by_player",
    "units_last_used",
]


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
        chosen.get(f"notes of {player}", chosen.get("notes")) == "written",
        next((str(name) for name in reversed(sources) if name != TYPED), ""),
    )


def slides_as_before(
    events: Iterable[Mapping[str, Any]],
    rehearsal: str,
    player: str,
    instrument: str,
    catalogue: Catalogue | None = None,
) -> dict[str, tuple[float, str]]:
    """Return slides that nobody placed in a rehearsal: where they are taken to be, and as in which.

    Parameters
    ----------
    events : iterable of mapping
        Rows of the events of all rehearsals.
    rehearsal : str
        Which.
    player, instrument : str
        Whose slides, of which instrument.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    """
    mine = [
        row
        for row in events
        if row["slide"] and row["player"] in ("", player) and row["instrument"] in ("", instrument)
    ]
    if not mine:  # the catalogue is not read for nothing
        return {}
    names = [slide.name for slide in find(instrument, catalogue).slides]
    here = {row["slide"] for row in mine if row["rehearsal"] == rehearsal}
    last = {row["slide"]: row for row in sorted(mine, key=lambda row: row["time"])}
    return {
        name: (float(last[name]["position_mm"]), str(last[name]["rehearsal"]))
        for name in names
        if name in last and name not in here
    }


def units_last_used(book: Logbook, player: str = "") -> Units:
    """Return the units that a player chose last, else everyone; °C and mm before any choice."""
    chosen = units_by_player(book)
    return chosen.get(player) or chosen.get("", METRIC)


def units_by_player(book: Logbook) -> dict[str, Units]:
    """Return the units that each player chose last in a book; everyone's have no name.

    Parameters
    ----------
    book : Logbook
        Open.
    """
    found: dict[str, Units] = {}
    for rehearsal in book.rehearsals():
        found |= chosen_units(book.choices(rehearsal))
    return found


def chosen_units(choices: Mapping[str, str]) -> dict[str, Units]:
    """Return the units among the choices of a rehearsal, by player; everyone's have no name.

    Examples
    --------
    >>> chosen_units({"a4": "442", "units": "C mm", "units of Rowan": "F inch"})
    {'': Units(fahrenheit=False, inches=False), 'Rowan': Units(fahrenheit=True, inches=True)}
    """
    found = {}
    for what, name in choices.items():
        units = parse_units(name) if what.partition(" of ")[0] == "units" else None
        if units is not None:
            found[what.partition(" of ")[2]] = units
    return found


def chosen_notes(choices: Mapping[str, str]) -> dict[str, str]:
    """Return how notes are typed by the choices of a rehearsal, by player; everyone has no name.

    Examples
    --------
    >>> chosen_notes({"a4": "442", "notes": "sounding", "notes of Rowan": "written"})
    {'': 'sounding', 'Rowan': 'written'}
    """
    return {
        what.partition(" of ")[2]: name
        for what, name in choices.items()
        if what.partition(" of ")[0] == "notes"
    }
