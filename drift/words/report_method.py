"""How the numbers of a report came to be, in its sentences."""

from __future__ import annotations

from drift.pairing import GAP_MINUTES, SETTLE_SECONDS, TYPED_MINUTES

__all__ = ["MODEL", "REFERENCES", "RULES", "by_method"]

HOW_DONE = "How this was done"
HOW_MADE = "How this report was made"
MADE_HEADER = ("what", "which")

METHODS = {
    "bayesian": (
        "Bayesian regression that begins at acoustics (priors) and hands over to the readings: the "
        "slope of an unplayed instrument is shared by all, the rise and the time constants belong "
        "to each kind of instrument, every note of every player has an intercept of its own, and "
        "each player's day a random effect."
    ),
    "least-squares": (
        "Ordinary least squares of cents on temperature and minutes of playing, with an intercept "
        "for every note of every player, and standard errors that allow for readings of one "
        "rehearsal being alike."
    ),
    "mixed": (
        "Mixed model of cents on temperature and minutes of playing, with an intercept for every "
        "note of every player and random effects of rehearsals and players."
    ),
}

MODEL = (
    "Model: drift(T, w) = b (T − 20) + r [w (34 − T)/14 − 1] cents, with T the air in °C and w how "
    "far the instrument is warmed up, 0 to 1: dw/dt = (1 − w)/τ₁ while playing and −w/τ₂ while "
    "resting. b is the slope of an unplayed instrument, r the rise from cold to warm at 20 °C, and "
    "34 °C stands for the breath."
)

REFERENCES = (
    "O. Cramer, The variation of the specific heat ratio and the speed of sound in air with "
    "temperature, pressure, humidity, and CO2 concentration, J. Acoust. Soc. Am. 93 (1993), 2510.",
    "ISO 16:1975, Acoustics: Standard tuning frequency (A4 = 440 Hz).",
)

RULES = (
    "Cents are brought to A4 = 440 Hz and to each player's first stated slide positions before "
    "the fit.",
    f"A temperature is interpolated between samples at most {GAP_MINUTES:g} minutes apart, else "
    f"the nearest within {GAP_MINUTES:g} minutes; a typed one holds for {TYPED_MINUTES:g}. Where "
    "a thermometer was away, nothing is interpolated.",
    f"Readings in the first {SETTLE_SECONDS:g} s of playing are set aside, because the carbon "
    "dioxide of the breath first lowers the pitch.",
    "Intervals are 95 % intervals.",
)
"""How readings are paired, and how sure answers are."""


def by_method(method: str) -> str:
    """Return what a method does."""
    return f"Method {method}: {METHODS.get(method, method)}"
