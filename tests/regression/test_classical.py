"""The classical regressions, against certified data and independent programs."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize_scalar
from statsmodels.regression.linear_model import OLS

import drift
from drift.errors import InputError, TooLittleData
from drift.regression.classical import least_squares
from drift.regression.design import design_of, prepared
from drift.regression.fits import fit
from drift.words.fit import warning_text
from tests.bands import band_season
from tests.simulate import from_the_priors, random_plan

NIST = Path(__file__).parents[1] / "data" / "nist"


def table(**columns):
    count = max(len(values) for values in columns.values() if not isinstance(values, str))
    default = {
        "rehearsal": "a", "player": "p", "instrument": "double horn", "side": "", "note": "F4",
        "celsius": np.linspace(15, 25, count), "playing_minutes": np.full(count, 30.0),
        "reference_cents": np.zeros(count),
    }  # fmt: skip
    return pd.DataFrame(default | columns)


def season(seed=2, rehearsals=12, count=25):
    plan = random_plan(np.random.default_rng(seed), rehearsals, count, spread_celsius=6.0)
    return from_the_priors(seed, plan)[0]


def test_norris_to_the_certified_digits():
    """NIST StRD "Norris": slope 1.00211681802045 (sd 0.429796848199937e-03), intercept
    -0.262323073774029, residual sd 0.884796396144373, R² 0.999993745883712. Ten digits: the
    certified values have fifteen, centring a column of range 1000 costs a few."""
    data = pd.read_csv(NIST / "norris.csv")
    part = table(celsius=data["x"].to_numpy(), reference_cents=data["y"].to_numpy())
    line, residuals, _ = least_squares(part)
    assert line.coefficients[0] == pytest.approx(1.00211681802045, rel=1e-10)
    level = (data["y"] - line.coefficients[0] * data["x"]).mean()
    assert level == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.reading_sd == pytest.approx(0.884796396144373, rel=1e-10)
    assert residuals @ residuals == pytest.approx(26.6173985294224, rel=1e-10)
    found = fit(part.assign(rehearsal="a"), method="least-squares")
    assert found.kinds["double horn"].r_squared == pytest.approx(0.999993745883712, rel=1e-12)


def test_norris_standard_error_before_it_is_made_robust():
    data = pd.read_csv(NIST / "norris.csv")
    part = table(celsius=data["x"].to_numpy(), reference_cents=data["y"].to_numpy())
    ordered, columns, groups = prepared(part)
    plain = OLS(ordered["reference_cents"].to_numpy(), design_of(ordered, columns, groups)).fit()
    assert plain.bse == pytest.approx([0.429796848199937e-03, 0.232818234301152], rel=1e-9)


def test_clustered_errors_agree_with_linearmodels():
    """AbsorbingLS with the same corrections, an independent program."""
    from linearmodels.iv.absorbing import AbsorbingLS

    rows = season()
    line, _, facts = least_squares(rows)
    groups = rows.groupby(["player", "note"]).ngroup()
    clusters = pd.factorize(rows["rehearsal"])[0]
    other = AbsorbingLS(
        rows["reference_cents"],
        rows[["celsius", "playing_minutes"]],
        absorb=pd.DataFrame({"note": pd.Categorical(groups)}),
    ).fit(cov_type="clustered", clusters=pd.Series(clusters), debiased=True)
    assert line.coefficients == pytest.approx(other.params.to_numpy(), rel=1e-8)
    assert np.sqrt(np.diag(line.covariance)) == pytest.approx(
        other.std_errors.to_numpy(), rel=0.01
    ), "linearmodels counts degrees of freedom of absorbed effects differently: within 1 %"
    assert facts["covariance"] == {"kind": "clustered", "freedom": 11.0}


def test_one_rehearsal_uses_hac_and_says_so():
    found = fit(season(rehearsals=1, count=40), method="least-squares")
    assert found.diagnostics["covariance"]["kind"] == "hac"
    assert found.diagnostics["covariance"]["lags"] == 3
    assert any("only one rehearsal" in warning_text(text) for text in found.warnings)
    assert not any("clustered" in warning_text(text) for text in found.warnings)


def test_hac_agrees_with_newey_and_west_written_out():
    rows = season(rehearsals=1, count=40)
    line, residuals, _ = least_squares(rows)
    ordered, columns, groups = prepared(rows)
    x = design_of(ordered, columns, groups)
    e = residuals[np.argsort(rows["time"].to_numpy(), kind="stable")]
    n, k = x.shape
    scores = x * e[:, None]
    meat = scores.T @ scores
    for lag in range(1, 4):
        step = scores[lag:].T @ scores[:-lag]
        meat += (1 - lag / 4) * (step + step.T)
    bread = np.linalg.inv(x.T @ x)
    expected = (bread @ meat @ bread * n / (n - k))[:2, :2]
    assert line.covariance == pytest.approx(expected, rel=1e-8)


def test_mixed_agrees_with_the_closed_form_on_balanced_data():
    """Temperature constant in a rehearsal, time the same in each: the slopes are those of the
    means of rehearsals and of the deviations from them; variances by analysis of variance."""
    random = np.random.default_rng(11)
    rehearsals, count = 12, 10
    minutes = np.tile(np.linspace(5, 95, count), rehearsals)
    celsius = np.repeat(random.uniform(12, 30, rehearsals), count)
    cents = 2.0 * celsius + 0.05 * minutes + np.repeat(random.normal(0, 3, rehearsals), count)
    cents += random.normal(0, 2, len(cents))
    rows = table(
        rehearsal=np.repeat([f"r{n:02d}" for n in range(rehearsals)], count),
        celsius=celsius, playing_minutes=minutes, reference_cents=cents,
    )  # fmt: skip
    found = fit(rows, method="mixed")
    entries = found.curve().entries()
    y, t = cents.reshape(rehearsals, count), celsius.reshape(rehearsals, count)[:, 0]
    x = t - t.mean()
    slope = x @ y.mean(axis=1) / (x @ x)
    m = minutes[:count] - minutes[:count].mean()
    within = (y - y.mean(axis=1, keepdims=True)) @ m / (m @ m)
    between = y.mean(axis=1) - y.mean() - slope * x
    rest = y - y.mean(axis=1, keepdims=True) - within.mean() * m
    square_within = (rest**2).sum() / (rehearsals * (count - 1) - 1)
    square_between = count * (between @ between) / (rehearsals - 2)
    assert entries["cents_per_celsius"].estimate == pytest.approx(slope, rel=1e-6)
    assert entries["cents_per_playing_minute"].estimate == pytest.approx(within.mean(), rel=1e-6)
    # The optimiser stops where the likelihood is flat, so variances agree to four digits.
    assert found.reading_sd_cents**2 == pytest.approx(square_within, rel=1e-4)
    day = (square_between - square_within) / count
    assert found.rehearsal_sd_cents**2 == pytest.approx(day, rel=1e-3)
    error = np.sqrt(square_between / count / (x @ x))
    assert entries["cents_per_celsius"].standard_error == pytest.approx(error, rel=1e-3)
    assert found.diagnostics["converged"] is True


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_mixed_finds_the_maximum_of_the_restricted_likelihood(seed):
    """One player, unbalanced: against the likelihood written out and maximised by scipy.

    An optimiser that reports success at an infinite likelihood would be found here.
    """
    rows = season(seed, 8, 20).assign(player="p")
    found = fit(rows, method="mixed").curve()
    ordered, columns, groups = prepared(rows.assign(intercept=pd.factorize(rows["note"])[0]))
    x, y = design_of(ordered, columns, groups), ordered["reference_cents"].to_numpy()
    days = pd.get_dummies(ordered["rehearsal"], dtype=float).to_numpy()

    def solved(ratio):
        v = np.eye(len(y)) + ratio**2 * days @ days.T
        vx = np.linalg.solve(v, x)
        slopes = np.linalg.solve(x.T @ vx, vx.T @ y)
        rest = y - x @ slopes
        variance = rest @ np.linalg.solve(v, rest) / (len(y) - x.shape[1])
        logs = np.linalg.slogdet(v)[1] + np.linalg.slogdet(x.T @ vx)[1]
        return logs + (len(y) - x.shape[1]) * np.log(variance), slopes, variance

    best = minimize_scalar(lambda r: solved(r)[0], bounds=(0.0, 5.0), method="bounded")
    _, slopes, variance = solved(best.x)
    assert found.coefficients == pytest.approx(slopes[:2], rel=0.01, abs=1e-3)
    assert found.reading_sd**2 == pytest.approx(variance, rel=0.01)


def test_mixed_says_when_it_did_not_converge(monkeypatch):
    from drift.regression import mixed

    original = mixed._reml
    monkeypatch.setattr(mixed, "_reml", lambda *args: (original(*args)[0], False, ["lbfgs: no"]))
    found = fit(season(), method="mixed")
    assert any("did not converge: do not use" in warning_text(text) for text in found.warnings)
    assert found.to_json()["diagnostics"]["converged"] is False


@pytest.mark.parametrize("method", ["least-squares", "mixed"])
def test_players_who_share_a_line_are_said(method):
    rows = season()
    found = fit(rows.assign(player=np.where(np.arange(len(rows)) % 2, "p", "q")), method=method)
    said = "(2 players): " + method + " has one line for all who play it"
    for one in (found, found.only("p")):
        assert any(said in warning_text(warning) for warning in one.warnings)
    alone = fit(rows.assign(player="p"), method=method)
    assert not any("one line" in warning_text(warning) for warning in alone.warnings)


def test_few_rehearsals_are_said():
    found = fit(season(rehearsals=4), method="least-squares")
    assert any("only 4 rehearsals" in warning_text(text) for text in found.warnings)
    assert not any(
        "only" in warning_text(t) for t in fit(season(), method="least-squares").warnings
    )


def test_the_trap_gives_a_wrong_slope_and_a_warning():
    """A room that warms while the band warms up: nearly one column, R² high, slope absurd."""
    random = np.random.default_rng(3)
    minutes = np.sort(random.uniform(2, 100, 40))
    celsius = 20 + 3 * (1 - np.exp(-minutes / 15)) + random.normal(0, 0.02, 40)
    cents = 1.9 * (celsius - 20) + 14 * (1 - np.exp(-minutes / 10)) + random.normal(0, 1, 40)
    rows = table(celsius=celsius, playing_minutes=minutes, reference_cents=cents)
    found = fit(rows, method="least-squares")
    slope = found.curve().entries()["cents_per_celsius"].estimate
    assert slope > 2 * 1.9
    assert found.kinds["double horn"].r_squared > 0.9
    assert found.kinds["double horn"].regressor_correlation > 0.75
    assert "far too large, or with the wrong sign" in warning_text(found.warnings[0])
    anchored = fit(rows).curve().entries()["warm_cents_per_celsius"]
    assert anchored.low < 1.9 < anchored.high


@pytest.mark.parametrize("method", ["least-squares", "mixed"])
@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (table(celsius=[20.0] * 6, reference_cents=range(6)), "one temperature only"),
        (table(reference_cents=[3.0] * 6), "never change"),
        (table(reference_cents=[1.0, 2.0]), "2 readings for 2 numbers"),
        (
            table(playing_minutes=np.linspace(5, 25, 6), reference_cents=[1, 5, 2, 4, 3, 6]),
            "rise together exactly",
        ),
        (table(note=["F4", "C4", "D4"], reference_cents=[1.0, 2.0, 3.0]), "one temperature only"),
    ],
    ids=["one temperature", "constant cents", "two readings", "one column", "a note each"],
)
def test_what_can_not_be_told_is_refused_with_what_is_missing(rows, message, method):
    two = pd.concat([rows.assign(rehearsal="a"), rows.assign(rehearsal="b")]).iloc[: len(rows)]
    with pytest.raises(TooLittleData, match=message if method == "least-squares" else "."):
        fit(two, method=method)


def test_mixed_needs_two_rehearsals():
    rows = table(playing_minutes=np.arange(8.0) ** 2, reference_cents=np.arange(8.0) % 3)
    with pytest.raises(TooLittleData, match="come from one rehearsal"):
        fit(rows, method="mixed")


def test_one_minute_only_leaves_out_the_time_and_says_so():
    random = np.random.default_rng(1)
    rows = table(celsius=random.uniform(10, 30, 20), reference_cents=random.normal(0, 3, 20))
    found = fit(rows, method="least-squares")
    assert set(found.curve().entries()) == {"cents_per_celsius"}
    assert any("one playing time only" in warning_text(text) for text in found.warnings)


def test_json_has_coefficients_instead_of_warm_up_entries():
    answer = fit(season(), method="least-squares").to_json()
    (kind,) = answer["instruments"].values()
    assert kind["players"] == {}
    assert set(kind["population"]["cents_per_celsius"]) == {
        "estimate", "standard_error", "low", "high", "p_value"
    }  # fmt: skip
    assert "cents_per_playing_minute" in kind["population"]
    assert "warm_up_cents" not in kind["population"]


def test_draws_need_the_bayesian_method():
    with pytest.raises(InputError, match="knows no warming up"):
        fit(season(), method="least-squares").draws()


def test_other_instruments_need_readings():
    with pytest.raises(InputError, match="no readings of a double horn"):
        fit(season(), method="least-squares").change("double horn", celsius=30.0)


def test_a_change_is_slope_times_degrees_and_rate_times_minutes():
    found = fit(season(), method="least-squares")
    entries = found.curve().entries()
    change = found.change(celsius=30.0, minutes=50.0, tuned_celsius=20.0, tuned_minutes=30.0)
    expected = 10 * entries["cents_per_celsius"].estimate
    expected += 20 * entries["cents_per_playing_minute"].estimate
    assert change.estimate == pytest.approx(expected)


def test_the_mixed_model_refuses_what_would_fill_the_memory():
    """100 000 readings of 200 players took 18 GB and did not end; this is a sixth of it."""
    rows, _ = band_season(1, 100, 10, 16)
    with pytest.raises(InputError, match="too many for the method mixed"):
        fit(rows, method="mixed")


@pytest.mark.slow
def test_readings_that_are_not_independent_are_said():
    """A warm-up is no straight line: neighbouring residuals of the shipped season are alike
    (Durbin-Watson 0.9), those of a straight line with noise are not."""
    paired = drift.pair(drift.load(drift.shipped.folder("datasets/cold-hall-season")))
    for method in ("least-squares", "mixed"):
        assert "the p-values mean little" in " ".join(
            map(warning_text, fit(paired, method).warnings)
        )
        assert "p-values" not in " ".join(map(warning_text, fit(season(), method).warnings))


def test_random_effects_of_the_mixed_model_are_told_apart():
    """Days of 2 cents within rehearsals of 5: REML finds both, and `sds` has them by name."""
    rng = np.random.default_rng(5)
    rows = season(4, 20, 30)
    rows["player"] = rng.choice(["p", "q", "r"], len(rows))
    day = rows["rehearsal"] + rows["player"]
    of_day = dict(zip(day.unique(), rng.normal(0.0, 2.0, day.nunique()), strict=True))
    names = rows["rehearsal"].unique()
    of_rehearsal = dict(zip(names, rng.normal(0.0, 5.0, len(names)), strict=True))
    warm = 1.5 * (rows["celsius"] - 20.0) + rng.normal(0.0, 1.0, len(rows))
    rows["reference_cents"] = warm + day.map(of_day) + rows["rehearsal"].map(of_rehearsal)
    found = fit(rows, "mixed")
    assert 3.5 < found.sds["rehearsal_sd"].estimate < 7.0
    assert 1.5 < found.sds["day_sd"].estimate < 2.6
    assert found.rehearsal_sd_cents == pytest.approx(
        np.hypot(found.sds["day_sd"].estimate, found.sds["rehearsal_sd"].estimate)
    )
    assert "from rehearsal to rehearsal, for everybody: " in found.summary()
    empty = found.players_frame()
    assert empty.empty
    assert {"instrument", "player", "quantity", "known"} <= set(empty)


def test_a_low_durbin_watson_names_its_instrument():
    rows = season(rehearsals=8, count=20).sort_values("time", ignore_index=True)
    walk = np.cumsum(np.random.default_rng(1).normal(0.0, 6.0, len(rows)))
    kinds = np.where(np.arange(len(rows)) < len(rows) // 2, "oboe", "double horn")
    cents = rows["reference_cents"] + np.where(kinds == "oboe", walk, 0.0)
    text = fit(rows.assign(instrument=kinds, reference_cents=cents), "least-squares").summary()
    assert "warning: Durbin-Watson of oboe is 0." in text
