"""Slide corrections in words: what to expect, the order of work, and what to know about it."""

from __future__ import annotations

import re
from textwrap import fill

from drift.instruments.anatomy import Instrument
from drift.notes import shown
from drift.quantities import Units, in_inches
from drift.slides.correction import About, Caveat, Correction, Move
from drift.slides.moves import MM_UNSEEN
from drift.tonight.decision import Action, Reason, round_mm
from drift.words.cents import a4, air, deviation, order, slide_noun
from drift.words.cents import length as rounded
from drift.words.intervals import in_brackets
from drift.words.remaining_error import what_remains
from drift.words.tuning_notes import tuning_notes
from drift.words.warming import counts_on, warm_up
from drift.words.where_tuned import tuned_at, tuned_positions, tuned_to

__all__ = [
    "answer",
    "between",
    "length",
    "move_in_words",
    "moved_since",
    "moves_from_now",
    "notices",
    "off_where_tuned",
    "orders",
    "steps",
    "valve_step",
]

LINE_WIDTH = 92
SIXTEENTHS = 16


def length(move_mm: float, *, inches: bool = False, step_mm: float = 0.5) -> str:
    """Return a length for people, to a step in millimetres or in sixteenths of an inch.

    Examples
    --------
    >>> length(18.96), length(4.4), length(18.96, inches=True), length(30.2, inches=True)
    ('19 mm', '4.5 mm', '3/4 inch', '1 3/16 inches')
    """
    return rounded(move_mm, Units(inches=inches), step_mm, SIXTEENTHS)


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
    instrument = correction.instrument
    if not instrument.slides:
        if instrument.fixed_pitch is None:
            return [
                f"No rule in millimetres holds for the {shown(instrument.name)}.",
                instrument.remark,
            ]
        return ["This instrument cannot be tuned: the others tune to it."]
    listed = [" ".join(filter(None, (warm_up(correction), counts_on(correction))))]
    if correction.decision.action is not Action.MOVE:
        return [*listed, *orders(correction, inches=inches)]
    habit = instrument.habit
    listed.append(
        (f"{habit[0].upper()}{habit[1:]}. " if habit else "")
        + "Play the note as you would in the band; look at the tuner only afterwards."
    )
    listed += [_step(correction, move, inches) for move in moves_from_now(correction)]
    listed += valve_step(correction, inches)
    listed.append("Never force a slide that is stuck: leave it to a repairer.")
    return listed


def orders(correction: Correction, *, inches: bool = False) -> list[str]:
    """Return what to do with each slide that moves, a sentence each, and nothing else.

    A move is counted from where its slide is logged now, which may not be where it was tuned.
    """
    leave = correction.decision.action is not Action.MOVE
    moves = _back(correction) if leave else moves_from_now(correction)
    told = [
        f"{_told(correction, move, inches)}." for move in moves if not _unseen(move.move_mm, inches)
    ]
    if leave:
        return [_leave(correction, back=bool(told)), *told]
    return told or [_nowhere_to_go(correction)]


def moves_from_now(correction: Correction) -> list[Move]:
    """Return the moves, counted from where slides are now that were moved since the tuning."""
    now = correction.moved_to_mm
    return [
        move.counted_from(now[move.slide])
        if move.slide in now and not _stuck(correction, move.slide)
        else move
        for move in correction.moves
    ]


def _back(correction: Correction) -> list[Move]:
    """Return the moves that bring slides back to where they were tuned."""
    return [
        Move(slide, at - now, at - now, at - now, now, at)
        for slide, now in correction.moved_to_mm.items()
        if not _stuck(correction, slide)
        for at in (correction.at[slide],)
    ]


def _leave(correction: Correction, *, back: bool) -> str:
    what = "Set the slides as they were tuned" if back else "Leave the slides where they are"
    if correction.decision.reason is Reason.UNSURE:
        return f"{what} and tune by ear: the move is too uncertain."
    cents = round(abs(correction.decision.cents))
    few = f"{cents} cents are" if cents != 1 else "1 cent is"
    return f"{what}: {few} hardly noticed."


def _nowhere_to_go(correction: Correction) -> str:
    at_end = any(move.at_end_of_travel for move in correction.moves)
    why = "can go no further" if at_end else "are where they have to go"
    return f"Leave the slides where they are: they {why}."


def _stuck(correction: Correction, slide: str) -> bool:
    return any(n.kind is About.STUCK and n.slide == slide for n in correction.notices)


