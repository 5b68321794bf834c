"""What the course of a section rests on: readings of its own, of others, or acoustics."""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from drift.gig.roster import Section
from drift.regression.estimates import ONLY
from drift.regression.fits import Fit
from drift.spelling import near

__all__ = ["Basis", "BasisKind", "anybody", "basis_of", "nearly_read", "players_read"]

HALF = 0.5
"""With less of its slope than this from its own readings, it rests on acoustics."""
LEARNT = 0.25
"""An instrument without readings has learnt from those of others from this much of its slope on."""


class BasisKind(enum.Enum):
    """What a course rests on most; the value is its name in an answer."""

    BARS = "bars"
    ACOUSTICS = "acoustics"
    FEW_READINGS = "few_readings"
    OTHERS = "others"
    REHEARSALS = "rehearsals"
    OWN = "own"


@dataclass(frozen=True)
class Basis:
    """What the course of a section rests on.

    Attributes
    ----------
    kind : BasisKind
        What it rests on most.
    from_readings : float or None
        Share of its warm slope that came from readings, 0 to 1; None where no method says it.
    readings : int
        Readings of the instrument.
    read, players : int
        How many players of the section were read, by name, and how many there are.
    of_others : bool
        Whether the readings are of players who are not in the section.
    """

    kind: BasisKind
    from_readings: float | None = None
    readings: int = 0
    read: int = 0
    players: int = 0
    of_others: bool = False

    def to_json(self) -> dict[str, Any]:
        """Return the basis as one JSON object."""
        return {**vars(self), "kind": self.kind.value}


def basis_of(fit: Fit, section: Section) -> Basis:
    """Return what the course of a blown section rests on.

    Parameters
    ----------
    fit : Fit
        What is known.
    section : Section
        Who plays what.
    """
    name = section.instrument.name
    kind = fit.kinds.get(name)
    read = players_read(fit, section)
    slope = fit.curve(name, read[0] if read else anybody(section)).entries()
    warm = slope.get("warm_cents_per_celsius")
    share = warm.from_data if warm is not None else None
    readings = kind.readings if kind is not None else 0
    of_others = bool(section.names and not read)
    return Basis(
        _kind(share, bool(fit.kinds), readings, of_others),
        share,
        readings,
        len(read),
        section.players,
        of_others,
    )


def _kind(share: float | None, any_readings: bool, readings: int, of_others: bool) -> BasisKind:
    """Return what it rests on most, by the share of its slope that came from readings."""
    if not readings:
        learnt = any_readings and share is not None and share >= LEARNT
        return BasisKind.OTHERS if learnt else BasisKind.ACOUSTICS
    if share is None:  # a method that knows no acoustics
        return BasisKind.REHEARSALS
    if share < HALF:
        return BasisKind.FEW_READINGS
    return BasisKind.OTHERS if of_others else BasisKind.OWN


def anybody(section: Section) -> str:
    """Return whose drift a player without readings of their own has."""
    return ONLY if section.players == 1 and not section.names else "new"


def players_read(fit: Fit, section: Section) -> tuple[str, ...]:
    """Return the players of a section whose own readings a fit holds."""
    kind = fit.kinds.get(section.instrument.name)
    known = kind.players if kind is not None else {}
    return tuple(name for name in section.names if name in known)


def nearly_read(
    fit: Fit, section: Section, roster: Sequence[Section]
) -> list[tuple[str, str, str]]:
    """Return the section, a name of it without readings, and one like it that only the fit has."""
    kind = fit.kinds.get(section.instrument.name)
    known = set(kind.players) if kind is not None else set()
    free = known - {name for one in roster for name in one.names}
    unread = (name for name in section.names if name not in known)
    return [(section.name, name, like[0]) for name in unread if (like := near(name, free, 1))]
