"""What is believed of a player, of a new one, or of a kind of instrument, with intervals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from numbers import Real
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import ndtri

from drift.breath import BREATH_CELSIUS
from drift.errors import InputError
from drift.regression.covariates import Covariate
from drift.regression.estimates import Draws, Estimate
from drift.regression.histories import histories_of
from drift.regression.mixture import Mixture
from drift.regression.sampling import sobol
from drift.regression.terms import NO_TERMS
from drift.regression.warmup import REFERENCE_CELSIUS

__all__ = ["Belief", "weighted_estimate", "width_of"]

Array = npt.NDArray[np.float64]

SPAN = BREATH_CELSIUS - REFERENCE_CELSIUS

LINEAR = {
    "cold_cents_per_celsius": (1.0, 0.0, 0.0),
    "warm_cents_per_celsius": (1.0, -1.0 / SPAN, 0.0),
    "warm_up_cents": (0.0, 1.0, 0.0),
    "slow_cents_per_hour": (0.0, 0.0, 1.0),
}
"""Quantities that are reported, as sums of slope, rise and slow drift."""

MINUTES = ("warm_up_time_constant_minutes", "cool_down_time_constant_minutes")

EXACT, NODES = 2_000_000, 48
"""States that are worked out at most; beyond, so many draws stand for all."""


@dataclass(frozen=True)
class Belief:
    """A mixture: given standard deviations and time constants the coefficients are normal.

    Parameters
    ----------
    weights : array of shape (n,)
        Probability of each component.
    mean, covariance : arrays of shape (n, d), (n, d, d)
        Slope (cents/°C), rise (cents), slow drift (cents/hour), curvature (cents/°C²), covariates.
    warm_minutes, cool_minutes, start : arrays of shape (n,)
        Time constants [min], and warmth at the start where nothing is stated.
    reading_variance : array of shape (n,)
        Of one reading on a new day of a new rehearsal [cents²].
    horizon_hours, growth_sd : float
        The slow drift is a straight line up to this playing time, and constant after; an hour
        beyond it adds this sd [cents].
    covariates : tuple of Covariate
    before : mapping of str to float
        Widths of the 95 % intervals before the readings, as `width_of` gives them.
    start_estimated : bool
    covariate_sd : float
        Of the effect of a covariate for one of its sds, before the readings (0: not known).
    late_log_sds : tuple of two floats
        How much later than the time constants say it may be warm, and cooled: sds of the logarithm.
    multiples : mapping of str to float
        Of covariates that are so much for each °C from 20: how much they are in this belief, whose
        slope has their effect in it.
    """

    weights: Array = field(repr=False)
    mean: Array = field(repr=False)
    covariance: Array = field(repr=False)
    warm_minutes: Array = field(repr=False)
    cool_minutes: Array = field(repr=False)
    start: Array = field(repr=False)
    reading_variance: Array = field(repr=False)
    horizon_hours: float
    growth_sd: float
    covariates: tuple[Covariate, ...] = ()
    before: Mapping[str, float] = field(default_factory=dict, repr=False)
    start_estimated: bool = False
    covariate_sd: float = 0.0
    late_log_sds: tuple[float, float] = (0.0, 0.0)
    multiples: Mapping[str, float] = field(default_factory=dict)

    def linear(self, coefficients: Array, added: Array | float = 0.0) -> Mixture:
        """Return the distribution of sums of the coefficients.

        Parameters
        ----------
        coefficients : array of shape (m, n, d) or (m, 1, d)
            One row a quantity; a line for each component where it depends on time constants.
        added : array that broadcasts to (m, n)
            Variance to add.
        """
        rows = np.broadcast_to(coefficients, (len(coefficients), *self.mean.shape))
        means = np.einsum("mnd,nd->mn", rows, self.mean)
        half = np.einsum("mnd,nde->mne", rows, self.covariance)
        variances = (half * rows).sum(axis=2)
        return Mixture(self.weights, means, np.maximum(variances, 0.0) + added)

    def entries(self, level: float = 0.95) -> dict[str, Estimate]:
        """Return the quantities that are reported, each with its interval."""
        rows = np.zeros((len(LINEAR), 1, self.mean.shape[1]))
        rows[:, 0, :3] = list(LINEAR.values())
        mixture = self.linear(rows)
        low, high = mixture.interval(level)
        found = {
            name: Estimate(float(mean), float(lo), float(hi))
            for name, mean, lo, hi in zip(LINEAR, mixture.mean(), low, high, strict=True)
        }
        for name, minutes, late in zip(
            MINUTES, (self.warm_minutes, self.cool_minutes), self.late_log_sds, strict=True
        ):
            found[name] = _later(weighted_estimate(minutes, self.weights, level), late, level)
        if self.start_estimated:
            found["warmth_at_start"] = weighted_estimate(self.start, self.weights, level)
        if level != 0.95:
            return found
        return {name: self._with_share(name, value) for name, value in found.items()}

    def _with_share(self, name: str, value: Estimate) -> Estimate:
        """Add how much of an answer came from the readings."""
        if name not in self.before:
            return value
        return replace(value, from_data=_learnt(width_of(name, value), self.before[name]))

    def curvature(self, level: float = 0.95) -> Estimate:
        """Return the bend of the line in temperature [cents/°C²]."""
        return self._coefficient(3, 1.0, level)

    def covariate_entries(self, level: float = 0.95) -> dict[str, Estimate]:
        """Return the effect of each covariate, for one of its units [cents]."""
        found = {
            one.label: self._coefficient(4 + number, 1.0 / one.sd, level)
            for number, one in enumerate(self.covariates)
        }
        if level != 0.95 or not self.covariate_sd:
            return found
        whole = float(ndtri(0.975) - ndtri(0.025)) * self.covariate_sd
        before = {one.label: whole / one.sd for one in self.covariates}
        return {
            name: replace(value, from_data=_learnt(value.high - value.low, before[name]))
            for name, value in found.items()
        }

    def held(self) -> dict[str, Any]:
        """Return the covariates on which the slope depends, with how much for each °C they are."""
        return dict(self.multiples)

    def at(self, values: Mapping[str, Any]) -> Belief:
        """Return the belief where such covariates are so much for each °C from 20.

        Raises
        ------
        InputError
            If a covariate changes no slope, or a value is no number.
        """
        for name, value in values.items():
            if name not in self.multiples:
                replace(NO_TERMS, bend=dict.fromkeys(self.multiples, ())).at({name: value})
            if isinstance(value, bool) or not isinstance(value, Real):
                raise InputError(f"{name} is {value!r}", "say how much it is for each °C from 20")
        wanted = {**self.multiples, **{name: float(value) for name, value in values.items()}}
        turn = np.eye(self.mean.shape[1])
        for number, one in enumerate(self.covariates):
            if one.name in wanted:
                turn[0, 4 + number] = (wanted[one.name] - self.multiples[one.name]) / one.sd
        return replace(
            self, mean=self.mean @ turn.T, covariance=turn @ self.covariance @ turn.T,
            multiples=wanted,
        )  # fmt: skip

    def covariance_frame(self) -> pd.DataFrame:
        """Return the covariance of what is estimated by name, covariates for one of their units.

        The names are those of `entries`; the bend is ``curvature_cents_per_celsius2``. What is
        allowed for late walls, upwards alone (`late_log_sds`), is not in it.
        """
        linear = ["cold_cents_per_celsius", "warm_up_cents", "slow_cents_per_hour"]
        names = [*linear, "curvature_cents_per_celsius2", *(one.label for one in self.covariates)]
        scale = np.array([1.0] * 4 + [1.0 / one.sd for one in self.covariates])
        values = np.column_stack([self.mean * scale, self.warm_minutes, self.cool_minutes])
        away = values - self.weights @ values
        whole = (self.weights[:, None] * away).T @ away
        within = np.einsum("n,nij->ij", self.weights, self.covariance) * np.outer(scale, scale)
        whole[: len(names), : len(names)] += within
        names += MINUTES
        return pd.DataFrame(whole, names, names)

    def _coefficient(self, place: int, scale: float, level: float) -> Estimate:
        row = np.zeros((1, 1, self.mean.shape[1]))
        row[0, 0, place] = scale
        mixture = self.linear(row)
        low, high = mixture.interval(level)
        return Estimate(float(mixture.mean()[0]), float(low[0]), float(high[0]))

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
        """Return estimate, low and high of the change of pitch between conditions (cents).

        ``tuned_minutes`` of None stands for fully warmed up, without any slow drift. With
        ``reading`` the interval is that of a single new reading on a new day.
        """
        here, beyond = self._rows(celsius, minutes)
        tuned, tuned_beyond = self._rows(
            np.array([tuned_celsius]),
            np.array([np.inf if tuned_minutes is None else tuned_minutes]),
        )
        added = (self.growth_sd * (beyond - tuned_beyond))[:, None] ** 2
        mixture = self.linear(here - tuned, added + (self.reading_variance if reading else 0.0))
        return mixture.mean(), *mixture.interval(level)

    def _rows(self, celsius: Array, minutes: Array) -> tuple[Array, Array]:
        """Return coefficients after unbroken playing, (m, n, d), and hours beyond the horizon."""
        forever = np.isinf(minutes)
        hours = np.where(forever, 0.0, minutes / 60.0)
        rows = np.zeros((len(celsius), *self.mean.shape))
        w = 1.0 - np.exp(-minutes[:, None] / self.warm_minutes)
        rows[..., 0] = (celsius - REFERENCE_CELSIUS)[:, None]
        rows[..., 1] = w * ((BREATH_CELSIUS - celsius) / SPAN)[:, None] - 1.0
        rows[..., 2] = np.minimum(hours, self.horizon_hours)[:, None]
        rows[..., 3] = ((celsius - REFERENCE_CELSIUS) ** 2)[:, None]
        return rows, np.maximum(hours - self.horizon_hours, 0.0)

    def expected(self, rows: pd.DataFrame) -> Array:
        """Return the mean drift of each row of a paired table in cents, shape (n,).

        Covariates count where the table has their columns.
        """
        some, share = self._standing_for_all(len(rows))
        rows = rows if "initial_warmth" in rows else rows.assign(initial_warmth=0.0)
        cold, rise, begun = histories_of(rows).columns(
            self.warm_minutes[some], self.cool_minutes[some], self.start_estimated
        )
        if begun is not None:
            rise = rise + begun * self.start[some]
        mean = self.mean[some]
        celsius = rows["celsius"].to_numpy(dtype=float)
        hours = np.minimum(_hours(rows), self.horizon_hours)
        drift = rise @ (share * mean[:, 1]) + hours * (self.weights @ self.mean[:, 2])
        drift += np.broadcast_to(cold, rise.shape) @ (share * mean[:, 0])
        drift += (celsius - REFERENCE_CELSIUS) ** 2 * (self.weights @ self.mean[:, 3])
        for number, one in enumerate(self.covariates):
            if one.name in rows:
                effect = self.mean[:, 4 + number]
                drift += one.column(rows) * (self.weights @ effect)
                if each := self.multiples.get(one.name, 0.0) / one.sd:  # it is in the slope
                    drift -= np.broadcast_to(cold, rise.shape) @ (share * effect[some]) * each
        return np.asarray(drift)

    def _standing_for_all(self, rows: int) -> tuple[npt.NDArray[np.intp], Array]:
        """Return components and their weights: all, or for many rows some evenly through them."""
        if rows * len(self.weights) <= EXACT:
            return np.arange(len(self.weights)), self.weights
        order = np.argsort(self.warm_minutes, kind="stable")
        reached = np.cumsum(self.weights[order])
        wanted = (np.arange(NODES) + 0.5) / NODES
        some = order[np.minimum(np.searchsorted(reached, wanted), len(order) - 1)]
        return some, np.full(NODES, 1.0 / NODES)

    def draws(self, size: int, seed: int) -> Draws:
        """Return draws, each of shape (size,).

        Notes
        -----
        A scrambled Sobol sequence in place of independent numbers, shifted to the mean of the
        mixture: means of changes lie within hundredths of a cent of `contrast`, where chance alone
        would leave half a cent between them in the cold.
        """
        points = sobol(size, 5, seed)
        # In no order: what is drawn elsewhere for the same places must not go with these.
        points = np.random.default_rng(seed).permutation(points)
        order = np.argsort(self.warm_minutes, kind="stable")
        reached = np.cumsum(self.weights[order])
        last = len(order) - 1
        which = order[np.minimum(np.searchsorted(reached, points[:, 0]), last)]
        covariance = self.covariance[which][:, :4, :4] + 1e-14 * np.eye(4)
        noise = np.einsum("nij,nj->ni", np.linalg.cholesky(covariance), ndtri(points[:, 1:]))
        drawn = self.mean[which, :4] + noise
        drawn += self.weights @ self.mean[:, :4] - drawn.mean(axis=0)
        cold, rise, slow, curvature = drawn.T
        return Draws(
            cold, rise, self.warm_minutes[which], self.cool_minutes[which], slow, curvature,
            self.horizon_hours,
        )  # fmt: skip


def _learnt(width: float, before: float) -> float:
    """Return how much of an answer came from the readings, of its width and that of the prior."""
    return float(np.clip(1.0 - width / before, 0.0, 1.0))


def width_of(name: str, value: Estimate) -> float:
    """Return the width of an interval; of a time constant that of its logarithm, as its prior."""
    if name.endswith("_minutes"):
        return float(np.log(value.high / value.low))
    return value.high - value.low


def weighted_estimate(values: Array, weights: Array, level: float = 0.95) -> Estimate:
    """Return median and interval of weighted draws."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order]) - 0.5 * weights[order]
    tail = 0.5 * (1.0 - level)
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], reached, values[order])
    return Estimate(float(middle), float(low), float(high))


def _later(value: Estimate, log_sd: float, level: float) -> Estimate:
    """Return minutes that may be longer than the model says, by this sd of their logarithm."""
    up = np.hypot(np.log(value.high / value.estimate), float(ndtri(0.5 + 0.5 * level)) * log_sd)
    return replace(value, high=value.estimate * float(np.exp(up)))


def _hours(rows: pd.DataFrame) -> Array:
    """Return hours of playing so far."""
    if "playing_minutes" in rows:
        return rows["playing_minutes"].to_numpy(dtype=float) / 60.0
    into = rows["minutes_into_spell"].to_numpy(dtype=float)
    spells = rows["spells"].tolist()
    played = np.array([sum(one[::2]) for one in spells], dtype=float)
    return np.asarray(played + np.where([len(one) % 2 == 0 for one in spells], into, 0.0)) / 60.0
