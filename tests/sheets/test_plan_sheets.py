"""The sheets: paper, pages, one pitch each, type that does not shrink, what they say."""

import io
import itertools
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader

from drift.charts.style import png
from drift.errors import InputError
from drift.findings import Finding
from drift.gig.basis import Basis, BasisKind
from drift.gig.evening import plan_evening
from drift.gig.plan import Assumptions
from drift.gig.planning import plan
from drift.gig.scenarios import Scenarios
from drift.gig.timetable import Entry, arrange
from drift.gig.weather import Forecast, constant_forecast
from drift.sheets.plan_figure import courses_figure
from drift.sheets.plan_files import write_plans
from drift.sheets.plan_page import plan_page
from drift.sheets.plan_sheets import PAPERS, READING_SIZE, director_sheet, section_cards
from drift.words.cents import deviation, deviations
from drift.words.gig import exceptions, show_briefly, show_words
from drift.words.gig_cards import shows, untouched
from drift.words.gig_moves import at_its_end, hints, no_millimetres, tell_the_leader
from drift.words.gig_other_weather import other_weather
from drift.words.gig_phrases import range_of
from tests.gigs import START, bells, horns, minute, schedule, section, steady, trumpets, tuba

TUNES = schedule(("tune", 0, 10), ("play", 10, 40), ("tune", 80, 90), ("play", 90, 120))
TAKE = Assumptions(draws=200)


def band(count):
    makers = itertools.cycle([trumpets, horns, tuba, bells])
    return [next(makers)(name=f"section {number + 1}") for number in range(count)]


def pages(pdf):
    return PdfReader(io.BytesIO(pdf)).pages


def words(pdf):
    return " ".join(" ".join(page.extract_text().split()) for page in pages(pdf))


@pytest.fixture(scope="module")
def found():
    return plan(steady(3), [*band(4), tuba(name="old", stuck=("main",))], TUNES, assumptions=TAKE)


def sizes(pdf):
    """The sizes of all type on a PDF."""
    found = set()

    def visit(text, _matrix, text_matrix, _font, size):
        if text.strip():
            found.add(round(size * text_matrix[0], 1))

    for page in pages(pdf):
        page.extract_text(visitor_text=visit)
    return found


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("count", [1, 12, pytest.param(40, marks=pytest.mark.slow)])
def test_type_never_shrinks_and_the_director_has_one_page(paper, count):
    found = plan(steady(3), band(count), TUNES, assumptions=TAKE)
    sheet, cards = director_sheet(found, paper=paper), section_cards(found, paper=paper)
    assert len(pages(sheet)) == 1
    assert len(pages(cards)) == (count + 1) // 2
    for pdf in (sheet, cards):
        assert min(sizes(pdf)) >= READING_SIZE
        for page in pages(pdf):
            box = (float(page.mediabox.width), float(page.mediabox.height))
            assert box == pytest.approx(PAPERS[paper], abs=0.1)
    for number in range(count):
        assert f"Section {number + 1} ·" in words(cards)


@pytest.mark.slow
def test_a_long_evening_goes_on_to_the_next_page():
    rows = [row for n in range(36) for row in (("tune", 20 * n, 20 * n + 5),
                                               ("play", 20 * n + 5, 20 * n + 15))]  # fmt: skip
    long = plan(steady(3, hours=13), [trumpets()], schedule(*rows), assumptions=TAKE)
    sheet, cards = director_sheet(long), section_cards(long)
    assert len(pages(sheet)) > 1
    assert len(pages(cards)) > 1
    assert min(sizes(sheet) | sizes(cards)) >= READING_SIZE
    for n in range(36):
        assert f"{minute(20 * n):%H:%M}" in words(cards)


@pytest.mark.parametrize("paper", PAPERS)
def test_scenarios_that_a_page_has_no_room_for_are_overleaf_together(paper):
    sections = band(6)
    rows = [row for n in range(13) for row in (("tune", 30 * n, 30 * n + 5),
                                              ("play", 30 * n + 5, 30 * n + 25))]  # fmt: skip
    plans = {
        name: plan(steady(celsius), sections, schedule(*rows), assumptions=TAKE)
        for name, celsius in {"as planned": 8, "colder": 1, "hot": 32, "mild": 18}.items()
    }
    first, overleaf = pages(director_sheet(plans["as planned"], paper=paper,
                                           scenarios=Scenarios(plans)))  # fmt: skip
    front, back = (" ".join(page.extract_text().split()) for page in (first, overleaf))
    assert "see overleaf" in front
    assert "trust the tuner" in front
    for name in ("Colder (", "Hot (", "Mild ("):
        assert name in back
        assert name not in front


