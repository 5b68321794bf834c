"""Cents per millimetre from readings: recovery, honest intervals, and what is refused."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from drift.errors import InputError, InstrumentError, TooLittleData
from drift.instruments import find
from drift.logbook.records import Event, Reading
from drift.logbook.rehearsals import of_folder
from drift.pairing.slide_log import calibration_of
from drift.slides.calibration import GOOD_SHARE, measure
from drift.words.calibration import warning_text

START = datetime(2026, 10, 3, 18, 0, tzinfo=UTC)
HORN, TRUMPET = find("double horn"), find("Bb trumpet")
THERE_AND_BACK = (10.0, 25.0, 10.0, 25.0, 10.0)
NEAR = (10.0, 18.0, 10.0, 18.0, 10.0)


@dataclass
class Trial:
    """A player who moves one slide and reads one note at each position."""

    positions: tuple[float, ...] = THERE_AND_BACK
    slide: str = "main"
    instrument: str = "Bb trumpet"
    side: str = ""
    note: str = "Bb4"
    ratio: float = 1.0
    noise: float = 0.0
    seed: int = 0
    drift_per_minute: float = 0.0
    minutes_apart: float = 1.0
    readings_each: int = 1
    start: datetime = START
    player: str = "Rowan"
    flagged: bool = False
    rehearsal: str = "hall"

    def records(self):
        random = np.random.default_rng(self.seed)
        horn, time, records = find(self.instrument), self.start, []
        for mm in self.positions:
            records.append(
                Event(
                    time, self.rehearsal, self.player, "slide", self.slide, mm, "", self.instrument
                )
            )
            for _ in range(self.readings_each):
                time += timedelta(minutes=self.minutes_apart / 2)
                exact = self.ratio * horn.cents_of_moves(self.side, {self.slide: mm - 10.0})
                drifted = self.drift_per_minute * (time - self.start).total_seconds() / 60
                cents = 7.0 + exact + drifted + self.noise * random.normal()
                records.append(
                    Reading(time, self.rehearsal, self.player, self.instrument, self.side,
                            self.note, cents, 440.0, flagged=self.flagged)
                )  # fmt: skip
            time += timedelta(minutes=self.minutes_apart / 2)
        return records


@dataclass
class Book:
    """Records by table, in the shape of a folder."""

    records: list

    def of(self, table):
        return [record for record in self.records if record.table == table]


def rehearsals(*trials):
    return of_folder(Book([record for trial in trials for record in trial.records()]))


def test_exact_readings_give_the_exact_slope():
    (slope,) = measure(rehearsals(Trial()), "Rowan", "main")
    assert slope.cents_per_mm == pytest.approx(TRUMPET.cents_per_mm("", "main"), rel=1e-9)
    assert slope.theory == TRUMPET.cents_per_mm("", "main")
    assert slope.low < slope.cents_per_mm < slope.high < 0
    assert (slope.readings, slope.positions_mm) == (5, (10.0, 25.0))


@pytest.mark.parametrize("ratio", [0.9, 1.0, 1.15])
def test_a_slide_of_its_own_is_found(ratio):
    (slope,) = measure(rehearsals(Trial(ratio=ratio)), "Rowan", "main")
    assert slope.cents_per_mm == pytest.approx(ratio * slope.theory, rel=1e-9)
    assert slope.warnings == ()


def test_two_readings_are_enough_and_their_interval_is_wide():
    (two,) = measure(rehearsals(Trial(positions=(10.0, 25.0))), "Rowan", "main")
    (ten,) = measure(rehearsals(Trial(readings_each=4)), "Rowan", "main")
    assert two.readings == 2
    # Two readings of 2 cents each over 15 mm: sqrt(2) * 2 / 15 = 0.19 cents/mm, times t.
    assert two.high - two.low > 2 * 1.96 * 0.18
    assert ten.high - ten.low < (two.high - two.low) / 2


@pytest.mark.slow
@pytest.mark.parametrize("noise", [1.0, 2.0, 4.0])
def test_intervals_hold_the_truth_as_often_as_they_say(noise):
    held = 0
    for seed in range(100):
        trial = Trial(noise=noise, seed=seed, readings_each=2)
        (slope,) = measure(rehearsals(trial), "Rowan", "main")
        held += slope.low <= slope.theory <= slope.high
    # 95 %, less three standard errors of 100 trials (2.2 % each). Less noise than the assumed
    # 2 cents makes the intervals wider, more makes them a little narrow.
    assert held >= 88


def test_coming_back_takes_a_steady_drift_out():
    drifting = Trial(drift_per_minute=1.5)
    (slope,) = measure(rehearsals(drifting), "Rowan", "main")
    assert slope.cents_per_mm == pytest.approx(slope.theory, rel=1e-6)
    one_way = Trial(positions=(10.0, 25.0), drift_per_minute=1.5)
    (fooled,) = measure(rehearsals(one_way), "Rowan", "main")
    assert fooled.cents_per_mm != pytest.approx(fooled.theory, rel=0.02)
    assert "drift_not_removed" in {found.kind for found in fooled.warnings}


def test_a_big_difference_from_theory_is_told():
    for ratio, words in ((1.3, "+30 %"), (0.7, "-30 %"), (-1.0, "pulling seems to sharpen")):
        (slope,) = measure(rehearsals(Trial(ratio=ratio)), "Rowan", "main")
        (warning,) = slope.warnings
        assert words in warning_text(warning)


def test_both_sides_of_a_horn_are_measured_apart():
    common = {"instrument": "double horn", "note": "F4"}
    book = rehearsals(
        Trial(side="Bb", ratio=1.1, **common),
        Trial(side="F", start=START + timedelta(hours=1), **common),
    )
    f_side, bb_side = measure(book, "Rowan", "main")
    assert (f_side.side, bb_side.side) == ("F", "Bb")
    assert f_side.cents_per_mm == pytest.approx(HORN.cents_per_mm("F", "main"), rel=1e-9)
    assert bb_side.cents_per_mm == pytest.approx(1.1 * HORN.cents_per_mm("Bb", "main"), rel=1e-9)


def test_two_notes_have_their_own_tendencies():
    low = Trial(note="Bb3", seed=1, start=START + timedelta(minutes=6))
    (slope,) = measure(rehearsals(Trial(), low), "Rowan", "main")
    assert slope.readings == 10
    assert slope.cents_per_mm == pytest.approx(slope.theory, rel=1e-9)


def test_readings_far_apart_are_not_compared():
    book = rehearsals(Trial(positions=(10.0, 25.0), minutes_apart=20.0))
    with pytest.raises(TooLittleData, match="within 5 minutes\nlog one note again and again"):
        measure(book, "Rowan", "main")


def test_flagged_readings_are_left_out():
    with pytest.raises(TooLittleData, match="no note of Rowan"):
        measure(rehearsals(Trial(flagged=True)), "Rowan", "main")


def test_moving_another_slide_starts_another_sitting():
    common = {"instrument": "double horn", "note": "F4", "side": "F"}
    main = Trial(positions=(10.0, 25.0), **common)
    then = START + timedelta(minutes=2.5)
    f_slide = Trial(positions=(10.0, 20.0), slide="F", start=then, **common)
    (slope,) = measure(rehearsals(main, f_slide), "Rowan", "main")
    assert slope.readings == 2
    assert slope.cents_per_mm == pytest.approx(slope.theory, rel=1e-9)


def test_it_becomes_a_row_of_the_logbook_that_is_used():
    (slope,) = measure(rehearsals(Trial(ratio=1.1)), "Rowan", "main")
    book = of_folder(Book([slope.record(START)]))
    assert calibration_of(book, "Rowan", TRUMPET) == {("main", ""): slope.cents_per_mm}


def test_a_row_of_an_older_book_by_which_pulling_sharpens_is_never_used():
    (slope,) = measure(rehearsals(Trial()), "Rowan", "main")
    book = of_folder(Book([slope.record(START)]))
    book.calibrations["cents_per_mm"] = 2.1
    assert calibration_of(book, "Rowan", TRUMPET) == {}


@pytest.mark.parametrize(
    ("trial", "refusal", "words"),
    [
        (Trial(ratio=-1.0), InputError, "check the signs of the readings at 10, 25 mm"),
        (Trial(ratio=0.1, positions=(10.0, 12.0)), TooLittleData, "includes zero"),
        (Trial(ratio=-0.1, positions=(10.0, 12.0)), TooLittleData, "positions further apart"),
    ],
)
def test_no_row_without_a_sign_that_is_sure_and_right(trial, refusal, words):
    (slope,) = measure(rehearsals(trial), "Rowan", "main")
    with pytest.raises(refusal, match=words):
        slope.record(START)


def test_summary_shows_the_calculated_value_beside_it():
    text = measure(rehearsals(Trial()), "Rowan", "main")[0].summary()
    assert "-2.35 cents/mm" in text
    assert "its length alone says -2.35" in text


def test_who_and_what_must_exist():
    book = rehearsals(Trial())
    with pytest.raises(TooLittleData, match="no readings of 'Ada'\nthere are some of Rowan"):
        measure(book, "Ada", "main")
    with pytest.raises(InstrumentError, match="has no slide 'third'"):
        measure(book, "Rowan", "third")
    two = rehearsals(Trial(), Trial(instrument="flute", slide="head", note="A4"))
    with pytest.raises(TooLittleData, match="plays B♭ trumpet and flute\nsay which one"):
        measure(two, "Rowan", "main")
    assert measure(two, "Rowan", "main", instrument="Bb trumpet")


def slope_of(trial):
    (slope,) = measure(rehearsals(trial), "Rowan", "main")
    return slope


@pytest.mark.slow
def test_how_many_more_readings_it_wants_is_what_they_are_worth():
    shares = []
    for seed in range(40):
        near = {"positions": NEAR, "noise": 2.0, "seed": seed, "minutes_apart": 0.5}
        few = slope_of(Trial(**near))
        if not 2 <= few.more_readings <= 40:
            continue
        then = slope_of(Trial(**near, readings_each=1 + -(-few.more_readings // len(NEAR))))
        wanted = few.readings + few.more_readings
        half = (then.high - then.low) / 2.0 * np.sqrt(then.readings / wanted)
        shares.append(half / abs(then.cents_per_mm))
    assert len(shares) >= 10
    assert 0.75 < np.median(shares) / GOOD_SHARE < 1.35


def test_what_is_known_well_asks_for_nothing_and_the_words_say_what_is_wanted():
    good = slope_of(Trial(noise=0.2, readings_each=6))
    assert good.more_readings == 0
    assert "more reading" not in good.summary()
    few = slope_of(Trial(positions=NEAR, noise=2.0, seed=3))
    assert 2 <= few.more_readings <= 24
    assert f"about {few.more_readings} more readings at these positions" in few.summary()
    near = slope_of(Trial(positions=(10.0, 11.0, 10.0), noise=2.0))
    assert near.more_readings > 24
    assert "read at positions further apart" in near.summary()


def test_readings_of_earlier_rehearsals_are_counted_by_name():
    def on(day, positions, rehearsal):
        start = START + timedelta(days=day)
        return Trial(positions=positions, start=start, rehearsal=rehearsal)

    sitting, alone = on(3, (10.0, 18.0, 11.0, 19.0, 12.0), "sitting"), on(1, (12.0,), "one")
    assert "earlier" not in slope_of(sitting).summary()
    assert "--rehearsal" not in slope_of(sitting).summary()
    tuned = on(0, (10.0, 14.0), "monday"), on(2, (9.0, 16.0, 15.0), "church")
    (slope,) = measure(rehearsals(sitting, alone, tuned[0]), "Rowan", "main")
    assert "\nfrom 7 readings, 2 of them of an earlier rehearsal, at 10, 11, " in slope.summary()
    assert "\nto leave others out, name what counts: --rehearsal sitting" in slope.summary()
    (slope,) = measure(rehearsals(sitting, *tuned), "Rowan", "main")
    assert "from 10 readings, 5 of them of 2 earlier rehearsals, at 9, " in slope.summary()
    by_rehearsal = {"monday": 2, "church": 3, "sitting": 5}
    assert slope.to_json()["readings_by_rehearsal"] == by_rehearsal


def test_a_sitting_that_comes_back_is_not_pulled_by_tunings_while_warming():
    """In a tuning that goes one way, the warming of the instrument would pass for the slide."""
    sitting = Trial(start=START + timedelta(days=9), rehearsal="sitting", ratio=1.1)
    tunings = [
        Trial(positions=(10.0, 14.0), drift_per_minute=3.0, ratio=1.1, rehearsal=f"evening {day}",
              start=START + timedelta(days=day))
        for day in range(6)
    ]  # fmt: skip
    (slope,) = measure(rehearsals(*tunings, sitting), "Rowan", "main")
    assert slope.cents_per_mm == pytest.approx(1.1 * slope.theory, rel=1e-9)
    assert slope.by_rehearsal == {"sitting": 5}
    (alone,) = measure(rehearsals(*tunings), "Rowan", "main")
    assert alone.readings == 12
    assert "drift_not_removed" in {found.kind for found in alone.warnings}


def test_each_sitting_that_comes_back_has_a_drift_of_its_own():
    later = Trial(drift_per_minute=-2.0, start=START + timedelta(hours=1), positions=NEAR)
    (slope,) = measure(rehearsals(Trial(drift_per_minute=1.5), later), "Rowan", "main")
    assert slope.cents_per_mm == pytest.approx(slope.theory, rel=1e-9)


def test_a_rehearsal_that_begins_at_once_after_another_is_another_sitting():
    """The same minute in another room is another pitch, not the slide."""
    cold = Trial(positions=(30.0,), rehearsal="cold room", ratio=2.0, readings_each=3)
    sitting = Trial(start=START + timedelta(minutes=4), rehearsal="sitting")
    (slope,) = measure(rehearsals(cold, sitting), "Rowan", "main")
    assert slope.cents_per_mm == pytest.approx(slope.theory, rel=1e-9)
    assert slope.by_rehearsal == {"sitting": 5}
