"""How long an instrument takes to be warm, and how warm it is after a while."""

from __future__ import annotations

import math

from drift.instruments.anatomy import Instrument
from drift.regression.estimates import NORMAL_95, Estimate
from drift.regression.results import Fit
from drift.regression.warmup import TIMES_TO_95_PERCENT

__all__ = ["warm_after", "warm_share"]


def warm_after(fit: Fit, instrument: Instrument) -> Estimate:
    """Return the minutes of playing until an instrument is 95 % warm: three time constants.

    Parameters
    ----------
    fit : Fit
        What is known; a method without a time constant leaves what is expected of the size.
    instrument : Instrument
        Which.

    Returns
    -------
    Estimate
        Minutes with their 95 % interval, and how much of it came from the readings; all zero for
        an instrument whose pitch no playing changes.
    """
    if instrument.fixed_pitch is not None:
        return Estimate(0.0, 0.0, 0.0)
    known = fit.curve(instrument.name).entries().get("warm_up_time_constant_minutes")
    if known is None:
        priors = instrument.priors
        wide = math.exp(NORMAL_95 * priors.warm_log_sd)
        middle = priors.warm_minutes
        known = Estimate(middle, middle / wide, middle * wide, from_data=0.0)
    return Estimate(
        TIMES_TO_95_PERCENT * known.estimate,
        TIMES_TO_95_PERCENT * known.low,
        TIMES_TO_95_PERCENT * known.high,
        from_data=known.from_data,
    )


def warm_share(minutes: float, warm_after_minutes: float) -> float:
    """Return how warm a cold instrument is after minutes of unbroken playing, 0 to 1.

    Notes
    -----
    ``1 - exp(-3 t / t95)``, with ``t95`` the minutes until 95 % warm.

    Examples
    --------
    >>> round(warm_share(30.0, 70.0), 2), round(warm_share(18.0, 18.0), 2)
    (0.72, 0.95)
    """
    if warm_after_minutes <= 0.0:
        return 1.0
    return 1.0 - math.exp(-TIMES_TO_95_PERCENT * minutes / warm_after_minutes)
