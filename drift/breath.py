"""The air in a played bore: breath and room air mixed, with each effect on pitch apart.

Breath is warm and moist, which raises pitch, and carries carbon dioxide, which lowers it. On the
first notes the cold wall takes the warmth out and the carbon dioxide is left, so pitch falls
before it rises.

References
----------
H. Boutin, J. Smith, J. Wolfe, J. Acoust. Soc. Am. 148, 1817 (2020), second-hand: 4 % carbon
dioxide lowers pitch by about 18 to 21 cents, 4 % water raises it by about 11.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from drift.air import OUTDOOR_CO2, STANDARD_PRESSURE_PA, cramer, refuse, water_fraction

__all__ = ["BREATH_CELSIUS", "BREATH_CO2", "PlayedAir", "played_air"]

BREATH_CELSIUS = 34.0
"""Temperature of exhaled air at the lips [°C], common practice."""

BREATH_CO2 = 0.04
"""Mole fraction of carbon dioxide in exhaled air; second-hand, as in the reference above."""


@dataclass(frozen=True)
class PlayedAir:
    """The air inside a played bore, and what each part of it does to pitch.

    Attributes
    ----------
    celsius : float
        Mean temperature of the air column [°C].
    water_fraction, co2_fraction : float
        Mole fractions of water and carbon dioxide.
    speed_m_s : float
        Speed of sound [m/s].
    warmth_cents, water_cents, co2_cents : float
        Change of pitch against room air from each, taken in this order [cents].
    """

    celsius: float
    water_fraction: float
    co2_fraction: float
    speed_m_s: float
    warmth_cents: float
    water_cents: float
    co2_cents: float

    @property
    def cents(self) -> float:
        """Change of pitch against a bore full of room air [cents]."""
        return self.warmth_cents + self.water_cents + self.co2_cents

    def summary(self) -> str:
        """Return the parts and their sum as text."""
        from drift.words.breath import summary_of

        return summary_of(self)


def played_air(
    celsius: float,
    humidity_percent: float = 50.0,
    *,
    breath_share: float = 1.0,
    warmed: float = 1.0,
    pressure_pa: float = STANDARD_PRESSURE_PA,
) -> PlayedAir:
    """Return the state of the air in a bore that holds breath and room air.

    Parameters
    ----------
    celsius : float
        Temperature of the room [°C].
    humidity_percent : float
        Relative humidity of the room [%].
    breath_share : float
        How much of the gas is breath, 0 to 1.
    warmed : float
        How far the air column is on its way from the temperature of the room to that of the
        breath, 0 to 1; a cold wall cools the breath, so the first notes have a share of breath
        near 1 and a warmth near 0.
    pressure_pa : float
        Pressure [Pa].

    Returns
    -------
    PlayedAir
        The mixture and the three effects in cents.

    Raises
    ------
    ReachError
        If a share lies outside 0 to 1.

    Notes
    -----
    Breath is taken at 34 °C, saturated, with 4 % carbon dioxide (common values for exhaled
    air). Water above saturation at the temperature of the column condenses. Carbon dioxide and
    warm columns lie outside the range of the formula: within 0.6 cent of an ideal mixture there.

    Examples
    --------
    >>> first_notes = played_air(20.0, warmed=0.0)
    >>> first_notes.cents < 0 < played_air(20.0, warmed=0.6).cents
    True
    """
    share, warmth = np.asarray(breath_share), np.asarray(warmed)
    refuse((share < 0) | (share > 1), "share of breath", share, "", "from 0 to 1")
    refuse((warmth < 0) | (warmth > 1), "warmth", warmth, "", "from 0 to 1")
    p = np.asarray(pressure_pa)
    room_water = water_fraction(celsius, humidity_percent, p)
    column = np.asarray(celsius + warmed * (BREATH_CELSIUS - celsius))
    breath_water = water_fraction(BREATH_CELSIUS, 100.0, p)
    mixed_water = room_water + breath_share * (breath_water - room_water)
    water = np.minimum(mixed_water, water_fraction(column, 100.0, p))
    co2 = np.asarray(OUTDOOR_CO2 + breath_share * (BREATH_CO2 - OUTDOOR_CO2))
    room_co2 = np.asarray(OUTDOOR_CO2)
    speeds = (
        cramer(np.asarray(celsius, dtype=float), p, room_water, room_co2),
        cramer(column, p, room_water, room_co2),
        cramer(column, p, water, room_co2),
        cramer(column, p, water, co2),
    )
    steps = [float(1200 * np.log2(b / a)) for a, b in pairwise(speeds)]
    return PlayedAir(float(column), float(water), float(co2), float(speeds[-1]), *steps)
