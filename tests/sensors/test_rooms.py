"""Listening in simulated rooms: a small version of tests/benchmarks/study_rooms.py, other seeds.

The bars are those of the study (taken 0.83, harmful pairs not taken 0.96, error over u 0.98), less
what so few clips may miss: two standard errors of a share of 60 clips are 0.10.
"""

import numpy as np
import pytest

from sensors import segments
from sensors.quality import DOUBTFUL
from tests.benchmarks.study_rooms import clip
from tests.rooms import DRY, reed, room
from tests.rooms import pitch_of as pitch_of_note


@pytest.fixture(scope="module")
def rooms() -> list:
    pytest.importorskip("pyroomacoustics", reason="needs pyroomacoustics")
    rng = np.random.default_rng(77)
    return [DRY, *(room(rng) for _ in range(7))]


@pytest.fixture(scope="module")
def bank() -> list:
    rng = np.random.default_rng(78)
    sounds = [reed(hertz, rng, 3.8) for hertz in (150.0, 230.0, 350.0)]
    return [("reed", pitch_of_note(sound), sound) for sound in sounds]


def clips(rooms, bank, count: int, seed: int, *, pair: bool) -> list[dict]:
    made = []
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        made.append(clip(bank, rooms[number % len(rooms)], rng, pair=pair)[0])
    return made


@pytest.mark.slow
def test_one_player_is_taken_with_an_error_as_large_as_its_uncertainty(rooms, bank):
    taken = [row for row in clips(rooms, bank, 60, 101, pair=False) if row["score"] <= DOUBTFUL]
    assert len(taken) / 60 > 0.73
    ratio = np.array([row["error"] / row["cents_sd"] for row in taken])
    assert 0.7 < np.sqrt(np.mean(ratio**2)) < 1.3
    assert np.mean(np.abs(ratio) < 2) > 0.88


@pytest.mark.slow
def test_two_players_who_would_mislead_are_not_taken(rooms, bank, monkeypatch):
    monkeypatch.setattr(segments, "PAIR", np.inf)  # look beyond what is refused at once
    pairs = clips(rooms, bank, 70, 102, pair=True)
    harmful = [row for row in pairs if row["error"] != "" and abs(row["error"]) > 1]
    assert len(harmful) > 15
    assert np.mean([row["score"] > DOUBTFUL for row in harmful]) > 0.85
