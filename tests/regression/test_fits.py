"""The anchored method: what it knows, how it hands over to data, and how honest its widths are."""

import json
import pickle
from dataclasses import asdict, replace

import numpy as np
import pandas as pd
import pytest

from drift.errors import InputError, InstrumentError, TooLittleData
from drift.pairing import Reason
from drift.regression.fits import fit, physics
from drift.regression.priors import AT_ITS_WORD_SD, Priors
from drift.words.fit import warning_text
from tests.bands import band_season
from tests.nearly import nearly
from tests.simulate import QUANTITIES, from_a_bore, from_the_priors, random_plan
from tests.two_beginnings import BEGUN, RISE, two_beginnings
from tests.wall_bands import wall_season


def readings(seed=5, rehearsals=4, count=20):
    plan = random_plan(np.random.default_rng(seed), rehearsals, count, spread_celsius=6.0)
    return from_the_priors(seed, plan)[0]


def held(readings, truth):
    """Whether each interval holds its truth."""
    found = fit(readings)
    entries = found.curve().entries()
    estimates = [
        entries["warm_cents_per_celsius"],
        entries["warm_up_cents"],
        found.change(celsius=5.0),
        found.change(celsius=35.0),
    ]
    truths = [truth.warm_slope, truth.rise, truth.at_5, truth.at_35]
    return [e.low <= t <= e.high for e, t in zip(estimates, truths, strict=True)] + [
        reading_is_held(found, truth)
    ]


def reading_is_held(found, truth):
    """Whether the interval of one new reading on a new day, at 35 °C, holds one."""
    random = np.random.default_rng(len(found.rows))
    new = truth.at_35 + random.normal(0, truth.day_sd) + random.normal(0, truth.reading_sd)
    where = np.array([35.0]), np.array([30.0]), 20.0, 30.0
    _, low, high = found.curve().contrast(*where, reading=True)
    return low[0] <= new <= high[0]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("source", "least", "most"), [(from_the_priors, 0.88, 1.0), (from_a_bore, 0.83, 1.0)]
)
def test_intervals_hold_the_truth_as_often_as_they_say(source, least, most):
    """The small study: 120 data sets. Bounds are the goals (at least 93 % and 90 %) less two and
    a half standard errors of 120 draws; the full study is in tests/benchmarks."""
    coverage = np.mean([held(*source(7000 + seed)) for seed in range(120)], axis=0)
    for quantity, share in zip([*QUANTITIES, "a new reading"], coverage, strict=True):
        assert least <= share <= most, quantity


def test_before_any_reading_it_answers_from_acoustics():
    """At 20 °C: cold 2.95, warm 2.95 - 14/14 = 1.95 cents/°C, as the priors say."""
    entries = physics().curve("double horn").entries()
    assert entries["cold_cents_per_celsius"].estimate == pytest.approx(2.95)
    assert entries["warm_cents_per_celsius"].estimate == pytest.approx(1.95, abs=0.2)
    assert all(entry.from_data == pytest.approx(0.0, abs=0.01) for entry in entries.values())


def test_a_shorter_time_constant_as_unsure_as_before_learnt_nothing():
    """Time constants are believed on a log scale: half as long with the same factor is no news."""
    curve = physics().curve("double horn")
    shorter = replace(curve, warm_minutes=0.5 * curve.warm_minutes)
    share = shorter.entries()["warm_up_time_constant_minutes"].from_data
    assert share == pytest.approx(0.0, abs=0.01)
    surer = replace(curve, warm_minutes=np.sqrt(curve.warm_minutes * np.median(curve.warm_minutes)))
    share = surer.entries()["warm_up_time_constant_minutes"].from_data
    assert share == pytest.approx(0.5, abs=0.01)


def test_nothing_changes_where_nothing_changes():
    change = physics().change("Bb trumpet", celsius=20.0, minutes=30.0)
    assert (change.estimate, change.low, change.high) == pytest.approx((0.0, 0.0, 0.0), abs=1e-6)


