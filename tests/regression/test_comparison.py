"""Methods and shapes compared on rehearsals that were left out."""

import numpy as np
import pandas as pd
import pytest

from drift.errors import InputError, TooLittleData
from drift.regression.comparison import Comparison, compare, compare_shapes
from drift.regression.priors import Priors
from drift.regression.shapes import Shape
from drift.words.comparison import refusals
from tests.simulate import from_the_priors, random_plan


def season(rehearsals=8, count=25, seed=3):
    plan = random_plan(np.random.default_rng(seed), rehearsals, count, spread_celsius=6.0)
    return from_the_priors(seed, plan)[0]


@pytest.mark.slow
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


@pytest.mark.slow
def test_a_refusal_is_counted_not_hidden():
    found = compare(season(rehearsals=3, count=2))
    assert found.to_frame().set_index("method").loc["mixed", "rehearsals_refused"] == 3
    (line,) = [one for one in found.summary().splitlines() if one.startswith("  mixed: ")]
    reasons = found.errors.loc[found.errors["method"] == "mixed", "refused"]
    assert line == f"  mixed: —, refused 3 times, first: {reasons.iloc[0]}"
    assert "nan" not in found.summary()
    assert "note: few rehearsals (3)" in found.summary()
    assert "few rehearsals" not in compare(season(), methods=()).summary()


def test_refusals_for_different_reasons_are_counted_and_the_first_is_told():
    """The reason names numbers that differ with the rehearsal left out."""
    errors = pd.DataFrame({
        "method": "mixed", "rehearsal": ["a", "b", "c"], "readings": 0, "rms_cents": np.nan,
        "refused": ["too few (7)", "too few (8)", "too few (8)"],
    })  # fmt: skip
    told = Comparison(errors).summary()
    assert "  mixed: —, refused 3 times, first: too few (7)" in told
    assert Comparison(errors.iloc[:1]).summary().splitlines()[1] == (
        "  mixed: —, refused: too few (7)"
    )
    some = errors.assign(rms_cents=[np.nan, np.nan, 2.0], refused=["few", "few", ""])
    assert ", refused twice, each time: few" in Comparison(some).summary()


def test_a_method_that_predicts_worse_than_no_drift_is_not_to_be_used():
    errors = pd.DataFrame(
        [
            {"method": method, "rehearsal": night, "readings": 9, "rms_cents": rms, "refused": ""}
            for method, rms in (("mixed", 9.0), ("least-squares", 4.0), ("no drift", 5.0))
            for night in ("May 5", "May 12")
        ]
    )
    worse = "worse than no drift at all: mixed; do not use it here"
    assert f"  note: {worse}" in Comparison(errors).summary().splitlines()
    assert refusals(Comparison(errors)) == [f"W{worse[1:]}."]
    better = Comparison(errors[errors["method"] != "mixed"])
    assert "worse" not in better.summary()
    assert not refusals(better)


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


def test_the_difference_from_the_best_method_is_given_with_its_error():
    """Of four rehearsals: each is one observation of the difference."""
    rows = [("a", 2.0, 10), ("b", 4.0, 10), ("c", 3.0, 10), ("d", 3.0, 10)]
    errors = [
        {"method": method, "rehearsal": name, "readings": count, "rms_cents": rms + more,
         "refused": ""}
        for method, more in (("worse", (1.0, 3.0, 2.0, 2.0)), ("best", (0.0,) * 4))
        for (name, rms, count), more in zip(rows, more, strict=True)
    ]  # fmt: skip
    table = Comparison(pd.DataFrame(errors)).to_frame().set_index("method")
    assert list(table.index) == ["worse", "best"]
    worse = table.loc["worse"]
    assert tuple(worse[["lowest_cents", "highest_cents", "behind_cents"]]) == (3.0, 7.0, 2.0)
    assert worse["behind_standard_error_cents"] == pytest.approx(np.sqrt(2.0 / 3.0 / 4.0))
    assert tuple(table.loc["best", ["behind_cents", "behind_standard_error_cents"]]) == (0.0, 0.0)
    told = Comparison(pd.DataFrame(errors)).summary().splitlines()
    assert told[1].endswith(
        "(root mean square; 3.0 to 7.0 in single rehearsals); in the mean of rehearsals 2.00 more "
        "than the best "
        "(standard error 0.41)"
    )
    assert "more than" not in told[2]


