"""The Bayesian method on seasons of a band whose truth is known."""

import numpy as np
import pandas as pd
import pytest

from drift.regression.bayesian import fit_bayesian, some_of
from drift.regression.blocks import sums_of
from drift.regression.columns import columns_of
from drift.regression.fits import fit
from drift.regression.priors import InstrumentPriors, Priors
from drift.regression.reduce import gathered, taken_out
from tests.bands import band_season

PRIORS = Priors()


def posterior(rows, **options):
    columns = columns_of(rows)
    kinds = tuple(PRIORS.of(name) for name in columns.kinds)
    return fit_bayesian(columns, PRIORS, kinds, **options)


def own_moments(found, kind=0):
    """Mean and sd of each player's slope, rise and slow drift."""
    w, (mean, covariance) = found.sample.weights, found.population.players[kind]
    centre = np.einsum("n,nud->ud", w, mean)
    spread = np.einsum("n,nudd->ud", w, covariance) + np.einsum(
        "n,nud->ud", w, (mean - centre) ** 2
    )
    return centre[:, :3], np.sqrt(spread[:, :3])


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "size"), [(2, (40, 40, 1)), (3, (30, 60, 1))])
def test_the_ratio_of_day_to_reading_is_not_that_at_the_end_of_where_it_was_looked_for(seed, size):
    """One reading a day says next to nothing of it, and what the first look saw is far away."""
    found = posterior(band_season(seed, *size)[0])
    (v,) = found.scores.v(found.mode[None])
    assert not any(found.evidence.box.v.ends_at(v))


def test_players_who_differ_are_found_each():
    """Eight seasons of 8 players: errors are as large as the sds say, and far below the spread."""
    scores, errors, spread = [], [], []
    for seed in range(8):
        rows, truth = band_season(100 + seed, 8, 8)
        mean, sd = own_moments(posterior(rows))
        own = np.array(list(truth.players.values()))
        scores.append((mean - own) / sd)
        errors.append((mean - own)[:, 1])
        spread.append(own[:, 1] - own[:, 1].mean())
    assert 0.75 < np.sqrt(np.mean(np.square(scores))) < 1.25
    assert np.std(errors) < np.std(spread)


@pytest.mark.parametrize("seed", [61, 65])
@pytest.mark.parametrize("scatter", [0.0, 0.2])
def test_tidy_readings_at_one_temperature_a_rehearsal_are_fitted(seed, scatter):
    """What they say of the slope lies wholly between days, next to which all else is known well."""
    rows, truth = band_season(seed, 3, 3, 20)
    rows = rows.assign(
        celsius=rows.groupby("rehearsal")["celsius"].transform("mean"),
        spells=pd.Series([()] * len(rows), dtype=object),
        minutes_into_spell=rows["playing_minutes"],
    )
    own = rows["player"].map(truth.players)
    there = zip(own, rows["celsius"], rows["playing_minutes"], strict=True)
    rows["reference_cents"] = [truth.change(*one) for one in there]
    rows["reference_cents"] += np.random.default_rng(seed).normal(0.0, scatter, len(rows))
    found = fit(rows)
    for player, mine in truth.players.items():
        change = found.change(celsius=28.0, player=player)
        assert change.low < truth.change(mine, 28.0, 30.0) < change.high < change.low + 9.0


def test_the_order_of_the_rows_changes_nothing():
    rows, _ = band_season(3, 3, 4)
    one, other = posterior(rows), posterior(rows.sample(frac=1.0, random_state=2))
    assert np.allclose(one.mode, other.mode, atol=1e-7)
    assert np.allclose(own_moments(one)[0], own_moments(other)[0], atol=1e-6)


def test_neither_does_the_order_of_the_instruments():
    trumpets, _ = band_season(4, 2, 4)
    tubas, _ = band_season(5, 2, 4, instrument="BBb tuba")
    tubas["player"] += " of the tubas"
    one = posterior(pd.concat([trumpets, tubas], ignore_index=True))
    other = posterior(pd.concat([tubas, trumpets], ignore_index=True))
    assert one.columns.kinds == other.columns.kinds
    for kind in range(2):
        assert np.allclose(own_moments(one, kind)[0], own_moments(other, kind)[0], atol=1e-6)


def test_units_taken_apart_and_gathered_say_the_same():
    rows, _ = band_season(6, 4, 5)
    columns = columns_of(rows)
    kinds = tuple(PRIORS.of(name) for name in columns.kinds)
    found = fit_bayesian(columns, PRIORS, kinds)
    box = found.evidence.box
    whole = found.evidence.reduced
    parts = []
    for number in range(3):
        some = np.flatnonzero(columns.unit % 3 == number)
        weights = some_of(found.weights, some)
        sums = sums_of(columns.take(some), weights.whole, weights.tame, box, kinds)
        parts.append(taken_out(sums, columns, box, found.scores.shared))
    again = gathered(parts[::-1], box)
    assert np.array_equal(again.kinds[0].units, whole.kinds[0].units)
    assert np.allclose(again.kinds[0].products, whole.kinds[0].products, rtol=1e-12, atol=1e-12)
    assert np.allclose(again.kinds[0].cross, whole.kinds[0].cross, rtol=1e-10, atol=1e-10)
    assert np.allclose(again.rehearsals, whole.rehearsals, rtol=1e-10, atol=1e-10)
    assert again.free == pytest.approx(whole.free)


def test_a_reading_that_states_its_own_uncertainty_counts_less():
    rows, _ = band_season(7, 2, 4)
    spoilt = rows.copy()
    bad = np.arange(len(rows)) % 6 == 0
    spoilt.loc[bad, "reference_cents"] += np.random.default_rng(1).normal(0, 12, bad.sum())
    stated = spoilt.assign(cents_sd=np.where(bad, 12.0, 0.0))
    clean, told, untold = (posterior(table) for table in (rows, stated, spoilt))
    sd = [float(f.scores.sds(f.mode[None])[0, 0]) for f in (clean, told, untold)]
    assert abs(sd[1] - sd[0]) < 0.5 * abs(sd[2] - sd[0])
    precision = told.weights.precision[np.argsort(told.columns.order)]
    assert precision[bad].max() < 0.2 < 0.5 < precision[~bad].min()


def test_a_reading_that_is_probably_a_pair_of_tones_counts_less():
    rows, _ = band_season(8, 2, 4)
    rows.loc[5, "reference_cents"] += 8.0
    plain = posterior(rows)
    warned = posterior(rows.assign(pair_probability=np.where(np.arange(len(rows)) == 5, 0.9, 0.0)))
    at = [f.weights.tame[np.flatnonzero(f.columns.order == 5)[0]] for f in (plain, warned)]
    assert at[1] < 0.5 * at[0]


def test_a_bad_day_of_everybody_is_told_from_a_bad_day_of_one():
    rows, _ = band_season(9, 6, 6)
    rows.loc[rows["rehearsal"] == "r002", "reference_cents"] += 6.0
    found = posterior(rows)
    effects = found.seen.rehearsals
    assert effects.argmax() == 2
    assert effects[2] > 2.0


def test_priors_without_players_that_differ_pool_them():
    rows, _ = band_season(10, 5, 5)
    columns = columns_of(rows)
    same = Priors(player_slope_sd=1e-4, player_rise_sd=1e-3, player_slow_sd=1e-3)
    found = fit_bayesian(columns, same, (InstrumentPriors(),))
    mean, _ = own_moments(found)
    assert np.ptp(mean, axis=0) == pytest.approx(0.0, abs=0.01)
