"""Joint draws, the covariance by name, and rehearsals predicted from the others."""

import pickle
import sys
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from drift.errors import InputError
from drift.regression import players, triangles
from drift.regression.bayesian import evidence_of, fit_bayesian, some_of
from drift.regression.columns import columns_of
from drift.regression.covariates import covariates_of
from drift.regression.fits import fit, rows_to_fit
from drift.regression.jointly import joint_draws
from drift.regression.leave_out import rehearsals_left_out
from drift.regression.priors import AT_ITS_WORD_SD, Priors
from tests.bands import band_season
from tests.regression.test_evidence import KINDS, PRIORS, band, dense

SIZE = 4000
NO_WALLS = Priors(walls_sd=AT_ITS_WORD_SD, quick_walls_sd=AT_ITS_WORD_SD)


@pytest.fixture(scope="module")
def season():
    return band_season(8, 3, 5)


@pytest.fixture(scope="module")
def found(season):
    return fit(season[0], priors=NO_WALLS)


@pytest.fixture(scope="module")
def drawn(found):
    return found.joint_draws(SIZE, seed=1)


def close(draws, mean, sd):
    """The mean within five standard errors, the spread within 12 %."""
    assert abs(draws.mean() - mean) < 5.0 * sd / np.sqrt(len(draws))
    assert draws.std() == pytest.approx(sd, rel=0.12)


def test_draws_of_players_are_those_of_their_exact_mixtures(found, drawn):
    for (what, who), table in drawn.players.items():
        curve = found.curve(what, who)
        covariance = curve.covariance_frame()
        names = ["cold_cents_per_celsius", "warm_up_cents", "slow_cents_per_hour"]
        for place, name in enumerate(names):
            mean = float(curve.weights @ curve.mean[:, place])
            close(table.iloc[:, place].to_numpy(), mean, np.sqrt(covariance.loc[name, name]))
        exact = covariance.loc[names, names].to_numpy()
        scale = np.sqrt(np.outer(np.diag(exact), np.diag(exact)))
        assert np.allclose(table.cov() / scale, exact / scale, atol=0.1)


@pytest.mark.slow
def test_draws_hold_what_printed_intervals_allow_for_walls(season):
    found = fit(season[0])
    drawn = found.joint_draws(SIZE, seed=2)
    for name, full in (
        ("cold", "cold_cents_per_celsius"),
        ("rise", "warm_up_cents"),
        ("slow", "slow_cents_per_hour"),
    ):
        for (what, who), table in drawn.players.items():
            sd = np.sqrt(found.covariance(what, who).loc[full, full])
            assert table[name].std() == pytest.approx(sd, rel=0.06)
        for what, table in drawn.kinds.items():
            printed = found.kinds[what].population.entries()[full]
            low, high = np.quantile(table[name], [0.025, 0.975])
            assert high - low == pytest.approx(printed.high - printed.low, rel=0.06)
    slopes = [one["cold"] - one["rise"] / 14.0 for one in drawn.players.values()]
    at_its_word = fit(season[0], priors=NO_WALLS).joint_draws(SIZE, seed=2)
    without = [one["cold"] - one["rise"] / 14.0 for one in at_its_word.players.values()]
    assert np.allclose(slopes, without)


def test_walls_of_all_instruments_lean_the_same_way():
    """Else the mean of several would be surer of them than each."""
    rows, _, found = of_a_band()
    drawn = joint_draws(found, rows, replace(PRIORS, quick_walls_sd=20.0, walls_sd=20.0), 300)
    rises = [table["rise"] for table in (*drawn.kinds.values(), *drawn.players.values())]
    assert np.corrcoef(rises).min() > 0.8


def test_draws_are_the_same_where_rehearsals_are_solved_one_by_one(found, monkeypatch):
    all_at_once = found.joint_draws(20, seed=3)
    for module in (players, triangles):
        monkeypatch.setattr(module, "SMALL", 0)
    one_by_one = found.joint_draws(20, seed=3)
    np.testing.assert_allclose(one_by_one.rehearsals, all_at_once.rehearsals, rtol=1e-7, atol=1e-8)
    np.testing.assert_allclose(one_by_one.intercepts, all_at_once.intercepts, rtol=1e-7, atol=1e-8)


