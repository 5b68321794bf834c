"""Sentences and heads of the sheets that a plan is printed on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from typing import TYPE_CHECKING

from drift.gig.basis import Basis
from drift.gig.plan import Plan
from drift.gig.retuning import Setting
from drift.gig.roster import Section
from drift.notes import shown
from drift.words.cents import deviations, signed
from drift.words.gig import show_briefly
from drift.words.gig_basis import basis_in_words, basis_text
from drift.words.gig_clock import clock, hours_of
from drift.words.gig_moves import at_its_end
from drift.words.gig_phrases import all_indoors, range_of
from drift.words.letters import capital

if TYPE_CHECKING:
    from drift.gig.plan import Plan

__all__ = [
    "BOTH_SIDES",
    "FROM_NOW",
    "HEAD",
    "MALLETS",
    "SHOWS",
    "SIDE_BY_SIDE",
    "STUCK",
    "based_on",
    "beside",
    "fixed_pitch",
    "from_the_band",
    "how_to_read",
    "left_out",
    "shows",
    "untouched",
    "warm_air",
    "warm_air_before_playing",
]  # fmt: skip

#: Nearer to the pitch than this a section is right [cents].
UNTOUCHED_CENTS = 1.5
HEAD = ("When", "Tune on (concert)", "Let the tuner show", "And then")
FROM_NOW = " (mm from where it is now, in the air of the forecast)"
SHOWS = "Let the tuner show"
ON_THE_CARDS = "What each section lets the tuner show is on its card."
LEAVE = "leave it"
LEFT_OUT = "Wind and sun on the metal are left out of the numbers"
MALLETS = "Keep mallets warm."
BOTH_SIDES = "; each note on both sides"
OTHER_WEATHER = "In other weather, or at other times"
OVERLEAF = f"{OTHER_WEATHER}: see overleaf."
STUCK = "A stuck slide is not forced: a repair technician frees it."
SIDE_BY_SIDE = "time of day of each schedule; cents with slides untouched"


def fixed_pitch(players: str, section: Section) -> str:
    """Return that a section has nothing to tune, and what pitch its bars are taken to have."""
    return f"{players}. Fixed pitch: nothing to tune. Taken as built to {section.built_a4_hz:g} Hz."


def from_the_band(low_cents: float, high_cents: float) -> str:
    """Return between which a section of fixed pitch lies while it plays [cents]."""
    return f"{range_of(low_cents, high_cents)} cents from the band while it plays"


def based_on(section: Section, settings: Sequence[Setting]) -> str:
    """Return what the numbers of a section rest on."""
    based = basis_in_words(settings[0].based_on) if settings else ""
    own = "; slides taken from the instrument, not the roster" if section.from_catalogue else ""
    return f"Based on {based}{own}."


def untouched(players: str, plan: Plan, section: Section) -> str:
    """Return who plays, and where they would be if nobody moved a slide: why they are to tune.

    With its interval where it may be either way: whether a slide goes in or out is not sure then.

    Parameters
    ----------
    players : str
        Who plays what.
    plan : Plan
        The plan of one pitch.
    section : Section
        One of its sections; the means of its playings are given.
    """
    found, shift = plan.courses[section.name], plan.shift_cents(section)
    course = found.cents + shift
    entry_at = plan.schedule.entry_at(plan.times)
    playings = (plan.schedule.entries.index(entry) for entry in plan.schedule.performances)
    inside = (course[entry_at == number] for number in playings)
    means = [float(cents.mean()) for cents in inside if len(cents)]
    if not means:
        return f"{players}."
    if max(map(abs, means)) < UNTOUCHED_CENTS:
        return f"{players}. With slides untouched you would be right while playing."
    low, high = float(found.mean_low.min()) + shift, float(found.mean_high.max()) + shift
    either_way = f" ({signed(low)} to {signed(high)})" if low < 0.0 < high else ""
    away = deviations(min(means), max(means)) + either_way
    return f"{players}. With slides untouched you would be {away} while playing."


def beside(section: Section, basis: Basis) -> str:
    """Return what is printed beside the name of a section on a figure."""
    stuck = "stuck" if section.stuck else "nothing to move"
    return f"{shown(section.instrument.name)}, {basis_text(basis) if section.movable else stuck}"


def shows(plan: Plan) -> list[tuple[str, ...]]:
    """Return what each section is to show at each tune, a row a section under the times.

    Sections of fixed pitch, and those with nothing to move, are left out.
    """
    blocks = [block for block, _ in plan.blocks()]
    times = (clock(plan.play_until(block) or block.tune_at) for block in blocks)
    rows: list[tuple[str, ...]] = [("", *times)]
    for section in plan.sections:
        own = [setting for setting in plan.settings if setting.section == section]
        if any(setting.show_cents for setting in own):
            name = section.name
            shown_name = shown(name) if name == section.instrument.name else name
            rows.append((capital(shown_name), *map(_brief, own)))
    return rows


def _brief(setting: Setting) -> str:
    if setting.waits:
        return LEAVE
    end, way = at_its_end(setting)
    return show_briefly(setting.show_cents) + (f" ({way}: {end})" if way else "")


def warm_air(start: datetime) -> str:
    """Return from when on warm air is blown."""
    return f"warm air from {clock(start)}"


def warm_air_before_playing(plan: Plan) -> str:
    """Return when warm air is blown besides before a tune, empty where it is not.

    Parameters
    ----------
    plan : Plan
        The plan of one pitch.
    """
    tunes = {setting.block.tune_at for setting in plan.settings}
    times = [
        hours_of(warm.start, warm.end) + (f" ({after.remark})" if after.remark else "")
        for warm, after in pairwise(plan.schedule.entries)
        if warm.activity == "warm" and warm.end not in tunes
    ]
    return f"Before playing, blow warm air, no tone: {', '.join(times)}." if times else ""


def left_out(plan: Plan) -> str:
    """Return what the numbers leave out, and whether a tune outside takes it in; empty indoors.

    Parameters
    ----------
    plan : Plan
        The plan of one pitch.
    """
    if all_indoors(plan):
        return ""
    outside = any(e.activity == "tune" and e.celsius is None for e in plan.schedule.entries)
    takes = ": the tune outside takes them in" if outside else ", and no tune outside takes them in"
    return f"{LEFT_OUT}{takes}."


def how_to_read(aim_a4_hz: float, retune_cents: float) -> str:
    """Return how to read the courses of a plan [Hz, cents], in two lines."""
    return (
        f"cents from A4 = {aim_a4_hz:.1f} Hz. dotted with its 95 % band: slides untouched. "
        f"solid: moves made.\ndashed: ±{retune_cents:g} cents. grey: playing. hatched: tuning."
    )
