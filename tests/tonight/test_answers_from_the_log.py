"""From rows of the logbook to an answer: what is used, and what is counted as not used."""

from datetime import UTC, datetime, timedelta

from drift.logbook.rehearsals import load
from drift.study import Study
from drift.tonight import NotUsed, Reason
from tests.folders import write
from tests.pairing.test_readings import PLAY, READINGS, TEMPERATURES, reading, sample

BEGIN = datetime(2026, 10, 3, 18, 0, tzinfo=UTC)
AIR = [sample(m, 18 + m / 20) for m in range(0, 61, 5)]


def rehearsals(tmp_path, readings=(), air=AIR, events=PLAY):
    return load(
        write(
            tmp_path / "f",
            readings=READINGS + "".join(readings),
            temperatures=TEMPERATURES + "".join(air),
            events=events,
        )
    )


def now(tmp_path, *given, minute=40, **tables):
    study = Study(rehearsals(tmp_path, *given, **tables))
    return study.now("hall", "Rowan", "double horn", BEGIN + timedelta(minutes=minute))


def test_before_anybody_plays_there_is_an_answer_and_it_asks_for_a_reading(tmp_path):
    found = now(tmp_path, events=PLAY.splitlines(keepends=True)[0], minute=10)
    assert found.pitch.decision.reason is Reason.NO_READING


def test_an_unusual_reading_is_not_used_and_counted(tmp_path):
    found = now(tmp_path, [reading(20), reading(25, 60.0, remark="! mute in")])
    assert found.pitch.readings == 1
    assert found.pitch.not_used == {NotUsed.FLAGGED: 1}


def test_a_typed_temperature_holds_for_half_an_hour_of_readings(tmp_path):
    typed = [sample(10, 21, "typed"), sample(60, 21, "typed")]
    found = now(tmp_path, [reading(35), reading(45)], air=typed, minute=61)
    assert found.pitch.readings == 1
    assert found.pitch.not_used == {NotUsed.NO_TEMPERATURE: 1}