def _step(correction: Correction, move: Move, inches: bool) -> str:
    where = _where(correction.instrument, move.slide)
    name = _name(correction.instrument, move.slide)
    if _unseen(move.move_mm, inches):
        return f"Leave the {name} where it is{_why_left(correction, move)}."
    return f"{where}{_told(correction, move, inches)}."


def _told(correction: Correction, move: Move, inches: bool) -> str:
    instrument = correction.instrument
    name = _name(instrument, move.slide)
    return move_in_words(move, name, inches=inches, step_mm=instrument.step_mm)


def _why_left(correction: Correction, move: Move) -> str:
    """Return why a slide that would have to move is left where it is."""
    if not move.at_end_of_travel:
        return ""
    return ": it is stuck" if _stuck(correction, move.slide) else ": it can go no further"


def move_in_words(move: Move, name: str, *, inches: bool = False, step_mm: float = 0.5) -> str:
    """Return a move as an order, with its interval; lengths to what an eye can set.

    Parameters
    ----------
    move : Move
        The move.
    name : str
        What the slide is called.
    inches : bool
        Lengths in sixteenths of an inch.
    step_mm : float
        Step in which its slides are set [mm].

    Examples
    --------
    >>> move_in_words(Move("main", 18.96, 17.0, 20.9, 12.0, 30.96), "main slide")
    'Pull the main slide out 19 mm, to 31 mm (17 to 21 mm out)'
    >>> move_in_words(Move("main", -2.0, -5.1, 2.0), "main slide")
    'Push the main slide in 2 mm (5 mm in to 2 mm out)'
    >>> move_in_words(Move("F", -14.4, -14.4, -6.1, 14.4, 0.0, at_end_of_travel=True), "F slide")
    'Push the F slide in 14.5 mm, fully in (6 to 14.5 mm in)'
    """
    far = length(move.move_mm, inches=inches, step_mm=step_mm)
    if move.to_mm is not None and move.to_mm < MM_UNSEEN:
        text = f"{order(name, move.move_mm, far)}, fully in"
    else:
        to = "" if move.to_mm is None else length(move.to_mm, inches=inches, step_mm=step_mm)
        text = order(name, move.move_mm, far, to)
        text += ", the end of its travel" if move.at_end_of_travel else ""
    if not inches and move.high_mm - move.low_mm >= MM_UNSEEN:
        text += f" ({between(move, step_mm)})"
    return text


def between(move: Move, step_mm: float = 0.5) -> str:
    """Return from where to where a move may have to go, the nearer end first."""
    low, high = round_mm(move.low_mm, step_mm), round_mm(move.high_mm, step_mm)
    if low < 0.0 < high:
        return f"{-low:g} mm in to {high:g} mm out"
    near, far = sorted((abs(low), abs(high)))
    return f"{near:g} to {far:g} mm {'out' if high > 0 or move.move_mm > 0 else 'in'}"


def _name(instrument: Instrument, slide: str) -> str:
    noun = slide_noun(slide, instrument.name)
    brass = instrument.family == "brass"
    return f"{noun} slide" if brass and not noun.endswith("slide") else noun


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


def valve_step(correction: Correction, inches: bool) -> list[str]:
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
    only = " Push none further in than it is out." if moves["push"] else ""
    return [f"Valve slides, pressing the valve while you move its slide: {told}.{only}"]


def answer(correction: Correction, *, inches: bool = False) -> str:
    """Return the whole answer for a player: what to expect, what to do, what remains."""
    lines = [_wrapped(_heading(correction, inches)), *_expected(correction), ""]
    for number, text in enumerate(steps(correction, inches=inches), 1):
        lines.append(_wrapped(f"{number}. {text}", indent="   "))
    if correction.decision.action is Action.MOVE:
        brackets = [] if inches else [in_brackets(correction)]
        told = filter(None, (*what_remains(correction), *brackets))
        lines += ["", *map(_wrapped, told), *_left_alone(correction)]
    lines += [
        f"The {_name(correction.instrument, slide)} does"
        + (f" on the {shown(side)} side" if side else "")
        + f" {measured:.2f} cents/mm as measured (calculated from its length: "
        f"{correction.instrument.cents_per_mm(side, slide):.2f})."
        for (slide, side), measured in correction.calibration.items()
    ]
    lines += [_wrapped(f"note: {text}") for text in notices(correction, inches=inches)]
    return "\n".join(lines)


