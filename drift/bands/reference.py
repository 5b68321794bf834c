"""The fixed reference in whose units bands write what they know, whatever priors they use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drift.instruments import Catalogue, canonical_name
from drift.regression.priors import Priors

__all__ = ["MODEL", "NAMES", "REFERENCE", "Reference", "kinds", "reference_of"]

Array = npt.NDArray[np.float64]

MODEL = "hierarchy-1"
"""The model that a summary is of. Another model gets another name: their numbers do not add."""

REFERENCE = "catalogue-1"
"""The reference that a summary is written in. Whoever changes an expectation of the shipped
catalogue, or a default of `Priors`, gives it another name (a test holds the numbers)."""

NAMES = (
    "cold_cents_per_celsius",
    "rise_cents",
    "slow_cents_per_hour",
    "curvature_cents_per_celsius2",
    "log_warm_minutes",
    "log_cool_minutes",
)
"""What is known of a kind of instrument in a band: phi, in this order."""


@dataclass(frozen=True)
class Reference:
    """The reference prior of a kind of instrument, normal and independent.

    Parameters
    ----------
    family : str
        ``brass`` or ``woodwind``.
    mean, sd : arrays of shape (6,)
        Of phi, in the units of `NAMES`.
    """

    family: str
    mean: Array
    sd: Array


def kinds() -> tuple[str, ...]:
    """Return the kinds of instrument that a summary can be of: those shipped that drift.

    A name of the user's own making never leaves the band, for it may be that of a person.

    Examples
    --------
    >>> "flute" in kinds(), "vibraphone" in kinds()
    (True, False)
    """
    return tuple(one.name for one in Catalogue.shipped().values() if one.fixed_pitch is None)


def reference_of(instrument: str) -> Reference:
    """Return the reference prior of a kind of instrument of the shipped catalogue.

    Parameters
    ----------
    instrument : str
        One of `kinds`.

    Examples
    --------
    >>> reference_of("double horn").sd.round(3).tolist()
    [0.5, 8.0, 2.0, 0.003, 0.6, 0.6]
    """
    catalogue, priors = Catalogue.shipped(), Priors()
    known = priors.of(instrument, catalogue)
    mean = [
        known.cold_mean, known.rise_mean, known.slow_mean, priors.curvature_mean,
        np.log(known.warm_minutes), np.log(known.cool_minutes),
    ]  # fmt: skip
    sd = [
        np.hypot(priors.common_slope_sd, known.cold_sd), known.rise_sd, priors.slow_sd,
        priors.curvature_sd, known.warm_log_sd, known.cool_log_sd,
    ]  # fmt: skip
    family = catalogue.find(canonical_name(instrument)).family
    return Reference(family, np.array(mean), np.array(sd))
