"""The order of work in words: which side, which note, which slide, and what to leave alone."""

from __future__ import annotations

import re
from textwrap import fill
from typing import TYPE_CHECKING

from drift.instruments.anatomy import Instrument, Side
from drift.notes import shown, written_of
from drift.slides.moves import MM_UNSEEN

if TYPE_CHECKING:
    from drift.slides.correction import Correction, Move

__all__ = ["in_inches", "in_words", "length", "steps"]

MM_PER_INCH = 25.4
SIXTEENTHS = 16
LINE_WIDTH = 92
SHOWN_MM = 0.05  # less is shown as zero


def in_inches(move_mm: float) -> str:
    """Return a length in inches to the nearest sixteenth, as a rule is read.

    Parameters
    ----------
    move_mm : float
        Length [mm].

    Returns
    -------
    str
        Such as ``1 3/16``.

    Examples
    --------
    >>> in_inches(30.2), in_inches(-6.35), in_inches(0.5)
    ('1 3/16', '-1/4', '0')
    """
    sixteenths = round(abs(move_mm) / MM_PER_INCH * SIXTEENTHS)
    whole, part = divmod(sixteenths, SIXTEENTHS)
    words = [str(whole)] if whole or not part else []
    if part:
        below = SIXTEENTHS
        while part % 2 == 0:
            part, below = part // 2, below // 2
        words.append(f"{part}/{below}")
    sign = "-" if move_mm < 0 and sixteenths else ""
    return f"{sign}{' '.join(words)}"


def length(move_mm: float, *, inches: bool = False) -> str:
    """Return a length for people, in millimetres to a tenth or in sixteenths of an inch.

    Examples
    --------
    >>> length(18.96), length(18.96, inches=True), length(30.2, inches=True)
    ('19.0 mm', '3/4 inch', '1 3/16 inches')
    """
    if not inches:
        return f"{move_mm:.1f} mm"
    text = in_inches(move_mm)
    one_at_most = text == "1" or "/" in text.split()[0]
    return f"{text} {'inch' if one_at_most else 'inches'}"


def tuning_notes(instrument: Instrument, side: Side) -> str:
    """Return the notes to tune a side on, with what the player reads in brackets.

    Examples
    --------
    >>> from drift.instruments import find
    >>> horn = find("double horn")
    >>> tuning_notes(horn, horn.side("Bb"))
    'F4 (written C5), then B♭3 (written F4) and F3 (written C4)'
    """
    names = [_note(instrument, note) for note in side.tuning_notes]
    if len(names) < 2:
        return "".join(names)
    return f"{names[0]}, then {' and '.join(names[1:])}"


def _note(instrument: Instrument, note: str) -> str:
    if not instrument.written_semitones:
        return shown(note)
    return f"{shown(note)} (written {shown(written_of(note, instrument.written_semitones))})"


def steps(correction: Correction, *, inches: bool = False) -> list[str]:
    """Return the order of work, one sentence a step.

    Parameters
    ----------
    correction : Correction
        What to do.
    inches : bool
        Lengths in sixteenths of an inch.

    Returns
    -------
    list of str
        Steps for the player.

    Notes
    -----
    The order, the open notes and the cautions are common practice.
    """
    horn = correction.instrument
    if not correction.moves:
        return ["Nothing can be moved: let the others tune to it."]
    until_warm = f"about {correction.warm_after_minutes:.0f} minutes"
    listed = [f"Warm up first, {until_warm}, where you are going to play."]
    habit = f"{horn.habit[0].upper()}{horn.habit[1:]}. " if horn.habit else ""
    listed.append(f"{habit}Play the note as in the band, and look at the tuner afterwards.")
    listed += [_step(correction, move, inches) for move in correction.moves]
    listed += _valve_step(correction, inches)
    listed.append("Never force a slide that is stuck: leave it to a repairer.")
    return listed


def _step(correction: Correction, move: Move, inches: bool) -> str:
    horn = correction.instrument
    name = f"{shown(move.slide)} slide" if horn.family == "brass" else move.slide
    if _unseen(move.move_mm, inches):
        return f"Leave the {name} where it is" + (
            "; it can go no further." if move.limited else "."
        )
    way, end = ("Pull", "out") if move.move_mm > 0 else ("Push", "in")
    text = f"{way} the {name} {end} by {length(abs(move.move_mm), inches=inches)}"
    if move.to_mm is not None:
        text += f", to {length(move.to_mm, inches=inches)}"
    if not inches and move.high_mm - move.low_mm >= MM_UNSEEN:
        text += f" ({_reach(move)})"
    return f"{_where(horn, move.slide)}{text}{', its end.' if move.limited else '.'}"


