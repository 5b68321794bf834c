"""The loudspeaker of this machine, for the test tone."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensors.errors import SourceUnavailable
from sensors.microphone import first_line, load_sounddevice

__all__ = ["Loudspeaker"]


class Loudspeaker:
    """The default loudspeaker of this machine.

    Raises
    ------
    SourceUnavailable
        When there is none, or the extra ``microphone`` is not installed.
    """

    def __init__(self) -> None:
        self._sounddevice = load_sounddevice()
        try:
            about = self._sounddevice.query_devices(None, "output")
        except (self._sounddevice.PortAudioError, ValueError) as error:
            raise _none(error) from None
        self.rate = float(about["default_samplerate"])

    def play(self, samples: NDArray[np.float32]) -> float:
        """Begin to play, and return at once.

        Parameters
        ----------
        samples : ndarray of float32, shape (n,)
            Sound between -1 and 1 at `rate`.

        Returns
        -------
        float
            How long the system says that it takes until the sound is out [s]; 0 where it does
            not say.
        """
        try:
            self._sounddevice.play(samples, self.rate)
            latency: Any = self._sounddevice.get_stream().latency
        except (self._sounddevice.PortAudioError, ValueError) as error:
            raise _none(error) from None
        return max(0.0, float(latency))


def _none(error: Exception) -> SourceUnavailable:
    return SourceUnavailable(
        f"there is no loudspeaker to play a test tone on: {first_line(error)}",
        "connect one, or choose the microphone without --test-tone",
    )
