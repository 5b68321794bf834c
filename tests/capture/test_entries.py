"""What may be typed, and what is said to what may not."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.capture.earlier import ClockTime
from drift.capture.entries import (
    HELP,
    Choose,
    Decide,
    Earlier,
    Note,
    Play,
    Remark,
    Slide,
    Target,
    TypedTemperature,
    Word,
    parse_entry,
)
from drift.errors import InputError


@pytest.mark.parametrize(
    ("line", "entry"),
    [
        ("F4 +6", Note("F4", 6.0)),
        ("F4 6", Note("F4", 6.0)),
        ("f4 -3.5", Note("F4", -3.5)),
        ("F4 −3,5", Note("F4", -3.5)),  # a minus of typography, a decimal comma
        ("  F4   +6c  ", Note("F4", 6.0)),
        ("F4 +6 Bb", Note("F4", 6.0, side="Bb")),
        ("B♭3 +6 B♭", Note("Bb3", 6.0, side="Bb")),
        ("F4 351.2Hz", Note("F4", hertz=351.2)),
        ("F4 351,2hz F", Note("F4", hertz=351.2, side="F")),
        ("F4 +6 ! mute in", Note("F4", 6.0, remark="mute in", flagged=True)),
        ("F4 +6 Bb!", Note("F4", 6.0, side="Bb", remark="", flagged=True)),
        ("temp 21.5", TypedTemperature(21.5)),
        ("TEMP 21,5 °C", TypedTemperature(21.5)),
        ("temp -3", TypedTemperature(-3.0)),
        ("temp 70F", TypedTemperature(pytest.approx(21.11, abs=0.01))),  # (70 - 32)/1.8
        ("slide main 14", Slide("main", 14.0)),
        ("slide B♭ 3,5 mm", Slide("Bb", 3.5)),
        ("slide main 0.5 in", Slide("main", 12.7)),  # 25.4 mm by definition
        ("remark doors\topen", Remark("doors open")),
        ("play", Play(True)),
        ("Rest", Play(False)),
        ("play Rowan Oak", Play(True, "Rowan Oak")),
        ("play warm", Play(True, "", warm=True)),
        ("player Rowan Oak", Choose("player", "Rowan Oak")),
        ("instrument double horn", Choose("instrument", "double horn")),
        ("remark doors  open; draught", Remark("doors  open; draught")),
        ("side B♭", Choose("side", "Bb")),
        ("A4 442", Choose("a4", "442")),
        ("a4 = 441,5 Hz", Choose("a4", "441.5")),
        ("A4 442Hz", Note("A4", hertz=442.0)),
        ("A4 +2", Note("A4", 2.0)),
        ("target 18:30 4", Target(18, 30, 4.0)),
        ("target 8.05 40 F", Target(8, 5, pytest.approx(4.44, abs=0.01))),
        ("k", Decide(True)),
        ("D", Decide(False)),
        ("k 12", Decide(True, 12)),
        ("d 3", Decide(False, 3)),
        ("k B♭", Decide(True, side="Bb")),
        ("k 3 F", Decide(True, 3, "F")),
        ("D4 +3", Note("D4", 3.0)),
        ("undo", Word("undo")),
        ("NOW", Word("now")),
        ("help", Word("help")),
        ("end", Word("end")),
    ],
)
def test_what_can_be_typed(line, entry):
    assert parse_entry(line) == entry


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        ("", "the line is empty"),
        ("   ", "the line is empty"),
        ("F44 +6", "'F44' is not a note"),
        ("quit", "quit could mean two things"),
        ("Exit", "exit could mean two things"),
        ("hello", "'hello' is not an entry"),
        ("! mute", "is not an entry"),
        ("F4", "has a note and no cents"),
        ("F4 +6 Bb more", "neither cents nor hertz with perhaps a side"),
        ("F4 sharp", "'sharp' is neither cents nor hertz"),
        ("F4 +6.", "is neither cents nor hertz"),
        ("F4 nan", "is neither cents nor hertz"),
        ("F4 1e999", "is neither cents nor hertz"),
        ("F4 0Hz", "'F4 0Hz' is not a pitch"),
        (f"F4 {'9' * 400}", "is not a number"),
        (f"F4 {'9' * 400}Hz", "is not a number"),
        (f"slide main {'9' * 400}", "names no slide and position"),
        ("k 3 F more", "'k 3 F more' does not name a proposed reading"),
        ("d 3 F", "'d 3 F' does not name a proposed reading"),
        ("k 3.5", "does not name a proposed reading"),
        ("k -1", "does not name a proposed reading"),
        (f"k {'9' * 400}", "does not name a proposed reading"),
        ("temp", "'' is not a temperature"),
        ("temp warm", "'warm' is not a temperature"),
        ("temp 21.5.3", "is not a temperature"),
        ("slide", "names no slide and position"),
        ("slide main", "names no slide and position"),
        ("slide main -3", "-3 is negative"),
        ("slide main −3,5mm", "−3,5mm is negative"),
        ("player", "no player was named"),
        ("instrument", "no instrument was named"),
        ("remark", "the remark is empty"),
        ("end of it", "is not an entry"),
        ("at", "does not name an entry and a time of day"),
        ("at 20:10", "does not name an entry and a time of day"),
        ("at 8pm slide main 14", "does not name an entry and a time of day"),
        ("at 24:10 slide main 14", "does not name an entry and a time of day"),
        ("at 2026-13-01 20:10 slide main 14", "does not name an entry and a time of day"),
        ("slide main 14 at 20:60", "does not name an entry and a time of day"),
        ("at 20:10 now", "now holds for now, not for 20:10"),
        ("at 20:10 player Kim", "player holds for now, not for 20:10"),
        ("player Kim at 20:10", "player holds for now, not for 20:10"),
        ("k 3 at 20:10", "k holds for now, not for 20:10"),
        ("end at 20:10", "end holds for now, not for 20:10"),
        ("at 20:10 slide main", "names no slide and position"),
        ("at 20:10 at 20:11 slide main 3", "names no slide|is not an entry"),
        ("remark a\x00b", "which cannot be printed"),
        ("remark a\x1b[31mb", "which cannot be printed"),
        ("player Row\udce4n", "which cannot be printed"),
        ("remark a\u2028b", "which cannot be printed"),
        ("player Row\u202ean", "has the character U\\+202E"),
        ("player Row\u200ban", "has the character U\\+200B"),
    ],
)
def test_what_cannot_be_typed_is_explained(line, problem):
    with pytest.raises(InputError, match=problem) as refusal:
        parse_entry(line)
    assert refusal.value.remedy
    assert "\n" not in refusal.value.problem + refusal.value.remedy


def test_cents_of_a_note_in_hertz():
    # 1200 log2(351.2 / 349.228) = 9.75; F4 = 440 * 2**(-4/12) = 349.228 Hz
    assert Note("F4", hertz=351.2).cents_at(440.0) == pytest.approx(9.75, abs=0.005)
    # at A4 = 442 the same pitch is 1200 log2(442/440) = 7.85 cents lower against its note
    assert Note("F4", hertz=351.2).cents_at(442.0) == pytest.approx(9.75 - 7.85, abs=0.01)
    # a horn in F reads C5 for a sounding F4
    assert Note("C5", hertz=351.2).cents_at(440.0, 7) == pytest.approx(9.75, abs=0.005)


@pytest.mark.parametrize(
    ("line", "entry"),
    [
        ("slide main 14", Slide("main", 14.0)),
        ("F4 +6 Bb", Note("F4", 6.0, side="Bb")),
        ("+4", Note("", 4.0)),
        ("F4 6 flat", Note("F4", -6.0)),
        ("temp 21.5", TypedTemperature(21.5)),
        ("rest Rowan", Play(playing=False, player="Rowan")),
        ("play warm", Play(playing=True, warm=True)),
    ],
)
def test_an_entry_may_be_of_an_earlier_time(line, entry):
    assert parse_entry(f"at 20:09 {line}") == Earlier(entry, ClockTime(20, 9))
    assert parse_entry(f"{line} AT 20.09") == Earlier(entry, ClockTime(20, 9))
    assert parse_entry(f"at 20:09:35 {line}") == Earlier(entry, ClockTime(20, 9, second=35))
    assert parse_entry(f"{line} at 20:09:05") == Earlier(entry, ClockTime(20, 9, second=5))
    of_that_day = Earlier(entry, ClockTime(8, 9, date(2026, 10, 3)))
    assert parse_entry(f"at 2026-10-03 8:09 {line}") == of_that_day
    assert parse_entry(f"{line} at 2026-10-03 08:09") == of_that_day


def test_what_is_told_in_a_remark_is_no_time_of_the_entry():
    assert parse_entry("remark doors open at 20:09") == Remark("doors open at 20:09")
    assert parse_entry("at 20:15 remark doors open at 20:09") == Earlier(
        Remark("doors open at 20:09"), ClockTime(20, 15)
    )
    assert parse_entry("F4 +6 ! mute in at 20:09").remark == "mute in at 20:09"
    assert parse_entry("at 20:15 F4 +6 ! mute in").entry.remark == "mute in"


@pytest.mark.parametrize(
    "example",
    [
        *("F4 +6", "F4 +6 Bb", "F4 351.2Hz", "F4 +6 ! mute in", "temp 21.5", "temp 70F"),
        *("slide main 14", "play", "rest", "play Rowan", "play warm", "undo", "now", "help", "end"),
        *("k 3", "at 20:10 slide main 14"),
    ],
)
def test_the_examples_of_the_help_are_entries(example):
    assert example in HELP
    assert parse_entry(example)


def why_refused(line: str) -> tuple[str, str] | None:
    """Return problem and remedy of a line, None for an entry; any other exception comes out."""
    try:
        parse_entry(line)
    except InputError as refusal:
        return refusal.problem, refusal.remedy
    return None


BYTES = st.binary(max_size=40).map(lambda raw: raw.decode("utf-8", "surrogateescape"))
WORDS = st.sampled_from(
    [
        *("F4", "Bb3", "C#5", "H4", "+6", "-12.5", "351.2Hz", "temp", "slide", "main", "play"),
        *("rest", "warm", "player", "instrument", "remark", "undo", "now", "help", "end", "!"),
        *("70F", "21,5", "14", "mm", "double", "horn", "k", "d", "3"),
    ]
)


@given(st.text(max_size=40) | BYTES)
def test_any_line_is_an_entry_or_is_explained(line):
    reason = why_refused(line)
    assert reason is None or all(reason)


@given(st.lists(WORDS | st.text(max_size=5), max_size=6).map(" ".join))
def test_any_row_of_known_words_is_an_entry_or_is_explained(line):
    reason = why_refused(line)
    assert reason is None or all(reason)
