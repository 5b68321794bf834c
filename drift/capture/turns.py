"""Who plays when in a recording that several people share."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from drift.capture.heard import Wanted
from drift.errors import InputError

__all__ = ["Turn", "TurnRow", "parse_clock", "read_turns", "turn_at"]

_CLOCK = re.compile(r"(?:(?:(\d+):)?(\d{1,3}):)?(\d+(?:\.\d*)?)")
_REQUIRED = ("start", "end", "player")
_COLUMNS = (*_REQUIRED, "instrument", "side")
_HEADER = "write a header and a row for each turn: start,end,player,instrument,side"


@dataclass(frozen=True, slots=True)
class TurnRow:
    """One row of a table of turns.

    Attributes
    ----------
    start_s, end_s : float
        From the beginning of the recording [s].
    player : str
        Who plays.
    instrument, side : str
        What is played, and the rule for its sides; empty: as for the whole recording.
    """

    start_s: float
    end_s: float
    player: str
    instrument: str = ""
    side: str = ""


@dataclass(frozen=True)
class Turn:
    """From when to when something is listened for.

    Attributes
    ----------
    wanted : Wanted
        What, and whom.
    start_s, end_s : float
        From the beginning of the recording [s].
    """

    wanted: Wanted
    start_s: float = 0.0
    end_s: float = math.inf


def turn_at(turns: Sequence[Turn], time_s: float) -> Turn | None:
    """Return the turn that a time belongs to, or None between them."""
    return next((turn for turn in turns if turn.start_s <= time_s < turn.end_s), None)


def parse_clock(text: str) -> float:
    """Return the seconds of a time in a recording.

    Parameters
    ----------
    text : str
        Seconds, minutes and seconds, or hours, minutes and seconds.

    Raises
    ------
    InputError
        When it is not one.

    Examples
    --------
    >>> parse_clock("3:10"), parse_clock("1:02:03.5"), parse_clock("190")
    (190.0, 3723.5, 190.0)
    """
    found = _CLOCK.fullmatch(text.strip().replace(",", "."))
    if not found or (found[2] and float(found[3]) >= 60) or (found[1] and int(found[2]) >= 60):
        raise InputError(f"{text!r} is not a time in a recording", "write 3:10, 1:02:03 or 190")
    return 3600 * int(found[1] or 0) + 60 * int(found[2] or 0) + float(found[3])


def read_turns(path: Path) -> list[TurnRow]:
    """Return the turns of a table.

    Parameters
    ----------
    path : Path
        A CSV file with the columns ``start``, ``end``, ``player`` and, where they differ between
        players, ``instrument`` and ``side``.

    Returns
    -------
    list of TurnRow
        In the order of time.

    Raises
    ------
    InputError
        With everything that is wrong in the file, each with its line.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            lines = list(csv.DictReader(file, skipinitialspace=True))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"{path} cannot be read: {error}", _HEADER) from None
    columns = set(lines[0]) if lines else set()
    missing = [name for name in _REQUIRED if name not in columns]
    if missing:
        raise InputError(f"{path.name} has no column {' and no column '.join(missing)}", _HEADER)
    rows, problems = [], []
    for number, line in enumerate(lines, start=2):
        try:
            rows.append(_row(line))
        except InputError as error:
            problems.append(f"line {number}: {error.problem}")
    rows.sort(key=lambda row: row.start_s)
    problems += [
        f"{later.player} begins at {later.start_s:g} s, before {earlier.player} ends at "
        f"{earlier.end_s:g} s"
        for earlier, later in pairwise(rows)
        if later.start_s < earlier.end_s
    ]
    if problems:
        raise InputError(f"{path.name}, {'; '.join(problems)}", "correct the table of turns")
    return rows


def _row(line: dict[str, str | None]) -> TurnRow:
    text = {name: (line.get(name) or "").strip() for name in _COLUMNS}
    if not text["player"]:
        raise InputError("the player has no name", "write who plays")
    row = TurnRow(parse_clock(text["start"]), parse_clock(text["end"]), *list(text.values())[2:])
    if row.end_s <= row.start_s:
        raise InputError(
            f"the turn of {row.player} ends at {text['end']}, not after {text['start']}",
            "write when it ends",
        )
    return row
