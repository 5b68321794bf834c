"""Covariates and formulas: every method finds what was put in, in its own unit."""

import pickle

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from drift.errors import InputError, TooLittleData
from drift.regression.covariates import covariates_of
from drift.regression.fits import fit
from drift.regression.priors import Priors
from drift.words.fit import warning_text
from tests.bands import band_season

METHODS = ("bayesian", "least-squares", "mixed")


@pytest.fixture(scope="module")
def season():
    """Half a cent flatter for each 10 % of humidity, and 9 cents sharper with the mute."""
    rows, _ = band_season(3, 2, 6)
    random = np.random.default_rng(4)
    humidity = random.uniform(30.0, 70.0, len(rows))
    mute = np.where(random.random(len(rows)) < 0.4, "straight", "none")
    cents = rows["reference_cents"] - 0.05 * humidity + 9.0 * (mute == "straight")
    return rows.assign(humidity_percent=humidity, mute=mute, reference_cents=cents)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("name", ["celsius", "minutes_into_spell", "reference_cents"])
def test_what_the_regression_is_on_anyway_is_no_covariate(season, method, name):
    with pytest.raises(InputError, match=f"{name} is in the regression already"):
        fit(season, method, covariates=[name])


@pytest.mark.parametrize("method", METHODS)
def test_every_method_reports_a_covariate_in_its_unit(season, method):
    found = fit(season, method, covariates=["humidity_percent", "mute"])
    effects = found.kinds["Bb trumpet"].population.covariate_entries()
    assert set(effects) == {"humidity_percent", "mute[straight]"}
    assert effects["humidity_percent"].low < -0.05 < effects["humidity_percent"].high
    assert effects["mute[straight]"].low < 9.0 < effects["mute[straight]"].high
    assert "mute[straight]" in found.summary()
    assert found.to_json()["instruments"]["Bb trumpet"]["covariates"].keys() == effects.keys()


@pytest.mark.parametrize("rare", ["cold", "warmed"])
def test_the_word_that_others_are_set_against_is_the_first_whatever_the_counts(rare):
    words = [rare] + [word for word in ("cold", "warmed") if word != rare] * 3
    (found,) = covariates_of(pd.DataFrame({"mouthpiece": words}), ["mouthpiece"])
    assert (found.label, found.against) == ("mouthpiece[warmed]", "cold")


def test_a_formula_is_the_covariates_it_names(season):
    named = fit(season, "least-squares", covariates=["humidity_percent", "mute"])
    written = fit(season, "least-squares", formula="cents ~ drift + humidity + C(mute)")
    effects = written.kinds["Bb trumpet"].population.covariate_entries()
    others = named.kinds["Bb trumpet"].population.covariate_entries()
    assert list(effects) == ["humidity", "C(mute)[T.straight]"]
    for one, other in zip(effects.values(), others.values(), strict=True):
        assert one.to_json() == pytest.approx(other.to_json(), rel=1e-8)
    assert written.change(celsius=30.0).estimate == pytest.approx(
        named.change(celsius=30.0).estimate
    )


def test_least_squares_with_a_formula_agrees_with_another_library(season):
    """The same regression by statsmodels' own formulas, an intercept a note of a player."""
    rows = season.assign(key=season["player"] + season["note"])
    formula = (
        "reference_cents ~ celsius + playing_minutes + humidity_percent + C(mute, "
        "Treatment('none')) + humidity_percent:celsius + C(key)"
    )
    groups = {"groups": rows["rehearsal"].factorize()[0]}
    other = smf.ols(formula, rows).fit(cov_type="cluster", cov_kwds=groups, use_t=True)
    ours = fit(
        season, "least-squares",
        formula="cents ~ drift + humidity_percent + C(mute) + humidity_percent:celsius",
    ).kinds["Bb trumpet"].population  # fmt: skip
    humid = ours.covariate_entries()["humidity_percent"]
    assert humid.estimate == pytest.approx(other.params["humidity_percent"], rel=1e-6)
    assert humid.standard_error == pytest.approx(other.bse["humidity_percent"], rel=1e-6)
    assert humid.p_value == pytest.approx(other.pvalues["humidity_percent"], rel=1e-5)


def test_a_fit_with_a_formula_pickles_and_predicts_other_rows(season):
    found = pickle.loads(
        pickle.dumps(fit(season, "mixed", formula="cents ~ drift + humidity + C(mute)"))
    )
    some = season.iloc[:5].assign(humidity=season["humidity_percent"])
    curve = found.curve()
    wet = curve.expected(some.assign(humidity=some["humidity"] + 10.0)) - curve.expected(some)
    effect = curve.covariate_entries()["humidity"].estimate
    assert wet == pytest.approx(10.0 * effect)
    without = curve.expected(some.drop(columns=["humidity", "humidity_percent"]))
    assert np.isfinite(without).all()


def test_what_the_notes_already_hold_is_refused(season):
    with pytest.raises(TooLittleData, match=r"C\(player\)\[T.p001\] cannot be told from"):
        fit(season, "least-squares", formula="cents ~ drift + C(player)")


