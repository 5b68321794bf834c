"""Something to know about an answer or its data: a code and numbers, worded in `drift.words`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

__all__ = ["Finding", "distinct"]


@dataclass(frozen=True)
class Finding:
    """One thing to look at, or to know before an answer is used.

    Attributes
    ----------
    kind : str
        Which, as a code.
    values : mapping of str to object
        The numbers and names in it; the unit of a number is in its name.

    Examples
    --------
    >>> found = Finding("narrow", {"low_celsius": 19.0, "high_celsius": 20.5})
    >>> found.kind, found.values["high_celsius"]
    ('narrow', 20.5)
    """

    kind: str
    values: Mapping[str, Any] = field(default_factory=dict)

    def __str__(self) -> str:
        """Return a warning of a fit in words, times in UTC; of others code and numbers."""
        from drift.words.fit import warning_text

        try:
            return warning_text(self)
        except KeyError:
            return repr(self)

    def to_json(self, text: str) -> dict[str, Any]:
        """Return it as one JSON object, with its sentence beside code and numbers."""
        return {"kind": self.kind, "text": text, **self.values}


def distinct(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return what differs, each once, in its first order.

    Examples
    --------
    >>> len(distinct([Finding("a"), Finding("b"), Finding("a")]))
    2
    """
    kept: list[Finding] = []
    for one in found:
        if one not in kept:
            kept.append(one)
    return tuple(kept)