def test_draws_of_a_kind_and_of_the_sds_are_those_of_the_fit(found, drawn):
    table = drawn.kinds["Bb trumpet"]
    population = found.kinds["Bb trumpet"].population
    covariance = population.covariance_frame()
    for name, full in (("cold", "cold_cents_per_celsius"), ("rise", "warm_up_cents")):
        close(
            table[name].to_numpy(), population.entries()[full].estimate,
            np.sqrt(covariance.loc[full, full]),
        )  # fmt: skip
    minutes = population.entries()["warm_up_time_constant_minutes"]
    assert table["warm_minutes"].median() == pytest.approx(minutes.estimate, rel=0.1)
    assert drawn.sds["reading_sd"].median() == pytest.approx(
        found.sds["reading_sd"].estimate, rel=0.05
    )
    assert list(drawn.rehearsals) == list(found.rehearsal_effects)


def test_intervals_of_intercepts_hold_the_pitch_of_the_notes(season, found):
    """Differences of two notes of a player: the day, the rehearsal and the drift fall out."""
    table = found.intercepts().set_index(["player", "note"])
    rest = found.rows.assign(rest=found.rows["reference_cents"] - found.rows["drift"])
    for player in season[1].players:
        of = rest[rest["player"] == player].groupby("note")["rest"].mean()
        mine = table.loc[player]
        assert (mine["low"] < mine["high"]).all()
        apart = mine["estimate"] - mine["estimate"].iloc[0]
        assert np.abs(apart - (of - of[apart.index[0]])).max() < 2.0
    wide, narrow = found.intercepts(0.95), found.intercepts(0.5)
    assert (wide["high"] - wide["low"] > narrow["high"] - narrow["low"]).all()


@pytest.mark.slow
def test_pitches_of_notes_are_those_without_the_mute(season, found):
    """6 cents flat with the mute in every third reading, 0.2 sharp for each % of humidity from 50:
    at the mean of them all notes would lie 2 cents low."""
    random = np.random.default_rng(4)
    rows = season[0]
    mute = np.where(random.random(len(rows)) < 0.33, "harmon", "none")
    humidity = random.uniform(40.0, 60.0, len(rows)).round()
    cents = rows["reference_cents"] - 6.0 * (mute == "harmon") + 0.2 * (humidity - humidity.mean())
    given = rows.assign(
        reference_cents=cents, mute=mute, humidity=humidity, muted=(mute == "harmon") * 1.0
    )
    for name, label in (("mute", "mute[none]"), ("muted", "muted")):
        told = fit(given, covariates=[name, "humidity"])
        apart = told.intercepts()["estimate"] - found.intercepts()["estimate"]
        assert np.abs(apart).max() < 0.5
        drawn = told.joint_draws()
        assert drawn.covariates.loc[label, "at"] == float(name == "mute")  # "none" is commonest
        assert drawn.covariates.loc["humidity", "at"] == pytest.approx(humidity.mean())
        assert drawn.covariates.loc["humidity", "sd"] == pytest.approx(humidity.std())
        effects = told.kinds["Bb trumpet"].population.covariate_entries()
        for one, effect in effects.items():
            assert drawn.kinds["Bb trumpet"][one].mean() == pytest.approx(effect.estimate, rel=0.1)


def test_the_likelihood_of_each_reading_is_in_the_order_of_the_rows(season, found, drawn):
    assert drawn.log_likelihood.shape == (SIZE, len(found.rows))
    size = np.abs(found.rows["residual"].to_numpy())
    mean = drawn.log_likelihood.mean(axis=0)
    assert np.corrcoef(size, mean)[0, 1] < -0.8
    best = -np.log(drawn.sds["reading_sd"].to_numpy() * np.sqrt(2.0 * np.pi))
    assert (drawn.log_likelihood.max(axis=1) <= best + 0.3).all()
    spoilt = season[0].copy()
    spoilt.loc[17, "reference_cents"] += 80.0
    worst = fit(spoilt).joint_draws(50).log_likelihood.mean(axis=0)
    assert int(worst.argmin()) == 17


def of_a_band(shared_humidity=True):
    rows, _ = rows_to_fit(band(), covariates=("humidity",) if shared_humidity else ())
    columns = columns_of(rows, covariates_of(rows, ("humidity",)))
    return rows, columns, fit_bayesian(columns, PRIORS, KINDS)


