"""A tuning in words, beside its steps: how it begins, what was typed, how it stops."""

from __future__ import annotations

from math import ceil

from drift.logbook.records import Event, Reading, Record, Temperature
from drift.notes import shown, written_of
from drift.quantities import METRIC, Units
from drift.slides.tuning_begun import Begun
from drift.slides.tuning_sitting import Doubted, Taken
from drift.tonight.tuning_steps import Tuning
from drift.words.cents import degrees, deviation, position, slide_name, slide_noun
from drift.words.letters import capital

__all__ = [
    "AIR",
    "STOPPED",
    "WARMED",
    "doubted_in_words",
    "introduction",
    "resumed_in_words",
    "stopped_by_a4",
    "taken_in_words",
]

STOPPED = "Stopped: what was read and set so far is saved."
WARMED = (
    "Then press Enter. Or type how many minutes more you played (8), or how many in all "
    "(played 20), or skip."
)
AIR = "How warm is the room? Such as 21 or 70F; Enter: not known."
OUTDATED = (
    "Playing of an earlier tuning is not counted: no note was read since. Say it again (played 20) "
    "if you have played on."
)

STEPS_A_SIDE, STEPS_A_VALVE, STEP_MINUTES = 7, 2, 0.3
"""A side takes about five notes and two moves (see the explanation of tuning), a valve slide one
of each; a step some twenty seconds."""


def stopped_by_a4(a4_hz: float, before_hz: float) -> str:
    """Return why a tuning stops when A4 is another, and how it goes on.

    Examples
    --------
    >>> stopped_by_a4(442.0, 440.0)[:43]
    'Stopped: A4 is 442 Hz now, it was 440 Hz. B'
    """
    return (
        f"Stopped: A4 is {a4_hz:g} Hz now, it was {before_hz:g} Hz. Begin again: what was read is "
        "counted from there."
    )


def introduction(tuning: Tuning, a4_hz: float = 440.0) -> str:
    """Return what will happen and how long it takes; empty where nothing can be tuned.

    Parameters
    ----------
    tuning : Tuning
        At its beginning.
    a4_hz : float
        What the tuner is set to [Hz].

    Examples
    --------
    >>> from drift.instruments import find
    >>> from drift.tonight.tuning import begin_tuning
    >>> print(introduction(begin_tuning(find("flute"))))
    Head joint: one long note or one move at a time, about 3 minutes. A4 = 440 Hz.
    """
    if not tuning.sides or not tuning.instrument.slides:
        return ""
    one = slide_noun(tuning.instrument.slides[0].name, tuning.instrument.name)
    parts = [f"{shown(side)} side" if side else one for side in tuning.sides]
    valves = ["then the valve slides"] if tuning.valves else []
    steps = STEPS_A_SIDE * len(tuning.sides) + STEPS_A_VALVE * len(tuning.valves)
    minutes = ceil(steps * STEP_MINUTES)
    what = capital(", ".join([*parts, *valves]))
    habit = f" {capital(tuning.instrument.habit)}." if tuning.instrument.habit else ""
    return (
        f"{what}: one long note or one move at a time, about {minutes} minutes. A4 = {a4_hz:g} Hz."
        f"{habit}"
    )


def resumed_in_words(begun: Begun, units: Units = METRIC) -> str:
    """Return what is kept of a tuning that goes on, or not counted; empty where nothing is.

    Parameters
    ----------
    begun : Begun
        The tuning at its beginning.
    units : Units
        Of the player.
    """
    if begun.resumed is None:
        return OUTDATED if begun.outdated else ""
    counts = {"note": begun.resumed.readings, "move": begun.resumed.moves}
    kept = [f"{n} {what}{'' if n == 1 else 's'}" for what, n in counts.items() if n]
    saved = f"{' and '.join(kept)} {'is' if sum(counts.values()) == 1 else 'are'} kept"
    slides = ", ".join(
        f"{slide_name(name, begun.tuning.instrument.name)} at {_place(mm, units)}"
        for name, mm in begun.tuning.belief.positions_mm.items()
    )
    where = f" Slides: {slides}." if slides else ""
    goes_on = "This tuning was broken off and goes on where it stopped"
    if kept:
        return f"{goes_on}: {saved}.{where}"
    played = begun.minutes if begun.resumed.minutes is None else begun.tuning.belief.minutes
    if played is not None:
        minutes = f"{played:.0f} minute{'' if round(played) == 1 else 's'}"
        return f"{goes_on}, as warm as after {minutes} of playing.{where}"
    return f"This tuning was broken off before a note was read; begin as before.{where}"


def taken_in_words(taken: Taken, units: Units = METRIC, *, semitones: int = 0) -> str:
    """Return what an answer came to; empty where the next step says it.

    Parameters
    ----------
    taken : Taken
        What it came to.
    units : Units
        Of the player.
    semitones : int
        How much higher the player reads the notes.

    Examples
    --------
    >>> taken_in_words(Taken(minutes=18.0))
    '18 minutes played in all'
    >>> taken_in_words(Taken(minutes=18.0, undone=True))
    'undone: 18 minutes played in all'
    """
    if taken.doubted is not None:
        return doubted_in_words(taken.doubted, units)
    told = [
        _record(record, units, semitones)
        for record in taken.records
        if taken.undone or not isinstance(record, Reading)
    ]
    if taken.minutes is not None:
        told.append(f"{taken.minutes:.0f} minutes played in all")
    text = ", ".join(filter(None, told))
    return f"undone: {text or 'the last answer'}" if taken.undone else text


def doubted_in_words(doubted: Doubted, units: Units = METRIC) -> str:
    """Return how a position is asked back.

    Parameters
    ----------
    doubted : Doubted
        The position.
    units : Units
        Of the player.

    Examples
    --------
    >>> print(doubted_in_words(Doubted("main", 1.0, 21.5)))
    main at 1 mm? Asked was 21.5. Type it again to keep it, or where the slide is (Enter: 21.5).
    What the tuner shows has a sign, such as +7, and is typed when a note is asked for.
    """
    sign = "inch" if units.inches else "mm"
    name = slide_name(doubted.slide, doubted.instrument)
    at = f"{name} at {_place(doubted.position_mm, units)} {sign}?"
    if doubted.asked_mm is None:
        return f"{at} That is far out. Type it again to keep it, or where the slide is."
    asked = _place(doubted.asked_mm, units)
    return (
        f"{at} Asked was {asked}. Type it again to keep it, or where the slide is "
        f"(Enter: {asked}).\nWhat the tuner shows has a sign, such as +7, and is typed when a "
        "note is asked for."
    )


def _place(position_mm: float, units: Units) -> str:
    """Return where a slide is, as it is saved."""
    return position(position_mm, units) if units.inches else f"{position_mm:g}"


def _record(record: Record, units: Units, semitones: int) -> str:
    if isinstance(record, Temperature):
        return f"air {degrees(record.celsius, units)}"
    if isinstance(record, Reading):
        note = shown(written_of(record.note, semitones) if semitones else record.note)
        return f"{note} {deviation(record.cents)}"
    if isinstance(record, Event) and record.slide and record.position_mm is not None:
        name = slide_name(record.slide, record.instrument)
        return f"{name} at {_place(record.position_mm, units)}"
    return ""