def test_more_rehearsals_narrow_the_answer_and_take_over_from_the_prior():
    plans = [random_plan(np.random.default_rng(3), n, 25, 6.0) for n in (1, 4, 12)]
    entries = [fit(from_the_priors(3, plan)[0]).curve().entries() for plan in plans]
    shares = [entry["warm_up_cents"].from_data for entry in entries]
    assert shares[0] < shares[1] < shares[2]


def test_the_order_of_the_rows_does_not_matter():
    rows = readings()
    shuffled = rows.sample(frac=1.0, random_state=1)
    one, other = fit(rows).change(celsius=33.0), fit(shuffled).change(celsius=33.0)
    assert vars(one) == pytest.approx(vars(other), nan_ok=True, abs=1e-6)


def test_a_pitch_of_its_own_for_each_note_changes_nothing():
    rows = readings()
    moved = rows.assign(
        reference_cents=rows["reference_cents"]
        + rows["note"].map({n: 7.0 * k for k, n in enumerate(rows["note"].unique())})
    )
    assert fit(moved).change(celsius=33.0).estimate == pytest.approx(
        fit(rows).change(celsius=33.0).estimate, abs=0.05
    )


def test_wild_readings_are_listed_and_do_not_move_the_answer():
    """Another octave and a neighbour's note: 1200 and 60 cents off."""
    rows = readings(6, 5, 30)
    clean = fit(rows)
    spoilt = rows.copy()
    spoilt.loc[[10, 77], "reference_cents"] += [1200.0, -60.0]
    found = fit(spoilt)
    assert set(found.outliers.index) >= {10, 77}
    assert len(found.rows) == len(rows)
    assert found.change(celsius=33.0).estimate == pytest.approx(
        clean.change(celsius=33.0).estimate, abs=0.5
    )
    warning = next(text for text in map(warning_text, found.warnings) if "outlier" in text)
    assert rows.loc[10, "player"] in warning
    assert f"{rows.loc[10, 'time']:%Y-%m-%d %H:%M}" in warning


@pytest.mark.slow
def test_clean_readings_are_seldom_outliers():
    outliers = sum(len(fit(from_the_priors(seed)[0]).outliers) for seed in range(30))
    total = sum(len(from_the_priors(seed)[0]) for seed in range(30))
    assert outliers / total < 0.005


@pytest.mark.slow
def test_instruments_share_the_slope_of_a_cold_instrument():
    trumpet = readings(8, 6, 30)
    tuba = readings(9, 1, 12).assign(instrument="BBb tuba", player="player t")
    together = fit(pd.concat([trumpet, tuba], ignore_index=True))
    alone = fit(tuba).kinds["BBb tuba"].population.entries()["cold_cents_per_celsius"]
    shared = together.kinds["BBb tuba"].population.entries()["cold_cents_per_celsius"]
    # What kinds have by themselves (sd 0.3 of 0.5 cents/°C) the others cannot teach.
    assert shared.high - shared.low < 0.9 * (alone.high - alone.low)
    answer = together.to_json()
    assert set(answer["instruments"]) == {"Bb trumpet", "BBb tuba"}


def test_an_instrument_without_readings_learns_what_all_have_in_common():
    """Of the slope, 0.16 of 0.25 of its variance before the data is common to all kinds."""
    found = fit(readings(8, 8, 40))
    learnt = found.kinds["Bb trumpet"].population.entries()["cold_cents_per_celsius"].estimate
    other = found.curve("double horn", None).entries()
    moved = (other["cold_cents_per_celsius"].estimate - 2.95) / (learnt - 2.95)
    assert 0.4 < moved < 0.9
    assert other["warm_up_cents"].estimate == pytest.approx(14.0, abs=0.01)


