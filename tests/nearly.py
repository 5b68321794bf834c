"""The same but for the last bits: what two runs of the same sums may differ by.

Sums run by how memory is aligned, which no two processes, nor two tables in one, have in common.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

__all__ = ["nearly"]


def nearly(value: Any, rel: float = 1e-7) -> Any:
    """Return what is equal to anything that agrees with a value of JSON, its numbers nearly.

    Parameters
    ----------
    value : object
        Mappings, lists, numbers and words, in one another.
    rel : float
        How far a number may be off, as a share of it; one near zero by so much itself.
    """
    if isinstance(value, Mapping):
        return {name: nearly(part, rel) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [nearly(part, rel) for part in value]
    if isinstance(value, float):
        return pytest.approx(value, rel=rel, abs=rel, nan_ok=True)
    return value
