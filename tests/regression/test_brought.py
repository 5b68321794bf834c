"""A paired table from a file fits as the one that was paired, and labels are never made up."""

import io

import pandas as pd
import pytest

import drift
from drift import shipped
from drift.errors import InputError
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


BROKEN = {
    "playing_minutes": -1.0,
    "minutes_into_spell": -1.0,
    "initial_warmth": 1.5,
}


@pytest.mark.parametrize("rule", RULES, ids=[rule.column for rule in RULES])
def test_each_rule_refuses_and_counts(paired, rule):
    frame = paired.astype({rule.column: object})
    frame.loc[frame.index[:2], rule.column] = BROKEN.get(rule.column)
    with pytest.raises(InputError, match=f"{rule.column} {rule.problem} in 2 rows"):
        drift.fit(frame, method="least-squares")
