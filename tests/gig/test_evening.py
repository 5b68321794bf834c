"""The evening: warm air, added tunes, checks on the field, and the pitch decided beforehand."""

import itertools
import re
from datetime import timedelta

import numpy as np
import pandas as pd
import pytest

from drift.gig.evening import pitches, plan_evening, timed
from drift.gig.plan import Assumptions
from drift.gig.planning import plan
from drift.gig.timetable import Entry, arrange
from drift.gig.timing import warm_air, warm_air_minutes, watch
from drift.gig.weather import Forecast
from drift.regression.fits import fit
from drift.words.gig import exceptions, timing_rows, why_this_pitch
from drift.words.gig_phrases import range_of
from drift.words.gig_pitch import reason_words
from drift.words.gig_warnings import warning_text
from drift.words.letters import capital
from tests.gigs import bells, minute, schedule, simulated_trumpet, steady, trumpets, tuba

TAKE = Assumptions(a4_hz=None, draws=200, forecast_error_celsius=0.0)


def carried(celsius=4.0):
    """Tuned in a warm room, carried out, played; a rest, and played again."""
    return arrange(
        [
            Entry(minute(0), minute(15), "play", celsius=21.0),
            Entry(minute(15), minute(25), "tune", celsius=21.0),
            Entry(minute(25), minute(60), "rest"),
            Entry(minute(60), minute(75), "play"),
            Entry(minute(75), minute(120), "rest"),
            Entry(minute(120), minute(140), "play"),
        ]
    )


def rows(schedule):
    return [(e.activity, int((e.start - minute(0)) / timedelta(minutes=1))) for e in
            schedule.entries if e.added]  # fmt: skip


def test_warm_air_by_hand():
    # F = 14 x 30/14 = 30 flat; 4.5 ln(30/4) = 9.07 minutes. A warm instrument needs the least.
    assert warm_air_minutes(14.0, 4.5, 4.0) == pytest.approx(4.5 * np.log(30 / 4))
    assert warm_air_minutes(14.0, 4.5, 4.0, 30.0) == 3.0
    assert warm_air_minutes(30.0, 15.0, -10.0) == 12.0


def test_air_of_the_breath_is_an_air_like_others_in_what_readings_plan():
    known, evening = fit(simulated_trumpet()), schedule(("tune", 0, 10), ("play", 10, 60))

    def drift(celsius):  # a warning of numpy is an error here
        found = plan_evening(steady(celsius), [trumpets()], evening, known, TAKE)[0]
        return found.courses["trumpets"].cents

    np.testing.assert_allclose(drift(34.0), (drift(33.999) + drift(34.001)) / 2.0, atol=0.01)


def test_warm_air_takes_the_end_of_a_rest_and_no_more():
    band = schedule(("tune", 0, 10), ("play", 10, 20), ("rest", 20, 40), ("play", 40, 50),
                    ("rest", 50, 53), ("play", 53, 60))  # fmt: skip
    found = warm_air(band)
    assert rows(found) == [("warm", 34)]
    assert (found.start, found.end) == (band.start, band.end)
    for before, after in zip(found.entries, found.entries[1:], strict=False):
        assert before.end == after.start


@pytest.mark.parametrize("pieces", [(0, 20), (0, 15, 20), (0, 8, 16, 19, 20)])
def test_rests_that_touch_are_one_for_warm_air(pieces):
    """People leave holes in a timetable, which are rests as well."""
    rests = [("rest", *piece) for piece in itertools.pairwise(pieces)]
    found = warm_air(schedule(*rests, ("tune", 20, 24), ("play", 24, 40)))
    (blown,) = (entry for entry in found.entries if entry.activity == "warm")
    assert (blown.start, blown.end) == (minute(14), minute(20))


def test_warm_air_in_a_rest_of_less_than_whole_minutes_stays_in_it():
    band = schedule(("play", 0, 10), ("rest", 10, 15.6), ("play", 15.6, 20))
    played, blown, again = warm_air(band).entries
    assert (played, again) == (band.entries[0], band.entries[2])
    assert (blown.activity, blown.start, blown.end) == ("warm", minute(10), minute(15.6))


