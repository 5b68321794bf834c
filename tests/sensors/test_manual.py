"""Temperatures that a person types."""

import pytest

from sensors.errors import LineRefused
from sensors.manual import Manual, typed


@pytest.mark.parametrize("text", ["21.5", "21,5", "21.5 °C", "70.7F"])
def test_typed_temperatures(text, clock):
    taken = typed(text, clock=clock)
    assert taken.celsius == pytest.approx(21.5, abs=1e-12)
    assert (taken.time, taken.source, taken.raw) == (clock.now(), "typed", text)


def test_what_is_no_temperature_is_refused_where_it_is_typed(clock):
    with pytest.raises(LineRefused, match="212 °C is outside"):
        typed("212", clock=clock)
    with pytest.raises(LineRefused, match="not one number"):
        Manual(clock).say("warm")


def test_what_was_typed_comes_out_in_order(clock):
    with Manual(clock, name="wall") as source:
        for text in ("20", "21", "22"):
            source.say(text)
        words = iter(source)
        said = [next(words) for _ in range(4)]
    assert [item.celsius for item in said[:3]] == [20, 21, 22]
    assert said[0].source == "wall"
    assert said[3] is None
