"""Who plays what, followed through the choices of a rehearsal."""

from __future__ import annotations

from collections.abc import Iterable

from drift.errors import InputError
from drift.spelling import near

__all__ = ["OWN", "player_among", "player_meant", "seats_after"]

EVERYONES = ("a4", "notes", "units")
OWN = ", "
"""Units that are one player's own have the name behind them: ``F inch, Rowan``."""


def seats_after(choices: Iterable[tuple[str, str]]) -> tuple[dict[str, str], dict[str, str]]:
    """Return who plays what after some choices, and the instrument each player had last.

    Nobody takes over the instrument or the side of another: a player who is chosen after another
    plays what that player chose before, or nothing yet. The pitch of A4, the way notes are typed
    and the units are everyone's; units that a player chose are that player's, whoever plays now.

    Parameters
    ----------
    choices : iterable of (str, str)
        ``player``, ``instrument``, ``side``, ``a4``, ``notes`` or ``units``, and a name, in the
        order they were chosen.

    Returns
    -------
    dict
        The same by what they are, as far as they are chosen; units that are a player's own as
        ``units of`` and the name.
    dict
        Instrument by player.

    Examples
    --------
    >>> horn, kim = ("instrument", "double horn"), ("player", "Kim")
    >>> seats_after([("player", "Rowan"), horn, kim])
    ({'player': 'Kim'}, {'Rowan': 'double horn'})
    """
    chosen: dict[str, str] = {}
    had: dict[str, str] = {}
    sides: dict[tuple[str, str], str] = {}
    everyone: dict[str, str] = {}
    for what, name in choices:
        if what in EVERYONES:
            value, own, player = name.partition(OWN)
            everyone[f"{what} of {player}" if own else what] = value
            continue
        if what == "player" and name != chosen.get("player", name):
            chosen = {"instrument": had[name]} if name in had else {}
        chosen[what] = name
        seat = chosen.get("player", ""), chosen.get("instrument", "")
        if all(seat):
            had[seat[0]] = seat[1]
        if what == "side":
            sides[seat] = name
        elif seat in sides:
            chosen["side"] = sides[seat]
        else:
            chosen.pop("side", None)
    return chosen | everyone, had


def player_among(players: Iterable[str], name: str) -> str:
    """Return the player of a name, or of one that differs in case and spaces alone.

    A name that nobody has is returned as it is.

    Examples
    --------
    >>> player_among(["Rowan", "Kim"], "ro WAN")
    'Rowan'
    """
    known = list(players)
    alike = (player for player in known if _letters(player) == _letters(name))
    return name if name in known else next(alike, name)


def player_meant(
    players: Iterable[str], name: str, *, may_be_new: bool = False, otherwise: str = ""
) -> str:
    """Return the player that is meant by a name, where only one can be.

    Parameters
    ----------
    players : iterable of str
        Who is known.
    name : str
        As it was typed: capitals and spaces do not matter.
    may_be_new : bool
        Whether a name that nobody has is returned as it is.
    otherwise : str
        What else helps where nobody has it.

    Raises
    ------
    InputError
        When several players have the name in other letters, or nobody has it.

    Examples
    --------
    >>> player_meant(["Rowan", "Kim"], "ro WAN")
    'Rowan'
    """
    known = list(players)
    alike = [player for player in known if _letters(player) == _letters(name)]
    if name in known or len(alike) == 1:
        return name if name in known else alike[0]
    if alike:
        raise InputError(f"{name!r} may be {' or '.join(alike)}", "write the name as one of these")
    if may_be_new:
        return name
    there = f"here are {', '.join(known)}"
    close = near(name, known)
    remedy = f"did you mean {' or '.join(close)}? T{there}" if close else f"t{there}"
    remedies = remedy if known else "nobody is named there", otherwise
    raise InputError(f"there is no player {name!r}", "; ".join(filter(None, remedies)))


def _letters(name: str) -> str:
    return "".join(name.split()).casefold()
