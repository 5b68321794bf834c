"""Several scenarios side by side: the same band in other weather, one table and one figure."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

import pandas as pd

from drift.errors import InputError
from drift.gig.retuning import Setting
from drift.gig.roster import Section
from drift.gig.timetable import Block, Schedule

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

        Where both evenings have as much playing, the tunes before the same playing are, in order:
        first those in rooms and those in the air of the forecast by themselves, where both have as
        many, then those at the same time, then the others. Otherwise those at the same time.

        Parameters
        ----------
        name : str
            The scenario.
        """
        plans = (self.first, self.plans[name])
        playings = {len(plan.schedule.performances) for plan in plans}
        roles = (_place, _time, _playing) if len(playings) == 1 else (_time,)
        pairs: dict[Block, Block] = {}
        for role in roles:
            mine, then = (_by_role(plan, role) for plan in plans)
            for which, blocks in mine.items():
                own = [block for block in blocks if block not in pairs]
                others = [b for b in then.get(which, ()) if b not in pairs.values()]
                if len(own) == len(others):
                    pairs |= zip(own, others, strict=True)
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


def _by_role(
    plan: Plan, role: Callable[[Schedule, Block], Hashable]
) -> dict[Hashable, list[Block]]:
    """Return the tunes of a plan in order of time, by what each is for."""
    found: dict[Hashable, list[Block]] = {}
    for block, _ in plan.blocks():
        found.setdefault(role(plan.schedule, block), []).append(block)
    return found


def _time(_schedule: Schedule, block: Block) -> datetime:
    return block.tune_at


def _playing(schedule: Schedule, block: Block) -> int:
    """Return before which playing of an evening a tune is."""
    return sum(entry.start < block.ready for entry in schedule.performances)


def _place(schedule: Schedule, block: Block) -> tuple[int, bool]:
    """Return before which playing a tune is, and whether it is in a room."""
    inside = any(e.start == block.tune_at and e.celsius is not None for e in schedule.entries)
    return _playing(schedule, block), inside
