"""Away and back are told once; refused lines are thinned and counted."""

from sensors.errors import LineRefused
from sensors.notices import Presence, Refusals


def test_away_and_back_are_each_told_once(clock):
    presence = Presence("stage", clock, silence_seconds=60)
    assert presence.here() == []
    clock.go_on(59)
    assert presence.waiting() == []
    clock.go_on(1)
    (away,) = presence.waiting("it says nothing")
    assert (away.kind, away.source, away.time) == ("away", "stage", clock.now())
    assert away.text == "no temperature for 60 s: it says nothing"
    clock.go_on(100)
    assert presence.waiting() == presence.gone("unplugged") == []
    (back,) = presence.here()
    assert (back.kind, back.text) == ("back", "back after 160 s without a temperature")
    assert presence.here() == []


def test_waiting_begins_when_it_is_first_waited_for(clock):
    presence = Presence("stage", clock, silence_seconds=60)
    clock.go_on(3600)
    assert presence.waiting() == []
    clock.go_on(61)
    assert len(presence.waiting()) == 1


def test_one_that_takes_its_time_is_not_away_in_between(clock):
    """It speaks every two minutes: after the first that is known, and a stop still noticed."""
    presence = Presence("stage", clock, silence_seconds=60)
    told = []
    for _ in range(10):
        for _ in range(12):
            told += presence.waiting()
            clock.go_on(10)
        told += presence.here()
    assert [notice.kind for notice in told] == ["away", "back"]
    clock.go_on(359)
    assert presence.waiting() == []
    clock.go_on(1)
    assert presence.waiting()[0].text == "no temperature for 360 s: nothing comes"


def test_a_quick_one_is_missed_as_soon_as_ever(clock):
    presence = Presence("stage", clock, silence_seconds=60)
    for _ in range(10):
        presence.here()
        clock.go_on(1)
    clock.go_on(58)
    assert presence.waiting() == []
    clock.go_on(1)
    assert len(presence.waiting()) == 1


def test_refusals_come_once_a_second_with_the_others_counted(clock):
    refusals = Refusals("stage", clock)
    refusal = LineRefused("not a number", "Look at it.", "x")
    (first,) = refusals.notice(refusal)
    assert (first.kind, first.text, first.raw) == ("refused", "not a number", "x")
    assert [refusals.notice(refusal) for _ in range(7)] == [[]] * 7
    clock.go_on(1.0)
    (next_one,) = refusals.notice(refusal)
    assert next_one.text == "not a number (and 7 lines before it)"
