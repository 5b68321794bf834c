"""Several scenarios side by side: the same band in other weather, one table and one figure."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from drift.errors import InputError
from drift.gig.retuning import Setting
from drift.gig.roster import Section
from drift.gig.words import from_to, left_over, move_words, table, weather_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from drift.gig.plan import Plan

__all__ = ["Scenarios"]

WIDTH = 100


@dataclass(frozen=True)
class Scenarios:
    """Plans of one band, by the name of the scenario; the first is the one others differ from.

    Attributes
    ----------
    plans : mapping of str to Plan
        With the same sections.
    """

    plans: Mapping[str, Plan]

    def __post_init__(self) -> None:
        """Refuse plans of different bands."""
        bands = {tuple(s.name for s in plan.sections) for plan in self.plans.values()}
        if len(bands) != 1:
            raise InputError("the scenarios are not of one band", "plan them with one roster")

    @property
    def first(self) -> Plan:
        """The plan that others are compared with."""
        return next(iter(self.plans.values()))

    def unsure(self, section: Section, name: str, number: int) -> bool:
        """Return whether a scenario differs from the first by less than its own uncertainty.

        Parameters
        ----------
        section : Section
            Whose correction.
        name : str
            The scenario.
        number : int
            Of the tune, from 0.

        Returns
        -------
        bool
            True where the 95 % interval of the difference between the two corrections, draw by
            draw, holds zero. False for the first scenario itself.
        """
        other = self.plans[name]
        if other is self.first:
            return False
        courses = [plan.courses[section.name].mean_draws for plan in (self.first, other)]
        if any(number >= len(draws) for draws in courses):
            return False
        low, high = np.quantile(courses[1][number] - courses[0][number], [0.025, 0.975])
        return bool(low <= 0 <= high)

    def to_frame(self) -> pd.DataFrame:
        """Return the settings of all scenarios, one row a scenario, section, tune and slide."""
        frames = [
            plan.moves_frame().assign(scenario=name, recommended_a4_hz=plan.pitch.recommended_a4_hz)
            for name, plan in self.plans.items()
        ]
        joined = pd.concat(frames, ignore_index=True)
        return joined[["scenario", *joined.columns.drop("scenario")]]

    def to_json(self) -> dict[str, Any]:
        """Return the plans by name, without their timelines."""
        return {
            name: {k: v for k, v in plan.to_json().items() if k != "timeline"}
            for name, plan in self.plans.items()
        }

    def summary(self, fahrenheit: bool = False) -> str:
        """Return one table: moves by section, tune and scenario, with pitch and cautions.

        Parameters
        ----------
        fahrenheit : bool
            Whether temperatures are in °F.
        """
        plans = self.plans.values()
        rows = [
            ("", *self.plans),
            ("at the instruments", *(weather_of(plan, fahrenheit) for plan in plans)),
            ("moves aim at A4", *(f"{plan.aim_a4_hz:.1f} Hz" for plan in plans)),
            ("recommended A4", *(f"{plan.pitch.recommended_a4_hz:.1f} Hz" for plan in plans)),
        ]
        most = max(len(list(plan.blocks())) for plan in plans)
        for number in range(most):
            rows.append((f"tune {number + 1}", *(_tune_at(plan, number) for plan in plans)))
            for section in self.first.sections:
                rows += self._section_rows(section, number)
        lines = [line for few in _fitting(rows) for line in (*table(few), "")]
        lines.append("  in = push in, out = pull out, mm; (n) cents left over")
        if any("≈" in cell for row in rows for cell in row):
            lines.append("  ≈ differs from the first by less than its own uncertainty")
        for name, plan in self.plans.items():
            lines += textwrap.wrap(
                f"watch for, {name}: {_kinds(plan)}", WIDTH, initial_indent="  ",
                subsequent_indent="    ",
            )  # fmt: skip
        return "\n".join(lines)

    def _section_rows(self, section: Section, number: int) -> Iterator[tuple[str, ...]]:
        cells = [list(self._cells(section, name, number)) for name in self.plans]
        for row in range(max(map(len, cells))):
            slide = section.slides[row] if section.slides else ""
            label = f"  {section.name if row == 0 else ''} {slide}".rstrip()
            yield label, *(column[row] if row < len(column) else "" for column in cells)

    def _cells(self, section: Section, name: str, number: int) -> Iterator[str]:
        setting = _setting(self.plans[name], section, number)
        if setting is None:
            return
        mark = " ≈" if self.unsure(section, name, number) else ""
        left = f" ({left_over(setting)})"
        if not setting.moves:
            yield f"–{left}"
        for move in setting.moves:
            yield f"{move_words(move)} {from_to(move)}".rstrip() + f"{left}{mark}"
            left = ""

    def figure(self, fahrenheit: bool = False) -> Figure:
        """Draw temperature above and the pitch of every section below, a line a scenario."""
        from drift.sheets.plan_figure import scenarios_figure

        return scenarios_figure(dict(self.plans), fahrenheit)


def _fitting(rows: Sequence[tuple[str, ...]]) -> Iterator[list[tuple[str, ...]]]:
    """Yield the rows with as many of the columns at a time as a terminal is wide."""
    label, *columns = [max(map(len, column)) + 2 for column in zip(*rows, strict=True)]
    first, used = 1, label
    for number, width in enumerate(columns, start=1):
        if used + width > WIDTH and number > first:
            yield [(row[0], *row[first:number]) for row in rows]
            first, used = number, label
        used += width
    yield [(row[0], *row[first:]) for row in rows]


def _setting(plan: Plan, section: Section, number: int) -> Setting | None:
    own = [setting for setting in plan.settings if setting.section.name == section.name]
    return own[number] if number < len(own) else None


def _tune_at(plan: Plan, number: int) -> str:
    blocks = [block for block, _ in plan.blocks()]
    return f"{blocks[number].tune_at:%H:%M}" if number < len(blocks) else ""


def _kinds(plan: Plan) -> str:
    kinds = dict.fromkeys(caution.kind for caution in plan.cautions)
    return ", ".join(kinds) or "none listed (this does not mean none apply)"
