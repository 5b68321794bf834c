"""Names that a person may have meant."""

from __future__ import annotations

from collections.abc import Collection

__all__ = ["near"]

# Fewer letters stand in too many names. Likeness is that of difflib, from 0 to 1; below this one
# the names offered (a bassoon for a kazoo) are no slips of the hand.
LETTERS_THAT_TELL = 3
ALIKE = 0.6


def near(text: str, names: Collection[str], how_many: int = 3) -> list[str]:
    """Return the names that contain a text, else those most like it, the nearest first.

    Parameters
    ----------
    text : str
        What was typed; capitals do not matter.
    names : collection of str
        What exists.
    how_many : int
        At most so many where none contains the text; all that do are returned.

    Returns
    -------
    list of str
        Names, perhaps none.

    Examples
    --------
    >>> near("Trumpt", ["cornet", "C trumpet", "flute"])
    ['C trumpet']
    >>> near("tuba", ["F tuba", "BBb tuba", "flute"]), near("kazoo", ["bassoon", "oboe"])
    (['F tuba', 'BBb tuba'], [])
    """
    from difflib import get_close_matches  # only a wrong name needs it

    by_fold = {name.casefold(): name for name in names}
    wanted = text.strip().casefold()
    containing = [name for fold, name in by_fold.items() if wanted in fold]
    if containing and len(wanted) >= LETTERS_THAT_TELL:
        return containing
    return [by_fold[found] for found in get_close_matches(wanted, by_fold, how_many, ALIKE)]
