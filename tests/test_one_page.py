"""The page of one player: one page, millimetres first, the numbers of the study."""

import io
import re
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader

import drift
from drift import charts
from drift.errors import InputError, TooLittleData
from drift.logbook.rehearsals import Rehearsals
from drift.regression.advice import Advice, additions_near
from drift.regression.notices import Notice, NoticeKind
from drift.report.one_page import one_page_pdf
from drift.slides.reference import Reference
from drift.study import Study
from drift.words import one_page as words
from drift.words.remaining_error import what_remains
from drift.words.slides import length, orders
from drift.words.warming import warm_up_briefly

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def read(pdf: bytes) -> tuple[int, str]:
    pages = PdfReader(io.BytesIO(pdf)).pages
    text = "\n".join(page.extract_text() for page in pages)
    return len(pages), re.sub(r"\s+", " ", text)


@pytest.fixture(scope="module")
def season() -> Rehearsals:
    everything = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
    return everything.only(rehearsals=[everything.names[i] for i in (0, 4, 7)])


@pytest.fixture(scope="module")
def study(season) -> Study:
    return Study.open(season)


@pytest.fixture
def without_advice(monkeypatch):
    """Advice refits many times; most answers do not need it."""
    monkeypatch.setattr(Study, "advice", lambda *_, **__: None)


@pytest.fixture(scope="module")
def rowan(study):
    return study.player_report("Rowan", celsius=28.0)


@pytest.mark.slow
def test_the_millimetres_come_first_and_are_those_of_the_study(study, rowan):
    answer = study.correction("double horn", 28.0, player="Rowan")
    pages, text = read(one_page_pdf(rowan, about="Invented readings."))
    assert pages == 1
    for order in orders(answer):
        assert order in text
    first = text.index(orders(answer)[0])
    for later in ("0 °C*", "Notes against", "What to measure next"):
        assert text.index(later) > first
    assert "Rowan, double horn Invented readings." in text
    assert "Isolde" not in text


def test_what_remains_is_named_by_side_and_what_to_do_about_it(study, rowan):
    short = {"at": {"main": 6.0, "F": 3.0, "Bb": 2.0}, "player": "Rowan"}
    cold = replace(
        rowan,
        correction=study.correction("double horn", 5.0, **short),
        table=study.positions("double horn", **short),
    )
    pages, text = read(one_page_pdf(cold))
    assert pages == 1
    assert (said := what_remains(cold.correction))[1].startswith("Tell the director")
    assert all(line in text for line in said)
    assert text.count(said[0]) == 1
    assert warm_up_briefly(cold.correction) in text
    assert "0 fully in" in text.replace("\xa0", " ")
    assert "0.0 end" not in text


@pytest.mark.slow
def test_unknown_travel_is_said_once_and_the_command_can_be_typed(study, rowan):
    loose = replace(rowan, table=study.positions("double horn", player="Rowan", at={"main": 30.0}))
    text = read(one_page_pdf(loose))[1]
    assert text.count("give it with --travel main=MM") == 1
    assert "“too far?”: further out than most models go (main about 45 mm)." in text
    travel = {"main": 45.0, "F": 40.0, "Bb": 30.0}
    given = study.positions("double horn", player="Rowan", at={"main": 30.0}, travel=travel)
    text = read(one_page_pdf(replace(rowan, table=given)))[1].replace("\xa0", " ")
    assert "is not known" not in text
    assert "45.0 end" in text


def test_a_slide_that_was_moved_is_named_with_both_positions(study, rowan):
    tuned = Reference("home", START, 20.0, 30.0, True, {"main": 14.0, "F": 14.5}, {"F": 8.0})
    since = drift.correct(
        study.fit, "double horn", 28.0, at={"main": 14.0, "F": 14.5}, reference=tuned
    )
    text = read(one_page_pdf(replace(rowan, correction=since)))[1]
    assert text.count("the F slide was at 14.5 mm when tuned and is logged at 8 mm now") == 1
    assert "slides at main 14 mm, F 14.5 mm" in text
    to = next(move.to_mm for move in since.moves if move.slide == "F")
    assert f"Pull the F slide out {length(to - 8.0)}, to {length(to)} (" in text


def test_every_note_that_was_read_is_in_the_table_while_there_is_room(rowan):
    text = read(one_page_pdf(rowan))[1]
    assert len(rowan.tendencies) > 2
    assert all(words.note(each, rowan) in text for each in rowan.tendencies)
    assert "read most of" not in text
    few = tuple(replace(rowan.tendencies[0], readings=n) for n in (5, 1, 7, 2, 3))
    said = words.practice(replace(rowan, advice=None, tendencies=few))[0]
    assert [int(n) for n in re.findall(r"\((\d)\)", said)] == [1, 2, 3, 5]
    assert said.startswith("Read notes with fewer than 8 readings more often")


