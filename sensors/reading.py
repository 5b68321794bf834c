"""The records that every source of temperatures yields, and the shape of a source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from types import TracebackType
from typing import Protocol, Self

__all__ = ["Clock", "Notice", "Sample", "Source"]


@dataclass(frozen=True, slots=True)
class Sample:
    """One temperature of the air, as a thermometer gave it.

    Attributes
    ----------
    time : datetime
        When it was read, aware, in UTC.
    celsius : float
        Temperature [°C].
    humidity_percent, pressure_hpa : float or None
        Relative humidity [%] and pressure [hPa] where the thermometer gives them.
    source : str
        The name of the thermometer (``stage``, ``case``, ...).
    raw : str
        The line of text it came in.
    """

    time: datetime
    celsius: float
    humidity_percent: float | None = None
    pressure_hpa: float | None = None
    source: str = ""
    raw: str = ""


@dataclass(frozen=True, slots=True)
class Notice:
    """Something a source has to say that is no temperature.

    Attributes
    ----------
    time : datetime
        When it was noticed, aware, in UTC.
    kind : str
        ``away`` (unplugged or silent), ``back``, ``refused`` (a line that is no temperature),
        ``dialect`` (the dialect it settled on), ``garbage`` (unreadable bytes), ``settling`` and
        ``settled`` (a slow probe lags behind the air, and has caught up), ``step`` (the
        computer's clock was set).
    text : str
        One line for a person.
    source : str
        The name of the thermometer.
    raw : str
        The line as it came, where there is one.
    """

    time: datetime
    kind: str
    text: str
    source: str = ""
    raw: str = ""


class Clock(Protocol):
    """Where a source gets its time; the outermost layer hands it in."""

    def now(self) -> datetime:
        """Return the time of day, aware, in UTC."""

    def monotonic(self) -> float:
        """Return seconds that never go back."""


class Source(Protocol):
    """A thermometer: open it with ``with``, then iterate.

    Iterating yields a `Sample` or a `Notice` as they come, and ``None`` at least once a
    second when there is nothing, so that a caller can always stop; it never blocks for ever. An
    exhausted source (a replayed file) ends the iteration. Nothing is opened and no thread is
    started before ``__enter__``.
    """

    name: str

    def __enter__(self) -> Self:
        """Open the source."""

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the source."""

    def __iter__(self) -> Iterator[Sample | Notice | None]:
        """Yield what the source has to say."""
