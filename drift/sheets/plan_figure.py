"""The picture of a plan: temperature above, the pitch of every section below, against time."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, date2num, num2date
from matplotlib.figure import Figure

from drift.charts.style import GREY, INK, look, new_axes, style
from drift.degrees import fahrenheit_of_celsius
from drift.gig.roster import Section
from drift.notes import shown
from drift.words.gig_cards import SIDE_BY_SIDE, beside, how_to_read
from drift.words.gig_clock import as_timetable, clock_now

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = [
    "courses_figure",
    "draw_instruments",
    "draw_section",
    "draw_temperature",
    "scenarios_figure",
    "shade_schedule",
]

#: Shades of grey tell playing from tuning on any printer; resting stays white.
_SHADES: dict[str, dict[str, Any]] = {
    "play": {"facecolor": "0.88"},
    "tune": {"facecolor": "1.0", "edgecolor": "0.55", "hatch": "////", "linewidth": 0.0},
}
#: Lines nearer to each other than this cover each other [cents].
ONE_LINE_CENTS = 1.0
_LINES: tuple[Any, ...] = ("-", (0, (4, 1.5)), (0, (1, 1.2)), (0, (6, 1.5, 1, 1.5)))


def shade_schedule(ax: Axes, plan: Plan, words: bool = False) -> None:
    """Shade the playing and hatch the tuning of a schedule; write what it is where there is room.

    Parameters
    ----------
    ax : Axes
        Time along.
    plan : Plan
        The plan.
    words : bool
        Whether to write ``play`` and ``tune`` above the axes.
    """
    whole = (plan.schedule.end - plan.schedule.start).total_seconds()
    for entry in plan.schedule.entries:
        if entry.activity not in _SHADES:
            continue
        start, end = _numbers(entry.start, entry.end)
        ax.axvspan(start, end, zorder=0, **_SHADES[entry.activity])
        if words and (entry.end - entry.start).total_seconds() / whole > 0.025:
            ax.text(
                (start + end) / 2, 1.02, entry.activity, transform=ax.get_xaxis_transform(),
                ha="center", va="bottom", fontsize=8, color=INK,
            )  # fmt: skip
    ax.set_xlim(_numbers(plan.schedule.start, plan.schedule.end))
    _tell_times(ax, plan, plan.schedule.zone)


def _tell_times(ax: Axes, plan: Plan, zone: tzinfo | None = None) -> None:
    """Tell the times along axes as the timetable of a plan does, in a zone."""
    told = _told(plan)
    ax.xaxis.set_major_locator(AutoDateLocator(minticks=2, maxticks=6, tz=zone))  # type: ignore[no-untyped-call]
    ax.xaxis.set_major_formatter(lambda number, _: told(num2date(number, tz=zone)))  # type: ignore[no-untyped-call]


@as_timetable
def _told(_plan: Plan) -> Callable[[datetime], str]:
    return clock_now()


def _numbers(start: datetime, end: datetime) -> tuple[float, float]:
    """Return instants as the numbers of an axis of time."""
    numbers = date2num([start, end])  # type: ignore[no-untyped-call]
    return float(numbers[0]), float(numbers[1])


def draw_temperature(ax: Axes, plan: Plan, fahrenheit: bool = False) -> None:
    """Draw the temperature at the instruments, with the error taken for the forecast."""
    error = plan.assumptions.forecast_error_celsius
    typed = [
        plan.schedule.entries[n].celsius is not None for n in plan.schedule.entry_at(plan.times)
    ]
    wide = np.where(typed, 0.0, error)
    shown_as = fahrenheit_of_celsius if fahrenheit else np.asarray
    ax.fill_between(
        plan.times, shown_as(plan.celsius - wide), shown_as(plan.celsius + wide),
        facecolor="0.7", alpha=0.6, linewidth=0,
    )  # fmt: skip
    ax.plot(plan.times, shown_as(plan.celsius), color=INK, linewidth=1.8)
    ax.set_ylabel("°F" if fahrenheit else "°C")


def draw_section(ax: Axes, plan: Plan, section: Section) -> None:
    """Draw the pitch of a section: slides untouched with its band, and with the moves made."""
    course, shift = plan.courses[section.name], plan.shift_cents(section)
    ax.fill_between(
        plan.times,
        course.low + shift,
        course.high + shift,
        facecolor="0.6",
        alpha=0.35,
        linewidth=0,
    )
    ax.plot(plan.times, course.cents + shift, color="0.35", linewidth=1.1, linestyle=(0, (1, 1.2)))
    if section.movable:
        for line, (sides, cents) in zip(_LINES, _one_line_each(plan, section), strict=False):
            label = " and ".join(map(shown, sides)) or None
            ax.plot(plan.times, cents, color=INK, linewidth=2.0, linestyle=line, label=label)
    ax.axhline(0, color=INK, linewidth=0.7)
    limit = plan.assumptions.retune_cents
    for edge in (-limit, limit) if math.isfinite(limit) else ():
        ax.axhline(edge, color=GREY, linewidth=0.6, linestyle=(0, (6, 4)))
    ax.set_title(section.name, fontsize=9)
    ax.set_title(beside(section, course.based_on), loc="right", fontsize=7, fontweight="normal")
    if len(plan.planned_cents[section.name]) > 1 and section.movable:
        ax.legend(fontsize=8, loc="lower left", ncols=2, handlelength=2.6)


def _one_line_each(plan: Plan, section: Section) -> list[tuple[list[str], Any]]:
    """Return the sides of a section with their pitch; those that would hide each other are one."""
    drawn: list[tuple[list[str], Any]] = []
    for side, cents in plan.planned_cents[section.name].items():
        alike = (sides for sides, other in drawn if np.abs(cents - other).max() < ONE_LINE_CENTS)
        if (those := next(alike, None)) is not None:
            those.append(side)
        else:
            drawn.append(([side] if side else [], cents))
    return drawn


@style()
def draw_instruments(plan: Plan, ax: Axes | None = None) -> Axes:
    """Draw the pitch of every instrument with slides untouched, a line each.

    Parameters
    ----------
    plan : Plan
        The plan.
    ax : Axes, optional
        Where to draw (default: new axes).

    Returns
    -------
    Axes
        Cents from the A4 aimed at, against time, the schedule shaded.
    """
    ax = ax or new_axes()
    shade_schedule(ax, plan, words=True)
    kinds = {section.instrument.name: section for section in plan.sections}
    for number, (name, section) in enumerate(kinds.items()):
        cents = plan.courses[section.name].cents + plan.shift_cents(section)
        how = look(number)
        ax.plot(plan.times, cents, color=how.colour, linestyle=how.line, label=shown(name))
    ax.axhline(0, color=INK, linewidth=0.7)
    ax.set_ylabel("cents, slides untouched")
    ax.legend(fontsize=8, ncols=2)
    return ax


@style()
def courses_figure(plan: Plan, fahrenheit: bool = False) -> Figure:
    """Draw temperature above and the pitch of every section below, against time.

    Parameters
    ----------
    plan : Plan
        The plan.
    fahrenheit : bool
        Whether temperature is drawn in °F.

    Returns
    -------
    Figure
        Fit for a black-and-white printer.
    """
    figure, above, panels = _panels(len(plan.sections))
    shade_schedule(above, plan, words=True)
    draw_temperature(above, plan, fahrenheit)
    for ax, section in zip(panels, plan.sections, strict=True):
        shade_schedule(ax, plan)
        draw_section(ax, plan, section)
        ax.locator_params(axis="y", nbins=5)
    every = [cents for sides in plan.planned_cents.values() for cents in sides.values()]
    for section in plan.sections:
        course, shift = plan.courses[section.name], plan.shift_cents(section)
        every += [course.low + shift, course.high + shift]
    low, high = min(c.min() for c in every), max(c.max() for c in every)
    panels[0].set_ylim(min(low, -10) - 5, max(high, 10) + 5)
    figure.supxlabel(
        how_to_read(plan.aim_a4_hz, plan.assumptions.retune_cents),
        fontsize=8,
    )
    return figure


@style()
def scenarios_figure(plans: Mapping[str, Plan], fahrenheit: bool = False) -> Figure:
    """Draw temperature above and the untouched pitch of every section below, a line a scenario.

    Parameters
    ----------
    plans : mapping of str to Plan
        Plans of one band, by the name of the scenario.
    fahrenheit : bool
        Whether temperature is drawn in °F.

    Returns
    -------
    Figure
        Against the time of day in the zone of each schedule, whatever the date.
    """
    sections = next(iter(plans.values())).sections
    figure, above, panels = _panels(len(sections))
    shown_as = fahrenheit_of_celsius if fahrenheit else np.asarray
    above.set_ylabel("°F" if fahrenheit else "°C")
    for number, (name, plan) in enumerate(plans.items()):
        clock = _clock(plan)
        how = {"color": str(0.22 * (number % 3)), "linestyle": _LINES[number % len(_LINES)]}
        above.plot(clock, shown_as(plan.celsius), label=name, **how)
        for ax, section in zip(panels, sections, strict=True):
            cents = plan.courses[section.name].cents + plan.shift_cents(section)
            ax.plot(clock, cents, linewidth=1.4, **how)
            ax.axhline(0, color=INK, linewidth=0.7)
            ax.set_title(section.name, fontsize=9)
    for ax in (above, *panels):
        _tell_times(ax, next(iter(plans.values())))
    above.legend(fontsize=8, ncols=len(plans), loc="lower left", bbox_to_anchor=(0, 1))
    figure.supxlabel(SIDE_BY_SIDE, fontsize=8)
    return figure


def _clock(plan: Plan) -> pd.DatetimeIndex:
    """Return the times of day of a plan, all plans on one day."""
    local = plan.times.tz_localize(None)
    return local - local[0].normalize() + pd.Timestamp("2000-01-01")


def _panels(count: int) -> tuple[Figure, Axes, list[Axes]]:
    """Return a figure with one wide panel above and some small ones that share their scale."""
    columns = 1 if count == 1 else 2 if count <= 8 else 3 if count <= 21 else 4
    rows = math.ceil(count / columns)
    figure = Figure(figsize=(3.6 * max(columns, 2), 1.7 + 1.75 * rows), layout="constrained")
    grid = figure.add_gridspec(rows + 1, columns)
    panels: list[Axes] = []
    for number in range(count):
        ax = figure.add_subplot(
            grid[1 + number // columns, number % columns], sharey=panels[0] if panels else None
        )
        ax.tick_params(labelsize=8, labelleft=number % columns == 0)
        if number % columns == 0:
            ax.set_ylabel("cents", fontsize=9)
        panels.append(ax)
    return figure, figure.add_subplot(grid[0, :]), panels
