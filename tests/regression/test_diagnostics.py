"""Diagnostics, against statsmodels and against data made to fail them."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.diagnostic import het_breuschpagan
from statsmodels.stats.stattools import durbin_watson

from drift.regression.diagnostics import condition_number, correlation_within, diagnostics_of


def rows(count=200, seed=0):
    random = np.random.default_rng(seed)
    return pd.DataFrame(
        {
            "player": "p", "side": "", "note": "F4", "rehearsal": "a",
            "celsius": random.uniform(10, 30, count),
            "playing_minutes": np.sort(random.uniform(1, 100, count)),
        }
    )  # fmt: skip


def test_durbin_watson_of_one_run_is_that_of_statsmodels():
    table, residuals = rows(), np.random.default_rng(1).normal(size=200)
    found = diagnostics_of(table, residuals, 0.0)["durbin_watson"]
    # The mean of 199 steps over the mean of 200 squares, instead of sums.
    assert found == pytest.approx(durbin_watson(residuals) * 200 / 199)


def test_readings_that_follow_each_other_are_seen():
    steps = np.random.default_rng(1).normal(size=200).cumsum()
    assert diagnostics_of(rows(), steps - steps.mean(), 0.0)["durbin_watson"] < 0.5


def test_the_step_from_one_rehearsal_to_the_next_does_not_count():
    table = rows().assign(rehearsal=["a"] * 100 + ["b"] * 100)
    residuals = np.concatenate([np.full(100, 5.0), np.full(100, -5.0)])
    assert diagnostics_of(table, residuals, 0.0)["durbin_watson"] == 0.0


def test_scatter_that_grows_with_temperature_is_seen():
    table, random = rows(), np.random.default_rng(2)
    even = random.normal(size=200)
    assert diagnostics_of(table, even * (table["celsius"] - 9), 0.0)["breusch_pagan_p"] < 0.001
    assert diagnostics_of(table, even, 0.0)["breusch_pagan_p"] > 0.01


def test_regressor_correlation_is_within_the_intercepts():
    """Two notes, each read at times and temperatures of its own: no correlation within."""
    table = rows()
    table["note"] = np.where(np.arange(200) % 2 == 0, "F4", "C4")
    shift = np.where(table["note"] == "F4", 50.0, 0.0)
    moved = table.assign(
        celsius=table["celsius"] + shift, playing_minutes=table["playing_minutes"] + shift
    )
    assert correlation_within(moved) == pytest.approx(correlation_within(table))


def test_the_condition_number_is_that_of_the_scaled_columns():
    table = rows()
    table["celsius"] = (
        15 + table["playing_minutes"] / 10 + np.random.default_rng(3).normal(size=200)
    )
    columns = table[["celsius", "playing_minutes"]] - table[["celsius", "playing_minutes"]].mean()
    scaled = columns / np.sqrt((columns**2).sum())
    assert condition_number(correlation_within(table)) == pytest.approx(np.linalg.cond(scaled))


def test_a_constant_column_has_no_correlation():
    assert np.isnan(correlation_within(rows().assign(celsius=20.0)))


def test_breusch_pagan_is_that_of_statsmodels():
    table, residuals = rows(60), np.random.default_rng(4).normal(size=60)
    design = np.column_stack([np.ones(60), table[["celsius", "playing_minutes"]]])
    expected = het_breuschpagan(residuals, design)[1]
    assert diagnostics_of(table, residuals, 0.0)["breusch_pagan_p"] == pytest.approx(
        expected, rel=1e-9
    )
