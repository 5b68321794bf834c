"""Why a band is given a pitch, and what each choice of pitch costs, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drift.gig.pitch import PitchReason
from drift.gig.reach import NEAR_CENTS
from drift.words.cents import deviation, signed
from drift.words.lists import joined

if TYPE_CHECKING:
    from drift.gig.pitch import Pitch, PitchChoice

__all__ = ["choice_cells", "choice_in_short", "reason_words", "told_choices", "within_cents"]


def reason_words(pitch: Pitch) -> str:
    """Return why a pitch is recommended, without the end of a sentence.

    Parameters
    ----------
    pitch : Pitch
        The common pitch of a band.
    """
    if pitch.reason is PitchReason.NOT_ADJUSTABLE:
        return "no section can adjust its pitch"
    if not pitch.not_known:
        return _limits(pitch)
    known = f"{_limits(pitch)}; " if pitch.limited_by else ""
    return (
        f"{known}whether slides reach {pitch.choices[0].a4_hz:.1f} Hz is not known of "
        f"{', '.join(pitch.not_known)}: check that each slide is out that far, or write "
        "position_mm and travel_mm in the roster"
    )


def _limits(pitch: Pitch) -> str:
    stay, recommended = pitch.choices[:2]
    if pitch.reason is PitchReason.ALL_REACH:
        worst = round(stay.worst_cents)
        within = f"come within {worst} cents of" if worst > 1 else "reach"
        return f"the slides of every section {within} {stay.a4_hz:.1f} Hz at every tune"
    if pitch.reason is PitchReason.NONE_REACHED:
        left = round(recommended.worst_cents)
        some = f"about {left} cents" if left > 1 else "a cent or less"
        who = joined(pitch.limited_by)
        return (
            f"not every section can reach one pitch at every tuning, because of {who}: the best "
            f"compromise leaves {some}"
        )
    way = "high" if recommended.a4_hz < stay.a4_hz else "low"
    who = joined(pitch.out_of_reach(stay.a4_hz) or pitch.limited_by)
    return (
        f"{who} cannot come as {way} as {stay.a4_hz:.1f} Hz at every tune; at "
        f"{recommended.a4_hz:.1f} Hz all come within {within_cents(recommended)} cents on average "
        "after each tune"
    )


def within_cents(recommended: PitchChoice) -> int:
    """Return within what every section comes of a pitch that is taken for reached by all.

    A pitch is set in steps of half a hertz, so that a cent more may remain of the five.

    Examples
    --------
    >>> from drift.gig.pitch import PitchChoice
    >>> [within_cents(PitchChoice("recommended", 436.5, left, "tubas")) for left in (2.0, 5.7)]
    [5, 6]
    """
    return max(round(recommended.worst_cents), round(NEAR_CENTS))


def told_choices(pitch: Pitch) -> list[PitchChoice]:
    """Return the choices that differ: for all, or without some, at the same pitch is none."""
    stay, recommended = (round(choice.a4_hz, 1) for choice in pitch.choices[:2])
    taken = {"recommended": stay, "without": recommended}
    return [
        choice
        for choice in pitch.choices
        if taken.get(choice.name.partition(" ")[0]) != round(choice.a4_hz, 1)
    ]


def choice_in_short(pitch: Pitch) -> str:
    """Return the pitches to choose between: for all, and without those that limit it."""
    known = " whose travel is known" if pitch.not_known else ""
    chosen = f"A4 = {pitch.recommended_a4_hz:.1f} Hz for all{known}"
    others = [choice for choice in told_choices(pitch) if choice.name.startswith("without ")]
    return chosen + "".join(f", or {other.a4_hz:.1f} Hz {other.name}" for other in others)


def choice_cells(choice: PitchChoice) -> tuple[str, ...]:
    """Return name, pitch, average error, and how far fixed pitch is from it."""
    names = {
        "stay": f"stay at {round(choice.a4_hz, 1):g}",
        "recommended": "for all sections",
        "follow the band": "no slide is moved",
    }
    worst = f"{choice.average_cents:.0f} cent" + "s" * (round(choice.average_cents) != 1)
    if choice.average_cents >= 0.5:
        worst += f" ({choice.average_section})"
    for name, cents in choice.left_out_cents.items():
        worst += f"; {name} {deviation(cents)}"
    fixed = "–"
    if choice.fixed_section:
        fixed = f"{signed(choice.fixed_cents)} cents ({choice.fixed_section})"
    return names.get(choice.name, choice.name), f"{choice.a4_hz:.1f} Hz", worst, fixed
