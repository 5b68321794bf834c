"""What may stand in a name or a remark, and text that is harmless wherever it is shown.

One rule for every door: what is typed, posted, imported, listed in a roster or sent by a
thermometer. A text has to be printable as it is: a control character can drive a terminal, a
bidirectional override can make a name read as another, and two names that differ only in a
character without width look alike.
"""

from __future__ import annotations

from drift.errors import InputError

__all__ = ["check_text", "harmless", "unfit"]

# Unicode general categories (Unicode Standard, section 4.5): controls; format characters, which
# hold the bidirectional overrides and the zero-width characters; halves of characters; private
# characters; line and paragraph separators.
_UNFIT_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Co", "Zl", "Zp"})
# Letters and signs by their category, yet nothing is seen of them.
_INVISIBLE = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0")
_FIRST_NONCHARACTERS = range(0xFDD0, 0xFDF0)


def unfit(text: str) -> str:
    r"""Return the first character that may not stand in a name or remark, empty where all may.

    Examples
    --------
    >>> unfit("Rówan Öak ♭ 木 🎺"), unfit("Rowan\u202e")
    ('', '\u202e')
    """
    # A rare character may be too new for this Python to know (category Cn): it may stand.
    if text.isprintable() and (text.isascii() or _INVISIBLE.isdisjoint(text)):
        return ""
    return next((letter for letter in text if _is_unfit(letter)), "")


def _is_unfit(letter: str) -> bool:
    import unicodedata  # the start of a log does not wait for it

    return (
        unicodedata.category(letter) in _UNFIT_CATEGORIES
        or letter in _INVISIBLE
        or ord(letter) & 0xFFFE == 0xFFFE
        or ord(letter) in _FIRST_NONCHARACTERS
    )


def check_text(text: str, what: str) -> str:
    """Return a name or remark that may be saved, as it is.

    Parameters
    ----------
    text : str
        The name or remark.
    what : str
        What it is, for the refusal: ``player``.

    Raises
    ------
    InputError
        When it is blank, or a character in it cannot be printed.

    Examples
    --------
    >>> check_text("Rowan Oak", "player")
    'Rowan Oak'
    """
    if letter := unfit(text):
        raise InputError(
            f"{what} {text[:60]!a} has the character U+{ord(letter):04X}, which cannot be printed",
            "leave that character out",
        )
    if not text.strip():
        raise InputError(f"{what} {text[:60]!r} is blank", f"give the {what}, or leave it empty")
    return text


def harmless(text: str, keep: str = "\n\t") -> str:
    r"""Return a text in which what could drive a terminal or deceive the eye is spelled out.

    Parameters
    ----------
    text : str
        Any text.
    keep : str
        Characters that stay: line ends and tabs, unless it has to be one line.

    Examples
    --------
    >>> print(harmless("Rowan\x1b[31m\u202e"))
    Rowan\x1b[31m\u202e
    """
    if text.isprintable() and (text.isascii() or _INVISIBLE.isdisjoint(text)):
        return text
    return "".join(
        letter.encode("unicode_escape").decode("ascii")
        if letter not in keep and _is_unfit(letter)
        else letter
        for letter in text
    )