@pytest.mark.slow
def test_a_rehearsal_left_out_agrees_with_dense_algebra():
    """At each theta its density is a ratio of evidences, which dense algebra gives as well."""
    _, columns, found = of_a_band()
    where = columns.rehearsal_of_day[columns.day]
    kept, gone = np.flatnonzero(where != 1), np.flatnonzero(where == 1)
    weights = found.weights.whole
    theta = found.sample.theta[np.argsort(-found.sample.weights)[:40]]
    others = evidence_of(
        columns.take(kept), some_of(found.weights, kept), found.scores, found.evidence.box
    )
    lost = others.given(theta).log - found.evidence.given(theta).log
    exact = [
        dense(columns.take(kept), one, weights[kept], found.scores)[0]
        - dense(columns, one, weights, found.scores)[0]
        for one in theta
    ]
    apart = np.array(exact) - lost
    assert np.ptp(lost) > 1.0
    sd = found.scores.sds(theta)[:, 0]
    constant = (1.0 - found.weights.tame[gone]).sum() * np.log(sd) - 0.5 * np.log(
        weights[gone]
    ).sum()
    assert apart == pytest.approx(constant, abs=0.1)
    table = rehearsals_left_out(found)
    assert table["readings"].sum() == len(columns)
    assert np.isfinite(table["log_density"]).all()


def test_the_density_of_a_rehearsal_is_near_that_of_its_scatter():
    """A reading's density is about that of its scatter: less where day and drift are unsure."""
    rows, _ = band_season(4, 1, 3)
    found = fit(rows)
    table = found.predicted_rehearsals()
    each = table["log_density"] / table["readings"]
    sd = found.reading_sd_cents
    expected = -np.log(sd * np.sqrt(2.0 * np.pi)) - 0.5
    assert (each < expected + 0.3).all()
    assert (each > expected - 1.5).all()


@pytest.mark.slow
def test_a_day_that_is_off_is_predicted_worse(season):
    rows = season[0].copy()
    plain = fit(rows).predicted_rehearsals().set_index("rehearsal")["log_density"]
    rows.loc[rows["rehearsal"] == "r002", "reference_cents"] += 25.0
    off = fit(rows).predicted_rehearsals().set_index("rehearsal")["log_density"]
    assert off["r002"] < plain["r002"] - 3.0


def test_two_kinds_with_covariates_are_drawn_together():
    rows, columns, found = of_a_band()
    drawn = joint_draws(found, rows, PRIORS, 300)
    assert set(drawn.kinds) == set(columns.kinds)
    assert "humidity" in drawn.kinds["F horn"]
    assert (drawn.kinds["F horn"]["curvature"] == drawn.kinds["Bb trumpet"]["curvature"]).all()
    assert np.isfinite(drawn.log_likelihood).all()
    assert isinstance(drawn.intercepts.columns, pd.MultiIndex)


def test_a_covariance_has_names_and_a_line_has_its_own(season, found):
    table = found.covariance("Bb trumpet", player="p001")
    assert list(table) == list(table.index)
    assert np.linalg.eigvalsh(table.to_numpy()).min() > -1e-9
    line = fit(season[0], "least-squares")
    errors = np.sqrt(np.diag(line.covariance()))
    entries = line.curve().entries()
    assert list(line.covariance()) == list(entries)
    assert errors == pytest.approx([one.standard_error for one in entries.values()])


def test_what_has_no_posterior_says_so(season, found):
    with pytest.raises(InputError, match="least-squares of this fit has no joint posterior"):
        fit(season[0], "least-squares").joint_draws()
    with pytest.raises(InputError, match="has no joint posterior"):
        found.only("p000").intercepts()


def test_a_fit_still_pickles(found):
    again = pickle.loads(pickle.dumps(found))
    assert np.array_equal(again.joint_draws(5).sds, found.joint_draws(5).sds)


def test_draws_are_handed_to_arviz_as_one_chain(drawn, monkeypatch):
    """Its place is taken by what keeps its arguments: arviz is no dependency."""
    monkeypatch.setitem(sys.modules, "arviz", SimpleNamespace(from_dict=dict))
    handed = drawn.to_inference_data()
    assert {values.shape for values in handed["posterior"].values()} == {(1, SIZE)}
    sd = drawn.sds.columns[0]
    assert np.array_equal(handed["posterior"][sd][0], drawn.sds[sd])
    (what, who), table = next(iter(drawn.players.items()))
    name = table.columns[0]
    assert np.array_equal(handed["posterior"][f"{what}, {who}: {name}"][0], table[name])
    assert handed["log_likelihood"]["cents"].shape == (1, *drawn.log_likelihood.shape)


def test_without_arviz_the_remedy_is_named(drawn, monkeypatch):
    monkeypatch.setitem(sys.modules, "arviz", None)
    with pytest.raises(InputError, match=r"arviz is not installed\npip install arviz"):
        drawn.to_inference_data()
