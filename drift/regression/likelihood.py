"""What the readings of one kind of instrument say, at every node of a grid.

Given the time constants and the two standard deviations the model is linear, and everything that
is linear is integrated by hand here: intercepts, day effects, slow drift, the rise and the slope.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

from drift.instruments.anatomy import Priors
from drift.regression.absorbing import Absorber
from drift.regression.grid import Grid
from drift.regression.warmup import REFERENCE_CELSIUS, drift_columns, warmth

__all__ = ["Likelihood", "Normals", "Part"]

Array = npt.NDArray[np.float64]

TIRING_SD = 2.0
"""Slow drift of the pitch over a rehearsal that neither temperature nor warming explains: lips that
tire, a far end of the bore that warms last (cents per hour of playing, prior sd around zero)."""


LARGEST_TABLE = 5_000_000
"""Numbers that the table of one column's variants may hold at a time."""


@dataclass(frozen=True)
class Part:
    """The readings of one kind of instrument, and what is believed of it before.

    Parameters
    ----------
    cents, celsius, minutes_into_spell, initial, playing_hours : arrays of shape (n,)
        Response at reference slides, temperature, minutes of the current stretch, ``w`` at the
        start, hours played in all.
    spells : sequence of n sequences of float
        Completed stretches of playing and resting (minutes).
    intercepts, days : integer arrays of shape (n,)
        Which note of which player, and which day of which player.
    priors : Priors
        The instrument's priors.
    """

    cents: Array
    celsius: Array
    minutes_into_spell: Array
    initial: Array
    playing_hours: Array
    spells: Sequence[tuple[float, ...]]
    intercepts: npt.NDArray[np.intp]
    days: npt.NDArray[np.intp]
    priors: Priors

    def rise_columns(self, log_warm: Array, log_cool: Array, start: Array) -> Array:
        """Return the column of ``r`` for time constants and starts, shape (n, cells).

        ``start`` is how far an instrument was warm at the start beyond what is stated of it.
        """
        constants = np.exp(log_warm), np.exp(log_cool)
        state = warmth(self.spells, self.minutes_into_spell, *constants, self.initial)
        if start.any():  # the state is linear in where it began
            warm = warmth(self.spells, self.minutes_into_spell, *constants, 1.0)
            state = state + start * (warm - state)
        return drift_columns(self.celsius[:, None], state)[1]


@dataclass(frozen=True)
class Normals:
    """Slope and rise given everything else: normal, for every node (s, q, cells) of the grid.

    ``log_evidence`` weighs the cells of one pair of standard deviations against each other.
    """

    log_evidence: Array
    slope: Array
    rise: Array
    slope_variance: Array
    covariance: Array
    rise_variance: Array


class Likelihood:
    """The readings of one part, reduced to a parabola in the slope for every node of a grid.

    Parameters
    ----------
    part : Part
        The readings.
    weights : array of shape (n,)
        How much each counts.
    grid : Grid
        The nodes.
    position : int
        Which of the grid's time constants belong to this part.

    Notes
    -----
    ``log L(b) = base + pull b - precision b²/2`` with the rise integrated under its prior; and the
    rise given ``b`` is normal with mean ``(v - c b)/d`` and variance ``1/d``.
    """

    def __init__(self, part: Part, weights: Array, grid: Grid, position: int) -> None:
        cells = warm, cool, _ = grid.cells(position)
        self.absorber = Absorber(part.intercepts, part.days, weights)
        scale = np.exp(-2.0 * grid.log_sd)[:, None, None]
        product = _products(part, self.absorber, cells, np.exp(grid.log_ratio))
        # Integrating out a column with a normal prior leaves what is at right angles to it.
        spread = 1.0 + TIRING_SD**2 * scale * product("t", "t")
        gain = TIRING_SD**2 * scale / spread

        def left(one: str, other: str) -> Array:
            rest = product(one, other) - gain * product(one, "t") * product(other, "t")
            return np.asarray(rest * scale)

        priors = part.priors
        known = priors.rise_sd**-2.0
        self._d = left("r", "r") + known
        self._c = left("c", "r")
        self._v = left("r", "y") + known * priors.rise_mean
        self.precision = left("c", "c") - self._c**2 / self._d
        self.pull = left("c", "y") - self._c * self._v / self._d
        self.base = (
            0.5 * (self._v**2 / self._d - left("y", "y") - np.log(self._d * spread))
            - self.absorber.free * grid.log_sd[:, None, None]
            - 0.5 * self.absorber.log_determinant(np.exp(grid.log_ratio))[None, :, None]
            - 0.5 * ((warm - np.log(priors.warm_minutes)) / priors.warm_log_sd) ** 2
            - 0.5 * ((cool - np.log(priors.cool_minutes)) / priors.cool_log_sd) ** 2
        )

    def of_slope(self, slope: Array) -> Array:
        """Return ``log L`` of slopes of shape (b,), summed over the cells, shape (s, q, b)."""
        logs = (
            self.base[..., None]
            + self.pull[..., None] * slope
            - 0.5 * self.precision[..., None] * slope**2
        )
        return np.asarray(logsumexp(logs, axis=2))

    def given(self, precision: Array, pull: Array) -> Normals:
        """Return slope and rise when all else that is known of the slope is one normal.

        Parameters
        ----------
        precision, pull : arrays of shape (s, q)
            Its inverse variance, and mean over variance.
        """
        known = self.precision + precision[:, :, None]
        slope = (self.pull + pull[:, :, None]) / known
        log_evidence = self.base + 0.5 * (slope**2 * known - np.log(known))
        tilt = self._c / self._d
        return Normals(
            log_evidence,
            slope,
            self._v / self._d - tilt * slope,
            1.0 / known,
            -tilt / known,
            1.0 / self._d + tilt**2 / known,
        )


def _products(
    part: Part, absorber: Absorber, cells: tuple[Array, Array, Array], ratios: Array
) -> Callable[[str, str], Array]:
    """Return ``a' P b`` of the columns: c(old), r(ise), t(iring) and y, the cents."""
    shrinkage = absorber.shrinkage(ratios)
    columns = {
        "c": absorber.columns(part.celsius - REFERENCE_CELSIUS),
        "t": absorber.columns(part.playing_hours),
        "y": absorber.columns(part.cents),
    }
    found = {
        one + other: absorber.product(columns[one], columns[other], shrinkage)
        for one, other in ("cc", "ct", "cy", "tt", "yt", "yy")
    }
    # A column of r for every cell: some at a time, or a million readings would fill the memory.
    step = max(1, LARGEST_TABLE // len(part.cents))
    tables: dict[str, list[Array]] = {"cr": [], "rr": [], "rt": [], "ry": []}
    for start in range(0, len(cells[0]), step):
        rise = absorber.columns(part.rise_columns(*(axis[start : start + step] for axis in cells)))
        for pair, results in tables.items():
            other = rise if pair == "rr" else columns[pair.strip("r")]
            results.append(absorber.product(rise, other, shrinkage))
    found |= {pair: np.concatenate(results, axis=1) for pair, results in tables.items()}
    return lambda one, other: found[one + other]
