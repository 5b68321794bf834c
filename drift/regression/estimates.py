"""Numbers with intervals, random draws, and what every method knows of an instrument."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.regression.warmup import drift_columns

if TYPE_CHECKING:
    from drift.regression.priors import Priors

__all__ = [
    "NEW",
    "NORMAL_95",
    "ONLY",
    "Curve",
    "Draws",
    "Estimate",
    "Kind",
    "Settings",
    "frame_of",
    "kind_json",
    "strict",
]

Array = npt.NDArray[np.float64]

NORMAL_95 = 1.96
"""So many standard deviations each way hold 95 % of a normal distribution."""


@dataclass(frozen=True)
class Estimate:
    """A number with its 95 % interval.

    Parameters
    ----------
    estimate, low, high : float
        The number and the limits of its interval.
    from_data : float, optional
        How much of the answer came from the readings: 0 all assumption, towards 1 all data.
    standard_error, p_value : float, optional
        Of a regression coefficient, against zero.
    """

    estimate: float
    low: float
    high: float
    from_data: float | None = None
    standard_error: float | None = None
    p_value: float | None = None

    def to_json(self) -> dict[str, float]:
        """Return the numbers that exist, by name."""
        return {name: value for name, value in vars(self).items() if value is not None}

    def __str__(self) -> str:
        return f"{self.estimate:.2f} ({self.low:.2f} to {self.high:.2f})"


@dataclass(frozen=True, eq=False)
class Draws:
    """Random draws of the model's numbers, to carry uncertainty through a calculation.

    Parameters
    ----------
    cold : array of shape (n,)
        Slope of an unplayed instrument (cents/°C).
    rise : array of shape (n,)
        Rise from cold to warm at 20 °C (cents).
    warm_minutes, cool_minutes : arrays of shape (n,)
        Time constants (minutes, 63 %).
    slow : array of shape (n,)
        Slow drift with playing time (cents/hour), up to the horizon.
    curvature : array of shape (n,)
        Bend of the line in temperature (cents/°C²).
    horizon_hours : float
        Playing time beyond which nothing is known of the slow drift: it is taken to stop.
    """

    cold: Array
    rise: Array
    warm_minutes: Array
    cool_minutes: Array
    slow: Array = field(default_factory=lambda: np.zeros(1))
    curvature: Array = field(default_factory=lambda: np.zeros(1))
    horizon_hours: float = 2.0

    def drift(
        self, celsius: npt.ArrayLike, warmth: npt.ArrayLike, hours: npt.ArrayLike = 0.0
    ) -> Array:
        """Return the drift of each draw against warmed-up at 20 °C, in cents.

        Parameters
        ----------
        celsius : float or array of shape (m,)
            Temperature of the air in the instrument (°C).
        warmth : array of shape (n,) with one temperature, (n, m) or (m,) with several
            How far the instrument is warmed up, 0 to 1.
        hours : float or array of shape (m,)
            Hours of playing so far.

        Returns
        -------
        array of shape (n,) or (n, m)
        """
        shape = (-1, *[1] * np.ndim(celsius))
        cold, rise = drift_columns(celsius, warmth)
        late = np.minimum(np.asarray(hours, dtype=float), self.horizon_hours)
        return np.asarray(
            self.cold.reshape(shape) * cold
            + self.rise.reshape(shape) * rise
            + self.slow.reshape(shape) * late
            + self.curvature.reshape(shape) * cold**2
        )


class Curve(Protocol):
    """What a fit knows of one kind of instrument."""

    def entries(self, level: float = 0.95) -> dict[str, Estimate]:
        """Return the reported quantities by name."""

    def covariate_entries(self, level: float = 0.95) -> dict[str, Estimate]:
        """Return the effect of each covariate, for one of its units [cents]."""

    def held(self) -> dict[str, Any]:
        """Return the columns on which slopes depend, with the values that they are given at."""

    def at(self, values: Mapping[str, Any]) -> Curve:
        """Return what is known at other values of those columns."""

    def covariance_frame(self) -> pd.DataFrame:
        """Return the covariance of what is estimated, by name."""

    def contrast(
        self,
        celsius: Array,
        minutes: Array,
        tuned_celsius: float,
        tuned_minutes: float | None,
        *,
        reading: bool = False,
        level: float = 0.95,
    ) -> tuple[Array, Array, Array]:
        """Return estimate, low and high of the change of pitch between conditions (cents)."""

    def expected(self, rows: pd.DataFrame) -> Array:
        """Return the expected drift of each row of a paired table, up to a constant (cents)."""

    def draws(self, size: int, seed: int) -> Draws:
        """Return random draws of the model's numbers."""