def test_draws_have_the_moments_of_the_posterior():
    found = fit(readings())
    draws = found.draws(size=40_000, seed=3)
    entries = found.curve().entries()
    assert draws.cold.mean() == pytest.approx(entries["cold_cents_per_celsius"].estimate, abs=0.02)
    assert np.quantile(draws.rise, 0.975) == pytest.approx(entries["warm_up_cents"].high, abs=0.3)
    ratio = np.median(draws.warm_minutes) / entries["warm_up_time_constant_minutes"].estimate
    assert ratio == pytest.approx(1.0, abs=0.04)


@pytest.mark.parametrize("who", ["p000", "new", None])
@pytest.mark.parametrize(("celsius", "minutes"), [(2.0, 5.0), (5.0, 30.0), (33.0, 90.0)])
def test_a_thousand_draws_have_the_mean_and_interval_of_a_change(who, celsius, minutes):
    """At any seed: chance alone would leave half a cent between the means in the cold."""
    found = fit(band_season(77, 2, 3)[0])
    expected = found.change(celsius=celsius, minutes=minutes, player=who)
    for seed in range(5):
        draws = found.draws(size=1000, seed=seed, player=who)
        there, tuned = (1.0 - np.exp(-time / draws.warm_minutes) for time in (minutes, 30.0))
        change = draws.drift(celsius, there, minutes / 60.0) - draws.drift(20.0, tuned, 0.5)
        assert change.mean() == pytest.approx(expected.estimate, abs=0.03)
        limits = np.quantile(change, [0.025, 0.975])
        assert limits == pytest.approx([expected.low, expected.high], abs=3.0)


def test_draws_at_different_seeds_are_different_and_in_no_order():
    found = fit(readings())
    one, other = found.draws(size=400, seed=1), found.draws(size=400, seed=2)
    assert not np.array_equal(one.cold, other.cold)
    place = np.arange(400) % 2 == 0
    for values in (one.cold, one.rise, one.warm_minutes):
        halves = values[place].mean() - values[~place].mean()
        assert abs(halves) < 4.0 * values.std() / np.sqrt(100)


def test_a_new_reading_is_less_certain_than_the_mean():
    table = fit(readings()).predict([10.0, 25.0], 30.0)
    assert (table["reading_low"] < table["low"]).all()
    assert (table["reading_high"] > table["high"]).all()


def test_predicting_beyond_the_temperatures_seen_is_said():
    found = fit(readings())
    low, high = found.celsius_range
    assert found.predict([low, high + 5.0])["beyond"].tolist() == [False, True]
    assert "outside the temperatures measured" in warning_text(found.extrapolation(high + 5.0))


def test_the_trap_is_said_with_the_way_out():
    """One rehearsal in which the room warms steadily while the band plays."""
    minutes = np.linspace(2, 100, 30)
    rows = pd.DataFrame(
        {
            "rehearsal": "a", "player": "p", "instrument": "double horn", "note": "F4",
            "celsius": 18.0 + 0.04 * minutes, "playing_minutes": minutes,
            "reference_cents": np.random.default_rng(0).normal(0, 2, 30) + 0.1 * minutes,
        }
    )  # fmt: skip
    warning = warning_text(fit(rows).warnings[0])
    assert "temperature and playing time rose together" in warning
    assert "(correlation of temperature and playing time 1.00)" in warning
    assert "minutes of playing" in warning


def small(**columns):
    count = max((len(v) for v in columns.values() if not isinstance(v, str)), default=1)
    default = {
        "rehearsal": "a", "player": "p", "instrument": "double horn", "note": "F4",
        "celsius": np.linspace(15, 25, count), "playing_minutes": np.linspace(5, 60, count),
        "reference_cents": np.linspace(-10, 10, count),
    }  # fmt: skip
    return pd.DataFrame(default | columns)


