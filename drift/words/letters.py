"""A capital letter where a sentence, a title or a line begins."""

from __future__ import annotations

__all__ = ["capital"]


def capital(text: str) -> str:
    """Return a text with a capital at its beginning, names as they are.

    Examples
    --------
    >>> capital("main slide of the BBb tuba"), capital("")
    ('Main slide of the BBb tuba', '')
    """
    return text[:1].upper() + text[1:]