def test_how_far_a_comparison_is_runs_up_to_all_of_it_once():
    seen = []
    compare(season(3, 6), ("least-squares",), progress=lambda *step: seen.append(step))
    assert seen == [(number, 6) for number in range(1, 7)]
    seen.clear()
    compare_shapes(season(3, 6), progress=lambda *step: seen.append(step))
    assert [done for done, _ in seen] == list(range(1, seen[-1][1] + 1))


def muted_season(cents=20.0):
    """Every other note of a rehearsal is read with a mute, which changes the pitch."""
    rows = season(4, 16)
    muted = np.random.default_rng(8).integers(0, 2, len(rows))
    return rows.assign(
        muted=muted, reference_cents=rows["reference_cents"].to_numpy() + cents * muted
    )


def errors_of(found):
    return found.to_frame().set_index("method")["rms_cents"]


@pytest.mark.slow
def test_covariates_are_in_every_method_that_is_compared():
    rows = muted_season()
    without, with_mute = errors_of(compare(rows)), errors_of(compare(rows, covariates=["muted"]))
    methods = ["bayesian", "least-squares", "mixed"]
    assert (with_mute[methods] < without[methods] - 1.0).all()
    assert with_mute["no drift"] == without["no drift"]


def test_covariates_and_formulas_are_in_every_shape_that_is_compared():
    rows = muted_season()
    without, with_mute = (
        errors_of(compare_shapes(rows, covariates=given)).drop("no drift")
        for given in ((), ("muted",))
    )
    assert (with_mute < without - 1.0).all()
    by_formula = errors_of(compare_shapes(rows, formula="cents ~ drift + C(muted)"))
    assert by_formula.drop("no drift").to_numpy() == pytest.approx(with_mute.to_numpy(), abs=1e-9)


def test_a_method_that_cannot_take_what_was_asked_for_is_refused_in_words():
    rows = muted_season()
    found = compare(rows, formula="cents ~ drift + muted", methods=("bayesian", "least-squares"))
    line = errors_of(compare(rows, covariates=["muted"], methods=("least-squares",)))
    assert errors_of(found)["least-squares"] == pytest.approx(line["least-squares"])
    assert "  bayesian: —, refused: bayesian takes no formula" in found.summary()


@pytest.mark.slow
def test_priors_and_the_start_count_for_the_method_that_takes_them():
    rows, methods = season(3, 8), ("bayesian", "least-squares")
    usual = errors_of(compare(rows, methods))
    other = errors_of(compare(rows, methods, priors=Priors(player_slope_sd=5.0, day_sd=9.0)))
    assert other["bayesian"] != usual["bayesian"]
    assert other["least-squares"] == usual["least-squares"]


def test_rehearsals_that_began_in_a_way_nobody_noted_are_predicted_too():
    """Their start is estimated, or they are left out and counted."""
    rows, methods = season(8, 8), ("bayesian", "least-squares")
    odd = rows["rehearsal"].isin(sorted(set(rows["rehearsal"]))[::2])
    opened = rows.assign(initial_warmth=np.where(odd, np.nan, 0.0))
    estimated = compare(opened, methods, start="estimated")
    assert estimated.to_frame()["readings"].tolist() == [len(rows)] * 3
    assert not estimated.left_out
    lines = errors_of(compare(rows, ("least-squares",)))
    assert errors_of(estimated)["least-squares"] == pytest.approx(lines["least-squares"])
    stated = compare(opened, ("least-squares",))
    assert stated.to_frame()["readings"].tolist() == [int((~odd).sum())] * 2
    assert [one.count for one in stated.left_out] == [int(odd.sum())]
    told = f"note: left out: {odd.sum()} a number is missing (initial_warmth)"
    assert told in stated.summary()


def test_what_was_asked_of_a_comparison_is_checked_before_anything_is_left_out():
    with pytest.raises(InputError, match="the paired table has no column mute"):
        compare(season(), covariates=["mute"])
    with pytest.raises(InputError, match="both covariates and a formula"):
        compare(muted_season(), covariates=["muted"], formula="cents ~ drift + muted")