def test_in_a_warm_room_nobody_blows_air_for_the_field():
    room = Entry(minute(0), minute(14), "rest", celsius=21.0)
    found = warm_air(arrange([room, Entry(minute(14), minute(20), "rest"),
                              Entry(minute(20), minute(40), "play")]), 12.0)  # fmt: skip
    assert rows(found) == [("warm", 14)]


def test_the_time_before_playing_need_not_be_written_as_one_rest_for_a_tune():
    """An hour in the stands and five free minutes leave room for a tune before the second show."""
    bus = Entry(minute(0), minute(20), "rest", celsius=21.0)
    rest = schedule(("rest", 20, 32), ("tune", 32, 45), ("play", 45, 60)).entries
    second = Entry(minute(130), minute(145), "play")

    def tunes(stands_until):
        stands = Entry(minute(60), minute(stands_until), "stands")
        band = arrange([bus, *rest, stands, second])
        found = timed(steady(4), [trumpets(), tuba()], band, assumptions=TAKE)
        return [start for what, start in rows(found) if what == "tune"]

    assert tunes(125) == [126]
    assert tunes(127) == []  # nobody tunes in three minutes


def test_an_evening_carried_into_the_cold_is_checked_on_the_field():
    found = timed(steady(4), [trumpets()], carried(), assumptions=TAKE)
    # Four minutes of tuning before playing, and two of warm air before them: six in all.
    assert ("tune", 56) in rows(found)
    assert ("warm", 54) in rows(found)
    mild = timed(steady(20), [trumpets()], carried(), assumptions=TAKE)
    assert ("tune", 56) not in rows(mild)


def test_the_timing_brings_playing_nearer_to_pitch():
    by_timing = []
    for as_scheduled in (True, False):
        (found,) = plan_evening(
            steady(4), [trumpets(at_mm={"main": 40.0}, travel_mm={"main": 60.0})], carried(),
            assumptions=TAKE, as_scheduled=as_scheduled,
        )  # fmt: skip
        playing = [e.activity == "play" and e.celsius is None for e in found.schedule.entries]
        inside = np.array(playing)[found.schedule.entry_at(found.times)]
        by_timing.append(np.abs(found.planned_cents["trumpets"][""][inside]).mean())
    assert by_timing[1] < 0.6 * by_timing[0]


def without_a_tune(*, room=21.0):
    """A warm-up in a room, a walk, and two playings on the field; nobody wrote a tune."""
    return arrange(
        [
            Entry(minute(0), minute(50), "play", celsius=room, remark="warm-up, band hall"),
            Entry(minute(50), minute(105), "rest"),
            Entry(minute(105), minute(115), "play", remark="pre-game"),
            Entry(minute(115), minute(175), "stands"),
            Entry(minute(175), minute(190), "play", remark="half-time show"),
        ]
    )


def test_a_schedule_without_a_tune_gets_one_on_the_field():
    found = timed(steady(6), [trumpets()], without_a_tune(), assumptions=TAKE)
    tunes = [at for activity, at in rows(found) if activity == "tune"]
    assert tunes[0] == 101
    # It is for the field alone: the warm-up in the room is no part of its aim.
    first = found.blocks()[0]
    assert next(e.remark for e in found.played_between(first.ready, first.end)) == "pre-game"


def by_bus(*rows):
    """Tuned in a warm room, then in a bus, then the rows given (activity, start, end, words)."""
    first = [Entry(minute(0), minute(30), "tune", celsius=21.0),
             Entry(minute(30), minute(50), "rest", celsius=18.0, remark="Bus",
                   occupied="away")]  # fmt: skip
    then = [Entry(minute(start), minute(end), what, warm_up=words == "Warm up", remark=words)
            for what, start, end, words in rows]  # fmt: skip
    return arrange([*first, *then])