@pytest.mark.parametrize(
    "rows",
    [
        small(reference_cents=[1.0]),
        small(reference_cents=[1.0, 4.0, 2.0]),
        small(reference_cents=[0.0] * 8),
        small(celsius=[20.0] * 8),
        small(playing_minutes=[20.0] * 8),
        small(note=["F4", "C4", "Bb3", "A4"]),
    ],
    ids=["one", "three", "constant cents", "one temperature", "one minute", "a note each"],
)
def test_little_data_gets_an_answer_of_honest_width(rows):
    """Never narrower than readings could make it, and hardly wider than acoustics alone."""
    before = physics().change("double horn", celsius=33.0)
    after = fit(rows).change(celsius=33.0)
    assert np.isfinite([after.estimate, after.low, after.high]).all()
    assert after.high - after.low < 1.1 * (before.high - before.low)
    assert after.high - after.low > 1.0


def test_a_single_reading_teaches_nothing():
    before = physics().change("double horn", celsius=33.0)
    after = fit(small(reference_cents=[5.0])).change(celsius=33.0)
    assert after.estimate == pytest.approx(before.estimate, abs=0.1)
    assert after.high - after.low == pytest.approx(before.high - before.low, rel=0.02)


def test_missing_numbers_are_left_out_and_counted():
    rows = small(reference_cents=[1.0, np.nan, 3.0, 4.0])
    found = fit(rows)
    assert len(found.rows) == 3
    assert found.to_json()["left_out"] == [
        {"reason": "missing_number", "text": "a number is missing (reference_cents)", "count": 1}
    ]


def test_no_reading_left_is_refused():
    with pytest.raises(
        TooLittleData,
        match=r"left to fit: of 2 readings, 2 a number is missing \(reference_cents\)\nfill",
    ):
        fit(small(reference_cents=[np.nan, np.nan]))
    with pytest.raises(TooLittleData, match="there are none\nlog readings of a few notes"):
        fit(small(reference_cents=[]))


def test_a_missing_column_is_named():
    with pytest.raises(InputError, match="no column celsius"):
        fit(small(reference_cents=[1.0, 2.0]).drop(columns="celsius"))


def test_an_unknown_method_is_refused():
    with pytest.raises(InputError, match="no method 'magic'"):
        fit(small(reference_cents=[1.0, 2.0]), method="magic")


def test_bars_are_left_out_of_the_fit_and_refused_in_answers():
    rows = pd.concat([readings(), readings().assign(instrument="xylophone")], ignore_index=True)
    found = fit(rows)
    assert "xylophone" not in found.kinds
    assert [item.reason for item in found.left_out] == [Reason.FIXED_PITCH]
    with pytest.raises(InstrumentError, match="fixed pitch"):
        found.change("xylophone", celsius=30.0)


def test_a_table_without_spells_takes_the_playing_as_one_stretch():
    rows = readings()
    plain = rows.drop(columns=["spells", "minutes_into_spell"])
    unbroken = rows.assign(
        spells=pd.Series([()] * len(rows), dtype=object), minutes_into_spell=rows["playing_minutes"]
    )
    ours, theirs = (asdict(fit(one).change(celsius=30.0)) for one in (plain, unbroken))
    assert ours == nearly(theirs)


def test_an_instrument_said_to_be_warm_already_does_not_rise():
    """Readings that never rise: from cold that is a small rise, from warm it says nothing of it."""
    minutes = np.tile([1.0, 3.0, 8.0, 20.0], 5)
    rows = small(
        celsius=np.full(20, 20.0), playing_minutes=minutes,
        reference_cents=np.random.default_rng(1).normal(0, 1.0, 20),
    )  # fmt: skip
    cold = fit(rows).curve().entries()["warm_up_cents"]
    warm = fit(rows.assign(initial_warmth=1.0)).curve().entries()["warm_up_cents"]
    assert cold.estimate < 6.0
    assert warm.estimate == pytest.approx(14.0, abs=2.0)


