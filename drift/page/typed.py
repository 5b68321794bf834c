"""One entry as a browser sends it, every field checked, and what it is answered."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from drift.capture.answers import Answer
from drift.errors import InputError
from drift.texts import unfit

__all__ = ["LONGEST_NAME", "Reply", "Typed"]

#: An entry may have waited in a browser this long before it could be sent.
WAITS_AT_MOST = timedelta(days=2)
LONGEST_LINE = 500
LONGEST_NAME = 100


@dataclass(frozen=True)
class Typed:
    """One entry as a browser sends it.

    Attributes
    ----------
    line : str
        In the words of the terminal.
    once : str
        Its key: an entry that is sent again is saved once.
    rehearsal : str
        The rehearsal that it was typed in.
    waited_seconds : float
        How long ago it was typed; a tablet's clock may be wrong, a stretch of time is not.
    player, instrument, side : str
        Who plays what, on which side.
    entry : int
        For ``undo``: the number of the entry to take back.
    after : str
        The key of what was typed before it in the same window.
    """

    line: str
    once: str
    rehearsal: str
    waited_seconds: float = 0.0
    player: str = ""
    instrument: str = ""
    side: str = ""
    entry: int = 0
    after: str = ""

    @classmethod
    def of(cls, sent: Any) -> Typed:
        """Return an entry from what a browser sent, every field checked.

        Raises
        ------
        InputError
            When it is not of that shape.
        """
        if not isinstance(sent, dict) or not set(sent) <= set(cls.__dataclass_fields__):
            raise _unreadable("other fields than those of an entry")
        texts = {k: v for k, v in sent.items() if k not in ("waited_seconds", "entry")}
        longest = {"line": LONGEST_LINE}
        for name, text in texts.items():
            if not isinstance(text, str) or len(text) > longest.get(name, LONGEST_NAME):
                raise _unreadable(f"a {name} that is not a text, or too long")
            if letter := unfit(text):
                raise _unreadable(f"a {name} with U+{ord(letter):04X}, which cannot be printed")
        if not re.fullmatch(r"[A-Za-z0-9-]{16,64}", texts.get("once", "")):
            raise _unreadable("no key")
        waited, entry = sent.get("waited_seconds", 0), sent.get("entry", 0)
        if type(waited) not in (int, float) or not abs(waited) <= WAITS_AT_MOST.total_seconds():
            raise _unreadable("a time that is too long ago")
        if type(entry) is not int or not 0 <= entry < 2**53:
            raise _unreadable("an entry number that is none")
        names = {"line": "", "rehearsal": "", **texts}
        return cls(**names, waited_seconds=max(0.0, float(waited)), entry=entry)


@dataclass(frozen=True)
class Reply:
    """What a browser is answered: the desk's answer, and who sits there from now on."""

    answer: Answer
    player: str = ""
    instrument: str = ""
    side: str = ""
    looked_up: str = ""

    @property
    def text(self) -> str:
        """What the browser shows: the answer to a question, else to the entry."""
        return self.looked_up or self.answer.text


def _unreadable(what: str) -> InputError:
    return InputError(f"the page sent {what}", "load the page again")
