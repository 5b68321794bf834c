"""What the program can refuse, each refusal with the thing that was wrong and what to do.

.. code-block:: text

    DriftError
    ├── InputError          a file, a table or a typed entry that cannot be taken as it is
    ├── LogbookError        the logbook cannot be opened, written or trusted
    │   └── LogbookBusy     another process is writing it
    ├── InstrumentError     an instrument, a side or a slide that the catalogue does not have
    ├── TooLittleData       the readings cannot answer the question
    ├── ReachError          a number outside what a formula or a slide can do
    └── ProgramFault        a fault of the program, where something else has to go on
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = [
    "DriftError",
    "InputError",
    "InstrumentError",
    "LogbookBusy",
    "LogbookError",
    "ProgramFault",
    "ReachError",
    "TooLittleData",
    "faults_refused",
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


class ProgramFault(DriftError):
    """A fault of the program, where something else has to go on."""


@contextmanager
def faults_refused() -> Iterator[None]:
    """Turn a fault of the program into a refusal: an answer may fail, what asks for it goes on.

    Raises
    ------
    ProgramFault
        With the fault and where it is, in place of any error that is no `DriftError`.
    """
    try:
        yield
    except DriftError:
        raise
    except Exception as error:
        raise ProgramFault(
            f"no answer, by a fault of the program: {type(error).__name__}: {error} "
            f"({_place_of(error)})",
            "what was entered is saved; go on, and report this line",
        ) from error


def _place_of(error: Exception) -> str:
    """Return the last line of the program that an error came through."""
    here, found = Path(__file__).parent, ""
    trace = error.__traceback__
    while trace is not None:
        file = Path(trace.tb_frame.f_code.co_filename)
        if not found or file.is_relative_to(here):
            found = f"{file.name}, line {trace.tb_lineno}"
        trace = trace.tb_next
    return found
