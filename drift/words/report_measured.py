"""What was measured and what of it was not used, in the sentences and headers of a report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from drift.notes import shown
from drift.words.letters import capital
from drift.words.numbers import number, plural

__all__ = [
    "between",
    "covers",
    "last_of_many",
    "notes_read",
    "outliers",
    "rehearsal_alternative",
    "rehearsal_caption",
    "rehearsals_caption",
    "slides_at",
    "temperatures_of",
    "title",
    "used",
]

MEASURED = "What was measured"
REHEARSALS_HEADER = ("rehearsal", "date", "time", "readings", "players", "air (°C)")
PLAYERS = "Players: readings that could be used, and the slide positions they are brought to"
PLAYERS_HEADER = (
    "player", "instrument", "notes read", "slides at (mm)", "readings", "rehearsals",
)  # fmt: skip
NO_TEMPERATURE = "No temperature was logged."

EACH_REHEARSAL = "Each rehearsal"
HOW_TO_READ = (
    "Points are readings: slide moves and each note's own tendency are taken out. Lines "
    "are the drift that the fit expects at the same moments. Rests are shaded, slide "
    "moves marked."
)
NONE_USED = "None of its readings could be used; see what was left out."
MOVES = "Slide moves, from fully in; they are taken out of the readings before the fit"
MOVES_HEADER = ("date", "time", "player", "slide", "from (mm)", "to (mm)")
EVERYONE = "everyone"

LEFT_OUT = "What was left out"
REASONS = "Left out"
REASONS_HEADER = ("reason", "readings")
OUTLIERS_HEADER = ("date", "time", "player", "note", "read (cents)", "off by (cents)")


def title(scope: str | None) -> str:
    """Return the title of a report of one rehearsal, one player, or everything."""
    return f"Pitch and temperature: {scope or 'all rehearsals'}"


def covers(readings: int, rehearsals: int, days: str, player: str | None, shows: str | None) -> str:
    """Return what a report covers.

    Parameters
    ----------
    readings, rehearsals : int
        How many the fit is of.
    days : str
        From the first to the last.
    player : str or None
        Whose readings alone.
    shows : str or None
        The one rehearsal that is shown.
    """
    who = f" of {player}" if player else ""
    all_of = f"{plural(readings, 'reading')}{who} in {plural(rehearsals, 'rehearsal')}"
    if shows is None:
        return f"{all_of}, {days}."
    return f"Shows {shows}; the fit is of {all_of}, {days}."


def rehearsals_caption(zones: Iterable[str]) -> str:
    """Return what the table of rehearsals is, with the zones of its times."""
    names = " and ".join(dict.fromkeys(zones))
    return f"Rehearsals; times of day in {names}" if names else "Rehearsals"


def last_of_many(shown_here: int, of: int) -> str:
    """Return that not all rehearsals are shown."""
    return (
        f"The last {shown_here} of {of} rehearsals are shown; the option "
        "--rehearsal gives any other one."
    )


def used(readings: int, of: int, flagged: int = 0) -> str:
    """Return how many readings were used, and how many of them are flagged."""
    among = f", {flagged} of them flagged as unusual" if flagged else ""
    return f"Used: {readings} of {plural(of, 'reading')}{among}."


def outliers(count: int, shown_here: int) -> str:
    """Return what the table of possible outliers is, and whether it holds them all."""
    more = f" (the first {shown_here})" if count > shown_here else ""
    return (
        f"{plural(count, 'possible outlier')}, given less weight; correct the log "
        f"if they were mistakes{more}"
    )


def notes_read(notes: Iterable[tuple[str, str]]) -> str:
    """Return notes, each with its side where it has one."""
    return ", ".join(shown(f"{note} ({side})" if side else note) for side, note in notes)


def slides_at(position_mm: Mapping[str, float]) -> str:
    """Return where slides are [mm from fully in]."""
    return ", ".join(f"{shown(slide)} {at:g}" for slide, at in position_mm.items()) or "–"


def temperatures_of(name: str, count: int) -> str:
    """Return how many temperatures a thermometer gave, or were typed."""
    return f"{capital(name)}: {plural(count, 'temperature')}."


def between(low_cents: float, high_cents: float) -> str:
    """Return the range of the readings of a rehearsal [cents]."""
    low, high = (number(end, 0, sign=True) for end in (low_cents, high_cents))
    return f"between {low} and {high} cents from warmed-up at 20 °C"


def rehearsal_caption(day: str, readings: int, spread: str) -> str:
    """Return what the chart of a rehearsal is of."""
    return f"{day}, {plural(readings, 'reading')} {spread}."


def rehearsal_alternative(name: str, readings: int, spread: str) -> str:
    """Return what the chart of a rehearsal shows."""
    return f"Drift and temperature against time in {name}: {plural(readings, 'reading')} {spread}."
