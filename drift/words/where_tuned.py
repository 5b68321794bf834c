"""Where an instrument was tuned, in words: its pitch, its conditions and its slides."""

from __future__ import annotations

from drift.quantities import Units
from drift.slides.correction import Correction
from drift.slides.reference import TunedFrom
from drift.words.cents import a4, length, slide_name

__all__ = ["tuned_at", "tuned_positions", "tuned_to"]

SIXTEENTHS = 16
GIVEN = " (as given)"


def tuned_to(correction: Correction) -> str:
    """Return the pitch it was tuned to, where that is another one; else empty."""
    same = correction.tuned_a4_hz == correction.a4_hz
    return "" if same else f" to {a4(correction.tuned_a4_hz)}"


def tuned_at(correction: Correction, degrees: str) -> str:
    """Return at which temperature and after how much playing it was tuned, and what says so.

    A tuning for the warm instrument, before so long was played, has no minutes in words.

    Parameters
    ----------
    correction : Correction
        The answer.
    degrees : str
        The temperature, as it is to be written.
    """
    minutes = f"after {round(correction.tuned_minutes):d} minutes of playing"
    when = "for when it is warm" if correction.tuned_warm else minutes
    given, logged = correction.tuned_given, _logged(correction)
    if not given or not correction.reference:
        return f"at {degrees} {when}{logged}"
    if "celsius" not in given:
        return f"at {degrees}{logged} {when}{GIVEN}"
    return f"at {degrees}{GIVEN} {when}{GIVEN if 'minutes' in given else logged}"


def _logged(correction: Correction) -> str:
    """Return in brackets where it is known from how the instrument was tuned; empty if given."""
    reference = correction.reference
    if reference is None:
        return " (assumed)" if correction.tuned_from is TunedFrom.ASSUMED else ""
    known = reference.celsius is not None or "celsius" in correction.tuned_given
    air = "" if known else "; the temperature is assumed"
    return f" (as it was tuned in {reference.rehearsal}{air})"


def tuned_positions(correction: Correction, *, inches: bool = False) -> str:
    """Return where the slides were when it was tuned, as far as that is known."""
    horn = correction.instrument
    return ", ".join(
        f"{slide_name(slide.name, horn.name)} "
        f"{length(correction.at[slide.name], Units(inches=inches), horn.step_mm, SIXTEENTHS)}"
        for slide in horn.slides
        if slide.name in correction.at
    )
