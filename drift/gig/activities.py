"""What a band does by the words that people write: in a table, or in the title of an event."""

from __future__ import annotations

import re
import shlex
from collections.abc import Mapping

from drift.quantities import NUMBER, read_quantity

__all__ = ["ACTIVITIES", "ACTIVITY_WORDS", "AWAY", "ROOM", "SILENT", "TITLE_TEMPERATURE",
           "WALKING", "is_warm_up", "names_stands", "occupation", "read_activity", "said_with",
           "says_no_playing", "words_beside"]  # fmt: skip

ACTIVITIES = ("play", "rest", "tune", "stands", "warm")

#: Words, and what is done; the first that is found counts.
ACTIVITY_WORDS: Mapping[str, str] = {
    **dict.fromkeys(("tune", "tuning"), "tune"),
    **dict.fromkeys(("rest", "wait", "waiting", "walk"), "rest"),  # in the stands, or to them
    **dict.fromkeys(("stands", "stand tunes"), "stands"),
    **dict.fromkeys(("warm air",), "warm"),
    **dict.fromkeys(
        ("break", "intermission", "interval", "bus", "buses", "travel", "meal", "dinner",
         "photo", "photos", "photographs", "line up", "line-up", "lineup"), "rest"
    ),
    **dict.fromkeys(
        ("play", "show", "half-time", "half time", "halftime", "parade", "concert", "march",
         "warm-up", "warm up", "warmup", "performance", "rehearsal", "rehearse", "encore"),
        "play",
    ),
}  # fmt: skip

#: What keeps a band from tuning: on the way in a bus or at a meal it cannot blow either; on foot
#: it can. Where nobody may play it can blow warm air, but not sound a note.
AWAY, WALKING, SILENT = "away", "walking", "silent"
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
#: A temperature in a title has its unit: 21 C, 70F, 68 °F.
TITLE_TEMPERATURE = re.compile(r"(?<![\w.,])[+\-−]?\d{1,3}(?:[.,]\d)?\s?°?\s?[CF]\b")
#: Words that say that nobody plays; they go before all but the user's own.
_NO_PLAYING = re.compile(
    r"\b(?:no|not|without|nobody|don['\u2019]t)\splay(?:s|ing)?\b|\b(?:silent|silence)\b|"
    r"^(?!.*\b(?:tun|warm|play|rehears)).*\bquiet\b"  # a quiet warm-up is one
)
#: A march to a place may be played or a walk in silence: nobody knows but who wrote it.
_WAYS = ("to", "into", "from", "over", "back", "off", "out")
_MARCH_TO = re.compile(rf"\b(?:march|parade)(?= (?:\w+ )?(?:{'|'.join(_WAYS)})\b)")
#: On the way to the stands nobody plays there yet, or any more.
_WAY_TO_STANDS = re.compile(r"\b(?:take|enter|leave|exit|(?:in)?to)\s(?:the\s)?stands\b")
_WARM_UP = re.compile(r"\bwarm(ing)?[- ]?up\b")


def occupation(*texts: str) -> str:
    """Return what keeps a band from tuning in a rest: away, walking, silent, or nothing (empty).

    Examples
    --------
    >>> occupation("Bus"), occupation("rest", "walk to the field"), occupation("rest", "stand")
    ('away', 'walking', '')
    >>> occupation("Stands", "no playing"), occupation("silent walk")
    ('silent', 'walking')
    """
    words = re.findall(r"\w+", " ".join(texts).casefold())
    silent = SILENT if any(map(says_no_playing, texts)) else ""
    return next((_OCCUPATIONS[word] for word in words if word in _OCCUPATIONS), silent)


def is_warm_up(*texts: str) -> bool:
    """Return whether playing is a warm-up, which no slide is set for.

    Examples
    --------
    >>> is_warm_up("Warm up"), is_warm_up("play", "Warmup in lot C"), is_warm_up("warm air")
    (True, True, False)
    """
    return any(_WARM_UP.search(" ".join(text.casefold().split())) for text in texts)


def names_stands(text: str) -> bool:
    """Return whether words speak of the stands."""
    return bool(re.search(r"\bstands\b", text, re.IGNORECASE))


def says_no_playing(text: str) -> bool:
    """Return whether words say that nobody plays.

    Examples
    --------
    >>> says_no_playing("Stands (no playing)"), says_no_playing("Stands"), says_no_playing("quiet")
    (True, False, True)
    """
    return bool(_NO_PLAYING.search(" ".join(text.casefold().split())))


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
    >>> read_activity("stands 0"), read_activity("Stands (no playing)")
    (('rest', None), ('rest', None))
    >>> read_activity("Rehearse"), read_activity("Interval"), read_activity("Photographs")
    (('play', None), ('rest', None), ('rest', None))
    >>> read_activity("March to the field"), read_activity("Street march")
    (None, ('play', None))
    >>> read_activity("March back"), read_activity("Parade to field"), read_activity("Parade")
    (None, None, ('play', None))
    >>> read_activity("Take the stands"), read_activity("Line up")
    (None, ('rest', None))
    >>> read_activity("Uniforms on", {"uniforms": "rest"})
    ('rest', None)
    """
    plain = " ".join(text.casefold().split())
    first, _, share = plain.partition(" ")
    if first in ACTIVITIES and (not share or _is_number(share)):
        duty = read_quantity(share, NUMBER) if share else None
        fits = not share or (first == "stands" and duty is not None and 0.0 <= duty <= 1.0)
        if not fits:
            return None
        return ("rest", None) if duty == 0.0 else (first, duty)
    own = {word.casefold(): name for word, name in (words or {}).items() if name in ACTIVITIES}
    activity = _by_words(plain, own)
    if activity is None:
        known = _WAY_TO_STANDS.sub("", _MARCH_TO.sub("", plain))
        activity = "rest" if says_no_playing(plain) else _by_words(known, ACTIVITY_WORDS)
    return (activity, None) if activity else None


def words_beside(wrote: str, activity: str) -> str:
    """Return what words say beside the activity: where the band is, for ``stands 0``.

    Examples
    --------
    >>> words_beside("Half-time show", "play"), words_beside("Stands 0", "rest")
    ('Half-time show', 'stands')
    """
    if wrote.casefold().startswith(activity):
        return ""
    first, _, share = wrote.partition(" ")
    return first.casefold() if share[:1].isdigit() and first.casefold() in ACTIVITIES else wrote


def _by_words(plain: str, words: Mapping[str, str]) -> str | None:
    """Return what is done by the first of some words that a text has."""
    for word, activity in words.items():
        if re.search(rf"(?<!\w){re.escape(word)}(?!\w)", plain):
            return activity
    return None


def _is_number(text: str) -> bool:
    return read_quantity(text, NUMBER) is not None