def test_one_sheet_carries_one_pitch(found):
    other = plan(steady(3), found.sections, TUNES, assumptions=replace(TAKE, a4_hz=437.0))
    for made, pitch in ((found, "440.0"), (other, "437.0")):
        for text in (words(director_sheet(made)), words(section_cards(made)), plan_page(made)):
            assert set(re.findall(r"A4 = ([0-9.]+) Hz", text)) == {pitch}


def test_notes_are_said_to_be_concert_pitch(found):
    saxes = section("altos", "alto saxophone", 3, {"slides": ("mouthpiece",)})
    flutes = section("flutes", "flute", 3, {"slides": ("head",)})
    both = plan(steady(3), [saxes, flutes], TUNES, assumptions=TAKE)
    cards, page = words(section_cards(both)), plan_page(both)
    assert "Tune on (concert)" in cards
    assert "written G4" in cards  # B flat 3 sounds a sixth lower than it is written
    assert "tune on <b>B\N{MUSIC FLAT SIGN}3</b> (concert; written G4)" in page
    assert "tune on <b>A4</b> (concert)" in page
    assert "tune on (concert)" in both.summary()


def test_bars_are_said_to_be_taken_as_built_to_a_pitch(found):
    cold = plan(steady(3), [bells(built_a4_hz=440.0), trumpets()], TUNES,
                assumptions=replace(TAKE, a4_hz=436.0))  # fmt: skip
    for text in (words(section_cards(cold)), plan_page(cold)):
        assert "Taken as built to 440 Hz." in text
    assert "(taken as built to 440 Hz)" in words(director_sheet(cold))


ROOM_THEN_FIELD = [
    Entry(minute(0), minute(30), "tune", celsius=20.0),
    Entry(minute(30), minute(60), "rest"),
    Entry(minute(60), minute(70), "tune"),
    Entry(minute(70), minute(100), "play"),
]


def test_director_and_cards_agree_that_slides_wait():
    unsure = replace(TAKE, forecast_error_celsius=30.0)
    made = plan(steady(8), [trumpets(), horns()], arrange(ROOM_THEN_FIELD), assumptions=unsure)
    assert "Warm up; all slides stay as they are until 19:00" in words(director_sheet(made))
    cards = words(section_cards(made))
    assert "Warm up, and leave the slides: you tune in the air you play in, at 19:00." in cards
    assert "Follow the tuner: acoustics alone gives no millimetres" in cards
    assert "Follow the tuner: acoustics alone gives no" in plan_page(made)


def test_millimetres_are_missed_only_where_a_card_gives_none():
    unsure = replace(TAKE, forecast_error_celsius=30.0)
    cold = plan(steady(8), [trumpets()], arrange(ROOM_THEN_FIELD), assumptions=unsure)
    assert no_millimetres(cold.settings).startswith("Follow the tuner: acoustics alone")
    own = [replace(s, based_on=Basis(BasisKind.OWN, 0.9, 60)) for s in cold.settings]
    unsure_way = "Follow the tuner: whether the main slide goes in or out is not sure."
    assert no_millimetres(own) == unsure_way
    at_end = [replace(s, waits=False, remaining_cents={"": -6.0},
                      moves=tuple(replace(m, at_end_of_travel=True) for m in s.moves))
              for s in own]  # fmt: skip
    assert all(at_its_end(s)[1] == "all the way in" for s in at_end)
    assert no_millimetres(at_end) == ""
    last = own[-1]
    assert no_millimetres([*at_end[:-1], last]) == unsure_way.replace(
        "tuner:", f"tuner at {last.block.tune_at:%H:%M}:"
    )
    sure = plan(steady(0), [trumpets()], TUNES, assumptions=TAKE)
    assert any(map(hints, sure.settings))
    assert no_millimetres(sure.settings) == ""