@pytest.mark.slow
def test_a_start_that_nobody_stated_can_be_estimated():
    """Ten seasons of a band that had just played (0.7 warm): taken as cold, the rise comes out
    too small; estimated, both the start and the rise are held. The bound is a fifth less error: a
    slow drift, a bend and players who differ now share in what either start leaves open."""
    plan = random_plan(np.random.default_rng(4), 8, 30, spread_celsius=6.0)
    errors, held = [], []
    for seed in range(10):
        rows, truth = from_the_priors(seed, plan, initial=0.7)
        as_cold = fit(rows).curve().entries()["warm_up_cents"]
        entries = fit(rows, start="estimated").curve().entries()
        errors.append(
            [as_cold.estimate - truth.rise, entries["warm_up_cents"].estimate - truth.rise]
        )
        rise, start = entries["warm_up_cents"], entries["warmth_at_start"]
        held.append([rise.low <= truth.rise <= rise.high, start.low <= 0.7 <= start.high])
    as_cold, estimated = np.sqrt(np.mean(np.square(errors), axis=0))
    assert estimated < 0.8 * as_cold
    assert (np.mean(held, axis=0) >= 0.8).all()


def test_an_unknown_start_is_refused():
    with pytest.raises(InputError, match="no start 'warmish'"):
        fit(small(reference_cents=[1.0, 2.0]), start="warmish")


def test_the_summary_speaks_of_95_percent_and_of_player_and_instrument():
    text = fit(readings()).summary()
    assert "95 % warm after playing" in text
    assert "instrument and player together" in text


def test_json_has_the_agreed_names():
    answer = fit(readings()).to_json()
    assert {
        "method", "readings_used", "left_out", "players", "rehearsals", "celsius_range",
        "instruments", "rehearsal_sd_cents", "reading_sd_cents", "warnings",
    } <= set(answer)  # fmt: skip
    trumpet = answer["instruments"]["Bb trumpet"]
    assert {
        "readings_used",
        "r_squared",
        "regressor_correlation",
        "population",
        "players",
        "new_player",
    } <= set(trumpet)
    for entries in (trumpet["population"], *trumpet["players"].values(), trumpet["new_player"]):
        assert set(entries) == {
            "cold_cents_per_celsius", "warm_cents_per_celsius", "warm_up_cents",
            "slow_cents_per_hour", "warm_up_time_constant_minutes",
            "cool_down_time_constant_minutes",
        }  # fmt: skip
        assert set(entries["warm_up_cents"]) == {"estimate", "low", "high", "from_data"}


@pytest.mark.slow
@pytest.mark.parametrize("method", ["bayesian", "least-squares", "mixed"])
def test_json_is_strict_whatever_there_is(method):
    """One shape for one instrument as for two, null for what is no number, instants as text."""
    rows = readings()
    rows.loc[3, "reference_cents"] += 300.0
    text = json.dumps(fit(rows, method).to_json(), allow_nan=False)
    assert set(json.loads(text)["instruments"]) == {"Bb trumpet"}


def test_a_fit_is_plain_data_that_pickles():
    found = fit(readings())
    again = pickle.loads(pickle.dumps(found))
    assert again != found
    assert len({found, again}) == 2
    assert again.change(celsius=33.0) == found.change(celsius=33.0)
    assert again.change("double horn", celsius=33.0) == found.change("double horn", celsius=33.0)
    assert again.settings == found.settings


def test_each_player_is_answered_for():
    """Six players whose drift at 5 °C truly lies between -45 and -27 cents: each is found, a new
    one is less known than any, and the mean of all better than a new one."""
    rows, truth = band_season(24, 6, 8)
    found = fit(rows)
    true = [truth.change(own, 5.0, 30.0) for own in truth.players.values()]
    own = [found.change(celsius=5.0, player=name) for name in truth.players]
    assert np.ptp(true) > 15.0
    assert sum(e.low <= t <= e.high for e, t in zip(own, true, strict=True)) >= 5
    assert np.abs(np.subtract([e.estimate for e in own], true)).mean() < 3.0
    new, mean = (found.change(celsius=5.0, player=who) for who in ("new", None))
    assert new.high - new.low > 2.0 * max(e.high - e.low for e in own)
    assert new.high - new.low > 1.5 * (mean.high - mean.low)
    assert new == found.change(celsius=5.0)
    name = next(iter(truth.players))
    draws = found.draws(size=20_000, player=name)
    rise = found.players_frame().query("player == @name and quantity == 'warm_up_cents'")
    assert draws.rise.mean() == pytest.approx(rise["estimate"].item(), abs=0.2)
    assert rise["known"].item()


