"""Warnings and summaries say what a reader must know, in plain words."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

import drift
from drift.errors import TooLittleData
from drift.findings import Finding
from drift.pairing import LeftOut, Paired, Reason
from drift.regression.fits import fit, physics
from drift.regression.notices import Notice, NoticeKind
from drift.words.fit import warning_text
from drift.words.gig_warnings import warning_text as plan_warning_text
from drift.words.left_out import text
from drift.words.notices import notice_in_words
from drift.words.report_fit import quality
from tests.bands import band_season


def rows(**columns):
    random = np.random.default_rng(0)
    default = {
        "rehearsal": [f"r{n % 3}" for n in range(24)], "player": "Rowan",
        "instrument": "Bb trumpet",
        "note": "F4", "celsius": random.uniform(12, 28, 24),
        "playing_minutes": random.uniform(2, 90, 24), "reference_cents": random.normal(0, 3, 24),
    }  # fmt: skip
    return pd.DataFrame(default | columns)


def test_good_readings_have_no_warning():
    assert fit(rows()).warnings == ()


def test_temperatures_that_hardly_differ_are_said():
    celsius = np.linspace(20.0, 21.5, 24)[::-1]
    assert "span only 1.5 °C" in " ".join(map(warning_text, fit(rows(celsius=celsius)).warnings))


def test_one_rehearsal_is_said():
    assert "only one rehearsal" in " ".join(map(warning_text, fit(rows(rehearsal="a")).warnings))


def test_notes_read_once_are_counted():
    notes = ["F4"] * 22 + ["C4", "D4"]
    assert "2 readings are the only one of that note" in " ".join(
        map(warning_text, fit(rows(note=notes)).warnings)
    )


def test_notes_read_once_are_named_with_their_time_in_a_zone():
    notes, times = ["F4"] * 23 + ["C4"], pd.date_range("2026-10-05 22:03", periods=24, tz="UTC")
    found = fit(rows(note=notes, time=times))
    (alone,) = [one for one in found.warnings if one.kind == "notes_read_once"]
    assert warning_text(alone).endswith("each time (2026-10-28 22:03 UTC Rowan C4)")
    assert "(2026-10-28 18:03 Rowan C4)" in found.summary(ZoneInfo("America/New_York"))


def test_a_note_read_once_on_a_side_is_named_with_its_side():
    sides = ["F"] * 23 + ["Bb"]
    found = fit(rows(side=sides, instrument="double horn"))
    (alone,) = [one for one in found.warnings if one.kind == "notes_read_once"]
    told = warning_text(alone)
    assert told.startswith("1 reading is the only one of that note on that side by that player")
    assert told.endswith("(Rowan F4 on the B♭ side)")


def test_outliers_without_a_time_are_still_named():
    wild = rows()
    wild.loc[4, "reference_cents"] = 400.0
    warning = next(text for text in map(warning_text, fit(wild).warnings) if "outlier" in text)
    assert warning.startswith(
        "1 reading looks like an outlier and is given little weight: Rowan F4 (+"
    )


@pytest.mark.parametrize("method", ["bayesian", "least-squares", "mixed"])
def test_every_warning_is_in_the_summary(method):
    found = fit(rows(celsius=np.linspace(20.0, 21.5, 24)), method=method)
    assert found.warnings
    assert all(f"warning: {warning_text(one)}" in found.summary() for one in found.warnings)


def test_what_looks_spoilt_is_in_the_summary_as_a_sentence():
    rehearsals = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
    readings = rehearsals.readings
    cents = readings["cents"].where(readings["player"] != "Isolde", -readings["cents"])
    found = fit(drift.pair(replace(rehearsals, readings=readings.assign(cents=cents))))
    (notice,) = found.notices
    assert str(notice).startswith("All of Isolde's readings, in every rehearsal, fit with signs")
    assert f"to look at: {notice}" in found.summary().splitlines()
    assert "to look at" not in fit(drift.pair(rehearsals)).summary()


def test_what_was_left_out_is_in_the_headline():
    spoilt = rows()
    spoilt.loc[3, "celsius"] = np.nan
    assert "left out: 1 a number is missing (celsius)" in fit(spoilt).summary().splitlines()[0]


def test_a_player_of_whom_nothing_is_left_is_named():
    loud = pd.concat([rows().assign(player=who) for who in ("Rowan", "Isolde")], ignore_index=True)
    loud["loud"] = np.where(loud["player"] == "Isolde", np.nan, np.arange(len(loud)) % 3)
    out = f"left out: {len(loud) // 2} a number is missing (loud), in all readings of Isolde)"
    assert out in fit(loud, covariates=["loud"]).summary().splitlines()[0]


def test_physics_says_that_it_has_no_readings():
    assert physics().summary() == "acoustics alone, no readings"


def test_screens_show_the_sign_for_flat():
    assert "B♭ trumpet" in fit(rows()).summary()


@pytest.mark.parametrize(
    ("reason", "remedy"),
    [
        (Reason.OTHER_THERMOMETER, "choose another thermometer"),
        (Reason.NO_TEMPERATURE, "log a temperature"),
        (Reason.BEFORE_PLAYING, "log play"),
        (Reason.SETTLING, "read again after some minutes"),
        (Reason.UNKNOWN_SIDE, "say on which side"),
        (Reason.FLAGGED, "fit with the flagged readings"),
        (Reason.THERMOMETER_LAGGED, "fit with the flagged readings too, or wait"),
        (Reason.MISSING_NUMBER, "fill in"),
        (Reason.FIXED_PITCH, "log an instrument with a"),
    ],
)
def test_nothing_left_tells_the_reasons_and_what_helps_against_the_commonest(reason, remedy):
    other = next(one for one in Reason if one is not reason)
    none = Paired(rows().iloc[:0], (LeftOut(other, 2), LeftOut(reason, 4)))
    words = f"of 6 readings, 4 {text(reason)}, 2 {text(other)}\n{remedy}"
    with pytest.raises(TooLittleData, match=f"no reading is left to fit: {words}"):
        fit(none)


def test_the_standard_deviations_are_printed_with_their_intervals():
    """A method that has no intervals of them prints none."""
    table, _ = band_season(2, 2, 3)
    text = fit(table).summary()
    assert "from reading to reading: " in text
    line = next(line for line in text.splitlines() if "between players, rise" in line)
    assert line.endswith(")")
    assert " to " in line
    plain = fit(table, "least-squares").summary()
    line = next(line for line in plain.splitlines() if "from reading to reading" in line)
    assert line.endswith(" cents")


def test_temperatures_are_shown_in_the_unit_that_is_asked_for():
    narrow = Finding("narrow_temperatures", {"low_celsius": 20.0, "high_celsius": 21.5})
    assert "span only 1.5 °C (20.0 to 21.5 °C)" in warning_text(narrow)
    assert "span only 3 °F (68 to 71 °F)" in warning_text(narrow, fahrenheit=True)
    values = {"celsius": 33.04, "low_celsius": 12.0, "high_celsius": 30.0}
    beyond = Finding("extrapolated", values)
    assert warning_text(beyond).startswith(
        "33 °C is outside the temperatures measured so far (12.0"
    )
    assert warning_text(beyond, True).startswith("91 °F is outside")


def test_a_warning_in_json_has_its_code_its_numbers_and_its_sentence():
    (warning,) = fit(rows(rehearsal="a")).to_json()["warnings"]
    assert warning["kind"] == "one_rehearsal_assumed"
    assert warning["text"] == warning_text(Finding("one_rehearsal_assumed"))


def test_two_readings_at_one_temperature_say_too_little_and_never_nan():
    from drift.words.fit import _explained

    assert _explained(0.9, 0.25, "warmth").endswith("correlation of temperature and warmth 0.25")
    assert "too little to tell them apart" in _explained(0.9, float("nan"), "warmth")
    assert "too few readings" in _explained(float("nan"), float("nan"), "warmth")


def test_the_mean_of_all_players_is_printed_between_them_and_a_new_one():
    found = fit(band_season(3, 3, 4)[0])
    lines = found.summary().splitlines()
    place = next(n for n, line in enumerate(lines) if "the mean of all players:" in line)
    entries = found.kinds["Bb trumpet"].population.entries()
    for which in ("cold", "warm"):
        slope = entries[f"{which}_cents_per_celsius"]
        told = f"{which} slope {slope.estimate:.2f} cents/°C ({slope.low:.2f} to {slope.high:.2f})"
        assert told in lines[place]
    assert [line.split(":")[0] for line in lines[place - 1 : place + 2 : 2]] == [
        "  p002", "  a player who was not read yet",
    ]  # fmt: skip


def test_a_small_effect_is_shown_to_two_digits_with_both_its_units():
    years = np.repeat([2.0, 30.0], 12)
    players = np.repeat(["Rowan", "Isolde"], 12)
    table = rows(years=years, player=players, rehearsal=[f"r{n % 6}" for n in range(24)])
    told = fit(table, "least-squares", formula="cents ~ drift + celsius:years").summary()
    assert "celsius:years: " in told
    line = next(line for line in told.splitlines() if "celsius:years: " in line)
    assert line.endswith("cents per °C and unit of years")
    assert len(line.split("(")[1].split(" to ")[0].lstrip("-")) >= 5  # 0.0xx at least


@pytest.mark.parametrize(
    ("bayesian", "other"), [(True, "warmth (how far"), (False, "playing time:")]
)
def test_the_correlation_of_a_report_is_called_as_in_the_fit(bayesian, other):
    assert f"that of temperature with {other}" in quality(False, bayesian=bayesian)


def test_a_plan_tells_a_reading_by_the_clock_of_its_timetable():
    row = {"time": "2026-09-29T23:14:00+00:00", "player": "Lena", "note": "F3", "residual": -15.0}
    found = Finding("outliers", {"count": 1, "readings": [row], "of_rehearsals": True})
    for zone, told in (
        (UTC, "2026-09-29 23:14 UTC Lena"),
        (ZoneInfo("America/New_York"), "2026-09-29 19:14 Lena"),
        (timezone(timedelta(hours=-5)), "2026-09-29 18:14 UTC-0500 Lena"),
    ):
        assert told in plan_warning_text(found, zone=zone)


@pytest.mark.usefixtures("in_berlin")
def test_times_of_this_computer_name_its_zone_once_and_where_it_changes():
    rows = [
        {"time": f"2026-10-{day}T18:00:00+00:00", "player": "Lena", "note": "F3"}
        for day in (23, 24, 26)
    ]
    found = Finding("outliers", {"count": 3, "readings": rows})
    assert (
        "2026-10-23 20:00 CEST Lena F3; 2026-10-24 20:00 Lena F3; 2026-10-26 19:00 CET Lena F3"
    ) in warning_text(found, zone=None)
    assert warning_text(found).count("UTC") == 1
    since = datetime(2026, 6, 13, 17, 53, tzinfo=UTC)
    rest = Notice(NoticeKind.REST, 0.9, 40.0, "13 June", since=since, size=6.0)
    assert "before 19:53 CEST that was not logged" in notice_in_words(rest, None)
    assert "before 17:53 UTC that was not logged" in notice_in_words(rest)


@pytest.mark.parametrize(("method", "points_on"), [("bayesian", True), ("least-squares", False)])
def test_where_two_effects_separate_is_not_what_narrows_one_answer(method, points_on):
    minutes = np.linspace(2.0, 90.0, 24)
    warm = rows(playing_minutes=minutes, celsius=18.0 + minutes / 20.0 + np.arange(24) % 2 / 10.0)
    (said,) = (warning_text(one) for one in fit(warm, method).warnings if one.kind == "confounded")
    assert "To separate them, take the same notes at about " in said
    assert ("another question: drift fit --advise" in said) == points_on
