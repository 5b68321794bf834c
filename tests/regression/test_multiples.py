"""A covariate that is so much for each degree changes the slopes of the players who have it."""

import numpy as np
import pandas as pd
import pytest

from drift.errors import InputError
from drift.regression.fits import fit
from drift.regression.multiples import multiples_of
from tests.bands import band_season

YEARS, EFFECT = (1.0, 8.0, 20.0, 33.0, 40.0), -0.02


@pytest.fixture(scope="module")
def season():
    """A band whose slopes fall by 0.02 cents/°C a year, and its years times °C from 20."""
    rows, _ = band_season(3, 5, 6)
    years = dict(zip(sorted(set(rows["player"])), YEARS, strict=True))
    product = (rows["player"].map(years) - 20.0) * (rows["celsius"] - 20.0)
    moved = {
        one: rows[one] + EFFECT * product for one in ("cents", "reference_cents") if one in rows
    }
    return rows.assign(years_slope=product, **moved), years, rows


@pytest.fixture(scope="module")
def found(season):
    return fit(season[0], covariates=["years_slope"])


def test_a_player_is_answered_at_his_own_years(season, found):
    _, years, alike = season
    without = fit(alike)
    name = next(iter(found.kinds))
    for player, old in years.items():
        for celsius in (5.0, 33.0):
            own = found.change(celsius=celsius, player=player)
            truth = (without.change(celsius=celsius, player=player).estimate
                     + EFFECT * (old - 20.0) * (celsius - 20.0))  # fmt: skip
            assert own.low < truth < own.high
            assert own.estimate == pytest.approx(truth, abs=2.0)
        drawn = found.kinds[name].players[player].draws(4000, 1).cold.mean()
        own_slope = found.kinds[name].players[player].entries()["cold_cents_per_celsius"]
        assert drawn == pytest.approx(own_slope.estimate, abs=0.01)


def test_readings_are_expected_where_they_were_before_the_slope_took_the_years_in(found):
    """The effect is in the slope of a player or in the column, and never in both."""
    name = next(iter(found.kinds))
    for player, curve in found.kinds[name].players.items():
        rows = found.rows[found.rows["player"] == player]
        at_twenty = curve.at({"years_slope": 0.0})
        assert curve.expected(rows) == pytest.approx(at_twenty.expected(rows), abs=1e-6)


def test_at_other_years(found):
    young, old = (
        found.change(celsius=5.0, player="new", at={"years_slope": away}) for away in (-19.0, 20.0)
    )
    there = found.kinds[next(iter(found.kinds))].population
    effect = there.covariate_entries()["years_slope"]
    assert effect.low < EFFECT < effect.high < 0.0
    assert old.estimate - young.estimate == pytest.approx(effect.estimate * 39.0 * -15.0, abs=0.1)
    assert there.held() == {"years_slope": 0.0}
    again = there.at({"years_slope": 7.0}).at({"years_slope": 0.0})
    assert np.allclose(again.covariance, there.covariance)
    with pytest.raises(InputError, match="how much it is for each"):
        found.change(celsius=5.0, at={"years_slope": "old"})
    with pytest.raises(InputError, match="does not depend on age"):
        found.change(celsius=5.0, at={"age": 3.0})


def test_what_slopes_are_given_at_is_said(found):
    told = found.summary().splitlines()
    assert [line for line in told if "the mean of all players (at years_slope 0 for each" in line]
    assert any(line.startswith("  p000 (at years_slope -19 for each °C): ") for line in told)
    alone = found.only("p000").summary()
    assert "slope of a warm instrument at years_slope -19 for each °C: " in alone
    assert "rise from cold to warm at 20 °C: " in alone


def test_one_players_readings_raise_no_doubt_about_what_all_have_shown(season, found):
    assert not [one for one in found.warnings if one.kind == "covariates_like_air"]
    for player in season[1]:
        told = found.only(player).warnings
        assert not [one for one in told if one.kind in ("covariates_like_air", "covariates_alike")]


def test_what_is_no_such_product(season):
    rows, _, _ = season
    away = rows["celsius"] - 20.0
    each = rows["player"].map({name: n for n, name in enumerate(sorted(set(rows["player"])))})
    columns = {
        "the same for all": 3.0 * away,
        "from another temperature": each * (rows["celsius"] - 25.0),
        "noise": each * away + np.random.default_rng(3).normal(0.0, 3.0, len(rows)),
        "a value a player": each.astype(float),
    }
    for values in columns.values():
        assert multiples_of(rows.assign(x=values), "x") == {}
    rounded = multiples_of(rows.assign(x=(each * away).round(1)), "x")
    assert sorted(round(value, 1) for value in rounded.values()) == [0.0, 1.0, 2.0, 3.0, 4.0]


def test_readings_at_one_temperature_tell_no_product_from_a_value_a_player():
    rows = pd.DataFrame({"instrument": "horn", "player": list("aabb"), "celsius": 24.0})
    assert multiples_of(rows.assign(x=[1.0, 1.0, 7.0, 7.0]), "x") == {}
