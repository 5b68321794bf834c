"""Whether a microphone hears well, from blocks of known level."""

import numpy as np
import pytest

from drift.capture.levels import Level, LevelWatch

RATE = 8000
SECOND = np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)


def changes(*levels: float) -> list[Level | None]:
    watch = LevelWatch(RATE)
    return [watch.take(np.clip(level * SECOND, -1, 1)) for level in levels]


@pytest.mark.parametrize("level", [0.02, 0.5, 0.9, 0.0])
def test_a_good_level_and_silence_are_no_news(level):
    assert changes(*[level] * 25) == [None] * 25


def test_too_soft_is_told_once_and_when_it_is_over():
    news = changes(*[0.002] * 20, *[0.1] * 10)
    assert [one for one in news if one] == [Level.SOFT, Level.GOOD]
    assert news.index(Level.SOFT) == 9  # after ten seconds


def test_notes_between_rests_are_not_too_soft():
    assert not any(changes(*[0.1, 0, 0, 0, 0, 0, 0] * 5))


def test_clipping_is_told_at_once():
    news = changes(0.1, 3.0, *[0.1] * 12)
    assert news[1] is Level.CLIPPED
    assert [one for one in news if one] == [Level.CLIPPED, Level.GOOD]
