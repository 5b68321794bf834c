"""What was read on an evening beside its plan."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pandas as pd
import pytest

from drift.errors import InputError
from drift.gig.compared import compare
from drift.gig.lag import LAGS_MINUTES
from drift.gig.plan import Assumptions
from drift.gig.planning import plan
from drift.words.gig_compared import summary_of
from tests.gigs import bells, minute, schedule, steady, trumpets, tuba

TUNES = schedule(("tune", 0, 10), ("play", 10, 40), ("rest", 40, 60), ("play", 60, 80))
AIR = pd.DataFrame({"time": pd.to_datetime([], utc=True), "celsius": []})


@pytest.fixture(scope="module")
def planned():
    band = [trumpets(), tuba(names=("Alder",)), bells()]
    return plan(steady(5), band, TUNES, assumptions=Assumptions(a4_hz=441.0, draws=200))


def readings(*rows):
    names = ["time", "player", "instrument", "side", "note", "cents", "a4_hz", "flagged"]
    found = pd.DataFrame(rows, columns=names)
    found["time"] = pd.to_datetime(found["time"], utc=True)
    return found


def trumpet(at, cents, flagged=False, a4_hz=441.0, player="Rowan"):
    return (minute(at), player, "Bb trumpet", "", "Bb4", cents, a4_hz, flagged)


def test_errors_are_read_minus_planned_by_section(planned):
    line = planned.planned_cents["trumpets"][""]
    rows = readings(*(trumpet(at, line[at] + error) for at, error in ((20, 5), (30, 9), (70, 7))))
    found = compare(planned, rows, AIR)
    (only,) = found.sections
    assert (only.section, only.readings) == ("trumpets", 3)
    assert only.error_cents == pytest.approx(7.0)
    assert only.error_sd_cents == pytest.approx(2.0)
    assert found.not_read == ("tuba", "bells")
    assert [(o.start, o.activity, len(o.sections)) for o in found.occasions] == [
        (minute(10), "play", 1), (minute(60), "play", 1),
    ]  # fmt: skip
    assert "18:10, trumpets: 7 cents sharper than planned" in summary_of(found)
    assert "19:00, trumpets: 7 cents sharper than planned" in summary_of(found)
    assert "not read: tuba, bells" in summary_of(found)


def test_a_section_is_far_from_its_plan_by_what_the_table_shows(planned):
    line = planned.planned_cents["trumpets"][""]
    found = compare(planned, readings(trumpet(20, line[20] + 5.3)), AIR)
    assert "every section that was read is within 5 cents of its plan" in summary_of(found)


def test_the_pitch_of_a_reading_is_taken_to_that_of_the_plan(planned):
    line = planned.planned_cents["trumpets"][""]
    # 440 Hz is 3.93 cents below 441.
    found = compare(planned, readings(trumpet(20, line[20] + 3.93, a4_hz=440.0)), AIR)
    assert found.sections[0].error_cents == pytest.approx(0.0, abs=0.01)
    assert "within 5 cents of its plan" in summary_of(found)


def test_each_tune_and_playing_has_its_own_error(planned):
    line = planned.planned_cents["trumpets"][""]
    show = planned.settings[0].show_cents.estimate
    rows = readings(trumpet(5, show - 9.0), trumpet(20, line[20] + 9.0), trumpet(70, line[70] + 1))
    found = compare(planned, rows, AIR)
    errors = [found.occasions[n].sections[0].error_cents for n in range(3)]
    assert errors == pytest.approx([-9.0, 9.0, 1.0])
    text = summary_of(found)
    assert "18:00, trumpets: 9 cents flatter than planned" in text
    assert "18:10, trumpets: 9 cents sharper than planned" in text
    assert "19:00, trumpets" not in text
    assert found.to_json()["occasions"][0]["sections"][0]["readings"] == 1


def test_tuners_at_another_pitch_are_said(planned):
    line = planned.planned_cents["trumpets"][""]
    other = compare(planned, readings(trumpet(20, line[20], a4_hz=440.0)), AIR)
    assert "at A4 = 440.0 Hz are counted 4 flat of what the tuner showed" in summary_of(other)
    assert other.read_a4_hz == (440.0,)
    same = compare(planned, readings(trumpet(20, line[20])), AIR)
    assert "are counted" not in summary_of(same)


def test_a_tune_is_held_against_its_target(planned):
    show = planned.settings[0].show_cents.estimate
    found = compare(planned, readings(trumpet(5, show + 4.0)), AIR)
    assert found.sections[0].error_cents == pytest.approx(4.0)


def test_a_slide_at_its_end_is_held_against_what_the_card_says_it_shows_there():
    made = plan(
        steady(3), [trumpets(at_mm={"main": 1.0})], TUNES, assumptions=Assumptions(draws=200)
    )
    (setting,) = made.settings
    left = setting.remaining_cents[""]
    assert left < -5
    announced = setting.show_cents.estimate + left
    found = compare(made, readings(trumpet(8, announced)), AIR)
    assert found.sections[0].planned_cents == pytest.approx(announced)
    assert "every section that was read is within 5 cents of its plan" in summary_of(found)
    assert "at the tunes 1 of 1 readings lay in the brackets" in summary_of(found)
    beside = compare(made, readings(trumpet(8, setting.show_cents.estimate)), AIR)
    bracket = beside.to_frame().iloc[0][["low_cents", "high_cents"]].tolist()
    show = setting.show_cents
    assert bracket == pytest.approx([show.low + left, show.high + left])


def test_times_are_told_as_the_timetable_has_them(planned):
    found = compare(planned, readings(trumpet(20, 80.0)), AIR)
    assert "18:10 play" in summary_of(found)
    text = summary_of(replace(found, half_days=True)).replace("\N{NO-BREAK SPACE}", " ")
    assert "6:10 PM play" in text
    assert "6:10 PM, trumpets: " in text


def test_what_does_not_count(planned):
    line = planned.planned_cents["trumpets"][""]
    tubist = (minute(20), "Isolde", "BBb tuba", "", "Bb2", 40.0, 441.0, False)
    rows = readings(
        trumpet(20, line[20]),
        trumpet(21, 80.0, flagged=True),
        trumpet(50, 80.0),  # at rest
        trumpet(600, 80.0),
        tubist,  # the roster names Alder
    )
    found = compare(planned, rows, AIR)
    assert len(found.to_frame()) == 1
    kinds = {one.kind: one.readings for one in found.not_judged}
    assert kinds == {"flagged": 1, "rest": 1, "not_on_roster": 1}
    with pytest.raises(
        InputError, match=r"none of the 3 readings .* 1 flagged, 1 rest, 1 not on roster"
    ):
        compare(planned, rows.iloc[1:], AIR)
    with pytest.raises(InputError, match="no reading was taken during the schedule"):
        compare(planned, rows.iloc[-2:-1], AIR)


def test_readings_in_the_stands_are_counted_and_said_not_to_be_judged():
    game = schedule(("tune", 0, 10), ("stands", 10, 70), ("play", 70, 80), ("stands", 80, 120))
    found = plan(steady(5), [trumpets()], game, assumptions=Assumptions(a4_hz=441.0, draws=200))
    stands = [trumpet(30, -12.0), trumpet(60, -14.0), trumpet(100, -31.0)]
    judged = compare(found, readings(*stands, trumpet(75, 0.0)), AIR)
    assert "not judged: 3 in the stands (−31 to −12 cents)" in summary_of(judged)
    assert judged.to_json()["not_judged"] == [
        {"kind": "stands", "readings": 3, "lowest_cents": -31.0, "highest_cents": -12.0}
    ]
    none = "none of the 3 readings during the schedule can be judged: 3 stands"
    with pytest.raises(InputError, match=none):
        compare(found, readings(*stands), AIR)


def test_tunes_and_playing_are_judged_apart(planned):
    """A target of 21 sharp indoors is not how far the band was off while it played."""
    line, show = planned.planned_cents["trumpets"][""], planned.settings[0].show_cents
    rows = readings(
        trumpet(4, show.estimate), trumpet(5, show.high + 2.0), trumpet(20, line[20] + 1.0),
    )  # fmt: skip
    found = compare(planned, rows, AIR)
    tunes, playing = found.together("tune"), found.together("play")
    assert (tunes[-1].section, tunes[-1].readings, tunes[-1].inside) == ("whole band", 2, 1)
    assert (playing[-1].readings, playing[-1].inside) == (1, None)
    assert playing[-1].absolute_cents == pytest.approx(abs(line[20] + 1.0))
    text = summary_of(found)
    assert "at the tunes 1 of 2 readings lay in the brackets of the sheets" in text
    assert "1 of 2" in text
    by_activity = found.to_json()["by_activity"]
    assert by_activity["tune"][0]["inside"] == 1
    assert by_activity["play"][0]["inside"] is None


def test_the_forecast_is_judged(planned):
    times = pd.to_datetime([minute(n) for n in range(0, 80, 10)], utc=True)
    air = pd.DataFrame({"time": times, "celsius": 5.0 + 1.5 + 0.1 * (np.arange(8) % 2)})
    found = compare(planned, readings(trumpet(20, 0.0)), air)
    assert found.celsius_error == pytest.approx(1.55)
    assert "1.6 °C warmer than forecast" in summary_of(found) or "1.5 °C" in summary_of(found)
    assert "°F warmer" in summary_of(found, fahrenheit=True)
    same = compare(planned, readings(trumpet(20, 0.0)), air.assign(celsius=5.01))
    assert "the air was as forecast; the plan's ±2.0 °C held it" in summary_of(same)
    nothing = compare(planned, readings(trumpet(20, 0.0)), AIR)
    assert nothing.to_json()["celsius_error"] is None
    assert "no temperature was measured" in summary_of(nothing)
    assert timedelta(0) < nothing.table["time"].iloc[0] - minute(0)


CARRIED = schedule(("tune", 0, 10), ("play", 10, 40), ("rest", 40, 60), ("play", 60, 80))


def evening_with(lag, noise_sd=2.0, every=1, seed=5):
    """Readings of a band that follows the air so much later than the plan without lag."""
    band = [trumpets(), tuba()]
    take = Assumptions(a4_hz=441.0, draws=200)
    first = plan(steady(5), band, CARRIED, assumptions=take)
    true = plan(steady(5), band, CARRIED, assumptions=replace(take, lag_minutes=lag))
    rng = np.random.default_rng(seed)
    rows = [
        (minute(at), "Rowan", name, "", "Bb4", line[at] + rng.normal(0, noise_sd), 441.0, False)
        for section, name in (("trumpets", "Bb trumpet"), ("tuba", "BBb tuba"))
        for line in [true.planned_cents[section][""]]
        for at in (*range(11, 39, every), *range(61, 79, every))
    ]
    later = {
        other: plan(steady(5), band, CARRIED, assumptions=replace(take, lag_minutes=other))
        for other in LAGS_MINUTES
    }
    return compare(first, readings(*rows), AIR, later)


@pytest.mark.parametrize("lag", [0.0, 3.0, 5.0])
@pytest.mark.slow
def test_the_lag_of_an_evening_is_found_and_given_to_the_next(lag):
    found = evening_with(lag).lag
    assert found.low <= lag <= found.high
    assert found.high - found.low < 8.0
    words = summary_of(evening_with(lag))
    assert ("as planned" in words) if lag == 0.0 else (f"--lag {found.estimate:.0f}" in words)


def test_a_lag_that_a_few_readings_cannot_show_is_not_given():
    few = evening_with(3.0, every=20)
    assert few.lag is None
    assert few.to_json()["lag_minutes"] is None
    assert "is not known: read more" in summary_of(few)


def test_a_forecast_error_that_held_the_air_is_not_told_as_another(planned):
    """The plan allows 2 °C: it holds 1.5 °C, and 3 °C would have needed --forecast-error 3."""
    rows = readings(trumpet(20, planned.planned_cents["trumpets"][""][20]))
    for off, words in (
        (1.5, "; the plan's ±2.0 °C held it, and so would --forecast-error 1.5C\n"),
        (2.0, "; the plan's ±2.0 °C held it\n"),
        (3.0, "; --forecast-error 3.0C would have held it"),
    ):
        air = pd.DataFrame({"time": pd.to_datetime([minute(20), minute(21)], utc=True)})
        found = compare(planned, rows, air.assign(celsius=planned.celsius[20] + off))
        assert words in summary_of(found)
