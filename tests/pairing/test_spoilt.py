"""What the tables show to be spoilt: each fault is put in, and only that is found."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pandas as pd
import pytest

import drift
from drift.logbook.folders import Folder
from drift.logbook.records import TYPED, Event, Reading, Temperature
from drift.logbook.rehearsals import Rehearsals, of_folder
from drift.pairing.spoilt import SpoiltKind, spoilt_tables
from drift.words.spoilt import spoilt_in_words

SEASON = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
DAY = SEASON.names[4]


def kinds(season: Rehearsals) -> list[SpoiltKind]:
    return [found.kind for found in spoilt_tables(season)]


def temperatures(change) -> Rehearsals:
    table = SEASON.temperatures.copy()
    here = (table["rehearsal"] == DAY).to_numpy()
    table.loc[here, "celsius"] = change(table[here])
    return replace(SEASON, temperatures=table)


def minutes(table: pd.DataFrame) -> np.ndarray:
    return (table["time"] - table["time"].iloc[0]).dt.total_seconds().to_numpy() / 60.0


def test_nothing_is_wrong_with_the_shipped_season():
    assert spoilt_tables(SEASON) == []


def test_fahrenheit_under_celsius():
    # 12 °C in a hall are 54 °F, within the limits of a temperature of air and no room.
    spoilt = temperatures(lambda t: t["celsius"] * 0.0 + 54.0 + np.linspace(0.0, 1.0, len(t)))
    (found,) = spoilt_tables(spoilt)
    assert (found.kind, found.rehearsal) == (SpoiltKind.FAHRENHEIT, DAY)
    assert "Name the column fahrenheit" in spoilt_in_words(found)


def test_a_season_in_the_cold_in_fahrenheit_throughout():
    table = SEASON.temperatures
    cold = {name: 38.0 + 4.0 * place for place, name in enumerate(SEASON.names)}
    spoilt = replace(SEASON, temperatures=table.assign(celsius=table["rehearsal"].map(cold)))
    found = [one for one in spoilt_tables(spoilt) if one.kind is SpoiltKind.FAHRENHEIT]
    assert [one.rehearsal for one in found] == list(SEASON.names)


@pytest.mark.parametrize("hours", [-5.0, -1.0, 1.0, 3.0])
def test_the_clock_of_a_thermometer_that_is_hours_off(hours):
    table = SEASON.temperatures
    here = (table["rehearsal"] == DAY) & (table["source"] != "typed")
    shifted = table["time"] + pd.to_timedelta(hours * here, unit="h")
    found = spoilt_tables(replace(SEASON, temperatures=table.assign(time=shifted)))
    assert [(one.kind, one.rehearsal) for one in found] == [(SpoiltKind.THERMOMETER_CLOCK, DAY)]
    way = "earlier" if hours > 0 else "later"
    assert f"{abs(hours):g} hour" in spoilt_in_words(found[0])
    assert f"{way} fit. Check clock and time zone of the thermometer." in spoilt_in_words(found[0])


def test_a_thermometer_that_was_switched_on_late_has_no_clock_that_is_off():
    table = SEASON.temperatures
    here = table["rehearsal"] == DAY
    late = table["time"] < table["time"][here].min() + pd.Timedelta(minutes=40)
    found = spoilt_tables(replace(SEASON, temperatures=table[~(here & late)]))
    assert found == []


@pytest.mark.parametrize(("apart", "told"), [(2.0, 1), (0.5, 0)])
def test_two_rooms_in_one_rehearsal_whose_loggers_have_one_name(apart, told):
    table = SEASON.temperatures
    upstairs = table[table["rehearsal"] == DAY]
    upstairs = upstairs.assign(celsius=upstairs["celsius"] + apart)
    both = pd.concat([table, upstairs]).sort_values("time", kind="stable", ignore_index=True)
    found = spoilt_tables(replace(SEASON, temperatures=both))
    assert [one.kind for one in found] == [SpoiltKind.TWO_ROOMS] * told
    for one in found:
        assert one.rehearsal == DAY
        assert one.size == pytest.approx(2.0, abs=0.3)
        assert "jump to and fro by 2.0 °C" in spoilt_in_words(one)
        assert "One rehearsal is one room" in spoilt_in_words(one)


def test_a_probe_that_was_still_settling():
    spoilt = temperatures(lambda t: t["celsius"] - 4.0 * np.exp(-minutes(t) / 4.0))
    (found,) = spoilt_tables(spoilt)
    assert (found.kind, found.rehearsal) == (SpoiltKind.SLOW_PROBE, DAY)
    assert found.size == pytest.approx(-4.0, abs=0.6)
    assert "was still settling until" in spoilt_in_words(found)


@pytest.mark.parametrize(("apart", "told"), [(1.0, True), (0.3, False)])
def test_two_thermometers_that_disagree(apart, told):
    own = SEASON.temperatures[SEASON.temperatures["rehearsal"] == DAY]
    other = own.assign(source="window", celsius=own["celsius"] + apart)
    table = pd.concat([SEASON.temperatures, other], ignore_index=True)
    found = spoilt_tables(replace(SEASON, temperatures=table))
    assert [one.kind for one in found] == [SpoiltKind.TWO_THERMOMETERS] * told
    if told:
        assert found[0].size == pytest.approx(1.0)
        assert "differ by 1.0 °C" in spoilt_in_words(found[0])


@pytest.mark.parametrize(("hours", "mend"), [(1, "1 hour earlier"), (-2, "2 hours later")])
def test_a_clock_that_is_hours_off(hours, mend):
    table = SEASON.readings.copy()
    here = table["rehearsal"] == DAY
    table.loc[here, "time"] += pd.Timedelta(hours=hours)
    (found,) = spoilt_tables(replace(SEASON, readings=table))
    assert (found.kind, found.rehearsal) == (SpoiltKind.CLOCK, DAY)
    assert mend in spoilt_in_words(found)


@pytest.mark.parametrize(
    ("play_minutes", "ended", "told"), [(1, False, 0), (1, True, 1), (-60, False, 1)]
)
def test_a_rehearsal_that_goes_on_after_what_was_typed_has_no_clock_that_is_off(
    play_minutes, ended, told
):
    start = pd.Timestamp("2026-10-03T17:00:00Z").to_pydatetime()
    at = lambda minutes: start + timedelta(minutes=minutes)  # noqa: E731
    records = [
        Temperature(at(play_minutes - 1), "hall", 20.0, source=TYPED),
        Event(at(play_minutes), "hall", "", "play"),
        *(Reading(at(m), "hall", "Ben", "Bb trumpet", "", "Bb4", 1.0 * m) for m in range(4, 28, 3)),
    ]
    records += [Event(at(2), "hall", "", "end")] if ended else []
    found = spoilt_tables(of_folder(Folder(tuple(records), ())))
    assert [one.kind for one in found] == [SpoiltKind.CLOCK] * told


def test_a_rehearsal_without_temperatures_has_no_clock_that_is_off():
    """Somebody typed play and a rest, and the readings go on: that is no record of the evening."""
    start = pd.Timestamp("2026-10-03T17:00:00Z").to_pydatetime()
    at = lambda minutes: start + timedelta(minutes=minutes)  # noqa: E731
    records = [
        Event(at(0), "hall", "", "play"),
        Event(at(20), "hall", "", "rest"),
        *(Reading(at(m), "hall", "Ben", "Bb trumpet", "", "Bb4", 1.0 * m) for m in range(4, 90, 7)),
    ]
    assert not spoilt_tables(of_folder(Folder(tuple(records), ())))


def test_rows_that_are_there_twice():
    again = SEASON.readings[SEASON.readings["rehearsal"] == DAY].head(7)
    table = pd.concat([SEASON.readings, again], ignore_index=True)
    (found,) = spoilt_tables(replace(SEASON, readings=table))
    assert (found.kind, found.size) == (SpoiltKind.DUPLICATES, 7)
    assert spoilt_in_words(found).startswith("7 readings of ")


@pytest.mark.parametrize(("seconds", "told"), [(1, True), (20, False)])
def test_rows_that_are_there_once_more_a_moment_later(seconds, told):
    again = SEASON.readings[SEASON.readings["rehearsal"] == DAY].head(7)
    again = again.assign(time=again["time"] + pd.Timedelta(seconds=seconds))
    table = pd.concat([SEASON.readings, again], ignore_index=True)
    found = spoilt_tables(replace(SEASON, readings=table))
    assert [(one.kind, one.size) for one in found] == [(SpoiltKind.NEAR_COPIES, 7.0)] * told
    if told:
        assert "7 readings repeat note and cents of one at most 2 s" in spoilt_in_words(found[0])


def horn_rows(table: pd.DataFrame) -> pd.Series:
    # A horn in F reads a fifth higher than it sounds; C5 is no note of this season.
    return (table["rehearsal"] == DAY) & (table["player"] == "Rowan") & (table["note"] == "F4")


@pytest.mark.parametrize("count", [1, 100])
def test_written_notes_among_sounding_ones(count):
    table = SEASON.readings.copy()
    assert "C5" not in set(table["note"])
    rows = table.index[horn_rows(table)][:count]
    table.loc[rows, "note"] = "C5"
    (found,) = spoilt_tables(replace(SEASON, readings=table))
    assert (found.kind, found.rehearsal, found.player) == (SpoiltKind.WRITTEN, DAY, "Rowan")
    assert (found.source, found.other) == ("C5", "F4")
    assert "looks written, sounding F4" in spoilt_in_words(found)


def test_a_new_note_is_not_taken_for_a_written_one():
    table = SEASON.readings.copy()
    rows = table.index[horn_rows(table)]
    table.loc[rows, "note"] = "D5"  # a fifth above G4, which nobody plays here
    assert spoilt_tables(replace(SEASON, readings=table)) == []


def test_a_finding_is_plain_data():
    spoilt = temperatures(lambda t: t["celsius"] - 4.0 * np.exp(-minutes(t) / 4.0))
    (found,) = spoilt_tables(spoilt)
    answer = found.to_json()
    assert answer["kind"] == "slow probe"
    assert answer["until"].endswith("+00:00")
