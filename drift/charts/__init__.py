"""Charts: each a function of data and ``ax=None`` that returns the axes it drew on."""

from __future__ import annotations

from drift.charts.comparison import left_out_rehearsals
from drift.charts.expected import expected_before_reading
from drift.charts.fahrenheit import in_fahrenheit
from drift.charts.fitted import drift_against_playing_time, drift_against_temperature, drift_figure
from drift.charts.rehearsal import (
    Scale,
    common_scale,
    drift_against_time,
    earlier_evening,
    rehearsal_figure,
)
from drift.charts.residuals import (
    residuals_against_expected,
    residuals_against_normal,
    residuals_against_playing_time,
    residuals_against_temperature,
    residuals_against_time,
    residuals_figure,
)
from drift.charts.style import at_least, inline_svg, new_axes, png, style, svg
from drift.charts.temperatures import last_hour, temperature_against_time

__all__ = [
    "Scale",
    "at_least",
    "common_scale",
    "drift_against_playing_time",
    "drift_against_temperature",
    "drift_against_time",
    "drift_figure",
    "earlier_evening",
    "expected_before_reading",
    "in_fahrenheit",
    "inline_svg",
    "last_hour",
    "left_out_rehearsals",
    "new_axes",
    "png",
    "rehearsal_figure",
    "residuals_against_expected",
    "residuals_against_normal",
    "residuals_against_playing_time",
    "residuals_against_temperature",
    "residuals_against_time",
    "residuals_figure",
    "style",
    "svg",
    "temperature_against_time",
]
