"""A fit on an engine is the fit of one machine."""

import math

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest

import drift
from drift.cluster.engines import InTurn
from drift.errors import InputError, TooLittleData
from drift.regression.estimates import Estimate
from tests.cluster.seasons import tables, written

SIZES = (300, 150)


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    return written(tmp_path_factory.mktemp("season") / "season.parquet", tables())


def alone(folder, method, **options):
    pairing = {name: options.pop(name) for name in ("thermometer", "flagged") if name in options}
    return drift.fit(drift.pair(drift.load(folder), **pairing), method, **options)


def numbers(value, path=""):
    """Every number of an answer, by where it stands."""
    if isinstance(value, dict):
        for name, one in value.items():
            yield from numbers(one, f"{path}/{name}")
    elif isinstance(value, list):
        for place, one in enumerate(value):
            yield from numbers(one, f"{path}/{place}")
    else:
        yield path, value


def assert_same(one, other, digits):
    one, other = (fit.to_json() for fit in (one, other))
    assert other.pop("notices") == []
    one.pop("notices")
    one["warnings"] = [w for w in one["warnings"] if w["kind"] != "rehearsals_follow_air"]
    expected, found = dict(numbers(one)), dict(numbers(other))
    assert list(found) == list(expected)
    for path, value in expected.items():
        if isinstance(value, float):
            assert found[path] == pytest.approx(value, rel=digits, abs=digits), path
        else:
            assert found[path] == value, path


@pytest.mark.slow
def test_least_squares_are_those_of_one_machine_to_nine_digits(season):
    found = drift.fit(season, "least-squares", engine=InTurn(), sizes=SIZES)
    assert_same(alone(season, "least-squares"), found, 1e-9)
    assert len(found.kinds) == 2
    assert not len(found.rows)


@pytest.mark.slow
def test_numbers_of_rows_that_pandas_wrote_are_no_column(season, tmp_path):
    folder = tmp_path / "kept.parquet"
    folder.mkdir()
    for file in season.glob("*.parquet"):
        frame = pd.read_parquet(file)
        frame.set_index(np.arange(len(frame)) ** 2).to_parquet(folder / file.name)
        assert "__index_level_0__" in pq.read_schema(folder / file.name).names
    found = drift.fit(folder, "least-squares", engine=InTurn(), sizes=SIZES)
    assert_same(alone(season, "least-squares"), found, 1e-9)


def test_the_bayesian_method_is_that_of_one_machine_to_eight_digits(season):
    found = drift.fit(season, engine=InTurn(), sizes=SIZES)
    expected = alone(season, "bayesian")
    assert_same(expected, found, 1e-8)
    assert len(expected.outliers) > 0
    for name in expected.kinds:
        for player in (None, "new", *expected.kinds[name].players):
            one, other = (f.change(name, celsius=31.0, player=player) for f in (expected, found))
            assert isinstance(other, Estimate)
            assert other.estimate == pytest.approx(one.estimate, rel=1e-8)
            assert other.high == pytest.approx(one.high, rel=1e-6)


@pytest.mark.parametrize("options", [{"thermometer": "hall"}, {"thermometer": ["hall", "stage"]},
                                     {"flagged": False}])  # fmt: skip
@pytest.mark.slow
def test_options_of_pairing_hold_for_all_parts(season, options):
    found = drift.fit(season, "least-squares", engine=InTurn(), sizes=SIZES, **options)
    assert_same(alone(season, "least-squares", **options), found, 1e-9)


@pytest.mark.slow
def test_air_that_changes_fast_is_followed_in_every_part(tmp_path):
    frames = tables(rehearsals=6)
    cold = frames["temperatures"]["rehearsal"].str.endswith("03")
    minutes = frames["temperatures"].groupby("rehearsal").cumcount() * 6.0
    frames["temperatures"].loc[cold & (minutes > 60), "celsius"] -= 9.0
    folder = written(tmp_path / "carried", frames)
    found = drift.fit(folder, engine=InTurn(), sizes=(200, 100))
    assert_same(alone(folder, "bayesian"), found, 1e-8)


@pytest.mark.slow
def test_a_partitioned_data_set_is_read_folder_by_folder(tmp_path):
    frames = tables(rehearsals=4)
    folder = tmp_path / "band"
    folder.mkdir()
    frames["readings"].to_parquet(folder / "readings.parquet", partition_cols=["rehearsal"])
    for name in ("temperatures", "events"):
        frames[name].to_parquet(folder / f"{name}.parquet", index=False)
    found = drift.fit(folder, "least-squares", engine=InTurn(), sizes=(100, 100))
    assert_same(alone(folder, "least-squares"), found, 1e-9)


@pytest.mark.slow
def test_a_paired_table_is_taken_as_it_is(season, tmp_path):
    paired = drift.pair(drift.load(season)).frame
    file = tmp_path / "paired.parquet"
    paired.to_parquet(file, index=False, row_group_size=200)
    for method, digits in (("least-squares", 1e-9), ("bayesian", 1e-8)):
        found = drift.fit(file, method, engine=InTurn(), sizes=SIZES)
        assert_same(drift.fit(pd.read_parquet(file), method), found, digits)


def test_one_rehearsal_alone_gives_the_errors_of_one_rehearsal(tmp_path):
    frames = tables(rehearsals=1, bands=1)
    folder = written(tmp_path / "one", frames)
    found = drift.fit(folder, "least-squares", engine=InTurn(), sizes=(10, 10))
    assert_same(alone(folder, "least-squares"), found, 1e-9)