def test_slow_drift_is_in_the_answer():
    """Three cents an hour: from 30 to 120 minutes of playing 4.5 cents flat, and 0.1 or so sharp
    from warming on."""
    rows, truth = band_season(22, 3, 6)
    slow = np.mean([own[2] for own in truth.players.values()])
    rows["reference_cents"] += (-3.0 - slow) * rows["playing_minutes"] / 60.0
    found = fit(rows)
    change = found.change(celsius=20.0, minutes=100.0, tuned_minutes=30.0, player=None)
    assert change.low < -3.5 < change.high < 0.0
    beyond = found.change(celsius=20.0, minutes=600.0, tuned_minutes=30.0, player=None)
    assert beyond.high - beyond.low > 3.0 * (change.high - change.low)


@pytest.mark.slow
def test_what_readings_teach_of_slow_drift_may_be_walls_that_still_warm():
    """The allowance widens what was learnt, by so much, and moves nothing."""
    rows, _ = band_season(5, 3, 4)
    word, wider = (fit(rows, priors=Priors(walls_sd=sd)) for sd in (AT_ITS_WORD_SD, 0.5))
    for player in (None, "new", "p001"):
        one, other = (found.curve(player=player) for found in (word, wider))
        added = (other.covariance_frame() - one.covariance_frame()).to_numpy()
        added = added[2, 2] / 0.5**2
        assert 0.3 < added < 1.0
        known = other.entries()["slow_cents_per_hour"]
        assert known.estimate == pytest.approx(one.entries()["slow_cents_per_hour"].estimate)
    here = {"celsius": 20.0, "minutes": 30.0, "player": "p001"}
    assert wider.change(**here) == word.change(**here)
    late = {"celsius": 20.0, "minutes": 90.0, "player": "p001"}
    assert wider.change(**late).high > word.change(**late).high


@pytest.mark.slow
def test_what_readings_teach_of_the_rise_may_be_walls_that_warm_at_once():
    """The allowance widens the rise and what is cold; a warm instrument is known as before."""
    rows, _ = band_season(5, 3, 4)
    word, wider = (fit(rows, priors=Priors(quick_walls_sd=sd)) for sd in (AT_ITS_WORD_SD, 0.8))
    for player in (None, "new", "p001"):
        one, other = (found.curve(player=player) for found in (word, wider))
        added = (other.covariance_frame() - one.covariance_frame()).to_numpy()[:2, :2]
        assert 0.3 < added[1, 1] / 0.8**2 < 1.0
        assert added == pytest.approx(
            added[1, 1] * np.array([[14.0**-2, 14.0**-1], [14.0**-1, 1.0]])
        )
        same = "warm_cents_per_celsius"
        assert other.entries()[same].high == pytest.approx(one.entries()[same].high)
        assert other.entries()["warm_up_cents"].high > one.entries()["warm_up_cents"].high
    far = {"celsius": 5.0, "player": "p001"}
    warm, cold = far | {"minutes": 60.0}, far | {"minutes": 3.0}
    assert wider.change(**warm).high == pytest.approx(word.change(**warm).high, abs=0.01)
    assert wider.change(**cold).high > word.change(**cold).high + 0.05


def test_when_an_instrument_is_warm_may_be_later_where_walls_take_longer():
    """The allowance reaches upwards alone, by so much, and changes nothing between conditions."""
    rows, _ = wall_season("one", 3, 10, 6)
    word, wider = (fit(rows, priors=Priors(late_walls_log_sd=sd)) for sd in (AT_ITS_WORD_SD, 0.5))
    for player in (None, "new", "p001"):
        one, other = (found.curve(player=player) for found in (word, wider))
        for name in ("warm_up_time_constant_minutes", "cool_down_time_constant_minutes"):
            before, after = one.entries()[name], other.entries()[name]
            assert (after.estimate, after.low) == pytest.approx((before.estimate, before.low))
            up = [np.log(minutes.high / minutes.estimate) / 1.96 for minutes in (before, after)]
            assert 0.2 < (up[1] ** 2 - up[0] ** 2) / 0.5**2 < 1.0
            assert after.from_data < before.from_data
    early = {"celsius": 20.0, "minutes": 3.0, "player": "p001"}
    assert wider.change(**early) == word.change(**early)


