"""Which slide to move for a side, and where to, while an instrument is tuned."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import inf

from drift.instruments.anatomy import Instrument
from drift.tonight.decision import chance_within, round_mm
from drift.tonight.tuning_belief import TuningBelief, setting_sd_mm

__all__ = ["Choice", "choose", "main_in_for"]

SEEN_CENTS = 1.0
"""A smaller move is not worth making."""


@dataclass(frozen=True)
class Choice:
    """A move of one slide.

    Attributes
    ----------
    slide : str
        Which.
    move_mm, to_mm : float
        How far, positive outwards, and where to [mm].
    chance_after : float
        Probability that the side is within three cents after it.
    """

    slide: str
    move_mm: float
    to_mm: float
    chance_after: float


def choose(
    instrument: Instrument,
    belief: TuningBelief,
    side: str,
    order: Sequence[str],
    travel_mm: Mapping[str, float],
    stuck: Collection[str],
) -> Choice | None:
    """Return the move that brings a side nearest, or None where no slide can do more.

    Parameters
    ----------
    instrument : Instrument
        The instrument.
    belief : TuningBelief
        What is believed.
    side : str
        The side.
    order : sequence of str
        The sides in the order of work; slides that change an earlier one are left alone.
    travel_mm : mapping of str to float
        Usable travel [mm], where it is known.
    stuck : collection of str
        Slides that do not move.
    """
    earlier = list(order)[: list(order).index(side)]
    mean, _ = belief.estimate(side)
    for slide in instrument.slides:
        disturbs = any(name in slide.sides for name in earlier)
        if side not in slide.sides or disturbs or slide.name in stuck:
            continue
        found = _towards(instrument, belief, side, slide.name, mean, travel_mm)
        if found is not None:
            return found
    return None


def _towards(
    instrument: Instrument,
    belief: TuningBelief,
    side: str,
    slide: str,
    cents: float,
    travel_mm: Mapping[str, float],
) -> Choice | None:
    """Return the move of a slide that takes so many cents away, as far as it goes."""
    slope, at = belief.slope(slide, side), belief.positions_mm[slide]
    to = min(
        max(round_mm(at - cents / slope, instrument.step_mm), 0.0),
        max(travel_mm.get(slide, inf), at),
    )
    if abs((to - at) * slope) <= SEEN_CENTS:
        return None
    after = belief.off(side, {**belief.positions_mm, slide: to})
    eye = (setting_sd_mm(instrument) * slope) ** 2
    spread = instrument.slide(slide).effect.note_sd * abs((to - at) * slope)
    notes = max(len(instrument.side(side).tuning_notes), 1)
    return Choice(slide, to - at, to, chance_within(after, more_variance=eye + spread**2 / notes))


def main_in_for(
    instrument: Instrument,
    belief: TuningBelief,
    side: str,
    cents: float,
    travel_mm: Mapping[str, float],
    stuck: Collection[str],
) -> list[Choice]:
    """Return the moves that give a flat side room: the common slide in, the other side's out.

    Parameters
    ----------
    instrument, belief, side, travel_mm, stuck
        As in `choose`.
    cents : float
        How far off the side is, negative when flat [cents].

    Returns
    -------
    list of Choice
        Empty where that cannot be done.
    """
    if cents >= 0.0:
        return []
    movable = [slide for slide in instrument.slides if slide.name not in stuck]
    common = next((s for s in movable if len(s.sides) > 1 and side in s.sides), None)
    if common is None:
        return []
    others = [name for name in common.sides if name != side]
    own = {name: next((s for s in movable if s.sides == (name,)), None) for name in others}
    inward = _towards(instrument, belief, side, common.name, cents, travel_mm)
    if inward is None or inward.move_mm >= 0.0 or any(slide is None for slide in own.values()):
        return []
    moves = [inward]
    for name, slide in own.items():
        if slide is not None:
            sharp = belief.slope(common.name, name) * inward.move_mm
            back = _towards(instrument, belief, name, slide.name, sharp, travel_mm)
            if back is None:
                return []
            moves.append(back)
    return moves
