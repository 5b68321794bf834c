"""Names as a list that is read aloud."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["joined"]


def joined(names: Sequence[str]) -> str:
    """Return names as a list that is read aloud.

    Examples
    --------
    >>> joined(["flutes"]), joined(["flutes", "horns"]), joined(["flutes", "horns", "tubas"])
    ('flutes', 'flutes and horns', 'flutes, horns and tubas')
    """
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