@pytest.mark.slow
def test_readings_at_one_minute_give_a_slope_and_no_drift(tmp_path):
    frames = tables(rehearsals=6, bands=1)
    minute = frames["readings"]["time"].dt.normalize() + pd.Timedelta(hours=18, minutes=20)
    frames["readings"]["time"] = minute
    folder = written(tmp_path / "flat", frames)
    found = drift.fit(folder, "least-squares", engine=InTurn(), sizes=(50, 50))
    assert_same(alone(folder, "least-squares"), found, 1e-9)
    assert "the effect of time is not estimated" in found.summary()


def test_what_is_wrong_in_any_part_is_refused_with_all_of_it(season, tmp_path):
    frames = tables()
    readings = frames["readings"]
    readings["cents"] = readings["cents"].astype(object)
    readings.loc[[3, len(readings) - 2], "cents"] = "x"
    readings["cents"] = readings["cents"].astype(str)
    frames["temperatures"].loc[7, "celsius"] = 300.0
    folder = written(tmp_path / "wrong", frames)
    with pytest.raises(InputError, match="3 problems; nothing was taken") as refusal:
        drift.fit(folder, "least-squares", engine=InTurn(), sizes=SIZES)
    for text in ("readings.parquet (of 'band 0 evening 00'", "temperatures.parquet", "300"):
        assert text in str(refusal.value)


@pytest.mark.slow
def test_a_player_in_two_rehearsals_at_once_is_found_though_they_are_in_different_parts(tmp_path):
    frames = tables()
    readings = frames["readings"]
    there = readings["rehearsal"] == "band 2 evening 07"
    readings.loc[there, "player"] = "player 0.0"
    readings.loc[there, "time"] -= pd.Timedelta(days=2)
    for name in ("temperatures", "events"):
        frames[name].loc[frames[name]["rehearsal"] == "band 2 evening 07", "time"] -= pd.Timedelta(
            days=2
        )
    folder = written(tmp_path / "twice", frames)
    with pytest.raises(InputError, match=r"readings of player 'player 0\.0' in .* overlap"):
        drift.fit(folder, "least-squares", engine=InTurn(), sizes=(100, 100))


def test_what_needs_single_readings_is_refused(season):
    found = drift.fit(season, "least-squares", engine=InTurn(), sizes=SIZES)
    with pytest.raises(InputError, match="fit without an engine"):
        found.only("player 0.0")
    with pytest.raises(InputError, match="has no joint posterior"):
        found.joint_draws()


@pytest.mark.parametrize(
    ("options", "problem"),
    [
        ({"method": "mixed"}, "mixed is not fitted on an engine"),
        ({"covariates": ["humidity"]}, "covariates and formulas are not fitted on an engine"),
        ({"engine": "abacus"}, "there is no engine 'abacus'"),
        ({"thermometer": "cellar"}, "no temperature comes from 'cellar'"),
    ],
)
def test_what_an_engine_cannot_do_is_said(season, options, problem):
    with pytest.raises(InputError, match=problem):
        drift.fit(season, **{"engine": InTurn(), **options})


def test_a_folder_of_csv_is_refused_with_what_to_do(tmp_path):
    (tmp_path / "readings.csv").write_text("time\n")
    with pytest.raises(InputError, match="holds neither the tables of rehearsals nor paired"):
        drift.fit(tmp_path, engine=InTurn())


def test_an_option_of_an_engine_without_one_is_refused(season):
    with pytest.raises(InputError, match="scheduler is for an engine"):
        drift.fit(drift.pair(drift.load(season)), scheduler="tcp://127.0.0.1:8786")


def test_nothing_to_fit_is_said_as_on_one_machine(tmp_path):
    frames = tables(rehearsals=2)
    frames["temperatures"]["time"] += pd.Timedelta(days=400)
    folder = written(tmp_path / "none", frames)
    with pytest.raises(TooLittleData, match="no temperature within 10 minutes"):
        drift.fit(folder, engine=InTurn(), sizes=SIZES)


@pytest.mark.slow
def test_the_answer_has_no_number_that_is_none(season):
    found = drift.fit(season, "least-squares", engine=InTurn(), sizes=SIZES)
    assert all(math.isfinite(one.r_squared) for one in found.kinds.values())
    assert np.isfinite(found.predict([15.0, 25.0], instrument="double horn")["cents"]).all()


@pytest.mark.slow
def test_thermometers_are_chosen_for_all_parts_together(tmp_path):
    """One serves most evenings, another those without it, and one that disagrees none."""
    frames = tables()
    table = frames["temperatures"]
    own = table["rehearsal"].str.startswith("band 1") & (table["source"] == "stage")
    table.loc[own, "source"] = "case"
    cellar = table[table["rehearsal"].str.endswith(("01", "05"))]
    cellar = cellar.assign(source="cellar", celsius=cellar["celsius"] - 3.0)
    alone_there = table["rehearsal"] == "band 2 evening 06"
    table.loc[alone_there, "source"] = "cellar"
    both = pd.concat([table, cellar]).sort_values(["rehearsal", "time"], kind="stable")
    frames["temperatures"] = both.reset_index(drop=True)
    folder = written(tmp_path / "many", frames)
    expected = drift.pair(drift.load(folder))
    found = drift.fit(folder, "least-squares", engine=InTurn(), sizes=SIZES)
    assert found.thermometers == expected.thermometers == ("stage", "case")
    assert_same(alone(folder, "least-squares"), found, 1e-9)


@pytest.mark.slow
def test_readings_that_are_there_twice_are_counted_in_every_part(tmp_path):
    frames = tables(rehearsals=4)
    readings = frames["readings"]
    frames["readings"] = pd.concat([readings, readings.iloc[[3, 40]]], ignore_index=True)
    folder = written(tmp_path / "twice", frames)
    found = drift.fit(folder, "least-squares", engine=InTurn(), sizes=(60, 60))
    assert found.warnings[0].values == {"count": 2}
    assert_same(alone(folder, "least-squares"), found, 1e-9)
