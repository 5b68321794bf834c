"""Steps of the computer's clock."""

import time
from datetime import UTC, timedelta

import pytest

from sensors.clocks import SteadyClock, StepWatch, SystemClock


def test_the_clock_of_this_computer():
    clock = SystemClock()
    assert clock.now().tzinfo is UTC
    before = clock.monotonic()
    time.sleep(0.01)
    assert clock.monotonic() > before


def test_time_that_passes_is_no_step(clock):
    watch = StepWatch(clock)
    for _ in range(100):
        clock.go_on(3600.0)
        assert watch.look() is None


def test_slewing_is_no_step(clock):
    """500 parts in a million, the most that the network time protocol slews (from memory)."""
    watch = StepWatch(clock)
    for _ in range(3600):
        clock.go_on(1.0)
        clock.time_of_day += timedelta(seconds=500e-6)
        assert watch.look() is None


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (
            3600.0,
            "set forward by 3600.0 s, from about 2031-03-04T19:30:00Z to 2031-03-04T20:30:01Z",
        ),
        (-90.0, "set back by 90.0 s, from about 2031-03-04T19:30:00Z to 2031-03-04T19:28:31Z"),
    ],
)
def test_a_step_is_told_once(clock, seconds, text):
    watch = StepWatch(clock)
    clock.go_on(1.0)
    clock.time_of_day += timedelta(seconds=seconds)
    notice = watch.look()
    assert (notice.kind, notice.time) == ("step", clock.now())
    assert text in notice.text
    assert watch.look() is None


def test_small_steps_are_not_worth_a_notice(clock):
    watch = StepWatch(clock, least_seconds=1.0)
    clock.time_of_day += timedelta(seconds=0.9)
    assert watch.look() is None


def test_a_steady_clock_keeps_order_and_distance_through_a_step(clock):
    steady = SteadyClock(clock)
    first = steady.now()
    clock.go_on(10.0)
    clock.time_of_day -= timedelta(days=1)
    assert steady.now() - first == timedelta(seconds=10)
    assert steady.monotonic() == clock.monotonic()
