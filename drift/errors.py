"""What the program can refuse, each refusal with the thing that was wrong and what to do.

.. code-block:: text

    DriftError
    ├── InputError          a file, a table or a typed entry that cannot be taken as it is
    ├── LogbookError        the logbook cannot be opened, written or trusted
    │   └── LogbookBusy     another process is writing it
    ├── InstrumentError     an instrument, a side or a slide that the catalogue does not have
    ├── TooLittleData       the readings cannot answer the question
    └── ReachError          a number outside what a formula or a slide can do
"""

from __future__ import annotations

__all__ = [
    "DriftError",
    "InputError",
    "InstrumentError",
    "LogbookBusy",
    "LogbookError",
    "ReachError",
    "TooLittleData",
]


class DriftError(Exception):
    """A problem the program can explain.

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


class InputError(DriftError, ValueError):
    """A file, a table or a typed entry that cannot be taken as it is."""


class LogbookError(DriftError):
    """The logbook cannot be opened, written or trusted."""


class LogbookBusy(LogbookError):
    """Another process is writing the logbook."""


class InstrumentError(DriftError, LookupError):
    """An instrument, a side or a slide that the catalogue does not have."""


class TooLittleData(DriftError, ValueError):
    """The readings cannot answer the question."""


class ReachError(DriftError, ValueError):
    """A number outside what a formula or a slide can do."""
