"""Several scenarios side by side: the same band in other weather, one table and one figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from drift.errors import InputError
from drift.gig.retuning import Setting
from drift.gig.roster import Section
from drift.gig.timetable import Block

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

    def same_tunes(self, name: str) -> dict[Block, Block]:
        """Return which tune of a scenario is which of the first plan.

        Those at the same time are, and where both have the same playing, those for the same.

        Parameters
        ----------
        name : str
            The scenario.
        """
        mine, then = (_blocks(plan) for plan in (self.first, self.plans[name]))
        at = {block.tune_at: block for block in then}
        pairs = {block: at[block.tune_at] for block in mine if block.tune_at in at}
        playing = {len(plan.schedule.performances) for plan in (self.first, self.plans[name])}
        if len(playing) == 1:
            rest = [block for block in then if block not in pairs.values()]
            free = {_playing(self.plans[name], block): block for block in rest}
            later = [block for block in mine if block not in pairs]
            for block in later:
                if (which := _playing(self.first, block)) in free:
                    pairs[block] = free.pop(which)
        return pairs

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

    def setting(self, name: str, section: Section, block: Block | None) -> Setting | None:
        """Return what a section does at a tune of a scenario, None where it has no such tune."""
        own = (s for s in self.plans[name].settings if s.section.name == section.name)
        return next((setting for setting in own if setting.block == block), None)

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


def _blocks(plan: Plan) -> list[Block]:
    return [block for block, _ in plan.blocks()]


def _playing(plan: Plan, block: Block) -> int:
    """Return before which playing of an evening a tune is."""
    return sum(entry.start < block.ready for entry in plan.schedule.performances)