def test_a_reading_far_off_is_named_and_does_not_flatten_the_curve(study):
    fit = study.fit
    lies = fit.rows["residual"].copy()
    lies[fit.rows.index[fit.rows["player"] == "Rowan"][0]] += 400.0
    ax = charts.drift_against_temperature(
        replace(fit, rows=fit.rows.assign(residual=lies)), instrument="double horn", player="Rowan"
    )
    assert ax.get_ylim()[1] < 100.0
    assert ax.texts[0].get_text().startswith("1 reading off the chart (+")
    usual = charts.drift_against_temperature(fit, instrument="double horn", player="Rowan")
    assert not usual.texts


def test_another_pitch_is_named_and_answered_for(study, without_advice):
    lower = study.player_report("Rowan", celsius=28.0, a4_hz=437.5)
    _, text = read(one_page_pdf(lower))
    assert "In a room of 28 °C (82 °F), for A4 = 437.5 Hz" in text
    assert "If it was in tune to A4 = 440 Hz at 20 °C" in text
    assert orders(study.correction("double horn", 28.0, player="Rowan", a4_hz=437.5))[0] in text


def test_without_a_temperature_it_answers_for_the_last_room(study, without_advice):
    evidence = study.player_report("Isolde")
    last = evidence.rows.sort_values("time").iloc[-1]
    assert evidence.correction.celsius == last["celsius"]
    said = words.next_room(evidence)
    assert said.startswith(f"In a room like the last one, {last['celsius']:.0f} °C")
    cold = study.player_report("Isolde", celsius=5.0)
    assert words.next_room(cold) == "In a room of 5 °C (41 °F), for A4 = 440 Hz"


@pytest.mark.slow
def test_the_tendency_of_a_note_is_found(season, without_advice):
    """F4 of the F side is made 9 cents sharper than it was: its tendency grows by half of that."""
    readings = season.readings.copy()
    here = (readings["player"] == "Rowan") & (readings["note"] == "F4") & (readings["side"] == "F")
    readings.loc[here, "cents"] += 9.0
    found = []
    for table in (season.readings, readings):
        evidence = Study.open(replace(season, readings=table)).player_report("Rowan")
        of = {(each.side, each.note): each for each in evidence.tendencies}
        found.append(of)
    before, after = ({key: each.cents.estimate for key, each in of.items()} for of in found)
    # Two notes on a side: 9 cents more on one are 4.5 more against the mean of both.
    assert after["F", "F4"] - before["F", "F4"] == pytest.approx(4.5, abs=0.3)
    assert after["F", "C4"] - before["F", "C4"] == pytest.approx(-4.5, abs=0.3)
    assert after["Bb", "F4"] - before["Bb", "F4"] == pytest.approx(0.0, abs=0.3)
    rows = evidence.rows
    used = rows[(rows["note"] == "F4") & (rows["side"] == "F")]
    assert found[1]["F", "F4"].readings == len(used)


def test_tendencies_of_a_side_cancel_and_one_note_alone_has_none(season, rowan, without_advice):
    sides = pd.DataFrame([(each.side, each.cents.estimate) for each in rowan.tendencies])
    assert np.allclose(sides.groupby(0)[1].mean(), 0.0)
    readings = season.readings
    lonely = readings[(readings["side"] != "F") | (readings["note"] == "F4")]
    evidence = Study.open(replace(season, readings=lonely)).player_report("Rowan")
    assert {each.side for each in evidence.tendencies} == {"Bb"}


@pytest.fixture
def advised():
    """Advice for 5 °C: rooms of 9 °C, and the place itself."""
    options = pd.DataFrame(
        {"celsius": [5.0, 9.0, 9.0], "first_minute": [30.0, 30.0, 2.0], "readings": 8,
         "last_minute": [60.0, 60.0, 20.0], "width": [4.4, 6.0, 7.0]}
    )  # fmt: skip
    return Advice("double horn", 5.0, "cents", 8.4, options)


def test_what_to_measure_next_is_in_a_room_that_can_be_had_and_on_the_spot(rowan, advised):
    cold = replace(rowan, correction=replace(rowan.correction, celsius=5.0), advice=advised)
    assert words.practice(cold)[0] == (
        "Read the same notes 8 times in a colder room of about 9 °C, from minute 30 to minute 60 "
        "of playing: the drift from 20 °C to 5 °C is then known to ±3.0 cents (now ±4.2). On the "
        "spot, at 5 °C, 8 readings from minute 30 to minute 60 of playing leave ±2.2 cents."
    )
    hardly = advised.options.assign(width=[4.4, 8.3, 8.3])
    said = words.practice(replace(cold, advice=replace(advised, options=hardly)))[0]
    assert said.startswith(
        "The drift from 20 °C to 5 °C is known to ±4.2 cents: more readings in rooms like"
    )
    assert "On the spot" in said
    only_there = replace(advised, options=advised.options.iloc[:1])
    said = words.practice(replace(cold, advice=only_there))[0]
    assert "in a colder room of about 5 °C" in said
    assert "On the spot" not in said


