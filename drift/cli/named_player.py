"""Who is meant by --player: the same rule for every command that takes a name."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drift.logbook.rehearsals import Rehearsals

__all__ = ["ANYBODY", "settle_player", "settle_player_of", "settle_player_of_book"]


ANYBODY = "leave out --player for somebody who was not read"
"""What helps in commands that answer for a player nobody has read, too."""


def settle_player(
    options: argparse.Namespace,
    known: Iterable[str],
    *,
    may_be_new: bool = False,
    otherwise: str = "",
) -> None:
    """Put the name that is meant into the options, and say on standard error if it is another.

    Parameters
    ----------
    options : Namespace
        With ``player``; left as it is where no name was given.
    known : iterable of str
        The players of the source.
    may_be_new : bool
        Whether a name that nobody has is a new player's; else it is refused.
    otherwise : str
        What else helps where it is refused.

    Raises
    ------
    InputError
        When the name may be that of several, or nobody has it.
    """
    from drift.logbook.seats import player_meant
    from drift.spelling import near

    typed = (options.player or "").strip()
    if not typed:
        return
    names = sorted(known)
    options.player = player_meant(names, typed, may_be_new=may_be_new, otherwise=otherwise)
    if options.player != typed:
        _tell(f"--player {typed} is taken as {options.player}")
    elif typed not in names and (close := near(typed, names, 1)):
        _tell(f"{typed} is new here; if you meant {close[0]}, begin again with --player {close[0]}")


def settle_player_of(
    options: argparse.Namespace, rehearsals: Rehearsals, otherwise: str = ""
) -> None:
    """Put the name that is meant into the options, of what was logged."""
    if options.player:
        settle_player(options, rehearsals.players, otherwise=otherwise)


def settle_player_of_book(options: argparse.Namespace, path: Path) -> None:
    """Put the name that is meant into the options, of a logbook that may be still to be made."""
    from drift.logbook.book import Logbook

    if options.player and path.exists():
        with Logbook(path) as book:
            settle_player(options, book.players(), may_be_new=True)


def _tell(text: str) -> None:
    print(f"note: {text}", file=sys.stderr, flush=True)
