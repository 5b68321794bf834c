"""The error that remains: by side, once, and what to do about it."""

from drift.notes import cents_between
from drift.slides.correction import correct
from drift.words.remaining_error import by_side, remaining_error, what_to_do
from tests.slides.test_correction import HOT, Told

COLD = Told(-30.0, -34.0, -27.0)


def test_sides_are_named_in_whole_cents():
    assert by_side({"F": -9.3, "Bb": 16.3}) == "F side 9 cents flat, B♭ side 16 cents sharp"
    assert by_side({"F": 0.1, "Bb": -0.6}) == "B♭ side 1 cent flat"
    assert remaining_error(correct(HOT, "double horn", 33)) == (
        "Remaining error on the open notes: none."
    )


def test_the_pitch_that_the_slides_would_reach_is_named():
    flat = correct(COLD, "double horn", 5, at={"main": 14.0, "F": 14.5, "Bb": 2.0})
    worst = min(flat.remaining_cents.values())
    hertz = 437.5  # as tuners are set in a plan: by half hertz, a cent away at most
    assert abs(cents_between(hertz, 440.0) - worst) <= 1.0
    assert what_to_do(flat) == (
        f"Tell the director before the band tunes: if the band's A4 were {-worst:.0f} cents lower "
        f"({hertz} Hz in place of 440 Hz), your slides would do. If not, lip the notes up."
    )
    # At that pitch both sides come right: as many cents less are asked for.
    shifted = Told(*(end - worst for end in (-30.0, -34.0, -27.0)))
    again = correct(shifted, "double horn", 5, at={"main": 14.0, "F": 14.5, "Bb": 2.0})
    assert max(map(abs, again.remaining_cents.values())) < 0.5


def test_a_stuck_slide_is_not_cured_by_another_pitch():
    stuck = correct(HOT, "double horn", 33, stuck=["main", "F", "Bb"])
    assert what_to_do(stuck) == "Tell the director before the band tunes, and lip the notes down."
    flute = correct(HOT, "flute", 33, stuck=["head"])
    assert what_to_do(flute).endswith("and tune by ear.")


def test_what_hardly_anybody_hears_needs_no_advice():
    assert what_to_do(correct(Told(-4.0, -5.0, -3.0), "Bb trumpet", 18, at={"main": 0.0})) == ""
    assert what_to_do(correct(HOT, "double horn", 33)) == ""
