"""What a few more readings are promised to make of the answer is what they make of it."""

import numpy as np
import pytest

from drift.tonight.evening import usable
from drift.tonight.following import follow, off_samples
from drift.tonight.progress import GOOD_CENTS, progress
from tests.evenings import Evening, Player
from tests.tonight.judging import learnt, tonight_of

NOW = 45.0


def half_of(knowledge, evening, now, side):
    readings, _ = usable(knowledge.instrument, evening, now)
    readings = [r for r in readings if (r.side, r.note) in knowledge.notes]
    off = off_samples(follow(knowledge, evening, readings, now), evening, now, (0.0,))[side][:, 0]
    low, high = np.quantile(off, [0.025, 0.975])
    return (high - low) / 2.0


@pytest.mark.slow
def test_readings_narrow_the_answer_as_much_as_was_said():
    said, found = [], []
    for seed in range(61000, 61020):
        player = Player(seed)
        truth = Evening(player, 0)
        knowledge = learnt([], player.kind, list(player.notes))
        before = tonight_of(truth, NOW)
        known = progress(knowledge, before, NOW)
        if known is None or not known.more or not truth.playing(NOW):
            continue
        more = [truth.read(NOW + 0.3 * (k + 1), usual=True) for k in range(known.more)]
        later = NOW + 0.3 * known.more
        side = usable(knowledge.instrument, before, NOW)[0][-1].side
        said.append(known.then_cents)
        found.append(half_of(knowledge, tonight_of(truth, later, more), later, side))
    assert len(said) >= 8
    # as it is shown: in four of five courses, and no wider than that takes
    assert np.mean(np.ceil(found) <= np.ceil(said)) > 0.7
    assert 0.6 < np.median(np.array(found) / np.array(said)) < 1.1


def test_good_is_good_and_nothing_more_is_asked():
    player = Player(61001)
    truth = Evening(player, 0)
    knowledge = learnt([], player.kind, list(player.notes))
    known = progress(knowledge, tonight_of(truth, NOW), NOW, good_cents=50.0)
    assert known is not None
    assert known.more == 0
    assert known.half_cents > 0.0
    assert progress(knowledge, tonight_of(truth, 0.2), 0.2, good_cents=GOOD_CENTS) is None


@pytest.mark.slow
def test_readings_at_the_end_narrow_the_answer_there_as_much_as_was_said():
    end, said, found, without = NOW + 30.0, [], [], []
    for seed in range(61100, 61120):
        player = Player(seed)
        truth = Evening(player, 0)
        knowledge = learnt([], player.kind, list(player.notes))
        before = tonight_of(truth, NOW)
        known = progress(knowledge, before, NOW, end_minutes=end)
        if known is None or not known.end.more or not truth.playing(end):
            continue
        more = [truth.read(end + 0.3 * (k + 1), usual=True) for k in range(known.end.more)]
        later = end + 0.3 * known.end.more
        side = usable(knowledge.instrument, before, NOW)[0][-1].side
        said.append(known.end.then_cents)
        found.append(half_of(knowledge, tonight_of(truth, later, more), later, side))
        without.append(known.end.half_cents / half_of(knowledge, before, end, side))
    assert len(said) >= 8
    assert np.mean(np.ceil(found) <= np.ceil(said)) > 0.7
    assert 0.6 < np.median(np.array(found) / np.array(said)) < 1.1
    assert np.median(without) == pytest.approx(1.0, abs=0.02)  # as the estimate itself widens


def test_an_end_that_is_near_or_over_has_no_plan_of_its_own():
    player = Player(61001)
    truth = Evening(player, 0)
    knowledge = learnt([], player.kind, list(player.notes))
    evening = tonight_of(truth, NOW)
    for end in (None, NOW - 20.0, NOW + 5.0):
        assert progress(knowledge, evening, NOW, end_minutes=end).end is None
    known = progress(knowledge, evening, NOW, end_minutes=NOW + 30.0)
    assert known.end.in_minutes == 30.0
    assert known.end.half_cents > known.half_cents  # what may happen until then
