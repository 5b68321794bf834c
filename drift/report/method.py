"""How the numbers of a report came to be, for those who want to repeat them."""

from __future__ import annotations

from drift.pairing import GAP_MINUTES, SETTLE_SECONDS, TYPED_MINUTES
from drift.report.document import Block, Items, Section, Table, Words
from drift.report.material import Material

__all__ = ["method"]

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
    "drift(T, w) = b (T − 20) + r [w (34 − T)/14 − 1] cents, with T the air in °C and w how far "
    "the instrument is warmed up, 0 to 1: dw/dt = (1 − w)/τ₁ while playing and −w/τ₂ while "
    "resting. b is the slope of an unplayed instrument, r the rise from cold to warm at 20 °C, and "
    "34 °C stands for the breath."
)

REFERENCES = (
    "O. Cramer, The variation of the specific heat ratio and the speed of sound in air with "
    "temperature, pressure, humidity, and CO2 concentration, J. Acoust. Soc. Am. 93 (1993), 2510.",
    "ISO 16:1975, Acoustics: Standard tuning frequency (A4 = 440 Hz).",
)


def method(material: Material) -> Section:
    """Tell the method, the model, the rules of pairing, the versions and the command."""
    fit, made = material.fit, material.made
    blocks: list[Block] = [Words(f"Method {fit.method}: {METHODS.get(fit.method, fit.method)}")]
    if fit.method == "bayesian":
        blocks.append(Words(f"Model: {MODEL}"))
    blocks.append(
        Items(
            (
                "Cents are brought to A4 = 440 Hz and to each player's first stated slide "
                "positions before the fit.",
                f"A temperature is interpolated between samples at most {GAP_MINUTES:g} minutes "
                f"apart, else the nearest within {GAP_MINUTES:g} minutes; a typed one holds for "
                f"{TYPED_MINUTES:g}. Where a thermometer was away, nothing is interpolated.",
                f"Readings in the first {SETTLE_SECONDS:g} s of playing are set aside, because "
                "the carbon dioxide of the breath first lowers the pitch.",
                "Intervals are 95 % intervals.",
            )
        )
    )
    blocks.append(Items(REFERENCES))
    rows = [*made.versions.items()]
    if made.command:
        rows.insert(0, ("command", made.command))
    if rows:
        blocks.append(Table("How this report was made", ("what", "which"), tuple(rows), texts=2))
    return Section("How this was done", tuple(blocks))
