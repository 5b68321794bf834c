"""What can go wrong between a thermometer or a recording and the program.

.. code-block:: text

    SensorError
    ├── AddressError        an address that names no source, or an option it does not have
    ├── SourceUnavailable   a port, a file or a device that cannot be opened now
    ├── LineRefused         a line of text that is no temperature (the raw line is kept)
    └── RecordingError      a recording that cannot be read as sound
"""

from __future__ import annotations

__all__ = ["AddressError", "LineRefused", "RecordingError", "SensorError", "SourceUnavailable"]


class SensorError(Exception):
    """A problem with a source of readings that the program can explain.

    Parameters
    ----------
    problem : str
        What was wrong, with the value (one line).
    remedy : str
        What to do about it (one line).
    """

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(problem, remedy)
        self.problem = problem
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.problem}\n{self.remedy}"


class AddressError(SensorError, ValueError):
    """An address that names no source, or an option that the source does not have."""


class SourceUnavailable(SensorError, OSError):
    """A port, a file or a device that cannot be opened now."""


class LineRefused(SensorError, ValueError):
    """A line of text that is no temperature.

    Parameters
    ----------
    problem, remedy : str
        As in `SensorError`.
    line : str
        The line as it came, so that it can be kept and looked at.
    """

    def __init__(self, problem: str, remedy: str, line: str = "") -> None:
        super().__init__(problem, remedy)
        self.line = line


class RecordingError(SensorError, ValueError):
    """A recording that cannot be read as sound."""