@pytest.mark.parametrize("method", ["least-squares", "mixed"])
@pytest.mark.parametrize("way", [{"covariates": ["age"]}, {"formula": "cents ~ drift + age"}])
@pytest.mark.parametrize(("years", "off"), [(1.0, 0.0), (1 / 3, 0.0), (1e-6, 0.0), (1.0, 2000.0)])
def test_what_never_changes_within_a_player_has_no_effect_of_its_own(
    season, method, way, years, off
):
    """In whatever unit: means of numbers that no computer holds exactly leave crumbs."""
    age = season["player"].str[1:].astype(float) * years + off + 1.0 / 3.0
    with pytest.raises(TooLittleData, match="age cannot be told from how high each player is"):
        fit(season.assign(age=age), method, **way)


@pytest.mark.parametrize(
    "values", [{"p000": 31.0, "p001": 44.0}, {"p000": "first", "p001": "second"}]
)
def test_bayesian_says_what_has_one_value_a_player_and_what_can_be_asked(season, values):
    found = fit(season.assign(desk=season["player"].map(values)), covariates=["mute", "desk"])
    told = [warning_text(one) for one in found.warnings if one.kind == "one_value_a_player"]
    assert len(told) == 1
    assert told[0].startswith("desk cannot be separated from how high each player is")
    assert '"cents ~ drift + celsius:desk"' in told[0]
    assert "one_value_a_player" not in {
        one.kind for one in fit(season, covariates=["mute"]).warnings
    }


def test_a_covariate_that_changes_a_little_within_a_player_is_estimated(season):
    """A year of 12 rehearsals, told in years since the common era: 1 in 2000."""
    year = 2026.0 + season["rehearsal"].factorize()[0] / 12.0
    found = fit(season.assign(year=year), "least-squares", formula="cents ~ drift + year")
    assert np.isfinite(found.kinds["Bb trumpet"].population.covariate_entries()["year"].estimate)


@pytest.mark.parametrize(
    ("formula", "problem"),
    [
        ("cents ~ drift + (", "cannot be used"),
        ("drift + mute", "is not one of cents"),
        ("pitch ~ drift", "is not one of cents"),
        ("cents ~ humidity", "has no drift"),
        ("cents ~ drift:mute + drift", "combines drift"),
        ("cents ~ drift + shoes", "no column shoes"),
    ],
)
def test_a_formula_that_says_nothing_usable_is_refused(season, formula, problem):
    with pytest.raises(InputError, match=problem):
        fit(season, "least-squares", formula=formula)


def test_options_that_do_not_go_together_are_refused(season):
    with pytest.raises(InputError, match="bayesian takes no formula"):
        fit(season, formula="cents ~ drift")
    with pytest.raises(InputError, match="both covariates and a formula"):
        fit(season, "mixed", formula="cents ~ drift", covariates=["mute"])


def test_rows_without_the_covariate_are_left_out_and_counted(season):
    holes = season.assign(humidity_percent=season["humidity_percent"].where(season.index > 9))
    found = fit(holes, "least-squares", formula="cents ~ drift + humidity")
    assert len(found.rows) == len(season) - 10
    assert found.left_out[0].count == 10
    assert "left out: 10 a number is missing (humidity)" in found.summary()


def test_how_much_of_an_effect_is_from_the_readings(season):
    """All of one that varies in a player's notes, none of one that a player never changes."""
    age = season["player"].str[1:].astype(float)
    found = fit(season.assign(age=age), covariates=["mute", "age"])
    effects = found.kinds["Bb trumpet"].population.covariate_entries()
    assert effects["mute[straight]"].from_data > 0.85
    assert effects["age"].from_data < 0.05
    tight = fit(season, covariates=["mute"], priors=Priors(covariate_sd=0.3))
    loose, held = (one.sensitivity().set_index("quantity")["prior"] for one in (found, tight))
    assert abs(held["mute[straight]"]) > 10.0 * abs(loose["mute[straight]"])
    assert "mute[straight]: " in found.summary()
    assert "age: " in found.summary()
    assert "cents per unit" in found.summary()


@pytest.mark.parametrize(
    ("beside", "told"), [("", ""), (" + celsius:C(mute)", " where celsius is 0")]
)
def test_an_effect_that_changes_with_the_temperature_is_told_with_its_temperature(
    season, beside, told
):
    text = fit(season, "least-squares", formula=f"cents ~ drift + C(mute){beside}").summary()
    (line,) = [one for one in text.splitlines() if one.startswith("  C(mute)[T.")]
    assert line.endswith(f" cents{told}")


def test_effects_for_all_instruments_are_told_once(season):
    both = season.assign(
        instrument=np.where(season["player"] == "p000", "double horn", season["instrument"])
    )
    text = fit(both, covariates=["humidity_percent"]).summary()
    assert text.count("humidity_percent: ") == 1
    assert "covariates, for all instruments together:\n  humidity_percent: " in text
    assert "cents per %, " in text
    each = fit(both, "least-squares", covariates=["humidity_percent"]).summary()
    assert each.count("humidity_percent: ") == 2


