"""Samples that no microphone gives, refused before anything is computed of them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensors.errors import RecordingError

__all__ = ["LOUDEST", "check_samples"]

LOUDEST = 1000.0
"""60 dB above full scale: beyond what any mix in floating point reaches."""


def check_samples(samples: NDArray[Any], rate: float, begin_s: float = 0.0) -> None:
    """Refuse sound with a sample that is not a number or far beyond full scale.

    Parameters
    ----------
    samples : ndarray, shape (n,) or (n, channels)
        Sound, between -1 and 1 as a rule.
    rate : float
        Sample rate [Hz].
    begin_s : float
        Time of the first sample [s].

    Raises
    ------
    RecordingError
        With the time of the first such sample, and its value.

    Examples
    --------
    >>> check_samples(np.array([0.0, 3e38]), 8000)
    Traceback (most recent call last):
    sensors.errors.RecordingError: the sample at 0.000 s is 3e+38, far beyond full scale
    Export the recording again as 16 or 24 bit WAV or FLAC.
    """
    if samples.size == 0 or max(samples.max(), -samples.min()) < LOUDEST:
        return
    rows = samples.reshape(len(samples), -1)
    row, column = np.argwhere(~(np.abs(rows) < LOUDEST))[0]
    value = rows[row, column]
    what = f"{value:g}, far beyond full scale" if np.isfinite(value) else "not a number"
    raise RecordingError(
        f"the sample at {begin_s + row / rate:.3f} s is {what}",
        "Export the recording again as 16 or 24 bit WAV or FLAC.",
    )
