"""What a millimetre of slide does on a real bore, beside what the plain tube says."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

__all__ = ["SlideEffect"]


@dataclass(frozen=True, slots=True)
class SlideEffect:
    """How much more a millimetre does on a real bore than the rule of the plain tube says.

    Attributes
    ----------
    mean, sd : float
        Actual cents per millimetre over those of ``c/(2 f1)`` (``c/(4 f1)`` for a clarinet), as a
        mean over the tuning notes, and how much one instrument differs from another of its kind.
    note_sd : float
        How much one note of an instrument differs from another.
    notes : tuple of (str, float, float)
        Notes of which more is known: sounding note, mean and sd.
    source : str
        Where the values come from.

    Notes
    -----
    A slide lies at one place of the standing wave, which a pull lengthens where pressure or flow
    is large: the same millimetres move the harmonics differently. A player's own calibration
    takes the place of all this.
    """

    mean: float = 1.0
    sd: float = 0.2
    note_sd: float = 0.0
    notes: tuple[tuple[str, float, float], ...] = ()
    source: str = ""

    def on(self, notes: Collection[str] = ()) -> tuple[float, float]:
        """Return mean and sd for the mean of these notes; all alike where none is known apart.

        Parameters
        ----------
        notes : collection of str
            Sounding notes; none for the instrument as a whole.
        """
        known = {name: (mean, sd) for name, mean, sd in self.notes}
        found = [known.get(note, (self.mean, self.sd)) for note in notes]
        if not found:
            return self.mean, self.sd
        count = len(found)
        return (
            math.fsum(mean for mean, _ in found) / count,
            math.hypot(math.fsum(sd for _, sd in found) / count, self.note_sd / math.sqrt(count)),
        )
