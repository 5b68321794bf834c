"""What surrounds an instrument at a moment: the air, and how long it was played and rested."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from drift.errors import ReachError
from drift.regression.results import Draws
from drift.regression.warmup import warmth

__all__ = ["Conditions", "minutes_to_warm"]

WARM = 0.95
"""From here on an instrument counts as warm: three time constants."""

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Conditions:
    """The air around an instrument, and its playing so far.

    Parameters
    ----------
    celsius : float
        Temperature of the air [°C].
    humidity_percent : float, optional
        Relative humidity [%], where it is known.
    periods_minutes : tuple of float
        Completed periods before this one [min]: playing, resting, playing, ... An even number of
        them means that the player is playing now.
    minutes_into_period : float
        Minutes since the present period began.
    initial_warmth : float
        How warm the instrument was before the first period: 0 as cold as the room, 1 just played.
    came_from_celsius : float, optional
        The air it was in before, where it came in from other air [°C].

    Raises
    ------
    ReachError
        If a number is not possible.

    Examples
    --------
    >>> after_a_rest = Conditions(21.0, periods_minutes=(30.0, 10.0), minutes_into_period=2.0)
    >>> after_a_rest.playing, after_a_rest.playing_minutes
    (True, 32.0)
    >>> Conditions.after(21.0, minutes=30.0).playing_minutes
    30.0
    """

    celsius: float
    humidity_percent: float | None = None
    periods_minutes: tuple[float, ...] = ()
    minutes_into_period: float = 0.0
    initial_warmth: float = 0.0
    came_from_celsius: float | None = None

    def __post_init__(self) -> None:
        if not math.isfinite(self.celsius):
            raise ReachError(
                f"{self.celsius:g} °C is not a temperature", "give the air in degrees Celsius"
            )
        if self.humidity_percent is not None and not 0.0 <= self.humidity_percent <= 100.0:
            raise ReachError(
                f"{self.humidity_percent:g} % is not a relative humidity", "give 0 to 100 %"
            )
        for minutes in (*self.periods_minutes, self.minutes_into_period):
            if not 0.0 <= minutes < math.inf:
                raise ReachError(
                    f"a period of {minutes:g} minutes is not possible", "give minutes, 0 or more"
                )
        if not 0.0 <= self.initial_warmth <= 1.0:
            raise ReachError(
                f"an initial warmth of {self.initial_warmth:g} is not possible",
                "give 0 (as cold as the room) to 1 (as warm as playing makes it)",
            )

    @classmethod
    def after(
        cls, celsius: float, minutes: float, humidity_percent: float | None = None
    ) -> Conditions:
        """Return the conditions after unbroken playing from cold.

        Parameters
        ----------
        celsius : float
            Temperature of the air [°C].
        minutes : float
            Minutes of playing.
        humidity_percent : float, optional
            Relative humidity [%].
        """
        return cls(float(celsius), humidity_percent, (), float(minutes))

    @property
    def begun(self) -> bool:
        """Whether the player has played at all."""
        return bool(self.periods_minutes or self.minutes_into_period)

    @property
    def playing(self) -> bool:
        """Whether the player is playing, not resting; so are those who begin now."""
        return len(self.periods_minutes) % 2 == 0

    @property
    def playing_minutes(self) -> float:
        """Minutes played so far, rests left out."""
        played = math.fsum(self.periods_minutes[::2])
        return played + (self.minutes_into_period if self.playing else 0.0)

    def warmth(self, draws: Draws) -> Array:
        """Return how far the instrument is warmed up, for each draw of the time constants."""
        return warmth(
            self.periods_minutes,
            self.minutes_into_period,
            draws.warm_minutes,
            draws.cool_minutes,
            self.initial_warmth,
        )


def minutes_to_warm(warm_minutes: npt.ArrayLike, warmth_now: npt.ArrayLike) -> Any:
    """Return the minutes of playing until an instrument is 95 % warm.

    Parameters
    ----------
    warm_minutes : float or array of shape (n,)
        Time constant of warming up [min].
    warmth_now : float or array of shape (n,)
        How far it is warmed up, 0 to 1.

    Returns
    -------
    float or array of shape (n,)
        Minutes, 0 where it is warm.

    Notes
    -----
    ``tau ln((1 - w) / 0.05)``.

    Examples
    --------
    >>> print(round(float(minutes_to_warm(6.0, 0.0)), 1))
    18.0
    """
    left = np.maximum((1.0 - np.asarray(warmth_now)) / (1.0 - WARM), 1.0)
    return np.asarray(warm_minutes) * np.log(left)
