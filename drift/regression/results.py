"""What a fit hands over, whichever method made it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.groups import codes_of
from drift.instruments import canonical_name
from drift.pairing.paired import LeftOut
from drift.regression.warmup import drift_columns

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Curve", "Draws", "Estimate", "Fit", "Kind"]

Array = npt.NDArray[np.float64]


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


@dataclass(frozen=True)
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
    """

    cold: Array
    rise: Array
    warm_minutes: Array
    cool_minutes: Array

    def drift(self, celsius: npt.ArrayLike, warmth: npt.ArrayLike) -> Array:
        """Return the drift of each draw against warmed-up at 20 °C, in cents.

        Parameters
        ----------
        celsius : float or array of shape (m,)
            Temperature of the air around the player (°C).
        warmth : array of shape (n,) with one temperature, (n, m) or (m,) with several
            How far the instrument is warmed up, 0 to 1.

        Returns
        -------
        array of shape (n,) or (n, m)
        """
        shape = (-1, *[1] * np.ndim(celsius))
        cold, rise = drift_columns(celsius, warmth)
        return np.asarray(self.cold.reshape(shape) * cold + self.rise.reshape(shape) * rise)


class Curve(Protocol):
    """What a fit knows of one kind of instrument."""

    def entries(self) -> dict[str, Estimate]:
        """Return the reported quantities by name."""

    def contrast(
        self,
        celsius: Array,
        minutes: Array,
        tuned_celsius: float,
        tuned_minutes: float | None,
        *,
        reading: bool = False,
    ) -> tuple[Array, Array, Array]:
        """Return estimate, low and high of the change of pitch between conditions (cents)."""

    def expected(self, rows: pd.DataFrame) -> Array:
        """Return the expected drift of each row of a paired table, up to a constant (cents)."""

    def draws(self, size: int, seed: int) -> Draws:
        """Return random draws of the model's numbers."""


@dataclass(frozen=True)
class Kind:
    """One kind of instrument in a fit.

    Parameters
    ----------
    curve : Curve
        What is known of it.
    readings : int
        Readings used.
    r_squared : float
        Share of the variance within the intercepts that the drift explains (NaN: none there).
    entanglement : float
        Correlation of temperature with playing time, as the method sees them (NaN: one constant).
    """

    curve: Curve
    readings: int
    r_squared: float
    entanglement: float


