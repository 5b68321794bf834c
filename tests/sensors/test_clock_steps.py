"""The computer's clock, listened to as a thermometer is."""

from datetime import timedelta
from itertools import islice

from sensors.clock_steps import ClockSteps
from sensors.clocks import SteadyClock


def test_it_says_nothing_while_nobody_sets_the_clock(clock):
    with ClockSteps(clock, SteadyClock(clock), sleep=clock.go_on) as steps:
        assert list(islice(steps, 5000)) == [None] * 5000


def test_a_step_is_told_once_at_the_time_of_the_log(clock):
    steady = SteadyClock(clock)
    steps = iter(ClockSteps(clock, steady, sleep=clock.go_on))
    assert next(steps) is None
    began = steady.now()
    clock.time_of_day -= timedelta(hours=1)
    notice = next(steps)
    assert (notice.kind, notice.source) == ("step", "clock")
    assert "set back by 3600.0 s" in notice.text
    assert notice.time == began + timedelta(seconds=0.5)
    assert next(steps) is None