def test_the_directors_table_and_lines_say_what_a_slide_cannot_do():
    short = trumpets(at_mm={"main": 2.0})
    made = plan(steady(0), [short, horns(), tuba(stuck=("main",))], TUNES,
                assumptions=replace(TAKE, a4_hz=438.0))  # fmt: skip
    setting = made.settings[0]
    end, way = at_its_end(setting)
    assert setting.section == short
    assert way == "all the way in"
    assert f"{way} it shows {end}: ".capitalize() in words(section_cards(made))
    assert shows(made)[1][1] == f"{show_briefly(setting.show_cents)} (all the way in: {end})"
    near = plan(steady(19), [tuba(stuck=("main",))], TUNES, assumptions=TAKE)
    played = [one for one in near.settings if one.block.plays]
    ends = range_of(min(s.lowest_cents for s in played), max(s.highest_cents for s in played))
    assert f"Tuba: the main slide is stuck; {ends} cents while it plays." in exceptions(near)


def test_a_card_names_the_part_to_push_and_how_far_short_of_it_is_too_far():
    clarinets = section(
        "clarinets",
        "Bb clarinet",
        4,
        {"slides": ("barrel",), "at_mm": {"barrel": 4.0}, "travel_mm": {"barrel": 6.0}},
    )
    cold = plan(steady(8), [clarinets, trumpets()], TUNES, assumptions=TAKE)
    said = {s.section.name: tell_the_leader([s]) for s in cold.settings if s.block.tune_at == START}
    assert said["clarinets"] == "If your barrel stops more than 1 mm short, tell your leader."
    assert said["trumpets"].startswith("If your main slide stops more than 2 mm short")
    first = next(s for s in cold.settings if s.section == clarinets)
    assert hints(first).startswith("push the barrel in ")
    near = [replace(move, move_mm=-1.0, low_mm=-1.0, high_mm=-0.6) for move in first.moves]
    assert tell_the_leader([replace(first, moves=tuple(near))]) == ""


@pytest.mark.parametrize("paper", PAPERS)
def test_hours_across_noon_are_on_one_line(paper):
    morning = arrange([
        Entry(minute(-500), minute(-490), "tune"), Entry(minute(-480), minute(-355), "play"),
    ])  # fmt: skip
    across = replace(morning, half_days=True)
    found = plan(constant_forecast(25, minute(-600), minute(0)), [trumpets()], across,
                 assumptions=TAKE)  # fmt: skip
    (page,) = pages(director_sheet(found, paper=paper))
    hours = [line for line in page.extract_text().splitlines() if "AM–" in line]
    assert "10:00 AM–12:05 PM" in [" ".join(line.split()) for line in hours]


def test_the_bus_and_the_warm_up_are_on_the_directors_sheet():
    rows = [ROOM_THEN_FIELD[0],
            replace(ROOM_THEN_FIELD[1], remark="Bus to the stadium", occupied="away"),
            Entry(minute(60), minute(80), "play", remark="warm-up, lot C", warm_up=True),
            Entry(minute(80), minute(100), "play")]  # fmt: skip
    made = plan(steady(8), [trumpets()], arrange(rows), assumptions=TAKE)
    text = words(director_sheet(made))
    for line in ("18:30–19:00 Bus to the stadium", "19:00–19:20 Warm-up, lot C"):
        assert line in text


def test_every_rest_of_the_timetable_is_on_the_directors_sheet_and_no_gap():
    rows = [Entry(minute(0), minute(10), "tune"), Entry(minute(10), minute(70), "play"),
            Entry(minute(70), minute(80), "rest", remark="water break"),
            Entry(minute(80), minute(95), "play"), Entry(minute(95), minute(105), "rest"),
            Entry(minute(120), minute(150), "play")]  # fmt: skip
    made = plan(steady(33), [trumpets()], arrange(rows), assumptions=TAKE)
    for text in (words(director_sheet(made)), " ".join(plan_page(made).split())):
        assert "Water break" in text
        assert "Rest" in text
        assert "othing scheduled" not in text


def test_nobody_is_said_to_play_in_the_stands_where_nobody_does():
    quiet = [
        Entry(minute(0), minute(10), "tune"),
        Entry(minute(10), minute(60), "rest", remark="Stands (no playing), row 8"),
        Entry(minute(60), minute(70), "play"),
        Entry(minute(70), minute(90), "rest", remark="stands"),
        Entry(minute(90), minute(100), "rest", remark="walk to the stands", occupied="walking"),
    ]
    found = plan(steady(3), [trumpets(travel_mm={"main": 16.0})], arrange(quiet), assumptions=TAKE)
    for said in (words(director_sheet(found)), plan_page(found)):
        assert "Stands (no playing), row 8" in said
        assert "Stands (no playing)" in said.replace("Stands (no playing), row 8", "")
        assert "Walk to the stands" in said
        for wrong in ("stands (no playing)", "short playing", "aims at the stands"):
            assert wrong not in said


