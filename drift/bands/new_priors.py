"""From what many bands teach to the priors of the next one, and the file that holds them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.bands.combining import SPREADS, Combination
from drift.bands.reference import NAMES, Reference, reference_of
from drift.regression.priors import SDS, InstrumentPriors, Priors, SpreadPrior
from drift.writing import written_file

__all__ = ["INFLATION", "heterogeneity", "own_estimates", "priors_of", "write_priors"]

Array = npt.NDArray[np.float64]

INFLATION = 2.3
"""What bands say of a mean is divided by this, which widens its covariance by as much. In
simulation the means lay 0.8 to 0.9 of their standard deviations off (root of the mean square) with
5 bands, 1.0 with 20, and 0.9 to 1.4 with 60; a first simulation, of another program, gave 1.5,
which this makes good. Too few collections were measured to take less
(`tests/benchmarks/study_bands.py`)."""

FAINTEST_SD = 0.01


def priors_of(combination: Combination, inflation: float = INFLATION) -> Priors:
    """Return what is expected of a band that is not in the collection.

    Parameters
    ----------
    combination : Combination
    inflation : float
        By which what the bands say of the means is divided.

    Notes
    -----
    Of each kind a normal distribution ``N(mu, V + T)``: of slope, rise and slow drift with their
    correlations, of each time constant by itself. What the slopes of all kinds share stays common
    to them. The bend of the line is one for all kinds, as in the regression.
    """
    pooled = combination.instruments
    beliefs = {
        kind: _natural(reference_of(kind), *pooled.of_new_band(kind, inflation))
        for kind in pooled.kinds
    }
    common = _common_slope(combination, beliefs)
    bends = [beliefs[kind] for kind in combination.kinds]
    bend = float(np.mean([mean[3] for mean, _ in bends]))
    bend_variance = float(np.mean([V[3, 3] + (mean[3] - bend) ** 2 for mean, V in bends]))
    mean, covariance = combination.spreads.of_new_band(SPREADS, inflation)
    return Priors(
        common_slope_sd=round(float(np.sqrt(common)), 4),
        curvature_mean=round(bend, 6),
        curvature_sd=round(float(np.sqrt(bend_variance)), 6),
        instruments={
            kind: _instrument(mean, covariance, common)
            for kind, (mean, covariance) in beliefs.items()
        },
        spreads={
            name: SpreadPrior(
                round(float(mean[place]), 3), round(float(np.sqrt(covariance[place, place])), 3)
            )
            for place, name in enumerate(SDS)
        },
    )


def _natural(reference: Reference, mean: Array, covariance: Array) -> tuple[Array, Array]:
    """Return mean and covariance in the units of phi."""
    return reference.mean + reference.sd * mean, covariance * np.outer(reference.sd, reference.sd)


def _common_slope(combination: Combination, beliefs: dict[str, tuple[Array, Array]]) -> float:
    """Return the variance that the slopes of all kinds share [cents²/°C²].

    Not more than leaves each kind a positive variance of its own, given its rise and slow drift.
    """
    kinds = combination.instruments.kinds
    sds = np.array([reference_of(kind).sd[0] for kind in kinds])
    covariance = combination.instruments.joint()[1][:, 0, :, 0]
    shared = covariance * np.outer(sds, sds)
    upper = np.triu_indices(len(kinds), 1)
    room = min(1.0 / np.linalg.inv(V[:3, :3])[0, 0] for _, V in beliefs.values())
    return float(np.clip(shared[upper].mean(), FAINTEST_SD**2, max(0.8 * room, FAINTEST_SD**2)))


def _instrument(mean: Array, covariance: Array, common: float) -> InstrumentPriors:
    own = covariance[:3, :3].copy()
    own[0, 0] -= common
    sds = np.sqrt(np.diag(own))
    # A little less than found, so that rounding leaves them possible.
    correlation = 0.999 * own / np.outer(sds, sds)
    warm_sd, cool_sd = np.sqrt(np.diag(covariance)[4:])
    numbers = {
        "cold_mean": mean[0], "cold_sd": sds[0], "rise_mean": mean[1], "rise_sd": sds[1],
        "warm_minutes": np.exp(mean[4]), "warm_log_sd": warm_sd,
        "cool_minutes": np.exp(mean[5]), "cool_log_sd": cool_sd,
        "slow_mean": mean[2], "slow_sd": sds[2],
        "cold_rise_correlation": correlation[0, 1], "cold_slow_correlation": correlation[0, 2],
        "rise_slow_correlation": correlation[1, 2],
    }  # fmt: skip
    return InstrumentPriors(**{name: round(float(value), 4) for name, value in numbers.items()})


@dataclass(frozen=True)
class Own:
    """What one band says of one quantity by itself.

    Parameters
    ----------
    band : str
    estimate, low, high : float
        In the units of the quantity; infinite ends where it says next to nothing.
    weight : float
        1 or more as the others expect, less where it lies far off.
    """

    band: str
    estimate: float
    low: float
    high: float
    weight: float


def own_estimates(combination: Combination, kind: str, quantity: str) -> tuple[Own, ...]:
    """Return what each band says of a quantity of `NAMES` by itself, in order of the estimates."""
    place, reference = NAMES.index(quantity), reference_of(kind)
    found = []
    for item, weight in zip(
        combination.instruments.items, combination.instruments.student, strict=True
    ):
        if item.kind == kind:
            mean, covariance = item.likelihood.alone()
            sd = float(np.sqrt(covariance[place, place]))
            ends = _shown(reference, place, float(mean[place]), sd)
            found.append(Own(item.band, *ends, float(weight)))
    return tuple(sorted(found, key=lambda one: one.estimate))


def heterogeneity(combination: Combination, inflation: float = INFLATION) -> pd.DataFrame:
    """Return what bands have in common and how they differ, a row a kind and quantity.

    Returns
    -------
    DataFrame
        ``instrument, quantity, bands, new_band, new_band_low, new_band_high, mean, mean_low,
        mean_high, between_sd, i_squared``: 95 % intervals, of a new band first. Time constants in
        minutes (`between_sd` of their logarithms). ``i_squared``: share of a typical band's
        variance that is difference between bands; NaN for one band alone.
    """
    pooled = combination.instruments
    rows = []
    for kind in combination.kinds:
        reference = reference_of(kind)
        beliefs = pooled.of_new_band(kind, inflation), pooled.of_kind(kind, inflation)
        for place, name in enumerate(NAMES):
            ends = [
                _shown(reference, place, float(mean[place]), float(np.sqrt(V[place, place])))
                for mean, V in beliefs
            ]
            between = float(pooled.weights @ pooled.between[:, place])
            rows.append((
                kind, name.removeprefix("log_"), combination.bands_of(kind), *ends[0], *ends[1],
                float(reference.sd[place] * np.sqrt(between)),
                _i_squared(combination, kind, place, between),
            ))  # fmt: skip
    names = ["new_band", "mean"]
    columns = [f"{name}{end}" for name in names for end in ("", "_low", "_high")]
    return pd.DataFrame(
        rows, columns=["instrument", "quantity", "bands", *columns, "between_sd", "i_squared"]
    )


def _shown(reference: Reference, place: int, mean: float, sd: float) -> tuple[float, float, float]:
    """Return an estimate and its 95 % interval as people read it: time constants in minutes."""
    ends = [reference.mean[place] + reference.sd[place] * (mean + z * sd) for z in (0, -1.96, 1.96)]
    if NAMES[place].startswith("log_"):
        ends = [float(np.exp(one)) for one in ends]
    return float(ends[0]), float(ends[1]), float(ends[2])


def _i_squared(combination: Combination, kind: str, place: int, between: float) -> float:
    """Return I², with the typical variance of Higgins and Thompson (2002).

    References
    ----------
    .. [1] J. P. T. Higgins, S. G. Thompson, "Quantifying heterogeneity in a meta-analysis",
       Statistics in Medicine 21, 1539-1558 (2002). From memory.
    """
    precisions = np.array([
        1.0 / one.likelihood.alone()[1][place, place]
        for one in combination.instruments.items if one.kind == kind
    ])  # fmt: skip
    if len(precisions) < 2:
        return float("nan")
    total = precisions.sum()
    typical = (len(precisions) - 1) * total / (total**2 - (precisions**2).sum())
    return float(between / (between + typical))


def write_priors(priors: Priors, path: Path | str, about: tuple[str, ...] = ()) -> None:
    """Write priors as the TOML that `Priors.read` reads.

    Parameters
    ----------
    priors : Priors
    path : path
    about : tuple of str
        Lines of a comment at the head of the file.
    """
    lines = [f"# {line}" for line in about]
    lines += [
        f"{one.name} = {getattr(priors, one.name)!r}"
        for one in fields(priors)
        if one.name not in ("instruments", "spreads")
    ]
    tables: dict[str, Mapping[str, SpreadPrior] | Mapping[str, InstrumentPriors]] = {
        "spreads": priors.spreads,
        "instruments": priors.instruments,
    }
    for title, entries in tables.items():
        for name, record in entries.items():
            lines += ["", f'[{title}."{name}"]']
            given = {one.name: getattr(record, one.name) for one in fields(record)}
            lines += [f"{key} = {value!r}" for key, value in given.items() if value is not None]
    with written_file(path) as unfinished:
        unfinished.write_text("\n".join(lines) + "\n", encoding="utf-8")
