"""Effects of rehearsals that follow the temperature: wrong slopes under clean residuals."""

import numpy as np
import pandas as pd
import pytest

from drift.regression.between import follows_air
from drift.regression.fits import fit
from drift.words.fit import warning_text
from tests.bands import band_season

KIND = "rehearsals_follow_air"
MINUTES = (3.0, 6.0, 10.0, 25.0, 50.0, 75.0, 95.0)


def warming_rooms(seed: int, minutes=MINUTES, players: int = 12) -> pd.DataFrame:
    """Eight rooms that warm by 2 °C as instruments do, whose rise does not depend on the air.

    The warm slope of every player is 1.6 cents/°C.
    """
    random = np.random.default_rng(seed)
    rows = []
    for week in range(8):
        for minute in minutes:
            celsius = 15.0 + 2.0 * week + 2.0 * (1.0 - np.exp(-minute / 20.0))
            drift = 1.6 * (celsius - 20.0) - 15.0 * np.exp(-minute / 6.0)
            for player in range(players):
                cents = drift + random.normal(0.0, 3.0)
                rows.append((f"week {week}", f"player {player}", celsius, minute, cents))
    names = ["rehearsal", "player", "celsius", "playing_minutes", "reference_cents"]
    made = pd.DataFrame(rows, columns=names).assign(instrument="Bb trumpet", note="Bb4", side="")
    began = pd.Timestamp("2026-03-02T18:00Z")
    return made.assign(
        time=[began + pd.Timedelta(days=7 * int(r[0][5:]), minutes=r[3]) for r in rows]
    )


def read_in_turn(seed: int, lag: float, warmer: float) -> pd.DataFrame:
    """Forty players read one after the other in rooms that warm; walls follow the air late.

    Their slopes differ with ``years``, by 0.02 cents/°C a year; ``years_slope`` is the product.
    """
    random = np.random.default_rng([901, seed])
    week, player, minute = (
        one.ravel() for one in np.meshgrid(range(12), range(40), MINUTES, indexing="ij")
    )
    week, player, minute = week.astype(int), player.astype(int), minute + 0.1 * player
    more = random.uniform(0.0, warmer, 12)[week]
    celsius = random.uniform(10.0, 30.0, 12)[week] + more * (1.0 - np.exp(-minute / 40.0))
    walls = celsius - lag * more / 40.0 * np.exp(-minute / 40.0)
    years = random.normal(12.0, 6.0, 40)[player]
    warmth = 1.0 - np.exp(-minute / 6.0)
    cents = 2.9 * (walls - 20.0) + 16.0 * (warmth * (34.0 - walls) / 14.0 - 1.0)
    cents += 0.02 * years * (celsius - 20.0) + random.normal(0.0, 2.0, len(week))
    began = pd.Timestamp("2026-03-02T18:00Z")
    return pd.DataFrame(
        {
            "rehearsal": [f"week {one}" for one in week], "player": [f"P{one}" for one in player],
            "time": began + pd.to_timedelta(week * 10080 + minute, "min"),
            "instrument": "Bb trumpet", "note": "Bb4", "side": "", "celsius": celsius,
            "playing_minutes": minute, "reference_cents": cents,
            "years_slope": years * (celsius - 20.0),
        }
    )  # fmt: skip


def kinds(found) -> list[str]:
    return [one.kind for one in found.warnings]


@pytest.mark.slow
@pytest.mark.parametrize(("method", "players"), [("bayesian", 40), ("mixed", 12)])
def test_a_slope_that_serves_to_mend_the_warm_up_is_told(method, players):
    """With readings enough; of few the Bayesian method believes its priors, rightly here."""
    found = fit(warming_rooms(31, players=players), method=method)
    slopes = found.kinds["Bb trumpet"].curve.entries()
    slope = slopes["warm_cents_per_celsius" if method == "bayesian" else "cents_per_celsius"]
    assert slope.low > 1.9  # far from the truth, and sure of it
    told = next(one for one in found.warnings if one.kind == KIND)
    assert told.values["cents_per_celsius"] == pytest.approx(1.6 - slope.estimate, abs=0.5)
    assert warning_text(told).startswith("B♭ trumpet: do not use the slopes. Rehearsals in other")
    assert "read_while_warming" not in kinds(found)


@pytest.mark.slow
@pytest.mark.parametrize(
    "asked", [{"covariates": ["humidity"]}, {"formula": "cents ~ drift + humidity"}]
)
@pytest.mark.parametrize("seed", [41, 42, 43])
def test_a_covariate_does_not_hide_it(seed, asked):
    """Humidity that falls as rooms warm takes part of the course, and hid what follows the air."""
    rows = warming_rooms(seed)
    random = np.random.default_rng(seed)
    outside = {week: random.uniform(35.0, 65.0) for week in rows["rehearsal"].unique()}
    humidity = rows["rehearsal"].map(outside) + 6.0 * np.exp(-rows["playing_minutes"] / 20.0)
    found = fit(rows.assign(humidity=humidity), method="mixed", **asked)
    assert KIND in kinds(found)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [51, 54])
def test_a_product_with_the_temperature_is_not_taken_for_the_air(seed):
    """Its means of a rehearsal are the air's; a little fault beside was hundreds of cents/°C."""
    right = fit(read_in_turn(seed, lag=5.0, warmer=5.0), covariates=["years_slope"])
    assert KIND not in kinds(right)
    wrong = fit(read_in_turn(seed, lag=20.0, warmer=8.0), covariates=["years_slope"])
    (told,) = (one for one in wrong.warnings if one.kind == KIND)
    assert -1.5 < told.values["cents_per_celsius"] < -0.5


def test_a_column_that_is_the_air_itself_tells_nothing():
    found = fit(warming_rooms(33), method="mixed").rows
    assert follows_air(found, ["celsius"]) is None
    random = np.random.default_rng(33)
    near = found.assign(near=found["celsius"] + random.normal(0.0, 0.1, len(found)))
    assert follows_air(near, ["near"]) is None


def test_readings_of_warm_instruments_are_the_way_out():
    rows = warming_rooms(32)
    warm = rows[rows["playing_minutes"] >= 15.0]
    found = fit(warm)
    slope = found.kinds["Bb trumpet"].curve.entries()["warm_cents_per_celsius"]
    assert KIND not in kinds(found)
    assert slope.low < 1.6 < slope.high
    assert KIND not in kinds(fit(rows, method="least-squares"))


@pytest.mark.slow
@pytest.mark.parametrize(("players", "rehearsals"), [(1, 6), (3, 4), (10, 4), (4, 8)])
def test_seasons_that_follow_the_model_are_not_accused(players, rehearsals):
    for seed in (70, 71, 72):
        rows, _ = band_season(seed, players, rehearsals)
        assert KIND not in kinds(fit(rows))


def test_few_rehearsals_or_one_temperature_tell_nothing():
    found = fit(warming_rooms(33), method="mixed").rows
    assert follows_air(found) is not None
    assert follows_air(found[found["rehearsal"] < "week 3"]) is None
    assert follows_air(found.assign(celsius=20.0)) is None
    assert follows_air(found.head(0)) is None
