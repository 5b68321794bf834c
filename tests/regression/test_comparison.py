"""Methods and shapes compared on rehearsals that were left out."""

import numpy as np
import pytest

from drift.errors import InputError, TooLittleData
from drift.regression.comparison import compare, compare_shapes
from drift.regression.shapes import Shape
from tests.simulate import from_the_priors, random_plan


def season(rehearsals=8, count=25, seed=3):
    plan = random_plan(np.random.default_rng(seed), rehearsals, count, spread_celsius=6.0)
    return from_the_priors(seed, plan)[0]


def test_all_methods_beat_no_drift_and_the_model_is_not_worse_than_a_line():
    table = compare(season()).to_frame().set_index("method")["rms_cents"]
    assert set(table.index) == {"bayesian", "least-squares", "mixed", "no drift"}
    assert table["bayesian"] < table["no drift"]
    assert table["least-squares"] < table["no drift"]
    assert table["bayesian"] < 1.02 * table["least-squares"]


def test_the_error_without_drift_is_the_scatter_of_the_notes():
    rows = season()
    found = compare(rows, methods=()).errors
    one = found.iloc[0]
    away = rows["rehearsal"] == one["rehearsal"]
    pitch = rows[~away].groupby(["player", "note"])["reference_cents"].median().rename("pitch")
    joined = rows[away].join(pitch, on=["player", "note"]).dropna(subset="pitch")
    rest = joined["reference_cents"] - joined["pitch"]
    assert one["rms_cents"] == pytest.approx(np.sqrt((rest**2).mean()))


@pytest.mark.parametrize("rehearsals", [1, 2])
@pytest.mark.parametrize("comparing", [compare, compare_shapes])
def test_one_or_two_rehearsals_are_too_few(comparing, rehearsals):
    with pytest.raises(TooLittleData, match=rf"too few rehearsals \({rehearsals}\) to compare"):
        comparing(season(rehearsals=rehearsals))


def test_a_refusal_is_counted_not_hidden():
    found = compare(season(rehearsals=3, count=2))
    assert found.to_frame().set_index("method").loc["mixed", "rehearsals_refused"] == 3
    assert "  mixed: —, refused 3 times" in found.summary()
    assert "nan" not in found.summary()
    assert "note: few rehearsals (3)" in found.summary()
    assert "few rehearsals" not in compare(season(), methods=()).summary()


def test_shapes_with_a_state_predict_better_where_there_are_rests():
    """Truth is the state with its product; linear time can not follow it."""
    table = compare_shapes(season(10, 40)).to_frame().set_index("method")["rms_cents"]
    best = table["state and its product with temperature"]
    assert best <= table["linear time"]
    assert table["linear time"] < table["no drift"]


def rooted(rows, warm, cool):
    return np.column_stack([rows["celsius"], np.sqrt(rows["playing_minutes"])])


def test_a_shape_of_ones_own_is_compared_with_the_others():
    """Where it is the truth it predicts best, to the last digit."""
    rows = season(6, 30)
    rows = rows.assign(reference_cents=rooted(rows, 1.0, 1.0) @ np.array([2.0, 1.5]))
    table = compare_shapes(rows, {"root of time": Shape(rooted)}).to_frame()
    errors = table.set_index("method")["rms_cents"]
    assert len(errors) == 6
    assert errors["root of time"] < 1e-6 < errors.drop("root of time").min()


@pytest.mark.parametrize(
    ("columns", "problem"),
    [
        (lambda rows, warm, cool: rows["celsius"], r"the columns of a shape are \(\d+,\), for"),
        (lambda rows, warm, cool: np.zeros((3, 1)), r"are \(3, 1\), for"),
        (lambda rows, warm, cool: rows[["celsius"]] * np.nan, "not all numbers, at 1 and 1 min"),
    ],
)
def test_a_shape_that_gives_no_columns_is_refused_before_anything_is_compared(columns, problem):
    with pytest.raises(InputError, match=problem):
        compare_shapes(season(), {"mine": Shape(columns)})


def test_a_shape_may_not_have_the_name_of_another():
    with pytest.raises(InputError, match="there is a shape 'no drift' already"):
        compare_shapes(season(), {"no drift": Shape(rooted)})
