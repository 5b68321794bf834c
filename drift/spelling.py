"""Names that a person may have meant."""

from __future__ import annotations

from collections.abc import Collection

__all__ = ["near"]


def near(text: str, names: Collection[str], how_many: int = 3) -> list[str]:
    """Return the names most like a text, the nearest first.

    Parameters
    ----------
    text : str
        What was typed; capitals do not matter.
    names : collection of str
        What exists.
    how_many : int
        At most so many.

    Returns
    -------
    list of str
        Names, perhaps none.

    Examples
    --------
    >>> near("Trumpt", ["cornet", "C trumpet", "flute"])
    ['C trumpet']
    """
    from difflib import get_close_matches  # only a wrong name needs it

    by_fold = {name.casefold(): name for name in names}
    return [by_fold[found] for found in get_close_matches(text.casefold(), by_fold, how_many, 0.4)]
