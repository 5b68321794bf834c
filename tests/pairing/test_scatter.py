"""Temperatures that scatter are taken from the even course of the air; others as they are."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import drift
from drift.cluster.engines import InTurn
from drift.logbook.rehearsals import load
from drift.pairing import pair
from drift.pairing.scatter import LEAST_CELSIUS, even_of, evened, unevenness_in
from tests.cluster.seasons import tables, written

WHOLE_FAHRENHEIT = 1 / 1.8


def evenings(scatter, *, count=10, samples=15, whole=False, seed=1, step=lambda evening: 0.0):
    """A thermometer's samples of some evenings, and what the air was."""
    random = np.random.default_rng([6, seed])
    parts = []
    for evening in range(count):
        minutes = np.sort(random.uniform(0.0, 120.0, samples))
        air = random.normal(20.0, 4.0) + random.uniform(0, 4) * (1 - np.exp(-minutes / 40.0))
        air -= step(evening) * (minutes > 60.0)
        read = air + random.normal(0.0, scatter, samples)
        if whole:
            read = (np.round(read / WHOLE_FAHRENHEIT)) * WHOLE_FAHRENHEIT
        start = pd.Timestamp("2026-01-05T18:00Z") + pd.Timedelta(days=7 * evening)
        times = start + pd.to_timedelta(minutes, unit="min")
        parts.append(
            pd.DataFrame({"time": times, "rehearsal": f"{evening}", "celsius": read, "air": air})
        )
    return pd.concat(parts, ignore_index=True).assign(source="typed")


def even_out(samples):
    even = even_of(unevenness_in(samples))
    return even, evened(samples, even)


def off(samples):
    return float((samples["celsius"] - samples["air"]).std())


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("samples", "left"), [(6, 0.85), (15, 0.6), (60, 0.35)])
def test_scatter_is_measured_and_most_of_it_taken_out(samples, left, seed):
    read = evenings(0.28, samples=samples, whole=True, seed=seed)
    even, found = even_out(read)
    assert even["typed"].celsius == pytest.approx(off(read), rel=0.35)
    assert off(found) < left * off(read)


def test_what_is_read_exactly_stays_as_it_was():
    read = evenings(0.02)
    even, found = even_out(read)
    assert even == {}
    pd.testing.assert_frame_equal(found, read)


@pytest.mark.parametrize("every", [1, 3])
def test_where_somebody_stepped_out_of_the_room_nothing_is_smeared(every):
    read = evenings(0.28, step=lambda evening: 12.0 * (evening % every == 0))
    _, found = even_out(read)
    stepped = read["rehearsal"].astype(int) % every == 0
    assert off(found[stepped]) <= 1.05 * off(read[stepped])
    assert np.abs(found["celsius"] - read["celsius"]).max() < 1.0
    if not stepped.all():
        assert off(found[~stepped]) < 0.7 * off(read[~stepped])


def test_a_rehearsal_unlike_the_others_does_not_count_as_scatter():
    read = evenings(0.0, step=lambda evening: 2.5 * (evening == 4))
    even, _ = even_out(read)
    assert even == {}


def test_three_readings_of_one_evening_tell_nothing():
    assert even_out(evenings(0.3, count=1, samples=3))[0] == {}


def test_samples_at_the_same_moment_or_a_microsecond_apart_are_taken():
    read = evenings(0.3)
    other_side = read.assign(celsius=2.0 * read["air"] - read["celsius"])
    again = other_side.assign(time=read["time"] + pd.Timedelta(microseconds=1))
    doubled = pd.concat([read, other_side, again], ignore_index=True)
    even, found = even_out(doubled)
    assert even["typed"].celsius == pytest.approx(0.3, rel=0.2)
    assert off(found) < 0.5 * off(read)


def test_thermometers_are_judged_apart():
    read = evenings(0.3)
    hall = evenings(0.0, seed=2).assign(source="hall")
    both = pd.concat([read, hall], ignore_index=True)
    even, found = even_out(both)
    assert list(even) == ["typed"]
    of_hall = found["source"] == "hall"
    assert (found.loc[of_hall, "celsius"].to_numpy() == hall["celsius"].to_numpy()).all()


def test_the_order_of_the_samples_does_not_matter():
    read = evenings(0.3)
    mixed = read.sample(frac=1.0, random_state=1)
    one, other = even_out(read)[1], even_out(mixed)[1].sort_index()
    np.testing.assert_allclose(one["celsius"], other["celsius"], rtol=1e-9)


def season(tmp_path, scatter, seed=3, rehearsals=10):
    """A season in rooms near one temperature: each reading's temperature is read off beside it."""
    frames = tables(rehearsals=rehearsals, bands=1, readings=10, seed=seed)
    random = np.random.default_rng([7, seed])
    readings = frames["readings"]
    air = frames["temperatures"]
    air = air[air["source"] == "stage"]
    at = dict(list(air.groupby("rehearsal")))
    typed = []
    for name, part in readings.groupby("rehearsal"):
        when = pd.DatetimeIndex(part["time"].unique()).as_unit("us")
        known = pd.DatetimeIndex(at[name]["time"]).as_unit("us")
        celsius = np.interp(when.asi8, known.asi8, at[name]["celsius"])
        celsius = celsius + random.normal(0.0, scatter, len(when))
        typed.append(pd.DataFrame({"time": when, "rehearsal": name, "celsius": celsius}))
    frames["temperatures"] = pd.concat(typed, ignore_index=True).assign(source="typed")
    return written(tmp_path / f"season {scatter}.parquet", frames)


def test_a_slope_is_not_too_shallow_for_scatter(tmp_path):
    """Each rehearsal has an effect of its own, so that what happens within it tells the slope."""
    exact, read = (load(season(tmp_path, scatter)) for scatter in (0.0, 0.5))

    def slope(logged, **options):
        rows = pair(logged, **options).frame
        rows = rows[rows["playing_minutes"] > 30.0]
        days = rows.groupby(["rehearsal", "player", "note"])
        celsius, cents = (
            (rows[name] - days[name].transform("mean")).to_numpy()
            for name in ("celsius", "reference_cents")
        )
        return float(celsius @ cents / (celsius @ celsius))

    true = slope(exact)
    assert slope(read, as_read=True) < 0.85 * true
    assert slope(read) == pytest.approx(true, rel=0.07)


def test_pairing_says_by_how_much_temperatures_scatter(tmp_path):
    logged = load(season(tmp_path, 0.5))
    found, as_read = pair(logged), pair(logged, as_read=True)
    assert found.scatter["typed"] == pytest.approx(0.5, rel=0.15)
    assert as_read.scatter == {}
    assert not found.frame["celsius"].equals(as_read.frame["celsius"])
    logged = replace(logged, temperatures=logged.temperatures.assign(celsius=20.0))
    assert pair(logged).frame.equals(pair(logged, as_read=True).frame)


def test_parts_are_evened_by_the_scatter_of_all(tmp_path):
    folder = season(tmp_path, 0.5, rehearsals=4)
    alone = drift.fit(drift.pair(load(folder)), "least-squares")
    parts = drift.fit(folder, "least-squares", engine=InTurn(), sizes=(400, 300))
    assert parts.scatter["typed"] > LEAST_CELSIUS
    for name, kind in alone.kinds.items():
        found = parts.kinds[name].population.entries()["cents_per_celsius"]
        expected = kind.population.entries()["cents_per_celsius"]
        assert found.estimate == pytest.approx(expected.estimate, rel=1e-9)
