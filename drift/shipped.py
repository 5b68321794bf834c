"""Where the shipped rehearsals and the demonstration lie, installed or in a checkout."""

from __future__ import annotations

from pathlib import Path

from drift.errors import InputError

__all__ = ["folder"]


def folder(name: str) -> Path:
    """Return a shipped folder.

    Parameters
    ----------
    name : str
        ``demo``, ``datasets`` or a folder in it.

    Raises
    ------
    InputError
        When nothing of that name was shipped.

    Examples
    --------
    >>> folder("demo").name
    'demo'
    """
    here = Path(__file__).parent
    for root in (here / "shipped", here.parent):
        if (root / name).is_dir():
            return root / name
    raise InputError(f"nothing called {name!r} is shipped", "ask for demo or datasets")
