"""What a millimetre of each slide is expected to do: measured, else as real bores do."""

from __future__ import annotations

from drift.instruments.anatomy import Instrument, MeasuredSlopes

__all__ = ["expected_slopes", "slope_sd"]

MEASURED_SLOPE_SD = 0.03
"""A slope that a player measured holds on other notes and days within this share (assumption)."""


def expected_slopes(
    instrument: Instrument, calibration: MeasuredSlopes | None = None
) -> dict[tuple[str, str], float]:
    """Return the cents per millimetre to expect of each slide on each side.

    Parameters
    ----------
    instrument : Instrument
        Whose slides.
    calibration : mapping, optional
        Measured cents per millimetre, keyed ``(slide, side)``; they stand as they are.

    Returns
    -------
    dict of (str, str) to float
        Slope [cents/mm] by slide and side: measured, else the rule of the plain tube times what
        a millimetre does over it on real bores (`drift.instruments.effects.SlideEffect`).

    Examples
    --------
    >>> from drift.instruments import find
    >>> {key: round(slope, 2) for key, slope in expected_slopes(find("Bb trumpet")).items()}
    {('main', ''): -2.58}
    """
    measured = dict(calibration or {})
    return {
        (slide.name, side): measured[slide.name, side]
        if (slide.name, side) in measured
        else instrument.cents_per_mm(side, slide.name)
        * slide.effect.on(instrument.side(side).tuning_notes)[0]
        for slide in instrument.slides
        for side in slide.sides
    }


def slope_sd(
    instrument: Instrument, slide: str, side: str, calibration: MeasuredSlopes | None = None
) -> float:
    """Return how sure an expected slope is: its standard uncertainty over itself."""
    if (slide, side) in (calibration or {}):
        return MEASURED_SLOPE_SD
    mean, sd = instrument.slide(slide).effect.on(instrument.side(side).tuning_notes)
    return sd / mean
