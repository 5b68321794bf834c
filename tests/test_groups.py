"""Numbers for names agree with pandas, however the names lie."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.groups import codes_of, rows_of

NAMES = st.lists(st.sampled_from(["hall", "shed", "", "Rowan", None]), max_size=60)


@given(NAMES, st.integers(1, 9), st.sampled_from(["str", "object"]))
def test_codes_are_those_of_pandas_in_long_runs_and_short_ones(names, run, dtype):
    column = pd.Series([name for name in names for _ in range(run)], dtype=dtype)
    codes, found = codes_of(column)
    expected, uniques = pd.factorize(column, use_na_sentinel=False)
    np.testing.assert_array_equal(codes, expected)
    pd.testing.assert_index_equal(found, uniques)


def test_categories_bring_their_own_numbers_and_unused_ones_are_dropped():
    column = pd.Series(pd.Categorical(["b", "a", "b"], categories=["a", "b"]))
    codes, names = codes_of(column)
    assert codes.tolist() == [1, 0, 1]
    assert names.tolist() == ["a", "b"]
    codes, names = codes_of(column.iloc[::2])
    assert codes.tolist() == [0, 0]
    assert names.tolist() == ["b"]


@pytest.mark.parametrize("column", [["b"] * 9 + ["a"] * 9 + ["b"], ["a", "b"] * 9, ["a"], []])
def test_rows_of_a_name_are_in_order_and_complete(column):
    found = rows_of(pd.Series(column, dtype="str"))
    assert {name: rows.tolist() for name, rows in found.items()} == {
        name: [row for row, other in enumerate(column) if other == name] for name in set(column)
    }
