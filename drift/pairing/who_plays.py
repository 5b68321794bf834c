"""Who plays what: from the readings and slides that were logged."""

from __future__ import annotations

from drift.errors import InputError, InstrumentError
from drift.instruments import canonical_name
from drift.logbook.rehearsals import Rehearsals

__all__ = ["only_instrument", "player_of", "present", "unused_calibrations"]


def present(rehearsals: Rehearsals, rehearsal: str) -> list[tuple[str, str]]:
    """Return who plays what in a rehearsal, as far as readings and slides tell."""
    found = set()
    for table in (rehearsals.readings, rehearsals.events):
        rows = table.loc[table["rehearsal"] == rehearsal, ["player", "instrument"]]
        pairs = rows.drop_duplicates().itertuples(index=False)
        found |= {(str(who), str(what)) for who, what in pairs}
    return sorted((who, what) for who, what in found if who and what)


def only_instrument(rehearsals: Rehearsals, player: str | None = None) -> str:
    """Return the instrument that the readings, or those of a player, are of.

    Raises
    ------
    InstrumentError
        When they are of several, or there are none.
    """
    readings = rehearsals.readings
    mine = readings if not player else readings[readings["player"] == player]
    played = sorted(mine["instrument"].unique())
    if len(played) == 1:
        return str(played[0])
    raise InstrumentError(
        f"the readings are of {', '.join(played) or 'no instrument'}",
        "say which one with --instrument",
    )


def player_of(rehearsals: Rehearsals, instrument: str, player: str | None = None) -> str | None:
    """Return whose slides count: the one named, or the only one who plays the instrument.

    An empty name is nobody's.

    Raises
    ------
    InputError
        When there is no player of that name.
    """
    readings = rehearsals.readings
    if player == "":
        return None
    if player is not None:
        known = rehearsals.players
        if player in known:
            return player
        remedy = f"there are {', '.join(known)}"
        raise InputError(f"there is no player {player!r}", remedy)
    mine = readings["instrument"] == canonical_name(instrument)
    found = readings.loc[mine, "player"].unique()
    return str(found[0]) if len(found) == 1 else None


def unused_calibrations(rehearsals: Rehearsals, player: str, instrument: str) -> list[str]:
    """Return the measured slides of a player that are not used: pulling would sharpen.

    Only an older logbook can hold one.
    """
    table = rehearsals.calibrations
    mine = table[(table["player"] == player) & (table["instrument"] == instrument)]
    return sorted(set(mine.loc[mine["cents_per_mm"] >= 0.0, "slide"]))
