"""Axes of the air in degrees Fahrenheit, beside those in degrees Celsius or in their place."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from drift.charts.style import GREY, round_ticks, style
from drift.degrees import celsius_of_fahrenheit, fahrenheit_of_celsius

__all__ = ["fahrenheit_beside", "in_fahrenheit"]


def fahrenheit_beside(ax: Axes, side: str) -> None:
    """Repeat an axis of degrees Celsius in degrees Fahrenheit, on the ``top`` or the ``right``."""
    scale = (fahrenheit_of_celsius, celsius_of_fahrenheit)
    if side == "top":
        other = ax.secondary_xaxis("top", functions=scale)
        other.set_xlabel("°F", color=GREY)
        round_ticks(8, ax.xaxis, other.xaxis)
    else:
        other = ax.secondary_yaxis("right", functions=scale)
        other.set_ylabel("°F", color=GREY)
        round_ticks(4, ax.yaxis, other.yaxis)
    other.tick_params(colors=GREY)


@style()
def in_fahrenheit(ax: Axes, axis: str) -> Axes:
    """Give an axis of the air, drawn in degrees Celsius, round numbers of degrees Fahrenheit.

    Parameters
    ----------
    ax : Axes
        Drawn in degrees Celsius, which stay what is on it.
    axis : str
        ``x`` or ``y``.
    """
    of = ax.xaxis if axis == "x" else ax.yaxis
    of.set_major_locator(_FahrenheitLocator(nbins=8 if axis == "x" else 4, steps=[1, 2, 5, 10]))
    of.set_major_formatter(
        lambda celsius, _: f"{round(float(fahrenheit_of_celsius(celsius)), 2):g}"
    )
    of.set_label_text("air (°F)")
    return ax


class _FahrenheitLocator(MaxNLocator):
    """Ticks at round numbers of °F on an axis in °C."""

    def tick_values(self, vmin: float, vmax: float) -> list[float]:
        ends = (float(fahrenheit_of_celsius(end)) for end in (vmin, vmax))
        return [float(celsius_of_fahrenheit(tick)) for tick in super().tick_values(*ends)]
