"""An invented room."""

import itertools
import statistics

import pytest

from sensors.reading import Sample
from sensors.simulated import Simulated


def said(clock, count, **options):
    with Simulated(clock, sleep=clock.go_on, **options) as source:
        items = (item for item in source if isinstance(item, Sample))
        return list(itertools.islice(items, count))


def test_the_same_seed_gives_the_same_room(clock):
    first = [item.celsius for item in said(clock, 50, seed=3)]
    assert [item.celsius for item in said(clock, 50, seed=3)] == first
    assert [item.celsius for item in said(clock, 50, seed=4)] != first


def test_it_says_that_it_is_simulated(clock):
    (item,) = said(clock, 1)
    assert (item.source, item.raw) == ("simulated", "simulated")


def test_it_speaks_at_its_pace(clock):
    times = [item.time for item in said(clock, 5, every=2.0)]
    assert [(b - a).total_seconds() for a, b in itertools.pairwise(times)] == pytest.approx(
        [2.0] * 4
    )


def test_the_room_warms_as_its_description_says(clock):
    """63.2 % of the rise after one time constant; 0.1 covers the noise of a mean of 60 samples
    (0.05 °C each, correlated over about 20 of them)."""
    items = said(clock, 1830, celsius=18.0, rise=4.0, minutes=30.0)
    assert statistics.mean(item.celsius for item in items[1770:1830]) == pytest.approx(
        18.0 + 4.0 * (1 - 2.718281828**-1), abs=0.1
    )


def test_its_noise_is_as_its_description_says(clock):
    """0.05 °C, 0.9 from sample to sample: with 4000 of them some 200 are independent, so the
    deviation is known to about 5 % and the correlation to about 0.01."""
    celsius = [item.celsius for item in said(clock, 4000, rise=0.0)]
    assert statistics.stdev(celsius) == pytest.approx(0.05, rel=0.2)
    assert statistics.correlation(celsius[1:], celsius[:-1]) == pytest.approx(0.9, abs=0.05)


def test_it_says_nothing_between(clock):
    with Simulated(clock, sleep=clock.go_on, every=1.0) as source:
        items = list(itertools.islice(iter(source), 12))
    assert items.count(None) == 10
