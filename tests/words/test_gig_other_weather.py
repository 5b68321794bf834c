"""What a director is told of an evening that is colder than forecast."""

from dataclasses import replace

import pytest

from drift.gig.plan import Assumptions
from drift.gig.planning import plan
from drift.gig.scenarios import Scenarios
from drift.gig.timetable import Entry, arrange
from drift.regression.results import Estimate
from drift.sheets.plan_sheets import director_sheet
from drift.words.gig import show_briefly, shown_cents
from drift.words.gig_moves import hints
from drift.words.gig_other_weather import other_weather
from tests.gigs import minute, steady, trumpets
from tests.sheets.test_plan_sheets import words

ROWS = [
    Entry(minute(0), minute(10), "tune", celsius=21.0),
    Entry(minute(10), minute(40), "rest"),
    Entry(minute(40), minute(44), "tune"),
    Entry(minute(44), minute(60), "play"),
]
TAKE = Assumptions(a4_hz=440.0, draws=200)


def planned(celsius, **changes):
    return plan(steady(celsius), [trumpets(**changes)], arrange(ROWS), assumptions=TAKE)


@pytest.fixture(scope="module")
def scenarios():
    short = {"at_mm": {"main": 8.0}}
    return Scenarios({"as planned": planned(15, **short), "colder": planned(5, **short)})


def test_the_tune_on_the_field_takes_the_cold_in_as_far_as_the_slide_goes(scenarios):
    line, care = other_weather(scenarios.first, scenarios)
    assert care.startswith("Take care then: ")
    first, colder = scenarios.plans.values()
    field = [shown_cents(p.settings[1].show_cents) for p in (first, colder)]
    assert line.startswith("Colder (up to 10 °C colder): the targets at 18:00 would be up to ")
    held = max(abs(field[1] - field[0]), 1)
    assert f"; the targets at 18:40 hold within {held} cent" in line
    for_all = colder.pitch.recommended_a4_hz
    assert for_all < first.pitch.recommended_a4_hz == first.aim_a4_hz
    left = -min(one.worst_left.estimate for one in colder.settings)
    assert line.endswith(
        f"; slides at their end: Trumpets {left:.0f} flat remains; the pitch for all would be A4 = "
        f"{for_all:.1f} Hz."
    )
    assert "(up to 18 °F colder)" in other_weather(first, scenarios, fahrenheit=True)[0]


@pytest.mark.parametrize(("then_mm", "holds"), [(-9.0, False), (2.0, False), (-2.4, True)])
def test_millimetres_of_cards_that_are_for_other_air_are_said_not_to_hold(
    scenarios, then_mm, holds
):
    first, colder = scenarios.plans.values()

    def moving(made, mm):
        show = Estimate(0.0, -3.0, 3.0)
        return replace(made, settings=tuple(
            replace(s, show_cents=show,
                    moves=(replace(s.moves[0], move_mm=mm, low_mm=mm - 2.0, high_mm=mm + 2.0),))
            for s in made.settings
        ))  # fmt: skip

    beside = Scenarios({"as planned": moving(first, -4.0), "colder": moving(colder, then_mm)})
    assert hints(beside.first.settings[1]) == "push in 2–6 mm, then the tuner"
    told = other_weather(beside.first, beside)[0]
    assert ("; the millimetres of the cards do not hold, the tuner decides;" in told) is not holds


def test_a_tune_that_the_cards_put_off_is_named_where_no_later_one_follows():
    """Rain: all is played in rooms, and the tune in the first is the only one."""
    rain = [replace(entry, celsius=21.0) for entry in (ROWS[0], ROWS[1], ROWS[3])]
    rain[1] = replace(rain[1], end=ROWS[3].start)
    cold, inside = (
        plan(steady(3), [trumpets(at_mm={"main": 14.0})], arrange(rows), assumptions=take)
        for rows, take in ((ROWS, replace(TAKE, a4_hz=434.0)), (rain, replace(TAKE, a4_hz=434.0)))
    )
    waiting = replace(cold, settings=(replace(cold.settings[0], waits=True), *cold.settings[1:]))
    (line, *_) = other_weather(waiting, Scenarios({"as planned": waiting, "rain": inside}))
    (there,) = inside.settings
    target = f"Trumpets {show_briefly(there.show_cents)}"
    assert f"tune at 18:00 already, which the cards put off: {target.lower()}; " in line.lower()
    assert "; no tune at 18:40" in line
    # Where the tune that the cards wait for is there as well, they hold.
    colder = plan(steady(1), [trumpets(at_mm={"main": 14.0})], arrange(ROWS), assumptions=TAKE)
    assert not colder.settings[0].waits
    (line, *_) = other_weather(waiting, Scenarios({"as planned": waiting, "colder": colder}))
    assert "put off" not in line


def test_a_tune_of_the_cards_is_left_out_where_slides_stay_in_other_weather(scenarios):
    """Whoever set the cards' target there would be off by all of it."""
    waits = scenarios.plans["colder"]
    waits = replace(waits, settings=(replace(waits.settings[0], waits=True), *waits.settings[1:]))
    first = scenarios.first
    (line, *_) = other_weather(first, Scenarios({"as planned": first, "rain": waits}))
    assert "; slides stay at 18:00" in line
    assert "the targets at 18:00" not in line


