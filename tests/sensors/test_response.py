"""A slow probe against the exact answer of a first-order system to a step."""

import math

import pytest

from sensors.addresses import open_source
from sensors.reading import Notice, Sample
from sensors.response import Slow, settling


def shown(air, response_seconds, seconds):
    """Return what a first-order probe shows, integrated exactly from one second to the next."""
    celsius, probe = air(0), []
    for at in seconds:
        celsius += (air(at) - celsius) * (1 - math.exp(-1.0 / response_seconds))
        probe.append(celsius)
    return probe


SECONDS = list(range(2400))


@pytest.mark.parametrize("size", [3.0, -3.0, 10.0])
@pytest.mark.parametrize("response_seconds", [30.0, 120.0])
def test_readings_after_a_step_lag_for_five_time_constants(size, response_seconds):
    probe = shown(lambda at: 20.0 + size * (at >= 600), response_seconds, SECONDS)
    flags = settling(SECONDS, probe, response_seconds)
    first = flags.index(True)
    # noticed once the slope over half a time constant says 1 °C, well within one time constant
    assert 600 <= first <= 600 + response_seconds / 2
    until = first + 5 * response_seconds
    assert all(flags[first : int(until)])
    assert not any(flags[int(until) + 1 :])
    assert abs(probe[int(until)] - (20.0 + size)) < 0.01 * abs(size)


def test_a_room_that_warms_slowly_is_no_step():
    """4 °C in half an hour, a lively rehearsal; the probe is 0.3 °C behind at most."""
    air = lambda at: 20.0 + 4.0 * (1 - math.exp(-at / 1800))  # noqa: E731
    assert not any(settling(SECONDS, shown(air, 120.0, SECONDS), 120.0))


def test_a_quick_probe_never_lags_for_long():
    probe = shown(lambda at: 20.0 + 5.0 * (at >= 600), 2.0, SECONDS)
    assert sum(settling(SECONDS, probe, 2.0)) <= 10


class Recorded:
    name = "case"

    def __init__(self, clock, celsius):
        self.clock, self.celsius, self.opened = clock, celsius, False

    def __enter__(self):
        self.opened = True
        return self

    def __exit__(self, *failure):
        self.opened = False

    def __iter__(self):
        for celsius in self.celsius:
            self.clock.go_on(1.0)
            yield Sample(self.clock.now(), celsius, source="case")
            yield None


def test_a_slow_source_says_when_it_lags_and_when_it_has_caught_up(clock):
    probe = shown(lambda at: 20.0 + 5.0 * (at >= 60), 20.0, range(300))
    source = Recorded(clock, probe)
    with Slow(source, 20.0) as slow:
        assert source.opened
        said = list(slow)
    assert not source.opened
    assert slow.name == "case"
    assert [item.celsius for item in said if isinstance(item, Sample)] == probe
    assert said.count(None) == 300
    lag, settled = (item for item in said if isinstance(item, Notice))
    assert (lag.kind, settled.kind, lag.source) == ("settling", "settled", "case")
    assert (settled.time - lag.time).total_seconds() == 100.0
    assert f"{settled.time:%Y-%m-%dT%H:%M:%SZ}" in lag.text


def test_the_address_says_how_slow(clock):
    assert open_source("simulated:?response_minutes=2", clock=clock).response_seconds == 120.0
    assert open_source("simulated:?response_seconds=30", clock=clock).response_seconds == 30.0
    assert not isinstance(open_source("simulated:", clock=clock), Slow)
