"""Several scenarios side by side: the same band in other weather, one table and one figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from drift.errors import InputError
from drift.gig.retuning import Setting
from drift.gig.roster import Section

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from drift.gig.plan import Plan

__all__ = ["Scenarios"]


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

    def setting(self, name: str, section: Section, number: int) -> Setting | None:
        """Return what a section does at a tune of a scenario, None where it has no such tune."""
        own = [s for s in self.plans[name].settings if s.section.name == section.name]
        return own[number] if number < len(own) else None

    def summary(self, fahrenheit: bool = False) -> str:
        """Return one table: moves by section, tune and scenario, with pitch and cautions.

        Parameters
        ----------
        fahrenheit : bool
            Whether temperatures are in °F.
        """
        from drift.words.gig_scenarios import summary_of

        return summary_of(self, fahrenheit)

    def figure(self, fahrenheit: bool = False) -> Figure:
        """Draw temperature above and the pitch of every section below, a line a scenario."""
        from drift.sheets.plan_figure import scenarios_figure

        return scenarios_figure(dict(self.plans), fahrenheit)
