"""What two players' notes are apart is known without the readings that are in doubt."""

from types import SimpleNamespace

import numpy as np
import pytest

from drift.regression.notices.tendencies import Tendencies

# Two players, two notes each; the first player alone has a third.
UNIT = np.array([0, 0, 0, 0, 0, 1, 1, 1, 1])
KEY = np.array([0, 0, 1, 1, 2, 0, 0, 1, 1])
GROUP = np.array([0, 0, 1, 1, 2, 3, 3, 4, 4])
CENTS = np.array([1.0, 3.0, -4.0, -6.0, 9.0, 11.0, 13.0, 2.0, 4.0])
SEASON = SimpleNamespace(unit=UNIT, key=KEY, group=GROUP)


def tendencies(cents):
    means = np.bincount(GROUP, cents) / np.bincount(GROUP)
    return Tendencies.of(SEASON, means[GROUP], cents - means[GROUP])


def apart(cents, chosen):
    return tendencies(cents).apart(np.arange(9), (0, 1), np.array(chosen, dtype=bool)[:, None])[
        :, 0
    ]


def test_notes_lie_apart_as_the_readings_say_that_are_not_in_doubt():
    found = apart(CENTS, [1, 0, 0, 0, 0, 0, 0, 0, 1])
    # C of the first without its first reading is 3, of the second 12; D is -5 and, left, 2.
    assert found == pytest.approx([9.0, 0, 0, 0, 0, 0, 0, 0, -7.0])


def test_readings_in_doubt_do_not_draw_tendencies_together():
    chosen = [1, 0, 1, 0, 0, 1, 0, 0, 1]
    exchanged = CENTS + 20.0 * np.array(chosen)
    assert apart(exchanged, chosen) == pytest.approx(apart(CENTS, chosen), abs=1e-12)


def test_a_note_that_the_other_has_not_played_says_nothing():
    assert apart(CENTS, [0, 0, 0, 0, 1, 0, 0, 0, 0]).tolist() == [0.0] * 9


def test_a_note_of_which_no_reading_is_left_says_nothing():
    assert apart(CENTS, [1, 1, 0, 0, 0, 1, 0, 0, 0]).tolist() == [0.0] * 9
