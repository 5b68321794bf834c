"""Standard errors where a covariate has one value a player."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from drift.regression.fits import fit
from drift.words.fit import warning_text

FORMULA = "cents ~ drift + celsius:years"
OTHERS = "reference_cents ~ C(key) + celsius + playing_minutes + celsius:years"


def band(players=14, rehearsals=8, seed=5, own_slope_sd=0.3):
    """Players whose slopes differ, and not by their years: what looks like that is chance."""
    random = np.random.default_rng(seed)
    rows = pd.DataFrame(
        [
            {"player": f"p{player:02d}", "rehearsal": f"r{number}", "note": note,
             "years": 2.0 + 2.0 * player, "playing_minutes": minutes,
             "celsius": 14.0 + 1.5 * number + (minutes / 60.0) ** 2}
            for player in range(players)
            for number in range(rehearsals)
            for note in ("F4", "Bb4")
            for minutes in random.uniform(5.0, 90.0, 3)
        ]
    )  # fmt: skip
    slopes = random.normal(2.0, own_slope_sd, players)[rows["player"].factorize()[0]]
    days = random.normal(0.0, 1.0, rehearsals)[rows["rehearsal"].factorize()[0]]
    cents = slopes * (rows["celsius"] - 20.0) + days + random.normal(0.0, 2.0, len(rows))
    return rows.assign(instrument="Bb trumpet", key=rows["player"] + rows["note"],
                       reference_cents=cents)  # fmt: skip


def effect(found):
    return found.kinds["Bb trumpet"].population.covariate_entries()["celsius:years"]


def by(rows, *names):
    codes = np.column_stack([rows[name].factorize()[0] for name in names])
    groups = {"groups": codes if len(names) > 1 else codes[:, 0]}
    found = smf.ols(OTHERS, rows).fit(cov_type="cluster", cov_kwds=groups, use_t=True)
    return np.sqrt(found.cov_params().loc["celsius:years", "celsius:years"])


def test_least_squares_clusters_by_player_and_by_rehearsal_as_another_library_does():
    rows = band()
    found = fit(rows, "least-squares", formula=FORMULA)
    other = by(rows, "player", "rehearsal")
    assert effect(found).standard_error == pytest.approx(other, rel=1e-6)
    by_player = by(rows, "player")
    assert effect(found).standard_error == pytest.approx(by_player, rel=0.15)
    assert by(rows, "rehearsal") < 0.5 * by_player
    assert found.diagnostics["covariance"] == {"kind": "clustered_both", "freedom": 7.0}
    assert "clustered by rehearsal and by player, t with 7 degrees" in found.summary()


def test_mixed_allows_for_players_as_random_slopes_do():
    rows = band()
    found = fit(rows, "mixed", formula=FORMULA)
    centred = rows.assign(celsius=rows["celsius"] - 20.0)
    slopes = smf.mixedlm(OTHERS, centred, groups="player", re_formula="0 + celsius").fit()
    assert effect(found).standard_error == pytest.approx(slopes.bse["celsius:years"], rel=0.25)
    assert found.diagnostics["covariance"]["kind"] == "reml_clustered_both"


@pytest.mark.slow
@pytest.mark.parametrize("method", ["least-squares", "mixed"])
def test_an_effect_of_years_that_is_none_is_found_in_one_of_twenty(method):
    """Of 60 bands; clustered by rehearsal alone every second has p below 0.05."""
    found = [
        effect(fit(band(seed=700 + seed), method, formula=FORMULA)).p_value for seed in range(60)
    ]
    assert np.mean(np.array(found) < 0.05) < 0.15


def test_without_a_term_of_players_rehearsals_alone_count():
    rows = band()
    found = fit(rows, "least-squares", formula="cents ~ drift + I(celsius**2)")
    assert found.diagnostics["covariance"]["kind"] == "clustered"


def test_few_players_are_said():
    found = fit(band(players=5), "least-squares", formula=FORMULA)
    told = [warning_text(one) for one in found.warnings if one.kind == "few_players"]
    assert told == [
        "celsius:years: one value a player, of only 5 players: standard errors are clustered by "
        "rehearsal and by player, and with fewer than 10 players they are too small"
    ]


@pytest.mark.parametrize("method", ["least-squares", "mixed"])
def test_two_players_show_nothing_of_how_players_differ_and_that_is_said(method):
    found = fit(band(players=2), method, formula=FORMULA)
    told = [warning_text(one) for one in found.warnings if one.kind == "no_players_to_spare"]
    assert len(told) == 1
    assert told[0].startswith("celsius:years: one value a player, and 2 players are too few")
    assert effect(found).standard_error > 0.0


def test_slopes_of_each_player_are_clustered_by_rehearsal():
    """Their own slopes fit them exactly: by player nothing would be left over."""
    found = fit(band(players=4), "least-squares", formula="cents ~ drift + C(player):celsius")
    assert found.diagnostics["covariance"]["kind"] == "clustered"
    errors = [one.standard_error for one in
              found.kinds["Bb trumpet"].population.covariate_entries().values()]  # fmt: skip
    assert len(errors) == 3
    assert min(errors) > 0.02


def test_of_one_rehearsal_players_alone_count():
    rows = band()
    rows = rows[rows["rehearsal"] == "r3"]
    found = fit(rows, "least-squares", formula=FORMULA)
    other = by(rows, "player")
    assert effect(found).standard_error == pytest.approx(other, rel=1e-6)
    assert found.diagnostics["covariance"] == {"kind": "by_player", "freedom": 13.0}
