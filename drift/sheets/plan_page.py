"""The plan as one file for a telephone: a section at a time, with a line at the present moment."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from drift.gig.words import brief_cautions, day_of, weather_of
from drift.notes import shown
from drift.words.gig import (
    exceptions,
    first_minutes,
    instruction,
    pitch_headline,
    show_words,
    timing_rows,
    tune_on,
    why_this_pitch,
)

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = ["plan_page"]


def plan_page(plan: Plan, *, fahrenheit: bool = False) -> str:
    """Return the plan of one pitch as a self-contained HTML page.

    Parameters
    ----------
    plan : Plan
        The plan.
    fahrenheit : bool
        Whether temperatures are in °F.

    Returns
    -------
    str
        HTML that asks the network for nothing.
    """
    pages = Environment(
        loader=PackageLoader("drift.sheets"), autoescape=True, undefined=StrictUndefined
    )
    start = plan.schedule.start
    return pages.get_template("plan.html").render(
        title=f"{day_of(start)}: {pitch_headline(plan)}",
        pitch=pitch_headline(plan),
        why=why_this_pitch(plan),
        day=day_of(start),
        weather=weather_of(plan, fahrenheit),
        times=[
            {
                "start": entry.start.isoformat(),
                "end": entry.end.isoformat(),
                "when": f"{entry.start:%H:%M}–{entry.end:%H:%M}",
                "what": what,
            }
            for entry, what in timing_rows(plan)
        ],
        sections=[_section(plan, section.name) for section in plan.sections],
        exceptions=exceptions(plan),
        cautions=brief_cautions(plan, fahrenheit),
    )


def _section(plan: Plan, name: str) -> dict[str, Any]:
    settings = [setting for setting in plan.settings if setting.section.name == name]
    section = settings[0].section
    return {
        "name": name,
        "instrument": shown(section.instrument.name),
        "fixed": section.instrument.fixed_pitch is not None,
        "based_on": settings[0].based_on,
        "tunes": [
            {
                "start": setting.block.tune_at.isoformat(),
                "end": setting.block.end.isoformat(),
                "when": f"{setting.block.tune_at:%H:%M}",
                "on": tune_on(setting),
                "show": show_words(setting.show_cents),
                "then": [*instruction(setting)],
                "first": first_minutes(plan, setting),
            }
            for setting in settings
        ],
    }
