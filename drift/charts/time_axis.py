"""The time of day along a chart."""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo

import matplotlib.dates as mdates
import numpy as np
import pandas as pd
from matplotlib.axes import Axes

__all__ = ["instants", "time_axis"]


MOST_TICKS = 9


class _WholeMinutes(mdates.AutoDateLocator):
    """Ticks on whole minutes at the finest: labels without seconds would repeat."""

    def get_locator(self, dmin: datetime, dmax: datetime) -> mdates.DateLocator:
        if dmax - dmin >= timedelta(minutes=MOST_TICKS):
            return super().get_locator(dmin, dmax)  # type: ignore[no-untyped-call, no-any-return]
        minutes = mdates.MinuteLocator(tz=self.tz)  # type: ignore[no-untyped-call]
        minutes.set_axis(self.axis)
        return minutes


def instants(times: pd.Series[pd.Timestamp]) -> np.ndarray:
    """Return instants as matplotlib takes them: UTC without saying so."""
    return times.dt.tz_convert("UTC").dt.tz_localize(None).to_numpy()


def time_axis(ax: Axes, times: pd.Series[pd.Timestamp], zone: tzinfo) -> None:
    """Label the time axis with hours and minutes of a zone, and say which."""
    ax.xaxis.set_major_locator(_WholeMinutes(tz=zone, minticks=4, maxticks=MOST_TICKS))  # type: ignore[no-untyped-call]
    ax.xaxis.set_major_formatter(mdates.DateFormatter("%H:%M", tz=zone))  # type: ignore[no-untyped-call]
    name = ""
    if len(times):
        first, last = instants(times.agg(["min", "max"]))
        room = max((last - first) / 50, np.timedelta64(1, "m"))
        ax.set_xlim(first - room, last + room)
        name = f" ({times.min().astimezone(zone).tzname()})"
    ax.set_xlabel(f"time of day{name}")
