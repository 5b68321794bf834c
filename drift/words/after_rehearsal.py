"""A rehearsal that is over, in words: what was read, and what would help most next time."""

from __future__ import annotations

from collections.abc import Sequence

from drift.evidence import PlayersEvening, Wanted
from drift.notes import shown
from drift.words.cents import deviation

__all__ = ["summary"]

NEXT_TIME = {
    Wanted.TEMPERATURE: "type the room temperature every half hour, or connect a thermometer",
    Wanted.SIDE: "name the side with each reading (F4 +6 Bb), or for all that follow (side Bb)",
    Wanted.PLAYING: "log play when you begin, and read after half a minute of it",
    Wanted.COLD_START: "take four readings in the first ten minutes of playing",
    Wanted.WARM: "take four readings after half an hour of playing",
    Wanted.REPEAT: "the same notes again, early and late",
}


def summary(evenings: Sequence[PlayersEvening]) -> list[str]:
    """Return what each player read, and what would help most next time, two lines each.

    Examples
    --------
    >>> kim = PlayersEvening("Kim", "Bb trumpet", 2, -6.0, 2.0, (), Wanted.TEMPERATURE)
    >>> for line in summary([kim]): print(line)
    Kim, B♭ trumpet: 2 readings, 6 flat to 2 sharp.
    Next time: type the room temperature every half hour, or connect a thermometer.
    """
    lines = []
    for one in evenings:
        count = f"{one.readings} reading{'' if one.readings == 1 else 's'}"
        low, high = deviation(one.low_cents), deviation(one.high_cents)
        span = low if low == high else f"{low} to {high}"
        if 0 < one.flagged < one.readings:
            span += f" without the {one.flagged} flagged"
        lines.append(f"{one.player}, {shown(one.instrument)}: {count}, {span}.")
        lines.append(f"Next time: {_next_time(one)}.")
    return lines


def _next_time(one: PlayersEvening) -> str:
    if one.wanted is not Wanted.OTHER_ROOM:
        return NEXT_TIME[one.wanted]
    low, high = one.celsius
    return (
        f"a room that is colder or warmer; all your readings so far are from {low:.0f} to "
        f"{high:.0f} °C, and that says too little about temperature"
    )
