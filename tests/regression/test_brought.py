"""A paired table from a file fits as the one that was paired, and labels are never made up."""

import io

import numpy as np
import pandas as pd
import pytest

import drift
from drift import shipped
from drift.errors import InputError
from drift.findings import Finding
from drift.regression.brought import RULES, brought


@pytest.fixture(scope="module")
def paired() -> pd.DataFrame:
    return drift.pair(drift.load(shipped.folder("datasets/cold-hall-season"))).frame


def through_csv(frame, _):
    return pd.read_csv(io.StringIO(frame.to_csv(index=False)), keep_default_na=True)


def through_json(frame, _):
    return pd.read_json(io.StringIO(frame.to_json(orient="records", date_format="iso")))


def through_parquet(frame, path):
    frame.assign(spells=[list(spells) for spells in frame["spells"]]).to_parquet(path)
    return pd.read_parquet(path)


@pytest.mark.parametrize("through", [through_csv, through_json, through_parquet])
def test_a_paired_table_comes_back_from_a_file_and_fits(paired, through, tmp_path):
    again = drift.fit(through(paired, tmp_path / "p.parquet"), method="least-squares")
    first = drift.fit(paired, method="least-squares")
    assert again.kinds.keys() == first.kinds.keys()
    for name, kind in first.kinds.items():
        expected = {key: one.estimate for key, one in kind.population.entries().items()}
        found = {key: one.estimate for key, one in again.kinds[name].population.entries().items()}
        assert found == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("written", ["((0.0, 20.0), (30.0, 4.5))", [[0, 20.0], [30, 4.5]]])
def test_a_course_comes_back_from_a_file(written):
    course = brought(pd.DataFrame({"course": [written, written, ()]}))["course"]
    assert course.tolist() == [((0.0, 20.0), (30.0, 4.5))] * 2 + [()]
    assert course[0] is course[1]
    with pytest.raises(InputError, match="is not pairs of minutes"):
        brought(pd.DataFrame({"course": ["warm, then cold"]}))


BROKEN = {"is negative": -1.0, "is outside 0 to 1": 1.5, "is not a number": "often"}


def test_the_rules_are_those_that_are_documented():
    """Whoever takes one away has to change what is promised here."""
    text = ["rehearsal", "player", "instrument", "note"]
    numbers = ["reference_cents", "celsius", "playing_minutes", "minutes_into_spell",
               "initial_warmth", "cents_sd", "pair_probability"]  # fmt: skip
    assert [(rule.column, rule.problem) for rule in RULES] == [
        *((name, "is missing") for name in text),
        *((name, "is not a number") for name in numbers),
        ("playing_minutes", "is negative"),
        ("minutes_into_spell", "is negative"),
        ("initial_warmth", "is outside 0 to 1"),
    ]


@pytest.mark.parametrize("rule", RULES, ids=[f"{r.column} {r.problem}" for r in RULES])
def test_each_rule_refuses_and_counts(paired, rule):
    frame = paired.astype({rule.column: object})
    frame.loc[frame.index[:2], rule.column] = BROKEN.get(rule.problem)
    with pytest.raises(InputError, match=f"{rule.column} {rule.problem} in 2 rows"):
        drift.fit(frame, method="least-squares")


@pytest.mark.parametrize("missing", ["", None, float("nan")])
@pytest.mark.parametrize("kind", ["object", "str", "category"])
def test_a_label_is_missing_whatever_it_is_made_of(paired, missing, kind):
    names = paired["player"].astype(object)
    names.iloc[3:5] = missing
    with pytest.raises(InputError, match="player is missing in 2 rows, first in row 3"):
        drift.fit(paired.assign(player=names.astype(kind)), method="least-squares")


def test_a_single_row_is_named_alone(paired):
    bad = paired.assign(initial_warmth=np.where(np.arange(len(paired)) == 4, 1.5, 0.0))
    with pytest.raises(InputError, match="initial_warmth is outside 0 to 1 in row 4\n"):
        drift.fit(bad)


def test_times_come_back_as_milliseconds_and_numbers_as_text(paired):
    milliseconds = paired["time"].dt.tz_localize(None).astype("datetime64[ms]").astype("int64")
    texts = paired["playing_minutes"].map(repr)
    again = brought(paired.assign(time=milliseconds, playing_minutes=texts))
    assert (again["time"] - paired["time"]).abs().max() < pd.Timedelta("1ms")
    # Versions of pandas read a number as text to the last bit or to the one before.
    np.testing.assert_allclose(again["playing_minutes"], paired["playing_minutes"], rtol=1e-14)
    with pytest.raises(InputError, match="time is not a date and time"):
        brought(paired.assign(time=milliseconds // 1000))


def test_fahrenheit_under_celsius_is_said(paired):
    given = drift.fit(paired.assign(celsius=paired["celsius"] * 1.8 + 32.0), "least-squares")
    assert given.warnings[0].kind == "looks_like_fahrenheit"
    assert "look like °F: give them in °C" in given.summary()
    assert "°F" not in drift.fit(paired, "least-squares").summary()


def test_readings_that_are_there_twice_are_said(paired):
    twice = drift.fit(pd.concat([paired, paired.iloc[5:8]]), "least-squares")
    assert twice.warnings[0] == Finding("doubled_readings", {"count": 3})
    assert "readings that are there twice: 3" in twice.summary()
    alike = paired.iloc[[5]].assign(time=paired["time"].iloc[5] + pd.Timedelta("1s"))
    once = drift.fit(pd.concat([paired, alike]), "least-squares")
    assert "twice" not in once.summary()


def no_numbers(values):
    """Return what pandas would count as numbers, or turn into some, and nobody can mean."""
    minutes = pd.to_timedelta(values, unit="min")
    return {
        "durations": minutes,
        "durations, one by one": minutes.astype(object),
        "days": pd.to_datetime(values, unit="D"),
        "true and false": values > values.median(),
        "true and false, nullable": (values > values.median()).astype("boolean"),
        "true and false, one by one": (values > values.median()).astype(object),
        "complex": values.astype(complex),
    }


@pytest.mark.parametrize("method", ["bayesian", "least-squares", "mixed"])
@pytest.mark.parametrize("column", ["playing_minutes", "celsius"])
def test_what_pandas_counts_as_a_number_and_is_none_is_refused(paired, method, column):
    for what, values in no_numbers(paired[column]).items():
        refused = f"^{column} is not a number in {len(paired)} rows, first in row 0\n"
        table = paired.assign(**{column: values, "what": what})
        with pytest.raises(InputError, match=refused):
            drift.fit(table, method)


def test_durations_are_refused_with_how_to_give_minutes(paired):
    durations = pd.to_timedelta(paired["playing_minutes"], unit="min")
    with pytest.raises(InputError, match=r"of durations: column / pd\.Timedelta") as refusal:
        drift.fit(paired.assign(playing_minutes=durations))
    assert len(str(refusal.value).splitlines()) == 2
    again = brought(paired.assign(playing_minutes=durations / pd.Timedelta("1 min")))
    np.testing.assert_allclose(again["playing_minutes"], paired["playing_minutes"], atol=1e-8)


@pytest.mark.parametrize("kind", ["int64", "Int64", "float64", "category", "object"])
def test_players_that_are_numbers_are_named_by_their_text(paired, kind):
    numbers = pd.factorize(paired["player"], sort=True)[0] + 7
    fitted = drift.fit(paired.assign(player=pd.Series(numbers).astype(kind)), "least-squares")
    assert sorted(fitted.rows["player"].unique())[0] == "7"
    assert fitted.only("7").rows.equals(fitted.only(7).rows)
