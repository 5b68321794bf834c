"""The error that slides cannot take away, by side, and what to do about it."""

from __future__ import annotations

from collections.abc import Mapping

from drift.gig.pitch import a4_after, settable_a4
from drift.notes import shown
from drift.slides.caveats import HEARD_CENTS, About
from drift.slides.correction import Correction
from drift.tonight.decision import NOTICED_CENTS, Action

__all__ = ["by_side", "remaining_error", "what_remains", "what_to_do"]


def what_remains(correction: Correction) -> list[str]:
    """Return what remains after the moves, and what to do about it; nothing where none is made."""
    if correction.decision.action is not Action.MOVE:
        return []
    return [*filter(None, (remaining_error(correction), what_to_do(correction)))]


def by_side(remaining_cents: Mapping[str, float]) -> str:
    """Return the error of each side where it can be heard; empty where none can.

    Examples
    --------
    >>> by_side({"F": -9.3, "Bb": -16.3}), by_side({"": 22.1}), by_side({"": 0.2})
    ('F side 9 cents flat, B♭ side 16 cents flat', '22 cents sharp', '')
    """
    return ", ".join(
        (f"{shown(side)} side " if side else "") + in_cents(cents)
        for side, cents in remaining_cents.items()
        if abs(cents) >= HEARD_CENTS
    )


def in_cents(cents: float) -> str:
    """Return whole cents, sharp or flat.

    Examples
    --------
    >>> in_cents(-0.7), in_cents(22.1)
    ('1 cent flat', '22 cents sharp')
    """
    whole = max(round(abs(cents)), 1)
    return f"{whole} cent{'s' if whole > 1 else ''} {'sharp' if cents > 0 else 'flat'}"


def remaining_error(correction: Correction) -> str:
    """Return the error that remains after the moves, in one sentence."""
    notes = " on the open notes" if correction.instrument.family == "brass" else ""
    return f"Remaining error{notes}: {by_side(correction.remaining_cents) or 'none'}."


def what_to_do(correction: Correction) -> str:
    """Return what to do about an error that listeners notice; empty where there is none.

    Notes
    -----
    That the player tells the director, who can lower or raise the common pitch, and takes the
    rest with the lip, is common practice.
    """
    worst = max(correction.remaining_cents.values(), key=abs, default=0.0)
    if abs(worst) < NOTICED_CENTS:
        return ""
    way = "up" if worst < 0 else "down"
    lip = f"lip the notes {way}" if correction.instrument.family == "brass" else "tune by ear"
    if not _cured_by_a4(correction):
        return f"Tell the director before the band tunes, and {lip}."
    hertz = settable_a4(a4_after(worst, correction.a4_hz), correction.a4_hz)
    return (
        f"Tell the director before the band tunes: if the band's A4 were {round(abs(worst))} cents "
        f"{'lower' if worst < 0 else 'higher'} ({hertz:g} Hz in place of "
        f"{round(correction.a4_hz, 1):g} Hz), your slides would do. If not, {lip}."
    )


def _cured_by_a4(correction: Correction) -> bool:
    """Return whether another pitch of the band brings every side within reach of the slides."""
    signs = {cents > 0 for cents in correction.remaining_cents.values() if abs(cents) > HEARD_CENTS}
    stuck = any(notice.kind is About.STUCK for notice in correction.notices)
    return len(signs) == 1 and not stuck