@pytest.mark.parametrize(("celsius", "room", "said"), [(4, None, 1), (17, None, 0), (4, 20.0, 0)])
def test_what_was_assumed_of_the_instruments_before_a_tune_outdoors_is_said(celsius, room, said):
    rows = [
        Entry(minute(-15), minute(0), "rest", remark="band room", celsius=room),
        Entry(minute(0), minute(10), "tune"),
        Entry(minute(60), minute(70), "play"),
    ]
    begins = arrange(rows if room else rows[1:])
    found = plan(steady(celsius), [trumpets()], begins, assumptions=TAKE)
    start = begins.start
    told = f"as warm as the air at {start:%H:%M}, as if they had been outside for long; if they"
    for text in (found.summary(), words(director_sheet(found)), plan_page(found)):
        assert " ".join(text.split()).count(told) == said
    assert found.to_json()["assumptions"]["instruments_at_start"] == {
        "time": start.isoformat(), "celsius": room or celsius, "playing_minutes": 0.0,
    }  # fmt: skip


def test_times_are_told_with_am_and_pm_where_the_timetable_is_written_so():
    rows = [
        Entry(minute(30), minute(40), "tune"), Entry(minute(40), minute(70), "play"),
        Entry(minute(70), minute(90), "rest"), Entry(minute(90), minute(120), "play"),
    ]  # fmt: skip
    evening = replace(arrange(rows), half_days=True)
    made = plan_evening(steady(4), [trumpets()], evening, assumptions=TAKE)[0]
    told = [words(director_sheet(made)), words(section_cards(made)), plan_page(made)]
    axis = made.figure().axes[0]
    told += [made.summary(), *(label.get_text() for label in axis.get_xticklabels())]
    for text in told:
        assert "PM" in text
        assert not re.search(r"\b(1[89]|2\d):\d\d(?![:\d])", re.sub(r"T[\d:+-]+", "", text))
    assert "6:30–6:40 PM" in told[0]
    assert "18:30–18:40" in words(director_sheet(replace(made, schedule=arrange(rows))))


def test_who_is_not_planned_stands_on_the_directors_sheet(found):
    drums = Finding("not_planned", {"sections": [["drumline", 9]]})
    told = "Not planned, no pitch to tune: drumline (9)."
    made = replace(found, warnings=(*found.warnings, drums))
    assert told in words(director_sheet(made))
    assert made.summary().count(told[1:-1]) == 1
    assert told not in words(director_sheet(found))


def test_warm_air_in_place_of_a_rest_says_what_the_rest_was():
    rows = [Entry(minute(0), minute(10), "tune"), Entry(minute(10), minute(70), "play"),
            Entry(minute(70), minute(76), "rest", remark="line up"),
            Entry(minute(76), minute(95), "play")]  # fmt: skip
    made = plan_evening(steady(4), [trumpets()], arrange(rows), assumptions=TAKE)[0]
    assert "Blow warm air as if playing, no tone (line up)" in words(director_sheet(made))
    silent = [*rows[:2], replace(rows[2], remark="Line up (no playing)"), rows[3]]
    made = plan_evening(steady(4), [trumpets()], arrange(silent), assumptions=TAKE)[0]
    assert "no tone: Line up (no playing)" in words(director_sheet(made))


def test_a_card_is_as_large_as_half_a_page_has_room_for(found):
    few = plan(steady(3), [trumpets()], TUNES, assumptions=TAKE)
    many = schedule(
        *(
            row
            for n in range(7)
            for row in (("tune", 30 * n, 30 * n + 10), ("play", 30 * n + 10, 30 * n + 30))
        )
    )
    crowded = plan(steady(3), [trumpets()], many, assumptions=TAKE)
    assert max(sizes(section_cards(few))) >= 24
    assert max(sizes(section_cards(crowded))) < max(sizes(section_cards(few)))