def test_nothing_is_put_into_a_bus_ride():
    evening = by_bus(("play", 50, 70, "Warm up"), ("play", 70, 105, "March in"))
    found = timed(steady(4), [trumpets()], evening, assumptions=TAKE)
    # The end of the warm-up is where a band can tune for its playing.
    assert rows(found) == [("tune", 66)]
    kinds = [(e.activity, e.warm_up) for e in found.entries]
    assert kinds == [("tune", False), ("rest", False), ("play", True), ("tune", False),
                     ("play", False)]  # fmt: skip
    planned = plan(steady(4), [trumpets()], found, assumptions=TAKE)
    room, field = planned.settings
    assert room.waits or not room.block.plays  # the slides are not set for a warm-up
    assert field.show_cents.estimate == pytest.approx(0.0, abs=3.0)


def test_a_tune_of_a_later_show_leaves_the_one_before_the_first_playing_where_it_is():
    first = (("rest", 0, 30), ("play", 30, 45), ("rest", 45, 115))
    alone = timed(steady(6), [trumpets()], schedule(*first, ("play", 115, 130)), assumptions=TAKE)
    assert ("tune", 26) in rows(alone)
    written = schedule(*first, ("tune", 115, 120), ("play", 120, 130))
    found = timed(steady(6), [trumpets()], written, assumptions=TAKE)
    assert [row for row in rows(found) if row[0] == "tune"] == [("tune", 26)]
    planned = plan(steady(6), [trumpets()], found, assumptions=TAKE)
    assert [s.block.tune_at for s in planned.settings] == [minute(26), minute(115)]
    assert not [one for one in planned.warnings if one.kind == "plays_before_tuning"]


def test_a_director_reads_that_nothing_corrects_what_is_played_before_the_first_tune():
    evening = schedule(("play", 0, 20), ("rest", 20, 60), ("tune", 60, 65), ("play", 65, 80))
    (planned,) = plan_evening(steady(6), [trumpets()], evening, assumptions=TAKE)
    told = "The band plays from 18:00, before its first tune at 19:00: nothing corrects that."
    assert told in exceptions(planned)


def test_where_nobody_can_tune_the_schedule_is_asked_for_room():
    evening = by_bus(("play", 50, 80, "Parade"))
    found = timed(steady(4), [trumpets()], evening, assumptions=TAKE)
    assert rows(found) == []
    planned = plan(steady(4), [trumpets()], found, assumptions=TAKE)
    (told,) = [warning_text(one) for one in planned.warnings if one.kind == "no_room_to_tune"]
    assert "the playing at 18:50" in told
    assert "(Bus)" in told
    mild = plan(steady(20), [trumpets()], found, assumptions=TAKE)
    assert not [one for one in mild.warnings if one.kind == "no_room_to_tune"]


@pytest.mark.parametrize(("celsius", "blown"), [(35.0, False), (27.0, False), (22.0, True)])
def test_no_warm_air_is_blown_where_the_air_is_as_warm(celsius, blown):
    evening = schedule(("tune", 0, 15), ("rest", 15, 45), ("play", 45, 100))
    found = timed(steady(celsius), [trumpets()], evening, assumptions=TAKE)
    assert ("warm" in [what for what, _ in rows(found)]) == blown


def test_nobody_tunes_on_foot_and_warm_air_can_be_blown():
    evening = arrange([
        Entry(minute(0), minute(10), "tune", celsius=21.0),
        Entry(minute(10), minute(30), "rest", occupied="walking"),
        Entry(minute(30), minute(60), "play"),
    ])  # fmt: skip
    found = timed(steady(4), [trumpets()], evening, assumptions=TAKE)
    assert [what for what, _ in rows(found)] == ["warm"]


def test_a_walk_that_warm_air_fills_is_still_a_walk():
    """Own readings may ask for as many minutes of warm air as the whole walk has."""
    evening = arrange(
        [
            Entry(minute(0), minute(30), "tune", celsius=21.0),
            Entry(minute(30), minute(60), "stands"),
            Entry(minute(60), minute(66), "rest", remark="walk", occupied="walking"),
            Entry(minute(66), minute(80), "play"),
        ]
    )
    found = timed(steady(4), [trumpets()], evening, assumptions=TAKE)
    assert rows(found) == [("warm", 60)]


