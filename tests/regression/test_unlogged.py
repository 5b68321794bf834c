"""Slides that were set for the air and not logged: likely, possible, or no question at all."""

import pandas as pd
import pytest

import drift
from drift.gig.planning import plan
from drift.regression.notices import NoticeKind
from drift.regression.unlogged import set_for_the_air, slides_unlogged
from drift.words.fit import warning_text as of_fit
from drift.words.gig_warnings import warning_text
from tests.gigs import schedule, steady, trumpets
from tests.spoilt_seasons import clean, name_of, when

WEEK = name_of(3)


def rows(celsius=30.0, logged=(False, False)):
    """Two players in two rehearsals, the second in other air."""
    frame = pd.DataFrame({
        "rehearsal": ["usual", "usual", "other", "other"],
        "player": ["Ann", "Ben", "Ann", "Ben"],
        "celsius": [20.0, 20.0, celsius, celsius],
    })  # fmt: skip
    return frame.assign(slides_logged=[True, True, *logged])


@pytest.mark.parametrize(
    ("celsius", "cents", "expected"),
    [
        (30.0, -8.0, "likely"),
        (10.0, 8.0, "likely"),
        (30.0, 8.0, "possible"),
        (10.0, -8.0, "possible"),
        (22.0, -8.0, "possible"),
    ],
)
def test_low_in_the_heat_and_high_in_the_cold_are_likely(celsius, cents, expected):
    assert slides_unlogged(rows(celsius), ["other"], cents) == expected


def test_nothing_is_asked_where_slides_were_logged_or_nobody_knows():
    mixed = rows(logged=(True, False))
    assert slides_unlogged(mixed, ["other"], -8.0) == ""
    assert slides_unlogged(mixed, ["other"], -8.0, "Ann") == ""
    assert slides_unlogged(mixed, ["other"], -8.0, "Ben") == "likely"
    assert slides_unlogged(rows().drop(columns="slides_logged"), ["other"], -8.0) == ""
    assert slides_unlogged(rows(), ["another"], -8.0) == ""
    assert slides_unlogged(rows().tail(2), ["other"], -8.0) == "possible"  # no other air
    text = rows().assign(slides_logged=["True", "True", "False", "False"])  # through a CSV
    assert slides_unlogged(text, ["other"], -8.0) == "likely"


@pytest.fixture(scope="module")
def made():
    """A season with one hot evening, on which everybody pulled out before the readings."""
    season = clean((9, 1), instrument="Bb trumpet", coldest=18.0, warmest=22.0)
    hot = season.readings["k"] == 3
    season.celsius[3] += 10.0
    # A trumpet rises by about 1.6 cents/°C; what is read shows the slides set for it.
    season.readings.loc[hot, "cents"] += 16.0 - 20.0
    return season.tables()


def fitted(tables, logged=False):
    if logged:
        event = {"time": when(3, 0.0), "rehearsal": WEEK, "player": "", "event": "slide",
                 "slide": "main", "position_mm": 18.0}  # fmt: skip
        first = {**event, "time": when(0, 0.0), "rehearsal": name_of(0), "position_mm": 18.0}
        events = pd.concat([tables["events"], pd.DataFrame([first, event])])
        events = events.fillna({"slide": "", "instrument": ""})
        tables = {**tables, "events": events.sort_values("time", kind="stable")}
    return drift.fit(drift.pair(drift.load(tables)))


def of_the_week(fit):
    wanted = (NoticeKind.A4, NoticeKind.THERMOMETER)
    return [one for one in fit.notices if one.rehearsal == WEEK and one.kind in wanted]


def test_a_hot_evening_with_slides_that_nobody_logged(made):
    fit = fitted(made)
    assert set_for_the_air(fit) == (WEEK,)
    found = of_the_week(fit)
    assert found
    assert {one.unlogged_slides for one in found} == {"likely"}
    assert found[0].to_json()["unlogged_slides"] == "likely"
    assert "slides that were set and not logged" in str(found[0])
    evening = schedule(("tune", 0, 10), ("play", 10, 40))
    told = [warning_text(one) for one in plan(steady(30), [trumpets()], evening, fit).warnings]
    assert any("the targets here are too small. Log where they were" in text for text in told)


@pytest.mark.slow
def test_with_slides_logged_nothing_is_said_of_them(made):
    fit = fitted(made, logged=True)
    assert set_for_the_air(fit) == ()
    found = of_the_week(fit)
    assert found
    assert {one.unlogged_slides for one in found} == {""}
    assert "slides" not in str(found[0])
    assert "unlogged_slides" not in found[0].to_json()


def test_the_warning_that_rehearsals_follow_the_air_names_them():
    values = {"instruments": ["flute"], "cents_per_celsius": 0.7}
    kind = "rehearsals_follow_air"
    plain, named = (
        of_fit(drift.findings.Finding(kind, {**values, "slides_unlogged": names}))
        for names in ([], [WEEK])
    )
    assert "slides" not in plain
    assert f"slides were set and not logged ({WEEK}), or rooms" in named
    assert "Log those slides, or fit" in named


def test_acoustics_alone_has_no_rehearsals():
    assert set_for_the_air(drift.physics()) == ()