def test_a_slide_at_its_end_is_said_to_show_what_it_can():
    short = trumpets(at_mm={"main": 1.0})
    made = plan(steady(3), [short], TUNES, assumptions=replace(TAKE, a4_hz=440.0))
    setting = made.settings[0]
    left = setting.remaining_cents[""]
    assert left < -5
    shows = deviation(setting.show_cents.estimate + left)
    assert f"All the way in it shows {shows}: {deviation(left)} remains." in words(
        section_cards(made)
    )


def test_a_card_says_what_a_player_of_treble_clef_reads():
    slides = {"slides": ("main",)}
    band = [section("euphoniums", "euphonium", 2, slides), section("basses", "Eb bass", 1, slides)]
    made = plan(steady(3), band, TUNES, assumptions=TAKE)
    assert words(section_cards(made)).count("treble C5") == len(made.settings)
    assert plan_page(made).count("treble C5") == len(made.settings)


def test_little_that_a_slide_leaves_at_its_end_is_named():
    """Playing goes on from it: a section that tunes 4 flat and cools by 5 ends 9 flat."""
    take = replace(TAKE, a4_hz=440.0)
    made = plan(steady(3), [trumpets(at_mm={"main": 11.8})], TUNES, assumptions=take)
    assert made.settings[0].remaining_cents[""] == pytest.approx(-4.0, abs=0.3)
    assert "4 flat remains." in words(section_cards(made))
    assert any("4 flat remains" in line for line in exceptions(made))


def test_the_tune_after_which_most_remains_is_named():
    cooling = pd.date_range(minute(-60), minute(200), freq="10min")
    weather = Forecast(
        pd.DataFrame(
            {"celsius": np.linspace(12.0, 4.0, len(cooling)), "humidity_percent": np.nan,
             "wind_m_s": np.nan, "pressure_hpa": np.nan}, index=cooling,
        )
    )  # fmt: skip
    evening = [Entry(minute(0), minute(5), "tune"), Entry(minute(5), minute(20), "play"),
               Entry(minute(20), minute(90), "rest"), Entry(minute(90), minute(95), "tune"),
               Entry(minute(95), minute(110), "play")]  # fmt: skip
    take = replace(TAKE, a4_hz=440.0)
    made = plan(weather, [trumpets(at_mm={"main": 7.0})], arrange(evening), assumptions=take)
    first, second = (round(-one.worst_left.estimate) for one in made.settings)
    assert 3 <= first < second
    (told,) = [line for line in exceptions(made) if "remains" in line]
    assert f"{second} flat remains" in told
    assert "after 19:30" in told
    colder = plan(
        weather.shifted(-6.0), [trumpets(at_mm={"main": 7.0})], arrange(evening), assumptions=take
    )
    told = " ".join(other_weather(made, Scenarios({"planned": made, "colder": colder})))
    left = [round(-one.worst_left.estimate) for one in colder.settings]
    assert f"Trumpets {left[0]} flat remains after 18:00, {left[1]} flat remains after" in told


def test_the_cautions_of_other_weather_are_told_beside_those_of_the_sheet():
    evening = [Entry(minute(0), minute(5), "tune"), Entry(minute(5), minute(60), "play")]
    made, colder = (
        plan(steady(celsius), [trumpets()], arrange(evening), assumptions=TAKE)
        for celsius in (12, -3)
    )
    assert not made.cautions
    both = Scenarios({"planned": made, "colder": colder})
    _, care = other_weather(made, both)
    assert care.startswith("Take care then: 18:00–19:00 cold ")
    assert "lips can freeze to metal" in care
    assert care.endswith("Local policy and licensed staff decide.")
    (short,) = other_weather(made, both, in_short=True)
    assert "; take care: cold air down to −3 °C, cold metal down to −3 °C." in short
    (line,) = other_weather(colder, Scenarios({"planned": colder, "milder": made}))
    assert "take care" not in line