def test_nobody_is_told_to_sound_where_nobody_may_play():
    evening = arrange([
        Entry(minute(0), minute(10), "tune", celsius=21.0),
        Entry(minute(10), minute(20), "rest", occupied="walking"),
        Entry(minute(20), minute(40), "rest", occupied="silent", remark="silent, tunnel"),
        Entry(minute(40), minute(60), "play", remark="half-time show"),
    ])  # fmt: skip
    found = timed(steady(4), [trumpets()], evening, assumptions=TAKE)
    assert [what for what, _ in rows(found)] == ["warm"]
    (planned,) = plan_evening(steady(4), [trumpets()], evening, assumptions=TAKE)
    (told,) = [warning_text(one) for one in planned.warnings if "permission" in one.kind]
    assert told == (
        "no tune before the playing at 18:40 (half-time show), which needs one: the timetable says "
        "that nobody plays then; ask whether the band may sound from 18:36 to 18:40, and write a "
        "tune there if it may"
    )
    assert capital(told) in " ".join(exceptions(planned))
    assert not [one for one in planned.warnings if one.kind == "no_room_to_tune"]


def test_a_tune_that_nobody_needs_is_not_missed_where_nobody_may_play():
    evening = arrange([
        Entry(minute(0), minute(10), "tune"),
        Entry(minute(10), minute(15), "rest", occupied="silent"),
        Entry(minute(15), minute(30), "play"),
    ])  # fmt: skip
    assert not timed(steady(4), [trumpets()], evening, assumptions=TAKE).notices


def test_a_warm_up_in_a_room_does_not_spoil_the_pitch_of_the_field():
    (found,) = plan_evening(
        steady(6), [trumpets(at_mm={"main": 40.0}, travel_mm={"main": 60.0})], without_a_tune(),
        assumptions=TAKE,
    )  # fmt: skip
    assert all(s.highest_cents < 10 and s.lowest_cents > -10 for s in found.settings)
    text = found.summary()
    assert "throughout" not in text
    assert "Tunes added: 19:41 before pre-game" in text
    assert "one was added at 19:41" in text


@pytest.mark.parametrize("as_scheduled", [True, False])
def test_a_field_that_is_entered_without_a_rest_is_still_aimed_at_alone(as_scheduled):
    band = arrange(
        [
            Entry(minute(0), minute(50), "play", celsius=21.0),
            Entry(minute(50), minute(65), "play"),
            Entry(minute(65), minute(100), "rest"),
            Entry(minute(100), minute(120), "play"),
        ]
    )
    (found,) = plan_evening(
        steady(6), [trumpets()], band, assumptions=TAKE, as_scheduled=as_scheduled
    )
    block = found.settings[0].block
    assert (block.tune_at, block.ready, block.scheduled) == (minute(50), minute(50), False)
    # Cooled down, and not warm as in the room: no part of the room in the mean of the playing.
    assert found.courses["trumpets"].mean[0] < -10


def test_one_tune_for_a_room_and_a_field_is_said():
    band = arrange(
        [
            Entry(minute(0), minute(10), "tune", celsius=21.0),
            Entry(minute(10), minute(40), "play", celsius=21.0),
            Entry(minute(40), minute(60), "rest"),
            Entry(minute(60), minute(80), "play"),
        ]
    )
    take = {"assumptions": TAKE, "as_scheduled": True}
    (found,) = plan_evening(steady(6), [trumpets()], band, **take)
    assert "one tune at 18:00 serves playing at 6 and at 21 °C" in found.summary()
    (found,) = plan_evening(steady(18), [trumpets()], band, **take)
    assert "one tune at" not in found.summary()


def test_a_band_that_reaches_the_nominal_pitch_has_one_plan():
    (found,) = plan_evening(steady(18), [trumpets()], carried(), assumptions=TAKE)
    assert found.aim_a4_hz == 440.0


