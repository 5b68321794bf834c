"""The one state of a played instrument: the air inside it, and how far breath has warmed it.

An instrument that is carried from a warm room into the cold does not follow at once. The air that
sets its pitch moves towards the air around it with the time constant of whatever happens to it:
that of warming while it is blown, that of cooling while it rests. The warmth that breath adds
follows with the same one, so nothing new has to be estimated.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from drift.breath import BREATH_CELSIUS
from drift.regression.warmup import REFERENCE_CELSIUS

__all__ = ["drift_columns_of_state", "states"]

Array = npt.NDArray[np.float64]

SPAN = BREATH_CELSIUS - REFERENCE_CELSIUS


def states(
    step_minutes: npt.ArrayLike,
    celsius: npt.ArrayLike,
    duty: npt.ArrayLike,
    warm_minutes: npt.ArrayLike,
    cool_minutes: npt.ArrayLike,
    air: npt.ArrayLike | None = None,
    excess: npt.ArrayLike | None = None,
    celsius_before: npt.ArrayLike | None = None,
) -> tuple[Array, Array]:
    """Return the air in an instrument and what breath adds to it, at the end of each step.

    Parameters
    ----------
    step_minutes : float or array of shape (..., steps)
        Length of each step [min]; a step of no length changes nothing.
    celsius : float or array of shape (..., steps)
        Air around the player [°C]: throughout each step, or at its end where `celsius_before` is
        given.
    duty : float or array of shape (..., steps)
        Share of each step in which the instrument is blown: 1 while playing, tuning or blowing
        warm air, 0 at rest, about 0.1 in the stands (30 s in 5 minutes).
    warm_minutes, cool_minutes : float or array of shape (...)
        Time constants while blown and at rest [min, 63 %], one a draw, without the axis of steps.
    air : float or array of shape (...), optional
        Air in the instrument before the first step [°C] (default: that around it).
    excess : float or array of shape (...), optional
        What breath had added before the first step [°C] (default: 0). ``w (34 - T)`` for an
        instrument that is warmed up by the share ``w`` at `T`.
    celsius_before : float or array of shape (..., steps), optional
        Air around the player at the beginning of each step [°C], which changes evenly from there
        to `celsius`; by default it is `celsius` throughout.

    Returns
    -------
    air, excess : arrays of shape (..., steps)
        ``A`` and ``E`` at the end of each step [°C]; `drift_columns_of_state` makes the columns
        of the regression of them.

    Notes
    -----
    With the duty ``d``, ``up = d/tau_w``, ``down = (1 - d)/tau_c`` and ``q = up + down``::

        dA/dt = q (T - A)        dE/dt = up (34 - T) - q E        A(0) = T, E(0) = 0

    solved exactly in each step for a temperature that changes evenly in it. In constant air
    ``A = T`` and ``E = w (34 - T)``, with the ``w`` of `drift.regression.warmup.warmth`.

    How wrong it is: against simulated bores of segments with walls that follow the gas at speeds of
    1 to 0.15, with constants fitted indoors, it errs by 0.9, 1.4 and 1.0 cents on average in the
    first three blocks played in the cold, where air that acts at once errs by 6.6, 3.1 and 2.4.
    Should the air of a real instrument act at once, it errs by up to 24 cents just after a walk
    of five minutes. That only the share of time blown counts, not its order within a step, is
    good to 0.02 of the way on average and wrong by up to 9 cents within half a minute of playing.

    Examples
    --------
    >>> air, excess = states([10.0, 20.0], [5.0, 5.0], [0.0, 1.0], 6.0, 12.0, air=20.0)
    >>> air.round(1)  # carried out at 20 °C: ten minutes at rest, then twenty of playing
    array([11.5,  5.2])
    >>> excess.round(1)
    array([ 0., 28.])
    """
    warm, cool = (
        np.asarray(value, dtype=float)[..., None] for value in (warm_minutes, cool_minutes)
    )
    step, after, duty = (np.asarray(value, dtype=float) for value in (step_minutes, celsius, duty))
    before = after if celsius_before is None else np.asarray(celsius_before, dtype=float)
    up = duty / warm
    rate = up + (1.0 - duty) / cool
    share = up / rate
    kept = np.exp(-rate * step)
    begin, end = _pulls(rate * step, kept)
    air_pull = before * begin + after * end
    excess_pull = share * ((BREATH_CELSIUS - before) * begin + (BREATH_CELSIUS - after) * end)
    kept, air_pull, excess_pull = np.broadcast_arrays(kept, air_pull, excess_pull)
    first = np.broadcast_to(before, kept.shape)[..., 0] if air is None else air
    return _followed(kept, air_pull, first), _followed(
        kept, excess_pull, 0.0 if excess is None else excess
    )


def drift_columns_of_state(air: npt.ArrayLike, excess: npt.ArrayLike) -> tuple[Array, Array]:
    """Return the two columns of the model of drift.

    Parameters
    ----------
    air, excess : float or array
        Air in the instrument, and what breath adds to it [°C], such as `states` gives.

    Returns
    -------
    cold, rise : arrays
        ``drift = b cold + r rise`` [cents]: ``b`` the slope of an unplayed instrument (cents/°C),
        ``r`` how much the pitch rises from cold to warm at 20 °C (cents).

    Notes
    -----
    ``D = b (A - 20) + r (E/14 - 1)``: zero for an instrument warmed up at 20 °C.

    Examples
    --------
    >>> print(*drift_columns_of_state(20.0, 14.0))
    0.0 0.0
    """
    cold = np.asarray(air, dtype=float) - REFERENCE_CELSIUS
    return cold, np.asarray(excess, dtype=float) / SPAN - 1.0


def _pulls(x: Array, kept: Array) -> tuple[Array, Array]:
    """Return how much a forcing at the beginning and at the end of a step counts at its end.

    For ``y' = q (F - y)`` with ``F`` even from ``F0`` to ``F1`` over ``x = q dt``:
    ``y1 = y0 exp(-x) + F0 (m - exp(-x)) + F1 (1 - m)``, ``m = (1 - exp(-x))/x``.
    """
    mean = np.ones_like(x)
    np.divide(-np.expm1(-x), x, out=mean, where=x > 0.0)
    return mean - kept, 1.0 - mean


def _followed(kept: Array, pull: Array, first: npt.ArrayLike) -> Array:
    """Return ``y = kept y + pull`` along the last axis, from `first`."""
    shape = np.broadcast_shapes(kept.shape[:-1], np.shape(first))
    found = np.empty((*shape, kept.shape[-1]))
    now: Array = np.broadcast_to(np.asarray(first, dtype=float), shape)
    for step in range(kept.shape[-1]):
        now = kept[..., step] * now + pull[..., step]
        found[..., step] = now
    return found
