"""What a band has and nobody tunes by a plan: drums and cymbals."""

from __future__ import annotations

__all__ = ["UNPITCHED", "has_no_pitch"]

#: In the singular and in small letters.
UNPITCHED = frozenset((
    "drum", "drumline", "drum line", "drum set", "drumset", "battery", "snare", "snare drum",
    "bass drum", "tenor drum", "cymbal", "percussion", "quad", "quint", "side drum",
))  # fmt: skip


def has_no_pitch(name: str) -> bool:
    """Return whether a name means drums or cymbals, whose pitch no plan sets.

    Examples
    --------
    >>> has_no_pitch("Snares"), has_no_pitch("bass drums"), has_no_pitch("bells")
    (True, True, False)
    """
    plain = " ".join(name.casefold().split())
    return plain in UNPITCHED or plain.removesuffix("s") in UNPITCHED
