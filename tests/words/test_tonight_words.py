"""The sentences of pitch now."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

import drift
from drift.capture.entries import parse_entry
from drift.instruments.catalogue import Catalogue
from drift.quantities import METRIC, Units
from drift.regression.results import Estimate
from drift.tonight import (
    Action,
    Course,
    Evening,
    NotUsed,
    Reading,
    Reason,
    Surprise,
    know,
    pitch_now,
)
from drift.tonight.deciding import Wanted
from drift.tonight.decision import Decision
from drift.tonight.following import Expected
from drift.tonight.pitch_now import Ahead, SideNow
from drift.tonight.progress import AtTheEnd, Progress
from drift.tonight.surprises import Jump
from drift.words.cents import deviation, interval, millimetres, signed
from drift.words.tonight import (
    answer,
    moves_in_words,
    progress_in_words,
    target_in_words,
    to_do,
)

TIME = datetime(2026, 10, 3, 18, 30, 15, tzinfo=UTC)
INCHES = Units(inches=True)


@dataclass(frozen=True)
class Moved:
    slide: str
    move_mm: float
    to_mm: float | None = None
    makes_up_for: str | None = None
    at_end_of_travel: bool = False


@pytest.fixture(scope="module")
def asked():
    horn = Catalogue.shipped().find("double horn")
    known = know(horn, drift.physics().draws("double horn", 50, 1))
    room = Course(np.arange(0.0, 31.0), np.full(31, 22.0), (0.0,))
    return pitch_now(known, Evening(room, (Reading(20.0, "F4", -7.0, "Bb"),)), 30.0)


def told(asked, action, reason, off, *ahead, **more):
    side = SideNow(
        Estimate(*off),
        tuple(
            Ahead(m, Estimate(c, c - 4, c + 4)) for m, c in zip((10.0, 30.0), ahead, strict=True)
        ),
        Decision(action, reason, off[0], 2.0),
        off[0],
    )
    return replace(
        asked, side="Bb", sides={"Bb": side}, decision=side.decision,
        **({"surprises": (), "not_used": {}} | more),
    )  # fmt: skip


def test_in_tune(asked):
    now = told(asked, Action.LEAVE, Reason.IN_TUNE, (2.0, -3.0, 6.0), 3.0, 4.0)
    assert to_do(now) == ["Leave the slides. Now 2 sharp (−3 to +6); in 30 minutes 4 sharp."]


def test_a_move(asked):
    now = told(
        asked, Action.MOVE, Reason.OFF, (9.0, 6.0, 12.0), 10.0, 12.0,
        moves=(Moved("main", 4.1, 16.1), Moved("F", 0.1, 8.1)),
    )  # fmt: skip
    do = "Pull the main slide out 4 mm, to 16. You are 9 sharp (+6 to +12)."
    assert to_do(now) == [do]
    assert answer(now, TIME) == [do, "After the move, in 30 minutes 3 sharp."]
    at_the_end = replace(now, moves=(Moved("main", 4.1, 16.1, None, True),))
    assert answer(at_the_end, TIME) == [do]  # it takes less away than that


def test_a_move_in_half_millimetres_whole_ones_and_none_at_all():
    moves = (Moved("barrel", -1.3), Moved("F", 0.2))
    assert moves_in_words(moves) == "Push the barrel in 1.5 mm."
    assert moves_in_words(moves, 1.0) == "Push the barrel in 1 mm."
    assert moves_in_words((Moved("Bb", 4.0, 4.0),)) == "Pull the B♭ slide out 4 mm, to 4."
    assert moves_in_words(()) == ""


def test_still_warming_up(asked):
    now = told(asked, Action.LEAVE, Reason.WARMING_UP, (-12.0, -16.0, -8.0), -2.0, 0.0)
    assert to_do(now) == [
        "12 flat now, but still warming up: 2 flat in 10 minutes. Leave the slides."
    ]


def test_nothing_read(asked):
    nothing = told(asked, Action.READ, Reason.NO_READING, (1.0, -6.0, 9.0), 1.0, 1.0)
    assert to_do(nothing) == [
        "Take a reading first: nothing was read tonight. Anywhere from 6 flat to 9 sharp."
    ]


def unsure(asked, count, reason=Reason.UNSURE, warmth=1.0, **more):
    now = told(asked, Action.READ, reason, (1.0, -4.0, 1.0), 1.0, 1.0, warmth=warmth, **more)
    wanted = Wanted(count, "F4")
    return replace(now, sides={"Bb": replace(now.sides["Bb"], wanted=wanted), "F": now.sides["Bb"]})


def test_readings_that_do_not_decide_yet_are_not_called_none(asked):
    state = "Not sure yet: between 4 flat and 1 sharp now"
    assert to_do(unsure(asked, 1)) == [
        f"{state}. One more reading, of F4 on the B♭ side, will most likely decide."
    ]
    assert to_do(unsure(asked, 2), semitones=7) == [
        f"{state}. Two more readings, the first of C5 on the B♭ side, will most likely decide."
    ]
    assert to_do(unsure(asked, 0, warmth=0.3)) == [
        f"{state}, and still warming up. Read F4 on the B♭ side in 5 minutes."
    ]
    assert to_do(unsure(asked, 0)) == [f"{state}. Read F4 on the B♭ side in 5 minutes."]


def apart(asked, off_f, action_f=Action.LEAVE, wanted_f=None, moves=()):
    flat = told(asked, Action.MOVE, Reason.OFF, (-7.0, -10.0, -4.0), -6.0, -6.0, moves=moves)
    reason = Reason.IN_TUNE if action_f is Action.LEAVE else Reason.UNSURE
    sharp = told(asked, action_f, reason, off_f, 5.0, 5.0)
    sides = {
        "F": replace(sharp.sides["Bb"], slides=("F",), wanted=wanted_f),
        "Bb": replace(flat.sides["Bb"], slides=("main", "Bb")),
    }
    return replace(flat, side="F", sides=sides, read_sides=("Bb", "F"))


def test_sides_that_lie_apart_have_a_line_and_a_move_each(asked):
    moves = (Moved("main", -4.5, 7.5), Moved("F", 9.0, 17.0), Moved("Bb", 0.0, 0.0))
    assert to_do(apart(asked, (5.0, 1.0, 9.0), moves=moves)) == [
        "B♭ side 7 flat (−10 to −4). Push the main slide in 4.5 mm, to 7.5.",
        "F side 5 sharp (+1 to +9). Pull the F slide out 9 mm, to 17.",
    ]
    unclear = apart(asked, (5.0, -7.0, 10.0), Action.READ, Wanted(1, "C4"), moves[:1])
    assert to_do(unclear)[1] == (
        "F side not sure yet: between 7 flat and 10 sharp now. "
        "One more reading, of C4, will most likely decide."
    )
    assert to_do(apart(asked, (5.0, 1.0, 9.0)))[1] == "F side 5 sharp (+1 to +9). Leave it."


def test_a_side_that_is_off_and_moved_with_the_other_is_not_told_to_stay(asked):
    now = apart(asked, (-12.0, -15.0, -9.0), Action.MOVE, moves=(Moved("main", -9.0, 7.5),))
    now = replace(now, sides={**now.sides, "F": replace(now.sides["F"], moved_by=("main", "F"))})
    assert to_do(now)[1] == "F side 12 flat (−15 to −9). The main slide's move serves it too."
    outwards = replace(now, moves=(Moved("main", 9.0, 25.5),))
    assert to_do(outwards)[1] == "F side 12 flat (−15 to −9). Leave it."


def test_a_slide_that_makes_up_for_another_says_so_and_no_doubt_follows_the_order(asked):
    moves = (Moved("main", -4.5, 7.5), Moved("F", 4.0, 12.0, "main"))
    unclear = apart(asked, (-1.0, -7.0, 5.0), Action.READ, Wanted(2, "C4"), moves)
    assert to_do(unclear) == [
        "B♭ side 7 flat (−10 to −4). Push the main slide in 4.5 mm, to 7.5.",
        "F side 1 flat (−7 to +5). Pull the F slide out 4 mm, to 12: "
        "this makes up for the main slide going in.",
    ]
    out = (Moved("main", 4.5), Moved("F", -4.0, None, "main"))
    assert moves_in_words(out) == (
        "Pull the main slide out 4.5 mm. "
        "Push the F slide in 4 mm: this makes up for the main slide going out."
    )


def test_sides_that_ask_for_the_same_and_lie_near_have_one_line(asked):
    now = apart(asked, (5.0, 1.0, 9.0))
    near = replace(now.sides["Bb"], off_cents=Estimate(-4.0, -7.0, -1.0))
    assert len(to_do(replace(now, sides={"Bb": now.sides["Bb"], "F": near}))) == 1


def test_nothing_to_move(asked):
    now = told(asked, Action.LEAVE, Reason.FIXED_PITCH, (9.0, 6.0, 12.0), 9.0, 10.0)
    assert to_do(now)[0].startswith("Nothing can be moved. Now 9 sharp (+6 to +12)")


def test_surprises_come_first_and_readings_not_used_last(asked):
    last = Expected(Reading(20.0, "F4", -7.0, "Bb"), 11.0, 3.0)
    now = unsure(
        asked, 1, Reason.SURPRISE, last=last, not_used={NotUsed.NO_SIDE: 9},
        surprises=(Surprise.UNEXPECTED, Surprise.WATCHING),
    )  # fmt: skip
    assert answer(now, TIME) == [
        "You read F4 7 flat; 11 sharp was expected: check where the slide is, and read once more.",
        "Your readings move only half as much as the air asks: "
        "look away from the tuner while you play.",
        "Not sure yet: between 4 flat and 1 sharp now. Read F4 on the B♭ side once more.",
        "9 readings not used: no side named.",
    ]


def test_a_reading_that_does_not_fit_is_named_as_the_tuner_showed_it(asked):
    """At A4 = 442 the tuner showed 7 flat, and not 1 sharp of 440."""
    last = Expected(Reading(20.0, "F4", -7.0, "Bb", a4_hz=442.0), 18.85, 3.0)
    now = unsure(
        asked, 1, Reason.SURPRISE, last=last, a4_hz=442.0, surprises=(Surprise.UNEXPECTED,)
    )
    assert answer(now, TIME)[0].startswith("You read F4 7 flat; 11 sharp was expected: ")
    assert now.to_json()["a4_hz"] == 442.0
    assert now.to_json()["last_reading"]["cents"] == pytest.approx(-7.0)
    assert now.to_json()["last_reading"]["expected_cents"] == pytest.approx(11.0, abs=0.01)


def test_readings_not_used_are_named_once_and_again_when_there_are_more(asked):
    counts = {NotUsed.NO_SIDE: 2, NotUsed.SETTLING: 1}
    now = told(asked, Action.LEAVE, Reason.IN_TUNE, (0.0, -3.0, 3.0), 0.0, 0.0, not_used=counts)
    assert len(answer(now, TIME, said={NotUsed.NO_SIDE: 2})) == 2
    assert answer(now, TIME, said=counts) == to_do(now)
    assert answer(now, TIME, said={**counts, NotUsed.NO_SIDE: 1})[1:] == [
        "2 readings not used: no side named."
    ]
    none = told(asked, Action.READ, Reason.NO_READING, (1.0, -6.0, 9.0), 1.0, 1.0, not_used=counts)
    assert answer(none, TIME, said=counts) == answer(none, TIME)
    assert answer(none, TIME)[1:] == [
        "2 readings not used: no side named.",
        "1 reading not used: in the first 30 s of playing.",
    ]


def jumped(asked, jump, *surprises):
    return told(
        asked, Action.MOVE, Reason.OFF, (9.0, 6.0, 12.0), 9.0, 9.0, surprises=surprises, jump=jump
    )


def test_a_jump_is_told_with_its_time_and_with_what_to_type(asked):
    now = jumped(asked, Jump("main", 31.25), Surprise.JUMPED)
    since = f"{(TIME - timedelta(minutes=31.25)).astimezone():%H:%M}"  # on the minute
    assert answer(now, TIME)[0] == (
        f"Your readings jumped at {since}: a slide must have moved. If it was the main slide, "
        f"type “at {since} slide main” and its millimetres."
    )
    assert answer(now, TIME, units=INCHES)[0].endswith("slide main” and its inches.")
    at_once = jumped(asked, Jump("main", 31.2500001), Surprise.JUMPED)
    assert f"at {since}" in answer(at_once, TIME)[0]


def test_a_jump_within_a_minute_of_readings_is_told_with_its_second(asked):
    """A whole minute would put the readings before the move behind it."""
    within = jumped(asked, Jump("main", 31.25, before_minutes_ago=31.5), Surprise.JUMPED)
    at = TIME - timedelta(minutes=31.25) + timedelta(seconds=20)
    now = answer(within, TIME + timedelta(seconds=20))[0]
    assert f"“at {at.astimezone():%H:%M:%S} slide main”" in now
    earlier = jumped(asked, Jump("main", 31.25, before_minutes_ago=33.0), Surprise.JUMPED)
    assert f"“at {at.astimezone():%H:%M} slide main”" in answer(earlier, TIME)[0]


def test_perhaps_a_jump(asked):
    now = jumped(asked, Jump("F", 20.0), Surprise.SHIFTED)
    since = f"{(TIME - timedelta(minutes=20)).astimezone():%H:%M}"
    assert answer(now, TIME)[0] == (
        f"Your readings may have shifted at {since}: check where the F slide is. "
        f"If it moved, type “at {since} slide F” and its millimetres."
    )


@pytest.mark.parametrize(
    ("mm", "units", "typed"),
    [(14.0, METRIC, "14"), (12.25, METRIC, "12.25"), (14.2875, INCHES, "9/16")],
)
def test_a_slide_logged_after_a_jump_only_is_asked_for_with_what_was_typed(asked, mm, units, typed):
    now = jumped(asked, Jump("main", 20.0, mm), Surprise.LOGGED_LATE)
    since = f"{(TIME - timedelta(minutes=20)).astimezone():%H:%M}"
    line = answer(now, TIME, units=units)[0]
    assert line == (
        f"Your readings jumped at {since}, and the main slide was logged at {typed} only after "
        f"that. If it was there by then, type “at {since} slide main {typed}”."
    )
    entry = parse_entry(f"at {since} slide main {typed}", units)
    assert entry.entry.position_mm == pytest.approx(mm)


@pytest.mark.parametrize("reason", list(NotUsed))
def test_every_reason_of_silence_has_words(asked, reason):
    now = told(
        asked, Action.LEAVE, Reason.IN_TUNE, (0.0, -3.0, 3.0), 0.0, 0.0, not_used={reason: 1}
    )
    assert answer(now, TIME)[-1].startswith("1 reading not used: ")


def test_what_readings_at_the_end_would_do_is_said_once_and_plainly():
    end = AtTheEnd(40.0, 5.4, 2, 3.2)
    assert progress_in_words(Progress(3.8, end=end)) == (
        "Good to ±4 cents now. At the end of the rehearsal: ±6, "
        "or most likely ±4 after two more readings then."
    )
    one = Progress(3.8, end=AtTheEnd(40.0, 5.4, 1, 3.2))
    assert progress_in_words(one).endswith("after one more reading then.")
    assert progress_in_words(Progress(2.6, end=AtTheEnd(40.0, 2.8))) == "Good to ±3 cents."


def test_the_target():
    assert target_in_words(Estimate(30.0, 22.0, 38.0), "in the cold") == (
        "In this room let the tuner show 30 sharp (+22 to +38): in the cold your first half hour "
        "of playing will be right on average."
    )
    assert "let the tuner show 0 (−3 to +3)" in target_in_words(Estimate(0.2, -3.0, 3.0))
    assert target_in_words(Estimate(19.0, -13.0, 51.0), "outside") == (
        "In this room let the tuner show 19 sharp (−13 to +51), which is little known yet: "
        "tune again outside."
    )


def test_numbers():
    assert [signed(c) for c in (5.6, -5.6, 0.4)] == ["+6", "−6", "0"]
    assert [deviation(c) for c in (5.6, -5.6, -0.4)] == ["6 sharp", "6 flat", "in tune"]
    assert interval(Estimate(-2.0, -6.2, -0.2)) == "−6 to 0"
    assert [millimetres(mm) for mm in (4.0, -4.26)] == ["4 mm", "4.5 mm"]