def test_a_stuck_tuba_in_the_cold_makes_two_complete_plans():
    band = [trumpets(at_mm={"main": 30.0}, travel_mm={"main": 60.0}), tuba(stuck=("main",))]
    all_of_them, without = plan_evening(steady(0), band, carried(), assumptions=TAKE)
    assert all_of_them.aim_a4_hz < 438 < without.aim_a4_hz
    assert [s.name for s in without.sections] == ["trumpets", "tuba"]
    assert pitches(without.pitch)[0] == pytest.approx(all_of_them.aim_a4_hz)
    # Nobody is further off than 5 cents from the first, set to half a hertz (1 cent); the director
    # may choose another.
    worst = max(abs(c) for s in all_of_them.settings if s.block.plays
                for c in s.remaining_cents.values())  # fmt: skip
    assert worst <= 6.0
    (chosen,) = plan_evening(
        steady(0), band, carried(), assumptions=Assumptions(a4_hz=438.0, draws=200)
    )
    assert chosen.aim_a4_hz == 438.0


def test_two_pitches_that_are_nearly_one_make_one_plan():
    """A section that stops a little short of the others costs nobody a second set of sheets."""
    short = [trumpets(at_mm={"main": at}, name=name) for name, at in (("a", 3.0), ("b", 2.6))]
    found = plan_evening(steady(0), short, carried(), assumptions=TAKE)
    pitch = found[0].pitch
    without = [c.a4_hz for c in pitch.choices if c.name.startswith("without")]
    assert 440.0 - pitch.recommended_a4_hz > 2.0  # more than 8 cents
    assert abs(without[0] - pitch.recommended_a4_hz) < 2.0
    assert len(found) == 1


def test_whom_to_watch_and_until_when():
    found = plan(steady(4), [trumpets()], carried(), assumptions=TAKE)
    first = watch(found)[0]
    assert (first.section, first.start) == ("trumpets", minute(60))
    assert first.cents < -8
    pitch = found.planned_cents["trumpets"][""]
    at = int((first.right_at - minute(0)) / timedelta(minutes=1))
    assert abs(pitch[at]) <= 5 < abs(pitch[at - 1])


def short_band():
    """Trumpets that stop early in the cold, horns that stop a little, a tuba that reaches."""
    return [
        trumpets(name="cornets", at_mm={"main": 1.0}),
        trumpets(at_mm={"main": 7.0}),
        tuba(at_mm={"main": 90.0}, travel_mm={"main": 120.0}),
    ]


def test_a_pitch_that_a_director_chose_names_all_who_cannot_reach_it():
    take = Assumptions(a4_hz=440.0, draws=200)
    (found,) = plan_evening(steady(2), short_band(), carried(), assumptions=take)
    assert (
        why_this_pitch(found)
        == "A pitch that cornets and trumpets cannot reach within 6 cents; all others can."
    )
    assert "cornets and trumpets cannot come as high as 440.0 Hz" in reason_words(found.pitch)
    assert "meet them there" not in found.summary()
    unknown = [*short_band(), trumpets(name="guests", at_mm={}, travel_mm={})]
    (found,) = plan_evening(steady(2), unknown, carried(), assumptions=take)
    assert why_this_pitch(found).endswith("the others can, as far as is known.")
    reached = Assumptions(a4_hz=434.0, draws=200)
    (found,) = plan_evening(steady(2), [trumpets()], carried(), assumptions=reached)
    assert "cannot reach" not in why_this_pitch(found)


def test_what_remains_of_a_section_that_comes_right_is_said_to_be_an_average():
    times = pd.date_range(minute(-60), minute(200), freq="10min")
    table = pd.DataFrame(
        {"humidity_percent": np.nan, "wind_m_s": np.nan, "pressure_hpa": np.nan}, index=times
    )
    warming = Forecast(table.assign(celsius=np.linspace(4.0, 25.0, len(times))))
    band = [trumpets(at_mm={"main": 0.0}, travel_mm={"main": 40.0})]
    take = Assumptions(a4_hz=440.0, draws=200)
    found = plan(warming, band, schedule(("tune", 0, 10), ("play", 10, 150)), assumptions=take)
    (begins,) = found.watch
    assert begins.right_at is not None
    (left,) = [line for line in exceptions(found) if "remains" in line]
    assert re.search(r"flat remains on average \(−\d+ to 0\), the slide is at its end\.$", left)