def _reach(move: Move) -> str:
    """Return how far a move may have to go, in the direction it is told in where it has one.

    Examples
    --------
    >>> from drift.slides.correction import Move
    >>> _reach(Move("main", -13.3, -23.1, -3.3, None, False))
    'between 3.3 and 23.1 mm'
    >>> _reach(Move("main", -2.0, -5.1, 2.0, None, False))
    'from 2.0 mm out to 5.1 mm in'
    """
    inward, outward = max(-move.low_mm, 0.0), max(move.high_mm, 0.0)
    if inward >= SHOWN_MM and outward >= SHOWN_MM:
        against, along = f"{inward:.1f} mm in", f"{outward:.1f} mm out"
        if move.move_mm < 0:
            against, along = along, against
        return f"from {against} to {along}"
    near, far = sorted((abs(move.low_mm), abs(move.high_mm)))
    return f"between {near:.1f} and {far:.1f} mm"


def _where(horn: Instrument, slide: str) -> str:
    """Return the side and the notes on which a slide is set."""
    side = horn.side(horn.slide(slide).sides[0])
    words = [f"{shown(side.name)} side"] if side.name else []
    words += ["open notes"] if horn.family == "brass" else []
    heading = ", ".join(words) or "tuning note"
    notes = f": {tuning_notes(horn, side)}" if side.tuning_notes else ""
    return f"{heading[0].upper()}{heading[1:]}{notes}. "


def _unseen(move_mm: float, inches: bool) -> bool:
    """Return whether a move is too small to be read off the rule."""
    return abs(move_mm) < MM_UNSEEN or (inches and in_inches(move_mm) == "0")


def _valve_step(correction: Correction, inches: bool) -> list[str]:
    """Return the step for the valve slides, where any is worth its while."""
    moves: dict[str, list[str]] = {"pull": [], "push": []}
    for loop in correction.valve_slides:
        if not _unseen(loop.move_mm, inches):
            name = f"{shown(loop.side)} {loop.valve}".strip()
            far = length(abs(loop.move_mm), inches=inches)
            moves["pull" if loop.move_mm > 0 else "push"].append(f"{name} by {far}")
    told = "; ".join(f"{way} {', '.join(each)}" for way, each in moves.items() if each)
    if not told:
        return []
    return [f"Valve slides, pressing the valve while you move its slide: {told}."]


def in_words(correction: Correction, *, inches: bool = False) -> str:
    """Return the whole answer for a player: what to expect, what to do, what stays."""
    lines = [_heading(correction), *_expected(correction), ""]
    for number, text in enumerate(steps(correction, inches=inches), 1):
        lines.append(_wrapped(f"{number}. {text}", indent="   "))
    lines += ["", _left_over(correction), *_left_alone(correction)]
    lines += [
        f"The {shown(slide)} slide is taken as measured"
        + (f" on the {shown(side)} side" if side else "")
        + f": {measured:.2f} cents/mm (its length alone says "
        f"{correction.instrument.cents_per_mm(side, slide):.2f})."
        for (slide, side), measured in correction.calibration.items()
    ]
    lines += [f"note: {warning}" for warning in correction.warnings]
    return "\n".join(lines)


def _heading(correction: Correction) -> str:
    tuned, there = (round(t, 1) for t in (correction.tuned_celsius, correction.celsius))
    return (
        f"{shown(correction.instrument.name)}: tuned at {tuned:g} °C after "
        f"{correction.tuned_minutes:g} minutes of playing, going to {there:g} °C after "
        f"{correction.minutes:g}"
    )


def _expected(correction: Correction) -> list[str]:
    expected = next(iter(correction.expected_cents.values()))
    way = "sharp" if expected.estimate >= 0 else "flat"
    return [
        f"Expected: {abs(expected.estimate):.1f} cents {way} "
        f"({expected.low:+.1f} to {expected.high:+.1f})"
    ]


def _left_over(correction: Correction) -> str:
    left = {s: c for s, c in correction.left_over_cents.items() if abs(c) >= 0.05}
    notes = " on the open notes" if correction.instrument.family == "brass" else ""
    if not left:
        return f"Left over: nothing{notes}."
    parts = [f"{shown(side)} {cents:+.1f}".strip() for side, cents in left.items()]
    return f"Left over{notes}: {', '.join(parts)} cents."


def _left_alone(correction: Correction) -> list[str]:
    """Return what valve combinations do, sides that do alike on one line."""
    sides_of: dict[str, list[str]] = {}
    for side, by_combination in correction.valve_left_over_cents.items():
        cents = ", ".join(f"{name} {value:+.1f}" for name, value in by_combination.items())
        sides_of.setdefault(cents, []).append(shown(side))
    lines = []
    for cents, sides in sides_of.items():
        where = f" on the {' and '.join(sides)} side" if len(sides_of) > 1 else ""
        lines.append(
            _wrapped(
                f"If the valve slides stay where they are, these combinations{where} are off by "
                f"(cents): {cents}."
            )
        )
    return lines


def _wrapped(text: str, indent: str = "") -> str:
    """Return a text in lines for a terminal, a number and its unit never apart."""
    together = re.sub(r" (?=mm\b|inch|cents\b|[+-]\d)", "\N{NO-BREAK SPACE}", text)
    lines = fill(together, LINE_WIDTH, subsequent_indent=indent, break_on_hyphens=False)
    return lines.replace("\N{NO-BREAK SPACE}", " ")