def notices(correction: Correction, *, inches: bool = False) -> list[str]:
    """Return what to know about a correction, a line each.

    What the order of work and the remaining error say already is not repeated.
    """
    said = {About.STUCK, About.END_OF_TRAVEL, About.REMAINING}
    return [
        _notice(notice, correction, inches)
        for notice in correction.notices
        if notice.kind not in said
    ]


def _notice(notice: Caveat, correction: Correction, inches: bool) -> str:
    if notice.kind is About.OFF_WHERE_TUNED:
        return off_where_tuned(notice, correction, inches)
    if notice.kind is About.EXTRAPOLATED:
        return (
            f"{round(notice.value or 0.0, 1):g} °C is outside the temperatures measured so far: "
            "the answer there is extrapolated"
        )
    if notice.kind is About.MOVED_SINCE:
        return f"{moved_since(notice, correction, inches)}: {_instead(notice, correction, inches)}"
    name = _name(correction.instrument, notice.slide)
    if notice.kind is About.BEYOND_USUAL:
        usual = length(notice.value or 0.0, inches=inches)
        return f"the {name} of most models comes out about {usual}: give the travel of yours"
    return (
        f"the position of the {name} is not known: before pushing it in, check that it is pulled "
        "out at least that far"
    )


def moved_since(notice: Caveat, correction: Correction, inches: bool = False) -> str:
    """Return where a slide was when it was tuned, and where it was logged last."""
    step_mm = correction.instrument.step_mm
    tuned = length(correction.at[notice.slide], inches=inches, step_mm=step_mm)
    now = length(notice.value or 0.0, inches=inches, step_mm=step_mm)
    name = _name(correction.instrument, notice.slide)
    return f"the {name} was at {tuned} when tuned and is logged at {now} now"


def _instead(notice: Caveat, correction: Correction, inches: bool) -> str:
    """Return what its order makes of a slide that is no longer where it was tuned."""
    if _stuck(correction, notice.slide):
        return "the answer takes it to be where it was tuned"
    move = next(move for move in moves_from_now(correction) if move.slide == notice.slide)
    if correction.decision.action is Action.MOVE and _unseen(move.move_mm, inches):
        return "leave it there, it is where it has to go"
    return "its move is counted from where it is now"


def _heading(correction: Correction, inches: bool) -> str:
    tuned, there = (air(c, both=inches) for c in (correction.tuned_celsius, correction.celsius))
    return (
        f"{shown(correction.instrument.name)}: tuned{tuned_to(correction)} "
        f"{tuned_at(correction, tuned)}, going to {there} after {correction.minutes:g}"
    )


def off_where_tuned(notice: Caveat, correction: Correction, inches: bool = False) -> str:
    """Return that readings contradict the tuning that an answer starts from."""
    side = f"the {shown(notice.side)} side" if notice.side else "it"
    there = f"{tuned_positions(correction, inches=inches)}, {correction.tuned_celsius:g} °C"
    return (
        f"by the readings {side} is {deviation(notice.value or 0.0)} where it is assumed to be in "
        f"tune ({there}): tune first"
    )


def _expected(correction: Correction) -> list[str]:
    expected = next(iter(correction.expected_cents.values()))
    way = "sharp" if expected.estimate >= 0 else "flat"
    return [
        f"Expected, for {a4(correction.a4_hz)}: {abs(expected.estimate):.1f} cents {way} "
        f"({expected.low:+.1f} to {expected.high:+.1f})"
    ]


def _left_alone(correction: Correction) -> list[str]:
    """Return what valve combinations do, sides that do alike on one line."""
    sides_of: dict[str, list[str]] = {}
    for side, by_combination in correction.valve_remaining_cents.items():
        cents = ", ".join(f"{name} {value:+.1f}" for name, value in by_combination.items())
        sides_of.setdefault(cents, []).append(shown(side))
    lines = []
    for cents, sides in sides_of.items():
        where = f" on the {' and '.join(sides)} side" if len(sides_of) > 1 else ""
        lines.append(
            _wrapped(
                f"If you leave the valve slides alone, these combinations{where} are off by "
                f"(cents): {cents}."
            )
        )
    return lines


def _wrapped(text: str, indent: str = "") -> str:
    """Return a text in lines for a terminal, a number and its unit never apart."""
    together = re.sub(r" (?=mm\b|inch|cents\b|[+-]\d)", "\N{NO-BREAK SPACE}", text)
    lines = fill(together, LINE_WIDTH, subsequent_indent=indent, break_on_hyphens=False)
    return lines.replace("\N{NO-BREAK SPACE}", " ")