def test_what_warm_air_is_worth_is_said():
    evening = schedule(("tune", 0, 10), ("rest", 10, 60), ("warm", 60, 68), ("play", 68, 80))
    take = Assumptions(a4_hz=440.0, draws=200)
    found = plan(steady(4), [trumpets(), bells()], evening, assumptions=take)
    ((start, cents),) = found.unblown.items()
    assert (start, list(cents)) == (minute(68), ["trumpets"])
    cold = plan(
        steady(4), [trumpets()],
        schedule(("tune", 0, 10), ("rest", 10, 68), ("play", 68, 80)), assumptions=take,
    )  # fmt: skip
    at = int(found.times.searchsorted(pd.Timestamp(start)))
    colder = (cold.courses["trumpets"].cents - found.courses["trumpets"].cents)[at]
    assert cents["trumpets"] == pytest.approx(found.planned_cents["trumpets"][""][at] + colder)
    assert cents["trumpets"] < -5
    said = f"no tone; without it {range_of(*[cents['trumpets']] * 2)} cents"
    assert [what for _, what in timing_rows(found) if "warm air" in what] == [
        f"Blow warm air as if playing, {said}"
    ]
    assert cold.unblown == {}
    assert found.to_json()["without_warm_air"] == [{"time": start.isoformat(), "cents": cents}]


def test_throughout_is_said_only_of_what_lasts():
    take = Assumptions(a4_hz=440.0, draws=200, forecast_error_celsius=0.0)
    (found,) = plan_evening(steady(2), short_band(), carried(), assumptions=take)
    lines = exceptions(found)
    (line,) = [line for line in lines if line.startswith("Cornets: ")]
    played = [s for s in found.settings if s.block.plays and s.section.name == "cornets"]
    low = min(s.lowest_cents for s in played)
    high = max(s.highest_cents for s in played)
    assert high < -5
    assert line == f"Cornets: {-high:.0f}–{-low:.0f} flat throughout; the slide is at its end."
    # The tuba comes right, so nothing lasts.
    assert not [line for line in lines if "Tuba" in line and "throughout" in line]
    for section in found.sections:
        right = [abs(cents) <= 5 for s in found.settings if s.block.plays and s.section == section
                 for cents in (s.lowest_cents, s.highest_cents)]  # fmt: skip
        if any(right):
            assert not [
                x for x in lines if x.startswith(section.name.capitalize()) and "throughout" in x
            ]


def test_a_second_sheet_calls_no_other_pitch_recommended():
    band = [trumpets(at_mm={"main": 30.0}, travel_mm={"main": 60.0}), tuba(stuck=("main",))]
    first, second = plan_evening(steady(0), band, carried(), assumptions=TAKE)
    for found in (first, second):
        assert "recommended" not in found.summary()
        assert "for all sections" in found.summary()
    assert f"stay at {second.aim_a4_hz:g}" in second.summary()


def test_playing_in_the_stands_is_said_not_to_be_aimed_at():
    (found,) = plan_evening(steady(4), [trumpets(), bells()], without_a_tune(), assumptions=TAKE)
    (line,) = [line for line in exceptions(found) if "the stands" in line]
    index = found.schedule.entry_at(found.times)
    (number,) = [n for n, e in enumerate(found.schedule.entries) if e.activity == "stands"]
    cents = found.planned_cents["trumpets"][""][index == number]
    ends = range_of(float(cents.min()), float(cents.max()))
    start, end = found.schedule.entries[number].start, found.schedule.entries[number].end
    assert f"({start:%H:%M}–{end:%H:%M}): {ends} cents there" in line
    (mild,) = plan_evening(steady(20), [trumpets()], carried(), assumptions=TAKE)
    assert not [line for line in exceptions(mild) if "stands" in line]
