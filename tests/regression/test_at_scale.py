"""Sums that merge, against a dense regression and a whole in one go."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.regression.linear_model import OLS

from drift.errors import TooLittleData
from drift.regression import classical
from drift.regression.at_scale import absorb, merged, sums_of
from drift.regression.classical import least_squares


def band(rehearsals=9, players=4, notes=3, seed=5):
    random = np.random.default_rng(seed)
    keys = pd.MultiIndex.from_product(
        [[f"r{n}" for n in range(rehearsals)], [f"p{n}" for n in range(players)],
         ["F4", "C4", "Bb3", "D4"][:notes], range(3)],
        names=["rehearsal", "player", "note", "take"],
    )  # fmt: skip
    rows = keys.to_frame(index=False).sample(frac=0.7, random_state=seed, ignore_index=True)
    count = len(rows)
    rows["side"], rows["instrument"] = "", "double horn"
    rows["playing_minutes"] = random.uniform(1, 100, count)
    start = dict(zip(rows["rehearsal"].unique(), random.uniform(10, 30, rehearsals), strict=True))
    rows["celsius"] = rows["rehearsal"].map(start) + 0.03 * rows["playing_minutes"]
    level = rows.groupby(["player", "note"]).ngroup() * 5.0
    rows["reference_cents"] = 2.0 * rows["celsius"] + level + random.normal(0, 3, count)
    return rows


def dense(rows):
    groups = rows.groupby(["player", "note"]).ngroup().to_numpy()
    design = np.column_stack(
        [rows[["celsius", "playing_minutes"]], np.eye(groups.max() + 1)[groups]]
    )
    return OLS(rows["reference_cents"].to_numpy(), design).fit(
        cov_type="cluster", use_t=True, cov_kwds={"groups": pd.factorize(rows["rehearsal"])[0]}
    )


def test_absorbed_equals_dense_to_nine_digits():
    rows = band()
    found, expected = absorb(sums_of(rows)), dense(rows)
    assert found.coefficients == pytest.approx(expected.params[:2], rel=1e-9)
    assert found.covariance == pytest.approx(expected.cov_params()[:2, :2], rel=1e-9)
    assert found.variance == pytest.approx(expected.scale, rel=1e-9)


@pytest.mark.parametrize("parts", [2, 7])
def test_fitting_parts_and_merging_equals_fitting_the_whole(parts):
    """Parts cut across rehearsals, players and notes, and in no order."""
    rows = band()
    pieces = [rows.iloc[start::parts] for start in range(parts)][::-1]
    whole, together = absorb(sums_of(rows)), absorb(merged(map(sums_of, pieces)))
    assert together.coefficients == pytest.approx(whole.coefficients, rel=1e-11)
    assert together.covariance == pytest.approx(whole.covariance, rel=1e-10)
    assert (together.readings, together.intercepts) == (whole.readings, whole.intercepts)


def test_adding_two_is_merging_them():
    rows = band()
    halves = sums_of(rows.iloc[:90]) + sums_of(rows.iloc[90:])
    assert absorb(halves).coefficients == pytest.approx(absorb(sums_of(rows)).coefficients)


def test_a_very_large_fit_takes_this_path_and_says_the_same(monkeypatch):
    rows = band()
    line, residuals, _ = least_squares(rows)
    monkeypatch.setattr(classical, "DENSE_CELLS", 10)
    absorbed, other, facts = least_squares(rows)
    assert absorbed.coefficients == pytest.approx(line.coefficients, rel=1e-9)
    assert absorbed.covariance == pytest.approx(line.covariance, rel=1e-9)
    assert absorbed.reading_sd == pytest.approx(line.reading_sd, rel=1e-9)
    assert other == pytest.approx(residuals, abs=1e-8)
    assert "intercepts absorbed" in facts["covariance"]


def test_one_column_is_refused():
    rows = band().assign(celsius=lambda rows: rows["playing_minutes"] * 0.1)
    with pytest.raises(TooLittleData, match="cannot separate temperature from playing time"):
        absorb(sums_of(rows))


def test_too_few_readings_are_refused():
    with pytest.raises(TooLittleData, match="numbers to estimate"):
        absorb(sums_of(band().iloc[:5]))
