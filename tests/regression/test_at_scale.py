"""Absorbed intercepts, against a dense regression; parts of the players, against the whole."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.regression.linear_model import OLS

from drift.errors import TooLittleData
from drift.regression import classical
from drift.regression.at_scale import blocks_of, solved
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


def numbers(rows):
    """Intercepts and rehearsals by number, and how many rehearsals there are anywhere."""
    keys = rows["player"] + rows["note"]
    names = sorted({f"r{n}" for n in range(9)})
    return pd.factorize(keys)[0], rows["rehearsal"].map(names.index).to_numpy(), len(names)


def absorbed(rows):
    return solved(blocks_of(rows, *numbers(rows)))


def dense(rows):
    groups = rows.groupby(["player", "note"]).ngroup().to_numpy()
    design = np.column_stack(
        [rows[["celsius", "playing_minutes"]], np.eye(groups.max() + 1)[groups]]
    )
    return OLS(rows["reference_cents"].to_numpy(), design).fit(
        cov_type="cluster", use_t=True, cov_kwds={"groups": pd.factorize(rows["rehearsal"])[0]}
    )


@pytest.mark.parametrize("ordered", [True, False])
def test_absorbed_equals_dense_to_nine_digits(ordered):
    rows = band().sort_values("rehearsal") if ordered else band()
    found, expected = absorbed(rows), dense(rows)
    assert found.coefficients == pytest.approx(expected.params[:2], rel=1e-9)
    assert found.covariance == pytest.approx(expected.cov_params()[:2, :2], rel=1e-9)
    assert found.variance == pytest.approx(expected.scale, rel=1e-9)


def test_a_single_column_is_estimated_as_if_the_other_were_not_there():
    rows = band()
    found = solved(blocks_of(rows, *numbers(rows)), (0,))
    groups = pd.factorize(rows["player"] + rows["note"])[0]
    design = np.column_stack([rows["celsius"], np.eye(groups.max() + 1)[groups]])
    expected = OLS(rows["reference_cents"].to_numpy(), design).fit(
        cov_type="cluster", cov_kwds={"groups": pd.factorize(rows["rehearsal"])[0]}
    )
    assert found.coefficients == pytest.approx([expected.params[0], 0.0], rel=1e-9)
    assert found.covariance[0, 0] == pytest.approx(expected.cov_params()[0, 0], rel=1e-9)


def test_players_apart_add_up_to_the_whole():
    """Whatever the number of readings, six products a rehearsal are all that travels."""
    rows = band()
    parts = [rows[rows["player"] == name] for name in ("p3", "p0", "p2", "p1")]
    whole = absorbed(rows)
    blocks = [blocks_of(part, *numbers(part)) for part in parts]
    assert {one.products.shape for one in blocks} == {(9, 6)}
    together = solved(blocks[0] + blocks[1] + blocks[2] + blocks[3])
    assert together.coefficients == pytest.approx(whole.coefficients, rel=1e-11)
    assert together.covariance == pytest.approx(whole.covariance, rel=1e-10)
    assert (together.readings, together.intercepts) == (whole.readings, whole.intercepts)
    assert together.clusters == 9


def test_a_very_large_fit_takes_this_path_and_says_the_same(monkeypatch):
    rows = band()
    line, residuals, _ = least_squares(rows)
    monkeypatch.setattr(classical, "DENSE_CELLS", 10)
    large, other, facts = least_squares(rows)
    assert large.coefficients == pytest.approx(line.coefficients, rel=1e-9)
    assert large.covariance == pytest.approx(line.covariance, rel=1e-9)
    assert large.reading_sd == pytest.approx(line.reading_sd, rel=1e-9)
    assert other == pytest.approx(residuals, abs=1e-8)
    assert facts["covariance"]["absorbed"]


def test_one_column_is_refused():
    rows = band().assign(celsius=lambda rows: rows["playing_minutes"] * 0.1)
    with pytest.raises(TooLittleData, match="cannot separate temperature from playing time"):
        absorbed(rows)


def test_too_few_readings_are_refused():
    with pytest.raises(TooLittleData, match="numbers to estimate"):
        absorbed(band().iloc[:5])