def test_without_a_place_what_one_degree_does_is_to_be_known_better(rowan, advised):
    options = advised.options.assign(width=[0.44, 0.6, 0.7])
    slope = Advice("double horn", None, "cents/°C", 0.8, options)
    last = replace(rowan, asked=False, advice=slope)
    assert words.practice(last)[0] == (
        "Read the same notes 8 times in a colder room of about 5 °C, from minute 30 to minute 60 "
        "of playing: what one degree does is then known to ±0.22 cents (now ±0.40)."
    )
    nothing = replace(slope, width_now=0.44)
    assert "change little" in words.practice(replace(last, advice=nothing))[0]
    few = replace(rowan.tendencies[0], readings=3)
    said = words.practice(replace(last, tendencies=(few, *rowan.tendencies[1:])))
    assert said[1].endswith("F side: C4, written G4 (3).")


@pytest.mark.parametrize(
    ("celsius", "rooms"),
    [
        (5.0, {5.0, 9.0}),
        (33.0, {26.0, 33.0}),
        (16.0, {13.0, 16.0, 22.0}),
        (None, {9.0, 18.0, 26.0}),
    ],
)
def test_additions_are_in_rooms_that_a_player_gets_to(celsius, rooms):
    found = additions_near(pd.DataFrame({"celsius": [13.0, 22.0]}), celsius)
    assert {one.celsius for one in found} == rooms


def test_the_curve_holds_the_temperature_of_the_answer(study):
    for celsius in (5.0, 38.0):
        ax = charts.drift_against_temperature(
            study.fit, instrument="double horn", player="Rowan", answer_celsius=celsius
        )
        low, high = ax.get_xlim()
        assert low < celsius < high
        (words,) = [text for text in ax.texts if text.get_text().strip() == f"{celsius:.0f} °C"]
        ax.figure.draw_without_rendering()
        place, axes = words.get_window_extent(), ax.get_window_extent()
        assert axes.x0 <= place.x0 < place.x1 <= axes.x1  # beside the axes is the legend


def test_methods_that_know_no_notes_still_give_a_page(season):
    evidence = Study.open(season, method="least-squares").player_report("Isolde", celsius=26.0)
    assert evidence.advice is None
    assert evidence.tendencies == ()
    assert read(one_page_pdf(evidence))[0] == 1


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["<b>&" * 200, "Rowan 山"])
def test_it_is_one_page_whatever_the_names_and_the_notes(study, rowan, name, paper):
    many = [
        replace(each, note=note, readings=count)
        for each in rowan.tendencies[:2]
        for count, note in enumerate(["F3", "C4", "F4", "A4", "C5", "D5", "E5", "F5"])
    ]
    cold = study.correction("double horn", -5.0, player="Rowan")
    evidence = replace(rowan, player=name, correction=cold, tendencies=tuple(many))
    pages, text = read(one_page_pdf(evidence, about="X" * 3000, paper=paper))
    assert pages == 1
    assert "What to measure next" in text


def test_the_same_evidence_is_the_same_file(rowan):
    assert one_page_pdf(rowan) == one_page_pdf(rowan)


def test_refusals(study, season):
    with pytest.raises(InputError, match="there is no player 'Nobody'"):
        study.player_report("Nobody")
    apart = replace(season, temperatures=season.temperatures.iloc[:0])
    lone = Study.open(apart)
    with pytest.raises(TooLittleData, match="no reading is left to fit"):
        lone.player_report("Rowan")


@pytest.mark.usefixtures("in_berlin")
def test_a_slide_that_moved_unlogged_is_named_in_a_line(study, rowan, monkeypatch):
    time = pd.Timestamp("2026-10-03T18:09Z").to_pydatetime()
    slide = Notice(
        NoticeKind.SLIDE, 0.9, 40.0, "hall", player="Rowan", instrument="double horn", since=time,
        first=7, last=12, size=8.1, cents=-9.2,
    )  # fmt: skip
    others = replace(slide, player="Isolde")
    line = "If it moved, log it: “at 2026-10-03 20:09 slide main” and its millimetres."
    monkeypatch.setitem(vars(rowan.fit), "notices", (slide, others))
    pages, text = read(one_page_pdf(rowan, zone=ZoneInfo("Europe/Berlin")))
    assert pages == 1
    assert text.count("To look at: On hall from 20:09") == 1
    assert line in text
    assert "names" not in text
    monkeypatch.setitem(vars(rowan.fit), "notices", (slide, slide))
    assert "“drift check” names 1 more." in read(one_page_pdf(rowan))[1]
    monkeypatch.setitem(vars(rowan.fit), "notices", (others,))
    assert "To look at" not in read(one_page_pdf(rowan))[1]