def test_who_does_what_the_sheets_say_reads_the_tuner_when_its_target_holds():
    room = arrange([Entry(minute(0), minute(20), "tune", celsius=20.0),
                    Entry(minute(20), minute(40), "rest"),
                    Entry(minute(40), minute(70), "play")])  # fmt: skip
    made = plan(steady(3), [trumpets()], room, assumptions=replace(TAKE, a4_hz=440.0))
    (setting,) = made.settings
    until = made.play_until(setting.block)
    course = made.courses["trumpets"]

    def off(time):
        at = course.cents[made.times.searchsorted(time)]
        return at - course.mean[0] - setting.show_cents.estimate

    assert until == minute(15)
    assert abs(off(until)) < 1.0
    assert abs(off(setting.block.tune_at)) > 5.0
    cards, director, phone = section_cards(made), director_sheet(made), plan_page(made)
    assert "18:00 play until 18:15" in words(cards)
    assert "Play until 18:15, then tune, each section by its card" in words(director)
    assert "Let the tuner show 18:15 Trumpets" in words(director)
    assert "</span> play until 18:15, then tune on" in phone
    assert "Tune at 18:00 (play until 18:15, then the tuner)" in made.summary()


@pytest.mark.parametrize(("room", "says"), [
    (20.0, "and no tune outside takes them in."),
    (None, "the tune outside takes them in."),
])  # fmt: skip
def test_the_director_reads_of_a_tune_outside_only_where_there_is_one(room, says):
    rows = [Entry(minute(0), minute(20), "tune", celsius=room),
            Entry(minute(20), minute(40), "rest", occupied="walk", remark="walk"),
            Entry(minute(40), minute(70), "play")]  # fmt: skip
    made = plan_evening(steady(3), [trumpets()], arrange(rows), assumptions=TAKE)[0]
    found = words(director_sheet(made))
    assert says in found
    hint = "when the band is there, four minutes or more before it plays."
    assert (hint in found) == (hint in plan_page(made)) == (room is not None)
    assert " ".join(made.summary().split()).count(hint) == (room is not None)


@pytest.mark.parametrize("room", [20.0, None])
def test_sheets_of_rooms_alone_do_not_speak_of_the_field(room):
    rows = [Entry(minute(0), minute(20), "tune", celsius=room),
            Entry(minute(20), minute(50), "play", celsius=room)]  # fmt: skip
    made = plan(steady(20), [trumpets()], arrange(rows), assumptions=TAKE)
    for text in (words(director_sheet(made)), words(section_cards(made)), plan_page(made),
                 made.summary()):  # fmt: skip
        assert ("On the field, trust the tuner." in text) == (room is None)
        assert "rust the tuner." in text
    assert ("Wind and sun" in words(director_sheet(made))) == (room is None)


def test_nobody_is_told_to_play_first_where_at_once_is_as_good():
    warm = schedule(("play", 0, 30), ("tune", 30, 40), ("play", 40, 70))
    made = plan(steady(20), [trumpets()], warm, assumptions=TAKE)
    assert made.play_until(made.settings[0].block) is None
    assert "until" not in words(section_cards(made))


def test_a_card_says_the_note_the_target_and_about_how_far():
    rows = [
        Entry(minute(0), minute(10), "tune", celsius=21.0),
        Entry(minute(10), minute(30), "rest"),
        Entry(minute(30), minute(60), "play"),
    ]
    cold = plan(steady(3), [trumpets()], arrange(rows), assumptions=TAKE)
    text = words(section_cards(cold))
    show = cold.settings[0].show_cents
    assert show.estimate > 10
    assert "B\N{MUSIC FLAT SIGN}4" in text
    assert show_words(show) in text
    assert "Check again" not in text  # there is no tune outside
    assert "mm, then the tuner" not in text or not cold.settings[0].check_again


def test_a_card_says_when_to_blow_warm_air_before_playing_too():
    rows = [
        Entry(minute(0), minute(10), "tune", celsius=21.0),
        Entry(minute(10), minute(24), "rest"),
        Entry(minute(24), minute(30), "warm"),
        Entry(minute(30), minute(50), "play", remark="half-time show"),
        Entry(minute(50), minute(70), "rest"),
        Entry(minute(70), minute(76), "warm"),
        Entry(minute(76), minute(80), "tune"),
        Entry(minute(80), minute(90), "play"),
    ]
    text = words(section_cards(plan(steady(3), [trumpets()], arrange(rows), assumptions=TAKE)))
    first, second = (f"{minute(n):%H:%M}" for n in (24, 70))
    before = f"{first}–{minute(30):%H:%M} (half-time show)."
    assert f"Before playing, blow warm air, no tone: {before}" in text
    assert f"warm air from {second}" in text
    assert text.count(second) == 1


