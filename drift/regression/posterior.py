"""What is believed about one kind of instrument after the readings, as a mixture."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.breath import BREATH_CELSIUS
from drift.instruments.anatomy import Priors
from drift.regression.mixture import Mixture, quantile_of_nodes
from drift.regression.results import Draws, Estimate
from drift.regression.warmup import REFERENCE_CELSIUS, drift_columns, warmth

__all__ = ["Posterior", "before_the_data", "sd_of_slope"]

Array = npt.NDArray[np.float64]
READING_SD, DAY_SD = 4.0, 2.0
"""Scales of the half-normal priors of the standard deviations of a reading and a day (cents)."""

CURVATURE = 0.002
"""How much the straight line may bend (sd, cents/°C²). Dry air bends by -0.005 (half the second
derivative of ``1200 log2 sqrt(T)`` at 20 °C), air full of vapour the other way; bores hold both."""

PLAYED_SD = 0.3
"""How far the slope of a played but cold instrument may lie from that of an unplayed one, which is
what the prior of the slope speaks of: breath warms the near end of the bore at once (cents/°C)."""

HALF_NORMAL_MEAN = 0.7978845608028654
SPAN = BREATH_CELSIUS - REFERENCE_CELSIUS
NORMAL_95 = 1.959963984540054


@dataclass(frozen=True)
class Posterior:
    """The slope, the rise and the two time constants of one kind of instrument.

    Given the time constants and the two standard deviations, slope and rise are jointly normal:
    so the whole is a mixture, one component for each node of a grid.

    Parameters
    ----------
    weights : array of shape (k,)
        Probability of each component.
    slope, rise : arrays of shape (k,)
        Means of ``b`` (cents/°C) and ``r`` (cents).
    slope_variance, covariance, rise_variance : arrays of shape (k,)
        Their covariance.
    log_warm, log_cool : arrays of shape (k,)
        Logarithms of the time constants in minutes, on an even grid.
    start : array of shape (k,)
        Warmth at the start, beyond what is stated of it.
    steps : tuple of two floats
        Spacing of those two grids.
    reading_sd, day_sd : arrays of shape (k,)
        Standard deviation of a reading and of a player's day (cents).
    priors : Priors
        What was believed before.
    """

    weights: Array = field(repr=False)
    slope: Array = field(repr=False)
    rise: Array = field(repr=False)
    slope_variance: Array = field(repr=False)
    covariance: Array = field(repr=False)
    rise_variance: Array = field(repr=False)
    log_warm: Array = field(repr=False)
    log_cool: Array = field(repr=False)
    start: Array = field(repr=False)
    steps: tuple[float, float]
    reading_sd: Array = field(repr=False)
    day_sd: Array = field(repr=False)
    priors: Priors

    def linear(
        self, on_slope: Array, on_rise: Array, added_variance: Array | float = 0.0
    ) -> Mixture:
        """Return the distribution of ``on_slope b + on_rise r``.

        Parameters
        ----------
        on_slope, on_rise : arrays of shape (m, k) or (m, 1)
            One row a quantity; a column for each component where it depends on time constants.
        added_variance : array of shape (k,) or float
            Variance to add, for the reading itself rather than its mean.
        """
        means = on_slope * self.slope + on_rise * self.rise
        variances = (
            on_slope**2 * self.slope_variance
            + 2.0 * on_slope * on_rise * self.covariance
            + on_rise**2 * self.rise_variance
        )
        return Mixture(self.weights, means, variances + added_variance)

    def contrast(
        self,
        celsius: Array,
        minutes: Array,
        tuned_celsius: float,
        tuned_minutes: float | None,
        *,
        reading: bool = False,
    ) -> tuple[Array, Array, Array]:
        """Return estimate, low and high of the change of pitch between conditions (cents).

        ``tuned_minutes`` of None stands for fully warmed up. With ``reading`` the interval is that
        of a single new reading on a new day instead of the mean.
        """
        warm = np.exp(self.log_warm)
        here = 1.0 - np.exp(-minutes[:, None] / warm)
        tuned = 1.0 if tuned_minutes is None else 1.0 - np.exp(-tuned_minutes / warm)
        cold_here, rise_here = drift_columns(celsius[:, None], here)
        cold_tuned, rise_tuned = drift_columns(tuned_celsius, tuned)
        bend = CURVATURE * ((celsius - 20.0) ** 2 - (tuned_celsius - 20.0) ** 2)
        added = bend[:, None] ** 2 + (self.reading_sd**2 + self.day_sd**2 if reading else 0.0)
        mixture = self.linear(cold_here - cold_tuned, rise_here - rise_tuned, added)
        return mixture.mean(), *mixture.interval()

    def expected(self, rows: pd.DataFrame) -> Array:
        """Return the mean drift of each row of a paired table in cents, shape (n,)."""
        cells, which = np.unique(
            np.column_stack([self.log_warm, self.log_cool, self.start]),
            axis=0,
            return_inverse=True,
        )
        (warm, cool), start = np.exp(cells[:, :2]).T, cells[:, 2]
        spells = rows["spells"].tolist()
        elapsed = rows["minutes_into_spell"].to_numpy(dtype=float)
        state = warmth(spells, elapsed, warm, cool, rows["initial_warmth"].to_numpy(dtype=float))
        if start.any():
            state = state + start * (warmth(spells, elapsed, warm, cool, 1.0) - state)
        cold, rise = drift_columns(rows["celsius"].to_numpy(dtype=float)[:, None], state)
        rise_of_cell = np.bincount(which.ravel(), self.weights * self.rise, len(cells))
        return np.asarray(cold[:, 0] * (self.weights @ self.slope) + rise @ rise_of_cell)

    def entries(self) -> dict[str, Estimate]:
        """Return the quantities that are reported, each with its 95 % interval."""
        one = np.ones((3, 1))
        mixture = self.linear(
            np.array([[1.0], [1.0], [0.0]]) * one, np.array([[0.0], [-1 / SPAN], [1.0]])
        )
        low, high = mixture.interval()
        priors = self.priors
        before = NORMAL_95 * np.array(
            [
                sd_of_slope(priors),
                np.hypot(sd_of_slope(priors), priors.rise_sd / SPAN),
                priors.rise_sd,
            ]
        )
        names = ("cold_cents_per_celsius", "warm_cents_per_celsius", "warm_up_cents")
        found = {
            name: Estimate(float(mean), float(lo), float(hi), _learnt(hi - lo, 2.0 * width))
            for name, mean, lo, hi, width in zip(
                names, mixture.mean(), low, high, before, strict=True
            )
        }
        found["warm_up_time_constant_minutes"] = self._time_constant(
            self.log_warm, priors.warm_minutes, priors.warm_log_sd
        )
        found["cool_down_time_constant_minutes"] = self._time_constant(
            self.log_cool, priors.cool_minutes, priors.cool_log_sd
        )
        if self.start.any():
            found["warmth_at_start"] = self._start()
        return found

    def _start(self) -> Estimate:
        """Return how warm instruments were at the start, even from 0 to 1 before the data."""
        nodes, which = np.unique(self.start, return_inverse=True)
        weights = np.bincount(which.ravel(), self.weights, len(nodes))
        edges = np.linspace(0.0, 1.0, len(nodes) + 1)
        reached = np.concatenate([[0.0], np.cumsum(weights)])
        low, middle, high = np.interp([0.025, 0.5, 0.975], reached, edges)
        return Estimate(float(middle), float(low), float(high), _learnt(high - low, 0.95))

    def _time_constant(self, logs: Array, before: float, log_sd: float) -> Estimate:
        """Return the median and the interval of a time constant in minutes."""
        nodes, which = np.unique(logs, return_inverse=True)
        weights = np.bincount(which.ravel(), self.weights, len(nodes)).astype(float)
        low, middle, high = (
            float(np.exp(quantile_of_nodes(nodes, weights, p))) for p in (0.025, 0.5, 0.975)
        )
        width = before * 2.0 * np.sinh(NORMAL_95 * log_sd)
        return Estimate(middle, low, high, _learnt(high - low, width))

    def draws(self, size: int, seed: int) -> Draws:
        """Return random draws of slope, rise and time constants, each of shape (size,)."""
        random = np.random.default_rng(seed)
        which = random.choice(len(self.weights), size=size, p=self.weights)
        first, second = random.standard_normal((2, size))
        slope_sd = np.sqrt(self.slope_variance[which])
        tie = self.covariance[which] / slope_sd
        rest = np.sqrt(np.maximum(self.rise_variance[which] - tie**2, 0.0))
        # A node stands for the cell around it.
        cells = random.uniform(-0.5, 0.5, (2, size)) * np.reshape(self.steps, (2, 1))
        return Draws(
            cold=self.slope[which] + slope_sd * first,
            rise=self.rise[which] + tie * first + rest * second,
            warm_minutes=np.exp(self.log_warm[which] + cells[0]),
            cool_minutes=np.exp(self.log_cool[which] + cells[1]),
        )


def sd_of_slope(priors: Priors) -> float:
    """Return the prior sd of the slope of a cold instrument that is being played (cents/°C)."""
    return float(np.hypot(priors.cold_sd, PLAYED_SD))


def _learnt(width: float, before: float) -> float:
    """Return the share of the answer that came from the data, 0 to 1."""
    return float(np.clip(1.0 - width / before, 0.0, 1.0))


def before_the_data(
    priors: Priors, slope: tuple[float, float] | None = None, nodes: int = 21
) -> Posterior:
    """Return what acoustics alone says of an instrument.

    Parameters
    ----------
    priors : Priors
        The instrument's prior.
    slope : tuple of two floats, optional
        Mean and variance of ``b`` learnt from other instruments (default: the prior's).
    nodes : int
        Nodes of the grid of each time constant.
    """
    mean, variance = slope or (priors.cold_mean, sd_of_slope(priors) ** 2)
    steps = np.linspace(-3.5, 3.5, nodes)
    density = np.exp(-0.5 * steps**2)
    weights = np.outer(density, density).ravel()
    warm, cool = np.meshgrid(
        np.log(priors.warm_minutes) + priors.warm_log_sd * steps,
        np.log(priors.cool_minutes) + priors.cool_log_sd * steps,
        indexing="ij",
    )
    same = np.ones(nodes * nodes)
    step = float(steps[1] - steps[0])
    return Posterior(
        weights=weights / weights.sum(),
        slope=mean * same,
        rise=priors.rise_mean * same,
        slope_variance=variance * same,
        covariance=0.0 * same,
        rise_variance=priors.rise_sd**2 * same,
        log_warm=warm.ravel(),
        log_cool=cool.ravel(),
        start=0.0 * same,
        steps=(step * priors.warm_log_sd, step * priors.cool_log_sd),
        reading_sd=READING_SD * HALF_NORMAL_MEAN * same,
        day_sd=DAY_SD * HALF_NORMAL_MEAN * same,
        priors=priors,
    )
