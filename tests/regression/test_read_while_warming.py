"""A straight line through cold and warm instruments says that it is too steep; a warm one not."""

import numpy as np
import pytest

from drift.findings import Finding
from drift.regression.fits import fit
from drift.words.fit import warning_text
from tests.bands import band_season


@pytest.fixture(scope="module")
def warm():
    """Readings of instruments that were played for twenty minutes at least, with no rest."""
    rows = band_season(3, 2, 6)[0]
    rows["spells"] = [()] * len(rows)
    rows["initial_warmth"] = 0.0
    minutes = 20.0 + 0.8 * rows["playing_minutes"]
    return rows.assign(playing_minutes=minutes, minutes_into_spell=minutes)


def first(rows, share, **columns):
    """Return rows of which a share is otherwise."""
    changed = rows.iloc[: round(share * len(rows))].index
    rows = rows.copy()
    for name, value in columns.items():
        values = rows[name].to_numpy().copy()
        values[: len(changed)] = value
        rows[name] = values
    return rows


def said(rows, method="least-squares"):
    return [one for one in fit(rows, method).warnings if one.kind == "read_while_warming"]


@pytest.mark.parametrize("method", ["least-squares", "mixed"])
def test_many_readings_of_cold_instruments_are_counted(warm, method):
    cold = first(warm, 0.5, playing_minutes=3.0, minutes_into_spell=3.0)
    found = said(cold, method)
    assert found == [Finding("read_while_warming", {"count": 72, "readings": 144})]
    assert warning_text(found[0]) == (
        "72 of 144 readings were made while warming up: the slope lies between that of a cold and "
        "of a warm instrument, which bayesian separates"
    )


@pytest.mark.parametrize("method", ["least-squares", "mixed"])
def test_warm_instruments_are_not(warm, method):
    assert said(warm, method) == []
    assert said(first(warm, 0.1, playing_minutes=3.0, minutes_into_spell=3.0), method) == []


def test_whoever_came_warm_or_rested_for_a_moment_is_warm(warm):
    came = first(warm, 0.5, playing_minutes=3.0, minutes_into_spell=3.0, initial_warmth=1.0)
    assert said(came) == []
    cool = first(warm, 0.5, minutes_into_spell=3.0)
    for rest, count in ((1.0, []), (15.0, [72])):
        half = np.arange(len(cool)) < 72
        cool["spells"] = [(60.0, rest) if rested else () for rested in half]
        assert [one.values["count"] for one in said(cool)] == count


def test_without_a_course_of_playing_the_minutes_count(warm):
    short = warm.drop(columns=["spells", "minutes_into_spell", "initial_warmth"])
    assert said(short) == []
    minutes = np.where(np.arange(len(short)) < 72, 3.0, short["playing_minutes"])
    assert len(said(short.assign(playing_minutes=minutes))) == 1


def test_the_bayesian_method_knows_the_warm_up(warm):
    cold = first(warm, 0.5, playing_minutes=3.0, minutes_into_spell=3.0)
    assert said(cold, "bayesian") == []
