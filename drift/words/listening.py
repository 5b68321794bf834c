"""What was heard in a sound, in words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from drift.capture.heard import Declined, Heard, Verdict, Why
from drift.capture.lately import Condition, Trace
from drift.capture.levels import Level
from drift.capture.listening import Listening, Nothing, clock, longest_refusal
from drift.capture.saving import Misplaced, Saved
from drift.notes import shown
from drift.words.cents import signed
from sensors.tones import Reason, Refusal

if TYPE_CHECKING:
    from drift.capture.proposals import Proposal

__all__ = [
    "describe_condition",
    "describe_findings",
    "describe_heard",
    "describe_lately",
    "describe_level",
    "describe_listening",
    "describe_proposal",
    "describe_refusal",
    "describe_saved",
    "describe_verdict",
]

_LEVELS = {
    Level.GOOD: "the microphone hears well again",
    Level.SOFT: "the microphone hears too little: move it nearer, or raise its level",
    Level.CLIPPED: "the sound is clipped: move the microphone away, or lower its level",
}

_CONDITIONS = {
    Condition.GOOD: "Level: good.",
    Condition.SOFT: "Level: too soft. Move the microphone nearer, or raise its level.",
    Condition.CLIPPED: "Level: clipped. Move the microphone away, or lower its level.",
    Condition.ROOM: "Level: good, but much echo or a second player. Move the microphone nearer.",
}

_SOUNDS = {
    Reason.SILENCE: "silence",
    Reason.NO_PITCH: "no steady pitch",
    Reason.SHORT: "too short",
    Reason.LONG: "longer than a breath",
    Reason.GLIDES: "pitch glides",
    Reason.UNSTEADY: "pitch unsteady",
    Reason.CHORD: "two notes at once",
    Reason.OCTAVE: "octave in doubt: two notes at once, or one below E1 that is too short",
    Reason.CLIPPED: "clipped: record at a lower level",
    Reason.MAINS: "mains hum",
    Reason.HIGH: "above C7 and not steady, or above C8, the highest note that is measured",
    Reason.LOW: "two notes at once, or one below E1 that is too short: hold it two seconds",
    Reason.PAIR: "two players on one note, or strong echo: play alone, nearer the microphone",
}


def describe_refusal(item: Refusal | Declined) -> str:
    """Return why a sound is not a reading.

    Examples
    --------
    >>> describe_refusal(Refusal(0.0, 1.0, Reason.SHORT))
    'too short'
    >>> describe_refusal(Declined(0.0, 1.0, Why.BETWEEN_NOTES, "F4", 47.0))
    '+47 cents from F4: between two notes'
    >>> describe_refusal(Declined(0.0, 1.0, Why.BETWEEN_NOTES, "F4", -47.0))
    '−47 cents from F4: between two notes'
    """
    if isinstance(item, Refusal):
        return _SOUNDS[item.reason]
    note = shown(item.note)
    if item.reason is Why.BETWEEN_NOTES:
        return f"{signed(item.cents)} cents from {note}: between two notes"
    if item.reason is Why.OUTSIDE_COMPASS:
        assert item.instrument is not None
        low, high = (shown(end) for end in item.instrument.compass)
        return f"{note} is outside the compass of {shown(item.instrument.name)} ({low} to {high})"
    if item.reason is Why.NOT_ASKED:
        return f"{note} is not among the notes asked for"
    if item.reason is Why.NO_SIDE:
        return f"the side of {note} is not given"
    if item.reason is Why.NOBODYS:
        return f"{note}: outside the part or the turns that were asked for"
    return f"{note}: two players or strong echo. Play alone, nearer the microphone."


def describe_heard(item: Heard) -> str:
    """Return a reading on one line."""
    side = f" on the {shown(item.side)} side" if item.side else ""
    return f"{shown(item.note)} {item.cents:+z.1f} cents{side}"


def describe_verdict(item: Heard, *, alone: bool = False) -> str:
    """Return whether one player made a tone, and what helps where that is in doubt.

    Parameters
    ----------
    item : Heard
        The tone.
    alone : bool, default False
        Whether a decision rests on this reading alone, so that a doubtful one gives no pitch.
    """
    if item.verdict is Verdict.ONE_PLAYER:
        return f"One player; pitch good to ±{_twice(item)} cents."
    if item.verdict is Verdict.LIVE_ROOM:
        return "Probably one player in a live room; counted, but check that nobody else played."
    if alone:
        return "No pitch given: two players or strong echo. Play alone, nearer the microphone."
    return (
        "Maybe two players, or strong echo; this note counts little. "
        "Play alone, nearer the microphone."
    )


def describe_proposal(proposal: Proposal) -> str:
    """Return a proposed reading on one line of a list."""
    item = proposal.heard
    seconds = item.tone.end_s - item.tone.start_s
    doubt = "" if item.verdict is Verdict.ONE_PLAYER else f". {describe_verdict(item)}"
    return (
        f"{proposal.number}: {describe_heard(item)} ±{_twice(item)}, "
        f"spread {item.tone.spread_cents:.1f} ({seconds:.1f} s){doubt}"
    )


def describe_level(level: Level) -> str:
    """Return how well the microphone hears, and what helps."""
    return _LEVELS[level]


def describe_condition(condition: Condition) -> str:
    """Return how well a sound can be measured now, and what helps."""
    return _CONDITIONS[condition]


def describe_lately(trace: Trace, began: datetime) -> list[str]:
    """Return what was taken and refused in the last minutes and why, a line each, then the level.

    Parameters
    ----------
    trace : Trace
        What was heard.
    began : datetime
        When listening began, aware.
    """
    lines = []
    for item in trace.items:
        start = item.tone.start_s if isinstance(item, Heard) else item.start_s
        time = f"{(began + timedelta(seconds=start)).astimezone():%H:%M:%S}"
        if isinstance(item, Heard):
            what = f"taken: {describe_heard(item)}"
        else:
            what = f"refused: {describe_refusal(item)}"
        lines.append(f"{time}  {what}")
    lines = lines or ["nothing was taken or refused in the last three minutes"]
    return [*lines, describe_condition(trace.condition)]


def describe_listening(listening: Listening) -> str:
    """Return the readings of a recording and what was not taken, a line each."""
    about = listening.recording
    channels = "mono" if about.channels == 1 else f"{about.channels} channels"
    lines = [
        f"{about.path.name}: {clock(about.seconds)}, {about.rate} Hz, {channels}, {about.kind}"
    ]
    for item in listening.heard:
        note = shown(item.note) + (f" ({shown(item.side)} side)" if item.side else "")
        lines.append(
            f"  {_span(item.tone.start_s, item.tone.end_s)}  {note:<14}{item.cents:+7.2f} cents  "
            f"±{_twice(item)}   spread {item.tone.spread_cents:.1f}"
        )
        if item.verdict is not Verdict.ONE_PLAYER:
            lines.append(f"{'':27}{describe_verdict(item)}")
    lines += [f"  {text}" for text in describe_findings(listening).values()]
    if listening.refused:
        lines.append("not taken:")
    for refusal in listening.refused:
        lines.append(f"  {_span(refusal.start_s, refusal.end_s)}  {describe_refusal(refusal)}")
    return "\n".join(lines)


def describe_findings(listening: Listening) -> dict[str, str]:
    """Return what is worth knowing of a recording as a whole: a sentence by its code."""
    found = {}
    if listening.inverted:
        found["inverted"] = (
            "One channel is the other upside down (a cable or switch reversed the polarity); "
            "it was left out."
        )
    nothing = listening.found_nothing
    if nothing is Nothing.SILENT:
        found[nothing.value] = (
            "The recording is silent. Check the microphone, its cable and the level."
        )
    elif nothing is Nothing.SHORT:
        found[nothing.value] = (
            "The recording is too short for a tone. Hold single notes for two seconds."
        )
    elif nothing is Nothing.REFUSED:
        reason = describe_refusal(longest_refusal(listening.refused))
        found[nothing.value] = f"Nothing was taken, mostly for this reason: {reason}"
    return found


def describe_saved(saved: Saved, book: str) -> list[str]:
    """Return what became of the readings of recordings, a line each."""
    lines = [f"saved {saved.new} readings in {book}"]
    if saved.already:
        lines[0] += f"; {saved.already} were there already"
    if saved.changed and saved.replaced:
        lines.append(f"replaced {len(saved.changed)}; the old ones are undone:")
    elif saved.changed:
        lines.append(
            f"{len(saved.changed)} were saved otherwise before, and were left as they are "
            "(--replace undoes the old ones and saves the new):"
        )
    lines += [
        f"  {_row(item.before)} -> {_row(item.now.reading.values())}" for item in saved.changed
    ]
    if saved.others:
        lines.append(
            f"check the player: readings of the same recording were saved for "
            f"{', '.join(saved.others)}"
        )
    for where, count in saved.misplaced.items():
        lines.append(f"check the start: {count} of them {_PLACES[where]}")
    return lines


_PLACES = {
    Misplaced.OUTSIDE: "lie outside the rehearsal as it was logged",
    Misplaced.REST: "lie in a rest",
}


def _row(row: Mapping[str, Any]) -> str:
    """Return a reading with whatever a second listening may change."""
    side = f" on the {shown(row['side'])} side" if row["side"] else ""
    time = row["time"].astimezone().isoformat(" ", "seconds")
    return f"{time} {shown(row['note'])} {row['cents']:+z.1f} cents{side}, A4 {row['a4_hz']:g} Hz"


def _span(start_s: float, end_s: float) -> str:
    return f"{clock(start_s):>9} to {clock(end_s):>9}"


def _twice(item: Heard) -> str:
    """Return twice the standard uncertainty: the pitch lies within it 19 times in 20."""
    twice = 2 * item.tone.cents_sd
    return f"{twice:.2f}" if twice < 1 else f"{twice:.1f}"