def test_a_covariate_without_end_is_left_out_as_one_that_is_missing(season):
    humidity = season["humidity_percent"].where(season.index > 9, np.inf)
    found = fit(season.assign(humidity_percent=humidity), "least-squares", covariates=["humidity"])
    assert len(found.rows) == len(season) - 10
    assert found.left_out[0].count == 10


@pytest.mark.parametrize("method", METHODS)
def test_a_number_is_no_covariate(season, method):
    with pytest.raises(InputError, match="the covariate 3 is not the name of a column"):
        fit(season, method, covariates=[3])


def test_a_million_dummies_are_not_built_for_a_covariate(season, monkeypatch):
    monkeypatch.setattr("drift.regression.classical.DENSE_CELLS", 100)
    with pytest.raises(InputError, match="too many for mute"):
        fit(season, "least-squares", covariates=["mute"])


YEARS = {"p000": 2.0, "p001": 8.0, "p002": 20.0}


def with_years(season, cents=0.05):
    """A slope that is steeper by so much for each year of experience."""
    years = season["player"].map(YEARS).to_numpy(dtype=float)
    steeper = cents * years * season["celsius"].to_numpy()
    return season.assign(years=years, reference_cents=season["reference_cents"] + steeper)


@pytest.mark.parametrize("method", ["least-squares", "mixed"])
def test_a_change_is_that_of_usual_players_where_a_formula_has_an_interaction(season, method):
    """At the mean of the readings, not at 0 years, which nobody has; or at any other value."""
    found = fit(with_years(season), method, formula="cents ~ drift + celsius:years")
    line = found.kinds["Bb trumpet"].population
    mean = with_years(season)["years"].mean()
    assert line.held() == {"years": pytest.approx(mean)}
    effect = line.covariate_entries()["celsius:years"].estimate
    without = fit(season, method).change(celsius=30.0).estimate
    change = found.change(celsius=30.0)
    assert change.estimate == pytest.approx(without + 10.0 * 0.05 * mean, abs=1.5)
    later = found.change(celsius=30.0, at={"years": mean + 10.0})
    assert later.estimate - change.estimate == pytest.approx(100.0 * effect)
    shown = found.predict([20.0, 30.0], at={"years": mean + 10.0})["cents"]
    assert np.diff(shown) == pytest.approx(later.estimate)
    slope = line.entries()["cents_per_celsius"]
    assert 10.0 * slope.estimate == pytest.approx(change.estimate)
    assert 10.0 * slope.standard_error == pytest.approx(
        10.0 * np.sqrt(found.covariance().loc["cents_per_celsius", "cents_per_celsius"])
    )
    assert f"slope at years {mean:.3g}: {slope.estimate:.2f} cents/°C (" in found.summary()
    assert found.to_json()["instruments"]["Bb trumpet"]["held"] == line.held()


def test_the_error_of_a_slope_at_a_value_is_that_of_a_centred_covariate(season):
    """The same regression with years less their mean has it as the coefficient itself."""
    rows = with_years(season)
    centred = rows.assign(years=rows["years"] - rows["years"].mean())
    one, other = (
        fit(table, "least-squares", formula="cents ~ drift + celsius:years")
        for table in (rows, centred)
    )
    slope, same = (
        found.kinds["Bb trumpet"].population.entries()["cents_per_celsius"]
        for found in (one, other)
    )
    assert slope.to_json() == pytest.approx(same.to_json(), rel=1e-6)


def test_words_that_multiply_the_temperature_are_held_at_the_commonest(season):
    found = fit(season, "least-squares", formula="cents ~ drift + C(mute) + C(mute):celsius")
    assert found.kinds["Bb trumpet"].population.held() == {"mute": "none"}
    assert "slope at mute none:" in found.summary()
    usual, muted = (
        found.change(celsius=30.0, at={"mute": word}).estimate for word in ("none", "straight")
    )
    assert found.change(celsius=30.0).estimate == usual != muted


def test_a_slope_that_bends_is_given_at_the_mean_temperature(season):
    found = fit(season, "least-squares", formula="cents ~ drift + I(celsius**2)")
    line = found.kinds["Bb trumpet"].population
    warm = line.coefficients[0] + 2.0 * season["celsius"].mean() * line.coefficients[2]
    assert line.entries()["cents_per_celsius"].estimate == pytest.approx(warm)
    assert list(line.held()) == ["celsius"]


@pytest.mark.parametrize(
    ("given", "problem"),
    [
        ({"shoes": 3}, "does not depend on shoes"),
        ({"years": "many"}, "years 'many' is not like the readings"),
        ({"celsius": 3.0}, "does not depend on celsius"),
    ],
)
def test_values_that_change_no_slope_are_refused(season, given, problem):
    found = fit(with_years(season), "least-squares", formula="cents ~ drift + celsius:years")
    with pytest.raises(InputError, match=problem):
        found.change(celsius=30.0, at=given)


def test_no_value_is_taken_where_a_covariate_changes_no_slope(season):
    found = fit(season, covariates=["mute"])
    with pytest.raises(InputError, match="does not depend on mute"):
        found.change(celsius=30.0, at={"mute": "straight"})
