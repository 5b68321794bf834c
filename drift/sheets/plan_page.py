"""The plan as one file for a telephone: a section at a time, with a line at the present moment."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from drift.notes import shown
from drift.words.gig import (
    exceptions,
    pitch_headline,
    target_words,
    timing_rows,
    tune_on,
    why_this_pitch,
    written_note,
)
from drift.words.gig_basis import basis_in_words
from drift.words.gig_cards import fixed_pitch
from drift.words.gig_cautions import brief_cautions, wood_of
from drift.words.gig_clock import as_timetable, clock, hours_of
from drift.words.gig_moves import (
    first_minutes,
    instruction,
    no_millimetres,
    play_first,
    tell_the_leader,
)
from drift.words.gig_phrases import day_of, range_of, tuner_decides, weather_of
from drift.words.letters import capital

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = ["plan_page"]


@as_timetable
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
                "when": hours_of(entry.start, entry.end),
                "what": what,
            }
            for entry, what in timing_rows(plan)
        ],
        sections=[_section(plan, section.name) for section in plan.sections],
        exceptions=exceptions(plan, fahrenheit),
        cautions=brief_cautions(plan, fahrenheit),
        tuner_decides=tuner_decides(plan),
    )


def _section(plan: Plan, name: str) -> dict[str, Any]:
    settings = [setting for setting in plan.settings if setting.section.name == name]
    section = settings[0].section
    return {
        "name": capital(shown(name) if name == section.instrument.name else name),
        "instrument": capital(shown(section.instrument.name)),
        "fixed_pitch": fixed_pitch(capital(shown(section.instrument.name)), section),
        "fixed": section.instrument.fixed_pitch is not None,
        "playing": range_of(
            min(setting.lowest_cents for setting in settings),
            max(setting.highest_cents for setting in settings),
        ),
        "leader": tell_the_leader(settings),
        "no_millimetres": no_millimetres(settings),
        "wood": wood_of(plan, section),
        "based_on": basis_in_words(settings[0].based_on),
        "tunes": [
            {
                "start": setting.block.tune_at.isoformat(),
                "end": setting.block.end.isoformat(),
                "when": clock(setting.block.tune_at),
                "on": tune_on(setting) if setting.show_cents and not setting.waits else "",
                "written": written_note(setting),
                "play_first": play_first(plan, setting.block),
                "show": target_words(setting),
                "then": instruction(plan, setting),
                "first": first_minutes(plan, setting),
            }
            for setting in settings
        ],
    }