def test_the_cards_and_the_table_of_a_saxophone_give_one_range():
    """What a millimetre does on its bore is in the catalogue, with its uncertainty."""
    given = {"slides": ("mouthpiece",), "at_mm": {"mouthpiece": 8.0}}
    saxes = section("saxophones", "alto saxophone", 4, given)
    cold = plan(steady(10), [saxes], TUNES, assumptions=replace(TAKE, a4_hz=446.0))
    move = cold.settings[0].moves[0]
    assert not move.interval_includes_zero
    near, far = sorted(round(abs(end)) for end in (move.low_mm, move.high_mm))
    assert hints(cold.settings[0]).startswith(f"push the mouthpiece in {near}–{far} mm")
    assert f"Push the mouthpiece in {near}–{far} mm" in words(section_cards(cold))
    assert "(mm from where it is now, in the air of the forecast)" in words(section_cards(cold))
    row = cold.moves_frame().iloc[0]
    assert (row["move_low_mm"], row["move_high_mm"]) == (move.low_mm, move.high_mm)


def test_paper_has_no_words_of_statistics_or_options(found):
    for text in (words(director_sheet(found)), words(section_cards(found)), plan_page(found)):
        for word in ("--limit", "at_mm", "position_mm", "95 %", "interval", "beats"):
            assert word not in text
    assert "stuck slide is not forced" in words(section_cards(found))
    assert "Local policy and licensed staff decide" in words(director_sheet(found))


def test_the_page_asks_the_network_for_nothing_and_escapes_names():
    odd = plan(steady(3), [trumpets(name="<b>1st & 2nd")], TUNES, assumptions=TAKE)
    page = plan_page(odd)
    assert "<b>1st" not in page
    assert "&lt;b&gt;1st &amp; 2nd" in page
    assert not re.search(r"(src|href)=|https?://|@import|url\(", page)


def test_the_same_plan_gives_the_same_file(found):
    assert director_sheet(found) == director_sheet(found)
    assert section_cards(found) == section_cards(found)


def test_another_pitch_says_what_the_tuner_is_set_to_and_how_far_the_bars_are(found):
    low = plan(steady(3), found.sections, TUNES, assumptions=replace(TAKE, a4_hz=434.4))
    bars = [s for s in low.settings if s.section.instrument.fixed_pitch is not None]
    least = round(min(setting.lowest_cents for setting in bars))
    assert least > 20
    for text in (words(director_sheet(low)), plan_page(low)):
        assert f"Section 4: fixed pitch, {least}" in text
        assert "sharp of the band while it plays (taken as built to 442 Hz)." in text
    for text in (words(director_sheet(low)), words(section_cards(low)), plan_page(low)):
        assert "Set every tuner to 434.4 Hz." in text
    assert "Set every tuner" not in words(section_cards(found))


def test_unknown_paper_is_refused(found):
    with pytest.raises(InputError, match="paper 'a5' is not known"):
        director_sheet(found, paper="a5")


def test_the_figure_is_drawn(found):
    assert png(courses_figure(found)).startswith(b"\x89PNG")


def test_what_is_written_under_the_figure_fits_its_width():
    few = plan(steady(3), [trumpets(), tuba()], TUNES, assumptions=TAKE)
    figure = courses_figure(few)
    figure.canvas.draw()
    caption = next(text for text in figure.texts if "hatched: tuning" in text.get_text())
    ends = caption.get_window_extent()
    assert 0 <= ends.x0 < ends.x1 <= figure.bbox.x1


def test_sides_that_cover_each_other_are_one_line_with_both_names():
    out = {"main": 14.0, "F": 10.0, "Bb": 8.0}
    horn = horns(slides=tuple(out), at_mm=out, travel_mm=dict.fromkeys(out, 40.0))
    ax = courses_figure(plan(steady(16), [horn], TUNES, assumptions=TAKE)).axes[0]
    (label,) = [text.get_text() for text in ax.get_legend().get_texts()]
    assert label == "F and B\N{MUSIC FLAT SIGN}"


def test_nobody_is_told_in_the_middle_of_playing_to_keep_a_mouthpiece_warm():
    cools = replace(TUNES, entries=(replace(TUNES.entries[0], celsius=21.0), *TUNES.entries[1:]))
    cold = plan(steady(3), [trumpets()], cools, assumptions=TAKE)
    late = cold.times > minute(20)
    shown = replace(cold, celsius=np.where(late, 3.0, 21.0))
    assert "Keep mouthpieces warm from 18:10 on." in exceptions(shown)


