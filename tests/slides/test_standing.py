"""Where pitch stands now: against the moment the slides were set."""

from datetime import UTC, datetime

import pytest

import drift
from drift.errors import InputError
from drift.logbook.rehearsals import load
from drift.slides.standing import standing
from tests.folders import write
from tests.pairing.test_readings import PLAY, READINGS, TEMPERATURES, reading, sample, slide

NOW = datetime(2026, 10, 3, 18, 40, tzinfo=UTC)


def season(tmp_path, readings=(), temperatures=(), events=()):
    return load(
        write(
            tmp_path / "f",
            readings=READINGS + "".join(readings),
            temperatures=TEMPERATURES + "".join(temperatures),
            events=PLAY + "".join(events),
        )
    )


WARMING = [sample(m, 18 + m / 10) for m in range(0, 41, 5)]


def test_a_room_that_warms_makes_brass_sharp_and_the_slide_goes_out(tmp_path):
    events = [slide(5, "main", 12), slide(5, "F", 8)]
    found = standing(
        season(tmp_path, [reading(6)], WARMING, events), "hall", "Rowan", "double horn", NOW
    )
    assert found.slides_set
    assert found.tuned.celsius == pytest.approx(18.6)  # the first note after the slides were set
    assert found.now.celsius == pytest.approx(22.0)
    assert found.now.playing_minutes == 40.0
    assert 0 < found.cents.low < found.cents.estimate < found.cents.high
    main = found.moves[0]
    assert (main.slide, main.move_mm > 0) == ("main", True)
    assert main.to_mm == pytest.approx(12 + main.move_mm)
    assert "main out" in found.summary()
    assert f"to {main.to_mm:.1f}" in found.summary()


def test_a_known_fit_is_used_as_it_is(tmp_path):
    logged = season(tmp_path, [reading(6)], WARMING)
    found = standing(logged, "hall", "Rowan", "double horn", NOW, known=drift.physics())
    assert not found.slides_set
    assert found.moves[0].to_mm is None  # no position was ever stated


def test_a_change_within_a_tuners_reading_moves_nothing(tmp_path):
    steady = [sample(m, 20) for m in range(0, 41, 5)]
    events = [slide(38, "main", 12)]
    found = standing(
        season(tmp_path, [reading(30)], steady, events), "hall", "Rowan", "double horn", NOW
    )
    assert found.little
    assert found.in_words() == ["leave the slides where they are"]


def test_without_a_temperature_or_a_reading_it_says_what_is_missing(tmp_path):
    with pytest.raises(InputError, match="no temperature is known near"):
        standing(season(tmp_path, [reading(6)], WARMING[:3]), "hall", "Rowan", "double horn", NOW)
    with pytest.raises(InputError, match="neither a reading nor a slide position"):
        standing(season(tmp_path, [], WARMING), "hall", "Rowan", "double horn", NOW)
