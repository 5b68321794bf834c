"""Sentences and heads of the sheets that a plan is printed on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from drift.gig.basis import Basis
from drift.gig.plan import Plan
from drift.gig.retuning import Setting
from drift.gig.roster import Section
from drift.notes import shown
from drift.words.gig_basis import basis_text
from drift.words.gig_phrases import range_of

__all__ = ["HEAD", "LEFT_OUT", "MALLETS", "SIDE_BY_SIDE", "STUCK", "based_on", "beside",
           "fixed_pitch", "from_the_band", "how_to_read", "warm_air",
           "warm_air_before_playing"]  # fmt: skip

HEAD = ("When", "Tune on", "Let the tuner show", "And then")
LEFT_OUT = (
    "Wind and sun on the metal are left out of the numbers: the tune on the field takes them in."
)
MALLETS = "Keep mallets warm."
STUCK = "A stuck slide is not forced: a repair technician frees it."
SIDE_BY_SIDE = "time of day of each schedule; cents with slides untouched"


def fixed_pitch(players: str) -> str:
    """Return that a section has nothing to tune."""
    return f"{players}. Fixed pitch: nothing to tune."


def from_the_band(low_cents: float, high_cents: float) -> str:
    """Return between which a section of fixed pitch lies while it plays [cents]."""
    return f"{range_of(low_cents, high_cents)} cents from the band while it plays"


def based_on(players: str, section: Section, settings: Sequence[Setting]) -> str:
    """Return who plays and what the numbers rest on."""
    based = basis_text(settings[0].based_on) if settings else ""
    own = "; slides taken from the instrument, not the roster" if section.from_catalogue else ""
    return f"{players}. Based on {based}{own}."


def beside(section: Section, basis: Basis) -> str:
    """Return what is printed beside the name of a section on a figure."""
    stuck = "stuck" if section.stuck else "nothing to move"
    return f"{shown(section.instrument.name)}, {basis_text(basis) if section.movable else stuck}"


def warm_air(start: datetime) -> str:
    """Return from when on warm air is blown."""
    return f"warm air from {start:%H:%M}"


def warm_air_before_playing(plan: Plan) -> str:
    """Return when warm air is blown besides before a tune, empty where it is not.

    Parameters
    ----------
    plan : Plan
        The plan of one pitch.
    """
    tunes = {setting.block.tune_at for setting in plan.settings}
    times = [
        f"{entry.start:%H:%M}–{entry.end:%H:%M}"
        for entry in plan.schedule.entries
        if entry.activity == "warm" and entry.end not in tunes
    ]
    return f"Before playing, blow warm air, no tone: {', '.join(times)}." if times else ""


def how_to_read(aim_a4_hz: float, retune_cents: float) -> str:
    """Return how to read the courses of a plan [Hz, cents]."""
    return (
        f"cents from A4 = {aim_a4_hz:.1f} Hz. dotted with its 95 % band: slides untouched. "
        f"solid: moves made. dashed: ±{retune_cents:g} cents. grey: playing. hatched: tuning."
    )