def test_the_telephone_says_whose_readings_a_section_rests_on(found):
    own = Basis(BasisKind.OWN, 0.86, 60, read=1, players=2)
    rests = replace(found, settings=tuple(replace(s, based_on=own) for s in found.settings))
    said = "readings of 1 of its 2 players (86 % from readings, the rest from acoustics)."
    assert f"based on {said}" in plan_page(rests)
    assert f"Based on {said}" in words(section_cards(rests))


def test_mallets_are_named_where_there_are_bars():
    cold = plan(steady(3), [trumpets()], TUNES, assumptions=TAKE)
    assert "Keep mouthpieces warm" in words(director_sheet(cold))
    bars = plan(steady(3), [trumpets(), bells()], TUNES, assumptions=TAKE)
    assert "Keep mouthpieces and mallets warm" in words(director_sheet(bars))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_director_sees_what_each_section_is_to_show_where_there_is_room(paper):
    few = plan(steady(3), [trumpets(), tuba(), bells()], TUNES, assumptions=TAKE)
    text = words(director_sheet(few, paper=paper))
    assert "Let the tuner show" in text
    for setting in few.settings:
        if setting.show_cents:
            assert show_briefly(setting.show_cents) in text
    assert "Trumpets" in text
    many = plan(steady(3), band(40), TUNES, assumptions=TAKE)
    assert "Let the tuner show" not in words(director_sheet(many, paper=paper))


def test_a_card_says_why_there_is_something_to_tune(found):
    played = found.to_frame().query("section == 'section 1' and activity == 'play'")
    means = played.groupby(played["time"] < minute(60))["cents"].mean()
    text = words(section_cards(found))
    away = deviations(means.min(), means.max())
    assert f"With slides untouched you would be {away} while playing." in text


def test_a_card_whose_slides_may_go_in_or_out_says_that_untouched_may_be_either():
    unsure = replace(TAKE, forecast_error_celsius=30.0)
    made = plan(steady(8), [trumpets()], arrange(ROOM_THEN_FIELD), assumptions=unsure)
    (move,) = made.settings[-1].moves
    assert move.interval_includes_zero
    told = re.search(
        r"With slides untouched you would be \d+ flat \(−(\d+) to \+(\d+)\) while playing\.",
        untouched("Trumpets", made, made.sections[0]),
    )
    assert told is not None
    course = made.courses["trumpets"]
    assert int(told[1]) == round(-course.mean_low.min())
    assert int(told[2]) == round(course.mean_high.max())


def test_a_card_speaks_of_all_playing_of_an_evening_that_cools():
    room = replace(TUNES.entries[0], celsius=21.0), replace(TUNES.entries[1], celsius=18.0)
    cools = replace(TUNES, entries=(*room, *TUNES.entries[2:]))
    text = words(section_cards(plan(steady(3), [tuba()], cools, assumptions=TAKE)))
    assert re.search(r"With slides untouched you would be (\d+|up) to \d+ flat while", text), text


@pytest.mark.slow
def test_sheets_of_an_earlier_plan_do_not_stay_beside_those_of_another(found, tmp_path):
    other = plan(steady(3), found.sections, TUNES, assumptions=replace(TAKE, a4_hz=437.0))
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    both = write_plans([found, other], tmp_path)
    (tmp_path / "A4-440.0" / "notes.txt").write_text("mine", encoding="utf-8")
    one = write_plans([other], tmp_path)
    assert not [file for file in both if file.exists()]
    assert {file.name for file in tmp_path.iterdir()} == {
        "mine.txt", "A4-440.0", *(file.name for file in one)
    }  # fmt: skip
    write_plans([found, other], tmp_path)
    assert not [file for file in one if file.exists()]
    assert (tmp_path / "A4-440.0" / "notes.txt").exists()


def test_the_card_of_an_instrument_of_wood_says_what_warm_air_may_do_to_it():
    clarinets = section("clarinets", "Bb clarinet", 4, {})
    warning = "Wood can crack in the cold: warm air goes into wood slowly, if at all"
    cold, mild = (
        words(section_cards(plan(steady(celsius), [clarinets, trumpets()], TUNES)))
        for celsius in (3, 20)
    )
    assert cold.count(warning) == 1  # not on the trumpets' card
    assert warning not in mild