def test_the_usual_pitch_is_named_where_other_weather_brings_it_into_reach():
    """With --a4 the plan does not look for another pitch, and in mild air none is needed."""
    short = {"at_mm": {"main": 4.0}, "travel_mm": {"main": 40.0}}
    take = replace(TAKE, a4_hz=435.0)
    cold, mild = (
        plan(steady(t), [trumpets(**short)], arrange(ROWS[2:]), assumptions=take) for t in (0, 21)
    )
    (line, *_) = other_weather(cold, Scenarios({"as planned": cold, "mild": mild}))
    assert line.endswith("every section would reach A4 = 440.0 Hz.")
    colder = plan(steady(-3), [trumpets(**short)], arrange(ROWS[2:]), assumptions=take)
    (line, *_) = other_weather(cold, Scenarios({"as planned": cold, "colder": colder}))
    assert "every section" not in line


def late(rows):
    return plan(steady(15), [trumpets()], arrange(rows), assumptions=TAKE)


def test_a_tune_that_moves_with_its_playing_is_named_with_its_targets():
    """The field at 18:50 and not at 18:40; the tune in the room stays where it is."""
    warm = Entry(minute(35), minute(40), "warm", added=True)
    planned = late([ROWS[0], Entry(minute(10), minute(35), "rest"), warm, *ROWS[2:]])
    later = late([
        ROWS[0],
        Entry(minute(10), minute(44), "rest"),
        Entry(minute(44), minute(50), "warm", added=True),
        Entry(minute(50), minute(54), "tune"),
        Entry(minute(54), minute(70), "play"),
    ])  # fmt: skip
    (line,) = other_weather(planned, Scenarios({"as planned": planned, "late": later}))
    assert line.startswith("Late: the targets at 18:00 hold within 1 cent; ")
    assert "; the tune at 18:40 is at 18:50, its targets hold within 1 cent; " in line
    assert "; warm air from 18:44" in line


def test_every_tune_of_an_evening_that_begins_later_is_named_with_its_own_time():
    """Two tunes serve the first playing: the one in the room, and one that a plan adds."""
    shown = [late([
        Entry(minute(at), minute(at + 6), "tune", celsius=21.0),
        Entry(minute(at + 6), minute(at + 36), "rest"),
        Entry(minute(at + 36), minute(at + 40), "tune", added=True),
        Entry(minute(at + 40), minute(at + 60), "play"),
    ]) for at in (0, 30)]  # fmt: skip
    (line,) = other_weather(shown[0], Scenarios(dict(zip(("planned", "late"), shown, strict=True))))
    assert "the tune at 18:00 is at 18:30, its targets hold within 1 cent; " in line
    assert "the tune at 18:36 is at 19:06, its targets hold within 1 cent" in line
    assert "no tune" not in line
    assert " too" not in line


def test_a_tune_that_a_scenario_has_not_or_has_beside_is_named():
    second = [Entry(minute(60), minute(70), "rest"), Entry(minute(70), minute(74), "tune"),
              Entry(minute(74), minute(90), "play")]  # fmt: skip
    short, long = late(ROWS), late([*ROWS, *second])
    (line,) = other_weather(short, Scenarios({"as planned": short, "longer": long}))
    target = show_briefly(long.settings[-1].show_cents)
    assert f"; tune at 19:10 too: trumpets {target}" in line.lower()
    (line,) = other_weather(long, Scenarios({"as planned": long, "shorter": short}))
    assert "; no tune at 19:10" in line


def test_targets_differ_by_what_the_sheets_print(scenarios):
    first, colder = scenarios.plans.values()

    def showing(made, cents):
        show = Estimate(cents, cents - 3.0, cents + 3.0)
        return replace(made, settings=tuple(replace(s, show_cents=show) for s in made.settings))

    beside = Scenarios({"as planned": showing(first, 1.3), "colder": showing(colder, 2.0)})
    assert (
        "the targets at 18:00 and 18:40 hold within 2 cents"
        in other_weather(beside.first, beside)[0]
    )


def test_without_a_scenario_the_error_of_the_forecast_is_taken(scenarios):
    (line,) = other_weather(scenarios.first)
    show = scenarios.first.settings[1].show_cents
    assert line == (
        "If the air is not as forecast, tune to the same targets at 18:40: as far as ±2 °C they "
        f"hold within {(show.high - show.low) / 2:.0f} cents."
    )


@pytest.mark.parametrize(
    ("halves", "said"),
    [
        ((3.0, 21.0), "they hold within 3 cents at 18:40 and within 21 cents at 19:10."),
        ((4.0, 4.2), "they hold within 4 cents."),
    ],
)
def test_each_tune_has_its_own_number_unless_they_are_alike(halves, said):
    again = [
        Entry(minute(60), minute(70), "rest"),
        Entry(minute(70), minute(74), "tune"),
        Entry(minute(74), minute(90), "play"),
    ]
    found = plan(steady(15), [trumpets()], arrange([*ROWS, *again]), assumptions=TAKE)
    wide = zip(found.settings, (9.0, *halves), strict=True)
    settings = tuple(replace(s, show_cents=Estimate(0.0, -half, half)) for s, half in wide)
    (line,) = other_weather(replace(found, settings=settings))
    assert line.startswith(
        "If the air is not as forecast, tune to the same targets at 18:40 and 19"
    )
    assert line.endswith(said)


def test_nothing_holds_where_nothing_is_tuned_outdoors():
    indoors = arrange([replace(ROWS[0]), Entry(minute(40), minute(60), "play")])
    found = plan(steady(15), [trumpets()], indoors, assumptions=TAKE)
    assert other_weather(found) == []


def test_the_sheet_of_the_director_says_it(scenarios):
    line, care = other_weather(scenarios.first, scenarios)
    text = " ".join(words(director_sheet(scenarios.first, scenarios=scenarios)).split())
    assert line in text
    assert care in text
