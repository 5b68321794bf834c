"""What a band does by the words that people write: in a table, or in the title of an event."""

from __future__ import annotations

import re
import shlex
from collections.abc import Mapping

from drift.quantities import NUMBER, read_quantity

__all__ = ["ACTIVITIES", "ACTIVITY_WORDS", "AWAY", "ROOM", "WALKING", "is_warm_up", "occupation",
           "read_activity", "said_with"]  # fmt: skip

ACTIVITIES = ("play", "rest", "tune", "stands", "warm")

#: Words, and what is done; the first that is found counts.
ACTIVITY_WORDS: Mapping[str, str] = {
    **dict.fromkeys(("tune", "tuning"), "tune"),
    **dict.fromkeys(("stands", "stand tunes"), "stands"),
    **dict.fromkeys(("warm air",), "warm"),
    **dict.fromkeys(
        ("rest", "break", "intermission", "bus", "buses", "walk", "travel", "meal", "dinner",
         "wait"), "rest"
    ),
    **dict.fromkeys(
        ("play", "show", "half-time", "half time", "halftime", "parade", "concert", "march",
         "warm-up", "warm up", "warmup", "performance", "rehearsal"),
        "play",
    ),
}  # fmt: skip

#: What keeps a band from tuning: on the way in a bus or at a meal it cannot blow either; on foot
#: it can.
AWAY, WALKING = "away", "walking"
_OCCUPATIONS: Mapping[str, str] = {
    **dict.fromkeys(
        ("bus", "buses", "coach", "ride", "drive", "travel", "train", "meal", "lunch", "dinner",
         "supper"),
        AWAY,
    ),
    **dict.fromkeys(("walk", "walking", "load", "loading", "unload", "unloading"), WALKING),
}  # fmt: skip
#: Words that speak of a room, which has its own temperature.
ROOM = re.compile(
    r"\b(hall|room|bandroom|indoors?|inside|gym|gymnasium|auditorium)\b", re.IGNORECASE
)
_WARM_UP = re.compile(r"\bwarm(ing)?[- ]?up\b")


def occupation(*texts: str) -> str:
    """Return what keeps a band from tuning in a rest: `AWAY`, `WALKING`, or nothing (empty).

    Examples
    --------
    >>> occupation("Bus"), occupation("rest", "walk to the field"), occupation("rest", "stand")
    ('away', 'walking', '')
    """
    words = re.findall(r"\w+", " ".join(texts).casefold())
    return next((_OCCUPATIONS[word] for word in words if word in _OCCUPATIONS), "")


def is_warm_up(*texts: str) -> bool:
    """Return whether playing is a warm-up, which no slide is set for.

    Examples
    --------
    >>> is_warm_up("Warm up"), is_warm_up("play", "Warmup in lot C"), is_warm_up("warm air")
    (True, True, False)
    """
    return any(_WARM_UP.search(" ".join(text.casefold().split())) for text in texts)


def said_with(text: str, *activities: str) -> list[str]:
    """Return what to type so that a word means each of some activities.

    Examples
    --------
    >>> said_with("Kickoff", "play", "rest")
    ['--columns Kickoff=play', '--columns Kickoff=rest']
    """
    return [f"--columns {shlex.quote(f'{text}={activity}')}" for activity in activities]


def read_activity(
    text: str, words: Mapping[str, str] | None = None
) -> tuple[str, float | None] | None:
    """Return what is done, and the share of the time that it is blown; None where nobody knows.

    Parameters
    ----------
    text : str
        Such as ``play``, ``stands 0.2`` (another share than the usual) or ``Half-time show``.
    words : mapping of str to str, optional
        Words of the user's own, and the activity that each means; they go before.

    Examples
    --------
    >>> read_activity("stands 0.2"), read_activity("Half-time show"), read_activity("Uniforms")
    (('stands', 0.2), ('play', None), None)
    >>> read_activity("Uniforms on", {"uniforms": "rest"})
    ('rest', None)
    """
    plain = " ".join(text.casefold().split())
    first, _, share = plain.partition(" ")
    if first in ACTIVITIES and (not share or _is_number(share)):
        duty = read_quantity(share, NUMBER) if share else None
        fits = not share or (first == "stands" and duty is not None and 0.0 <= duty <= 1.0)
        return (first, duty) if fits else None
    own = {word.casefold(): name for word, name in (words or {}).items() if name in ACTIVITIES}
    for word, activity in {**own, **ACTIVITY_WORDS}.items():
        if re.search(rf"(?<!\w){re.escape(word)}(?!\w)", plain):
            return activity, None
    return None


def _is_number(text: str) -> bool:
    return read_quantity(text, NUMBER) is not None
