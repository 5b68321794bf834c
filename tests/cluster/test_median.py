"""The median of numbers that stay where they are is the median, to the last bit."""

import numpy as np
import pytest

from drift.cluster import bayesian
from drift.cluster.bayesian import median_of
from drift.cluster.engines import InTurn

RANDOM = np.random.default_rng(4)
VALUES = {
    "spread": RANDOM.exponential(5.0, 50_001),
    "even count": RANDOM.exponential(5.0, 30_000),
    "mostly equal": np.append(np.full(29_000, 2.5), RANDOM.exponential(5.0, 1_000)),
    "all equal": np.full(30_000, 1.5),
    "zeros": np.append(np.zeros(20_001), RANDOM.exponential(1.0, 20_000)),
    "one far off": np.append(RANDOM.exponential(5.0, 30_000), 1e9),
    "two apart": np.repeat([1.0, 4.0], 15_000),
    "few": np.array([3.0, 1.0]),
}


@pytest.mark.parametrize("values", VALUES.values(), ids=VALUES)
@pytest.mark.parametrize("parts", [1, 5])
def test_it_is_the_median(values, parts, monkeypatch):
    monkeypatch.setattr(bayesian, "FEW", 50)
    shuffled = np.random.default_rng(1).permutation(values)
    found = median_of(InTurn(), np.array_split(shuffled, parts), len(values))
    assert found == np.median(values)
