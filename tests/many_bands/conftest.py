"""A collection of small bands, summarised once for all tests."""

import uuid

import numpy as np
import pytest

from drift.bands.summaries import summarise
from tests.collection import band, rows_of


def band_named(number):
    return str(uuid.UUID(int=number + 1))


def make(seed, kinds=("flute", "BBb tuba"), players=5, rehearsals=4, shift=0.0, season="2026"):
    random = np.random.default_rng([31, seed])
    sections = {kind: band(random, kind, players, rehearsals, shift=shift) for kind in kinds}
    return summarise(rows_of(sections), band_named(seed), season)


@pytest.fixture(scope="session")
def collection():
    """Eight bands: all have flutes, the even ones tubas."""
    both = ("flute", "BBb tuba")
    return [make(seed, both if seed % 2 == 0 else ("flute",)) for seed in range(8)]