@dataclass(frozen=True)
class Fit:
    """The answer of a regression of cents on temperature and playing time.

    Parameters
    ----------
    method : str
        ``anchored``, ``least-squares``, ``mixed`` or ``physics``.
    kinds : mapping of str to Kind
        The kinds of instrument in the readings, by name.
    rows : DataFrame
        The readings used, with ``drift`` (expected, cents), ``residual`` (cents) and ``weight``
        (1, or less when a reading is suspected of being wild).
    left_out : tuple of LeftOut
        Reasons and counts of readings that were not used.
    rehearsal_sd_cents, reading_sd_cents : float
        Standard deviations of a player's day and of a single reading (NaN: not estimated).
    celsius_range : tuple of two floats, optional
        Lowest and highest temperature seen; None without readings.
    warnings : tuple of str
        What a reader of the numbers must know.
    diagnostics : mapping
        Figures for a methods section.
    otherwise : callable, optional
        Gives the curve of an instrument that has no readings.
    """

    method: str
    kinds: Mapping[str, Kind]
    rows: pd.DataFrame = field(repr=False)
    left_out: tuple[LeftOut, ...] = ()
    rehearsal_sd_cents: float = float("nan")
    reading_sd_cents: float = float("nan")
    celsius_range: tuple[float, float] | None = None
    warnings: tuple[str, ...] = ()
    diagnostics: Mapping[str, Any] = field(default_factory=dict, repr=False)
    otherwise: Callable[[str], Curve] | None = field(default=None, repr=False)

    @cached_property
    def players(self) -> int:
        """Number of players."""
        return codes_of(self.rows["player"])[1].nunique()

    @cached_property
    def rehearsals(self) -> int:
        """Number of rehearsals."""
        return codes_of(self.rows["rehearsal"])[1].nunique()

    @property
    def suspected(self) -> pd.DataFrame:
        """The readings that look wild, with time, player, note, cents and how far off they are."""
        wanted = [
            "time",
            "rehearsal",
            "player",
            "instrument",
            "note",
            "cents",
            "residual",
            "weight",
        ]
        rows = self.rows[self.rows["weight"] < 0.5]
        return rows[[name for name in wanted if name in rows]].copy()

    def curve(self, instrument: str | None = None) -> Curve:
        """Return what is known of one instrument; by default of the one with most readings.

        Raises
        ------
        InputError
            If the method needs readings of that instrument and there are none.
        """
        if instrument is None:
            if not self.kinds:
                raise InputError(
                    "no instrument is named and there are no readings to take one from",
                    "name the instrument",
                )
            return max(self.kinds.values(), key=lambda kind: kind.readings).curve
        name = canonical_name(instrument)
        if name in self.kinds:
            return self.kinds[name].curve
        if self.otherwise is None:
            raise InputError(
                f"there are no readings of a {name}, and {self.method} answers from readings alone",
                "log readings of it, or use the method anchored, which also knows the acoustics",
            )
        return self.otherwise(name)

    def change(
        self,
        instrument: str | None = None,
        *,
        celsius: float,
        minutes: float = 30.0,
        tuned_celsius: float = 20.0,
        tuned_minutes: float = 30.0,
    ) -> Estimate:
        """Return how far the pitch moves from where the instrument was tuned to somewhere else.

        Parameters
        ----------
        instrument : str, optional
            Name of the instrument (default: the one with most readings).
        celsius, tuned_celsius : float
            Temperature there and where it was tuned (°C).
        minutes, tuned_minutes : float
            Minutes of unbroken playing there and before tuning.

        Returns
        -------
        Estimate
            Mean change in cents (positive: sharper there) with its 95 % interval.
        """
        found = self.curve(instrument).contrast(
            np.array([celsius], dtype=float),
            np.array([minutes], dtype=float),
            float(tuned_celsius),
            float(tuned_minutes),
        )
        return Estimate(*(float(limit[0]) for limit in found))

    def predict(
        self,
        celsius: npt.ArrayLike,
        minutes: npt.ArrayLike = 30.0,
        instrument: str | None = None,
    ) -> pd.DataFrame:
        """Return the expected drift at temperatures and minutes of playing.

        Parameters
        ----------
        celsius : float or array of shape (n,)
            Temperature of the air (°C).
        minutes : float or array of shape (n,)
            Minutes of unbroken playing.
        instrument : str, optional
            Name of the instrument (default: the one with most readings).

        Returns
        -------
        DataFrame
            ``celsius, minutes, cents`` against a warmed-up instrument at 20 °C (after 30 minutes
            for the methods that know no warm-up), ``low, high`` for the mean, ``reading_low,
            reading_high`` for one new reading on a new day, and ``beyond`` where the temperature
            lies more than 1 °C outside those seen.
        """
        where, when = (
            np.atleast_1d(part).astype(float) for part in np.broadcast_arrays(celsius, minutes)
        )
        curve = self.curve(instrument)
        cents, low, high = curve.contrast(where, when, 20.0, None)
        _, reading_low, reading_high = curve.contrast(where, when, 20.0, None, reading=True)
        return pd.DataFrame(
            {
                "celsius": where,
                "minutes": when,
                "cents": cents,
                "low": low,
                "high": high,
                "reading_low": reading_low,
                "reading_high": reading_high,
                "beyond": [self.extrapolation(value) is not None for value in where],
            }
        )

    def extrapolation(self, celsius: float) -> str | None:
        """Return a sentence if a temperature lies beyond those seen, else None."""
        if self.celsius_range is None:
            return None
        low, high = self.celsius_range
        if low - 1.0 <= celsius <= high + 1.0:
            return None
        return (
            f"{round(celsius, 1):g} °C lies beyond the temperatures seen so far "
            f"({low:.1f} to {high:.1f} °C): the answer leans on the model there"
        )

    def draws(self, instrument: str | None = None, size: int = 1000, seed: int = 0) -> Draws:
        """Return random draws of slope, rise and time constants of an instrument.

        Raises
        ------
        InputError
            If the method has no warm-up to draw from.
        """
        return self.curve(instrument).draws(size, seed)

    def to_frame(self) -> pd.DataFrame:
        """Return the reported quantities, one row an instrument and quantity."""
        return pd.DataFrame(
            [
                {"instrument": name, "quantity": quantity, **estimate.to_json()}
                for name, kind in self.kinds.items()
                for quantity, estimate in kind.curve.entries().items()
            ]
        )

    def to_json(self) -> dict[str, Any]:
        """Return the answer as one JSON object (numbers unrounded)."""
        entries = {
            name: {
                **{key: value.to_json() for key, value in kind.curve.entries().items()},
                "readings_used": kind.readings,
                "r_squared": kind.r_squared,
                "entanglement": kind.entanglement,
            }
            for name, kind in self.kinds.items()
        }
        single = next(iter(entries.values())) if len(entries) == 1 else {}
        return {
            "method": self.method,
            "readings_used": len(self.rows),
            "left_out": [item.to_json() for item in self.left_out],
            "players": self.players,
            "rehearsals": self.rehearsals,
            "celsius_range": list(self.celsius_range) if self.celsius_range else None,
            **{key: value for key, value in single.items() if key != "readings_used"},
            "rehearsal_sd_cents": self.rehearsal_sd_cents,
            "reading_sd_cents": self.reading_sd_cents,
            **({"instruments": entries} if len(entries) > 1 else {}),
            "suspected": [
                {key: str(value) if key == "time" else value for key, value in row.items()}
                for row in self.suspected.to_dict("records")
            ],
            "diagnostics": dict(self.diagnostics),
            "warnings": list(self.warnings),
        }

    def summary(self) -> str:
        """Return the answer in words, a line each."""
        from drift.regression.wording import summary_of

        return summary_of(self)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw drift against temperature: the readings, the expected drift and its band.

        Parameters
        ----------
        ax : Axes, optional
            Where to draw (default: new axes).
        """
        from drift.charts import drift_against_temperature

        return drift_against_temperature(self, ax)