NEW = "new"
"""The player nobody has read, who differs from the others as they differ among themselves."""

ONLY = "only"
"""The player of whom there are readings, where there is one; else a new one."""


@dataclass(frozen=True)
class Kind:
    """One kind of instrument in a fit.

    Parameters
    ----------
    population, new_player : Curve
        What is known of the mean of all players, and of a player nobody has read.
    players : mapping of str to Curve
        What is known of each player who was read (empty: the method knows no players).
    readings : int
        Readings used.
    r_squared : float
        Share of the variance within the intercepts that the drift explains (NaN: none there).
    regressor_correlation : float
        Correlation of temperature with playing time, as the method sees them (NaN: one constant).
    pooled_players : int
        How many players one line stands for, where the method knows no players (0: it knows them).
    """

    population: Curve
    new_player: Curve
    players: Mapping[str, Curve]
    readings: int
    r_squared: float
    regressor_correlation: float
    pooled_players: int = 0

    @property
    def curve(self) -> Curve:
        """What is known of the only player, or where there are several of a new one."""
        return self.of(ONLY)

    def of(self, player: str | None) -> Curve:
        """Return what is known of a player.

        Parameters
        ----------
        player : str or None
            A name; ``"new"``; ``"only"``; None for the mean of all players. A name without
            readings is answered as for a new player; `Fit` refuses it before.

        Raises
        ------
        InputError
            If a player is named, and the method has one line for several players.
        """
        if self.pooled_players > 1 and player not in (None, NEW, ONLY):
            raise InputError(
                f"the answer for {player} is not known: this method has one line for all "
                f"{self.pooled_players} players",
                "use the method bayesian, or fit that player's readings alone",
            )
        if player is None:
            return self.population
        if player == ONLY and len(self.players) == 1:
            return next(iter(self.players.values()))
        return self.players.get(player, self.new_player)

    def only(self, player: str, readings: int) -> Kind:
        """Return what is known of one player, of whom there are so many readings."""
        mine = {name: curve for name, curve in self.players.items() if name == player}
        return replace(self, players=mine, readings=readings)


@dataclass(frozen=True)
class Settings:
    """How a fit was made, so that it can be made again.

    Parameters
    ----------
    start : str
        ``stated`` or ``estimated``.
    covariates : tuple of str
        Columns taken as covariates.
    priors : Priors, optional
        What was believed before.
    formula : str, optional
        Of the straight lines.
    """

    start: str = "stated"
    covariates: tuple[str, ...] = ()
    priors: Priors | None = None
    formula: str | None = None


def frame_of(curves: Iterable[tuple[str, Curve]]) -> pd.DataFrame:
    """Return the quantities of curves, one row an instrument and quantity."""
    return pd.DataFrame(
        [
            {"instrument": name, "quantity": quantity, **value.to_json()}
            for name, curve in curves
            for quantity, value in (curve.entries() | curve.covariate_entries()).items()
        ]
    )


def kind_json(kind: Kind) -> dict[str, Any]:
    """Return a kind of instrument as one JSON object."""

    def numbers(curve: Curve) -> dict[str, Any]:
        return {name: value.to_json() for name, value in curve.entries().items()}

    covariates = kind.population.covariate_entries()
    return {
        "readings_used": kind.readings,
        "r_squared": kind.r_squared,
        "regressor_correlation": kind.regressor_correlation,
        "population": numbers(kind.population),
        "players": {name: numbers(curve) for name, curve in kind.players.items()},
        "new_player": numbers(kind.new_player),
        "covariates": {name: value.to_json() for name, value in covariates.items()},
        "held": kind.population.held(),
    }


def strict(value: Any) -> Any:
    """Return what strict JSON can hold: null for a number that is none, text for an instant."""
    if isinstance(value, Mapping):
        return {str(key): strict(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [strict(item) for item in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, str | int):
        return value
    if value is pd.NaT:
        return None
    return value.isoformat() if isinstance(value, datetime) else str(value)