@pytest.mark.parametrize(
    ("kind", "seed"), [("several", 8_100_002), ("several", 8_100_019), ("late 7", 8_100_004)]
)
@pytest.mark.slow
def test_the_minutes_until_warm_reach_the_walls_that_take_longer(kind, seed):
    """No single time constant is true here; the interval without allowance ends too early."""
    rows, bore = wall_season(kind, seed, 10, 6)
    for priors, holds in ((Priors(late_walls_log_sd=AT_ITS_WORD_SD), False), (Priors(), True)):
        found = fit(rows, priors=priors).population.set_index("quantity")
        minutes = found.loc["warm_up_time_constant_minutes"]
        assert (3.0 * minutes.low <= bore.minutes_to(0.95) <= 3.0 * minutes.high) == holds


def test_other_levels_than_95_percent():
    found = fit(readings())
    half, usual = found.change(celsius=33.0, level=0.5), found.change(celsius=33.0)
    assert half.estimate == usual.estimate
    assert half.high - half.low < 0.5 * (usual.high - usual.low)


@pytest.mark.parametrize("words", [False, True])
def test_a_covariate_is_found_in_its_own_unit(words):
    rows, _ = band_season(23, 3, 6)
    random = np.random.default_rng(2)
    humidity = random.uniform(20.0, 80.0, len(rows))
    rows["reference_cents"] += 0.08 * humidity
    rows["humidity"] = humidity
    names, label, effect = ["humidity"], "humidity", 0.08
    if words:
        rows["mute"] = random.choice(["none", "none", "straight"], len(rows))
        rows["reference_cents"] += np.where(rows["mute"] == "straight", 6.0, 0.0)
        names, label, effect = ["humidity", "mute"], "mute[straight]", 6.0
    entry = fit(rows, covariates=names).kinds["Bb trumpet"].population.covariate_entries()[label]
    assert entry.low < effect < entry.high
    assert entry.high - entry.low < effect


def test_what_is_no_paired_table_is_refused():
    with pytest.raises(InputError, match="fit needs a paired table, not list"):
        fit([1, 2])


def test_a_method_keeps_the_name_it_had():
    assert fit(readings(), method="anchored").method == "bayesian"


def test_it_is_drawn():
    ax = fit(readings()).plot()
    assert ax.get_xlabel()


def test_progress_counts_the_steps_of_a_fit():
    rows, _ = band_season(3, 2, 4)
    told = []
    found = fit(rows, progress=lambda *one: told.append(one))
    assert told[0][0] == 1
    assert told[-1][0] == told[-1][1]
    assert len(told) == found.diagnostics["rounds"] + 3


@pytest.mark.slow
def test_a_start_is_estimated_where_the_warmth_is_empty_and_zero_is_cold():
    rows = two_beginnings()
    warmed = rows["routine"] == "warm air"
    found = fit(rows.assign(initial_warmth=np.where(warmed, np.nan, 0.0)), start="estimated")
    entries = found.curve(player=None).entries()
    assert len(found.rows) == len(rows)
    assert entries["warmth_at_start"].low <= BEGUN <= entries["warmth_at_start"].high
    assert entries["warm_up_cents"].estimate == pytest.approx(RISE, abs=2.0)
    unsaid = fit(rows.assign(initial_warmth=0.0), start="estimated")  # as drift.pair has it
    nothing = fit(rows.assign(initial_warmth=np.nan), start="estimated")
    assert nothing.summary() == unsaid.summary()
