"""An assumed tuning that readings contradict is named, where slides and cards start from it."""

from datetime import UTC, datetime, timedelta

import pytest

from drift.capture.desk import Desk
from drift.logbook.book import Logbook
from drift.slides.caveats import About
from drift.study import Study
from drift.words import room_card, slide_table
from drift.words.slides import answer

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


@pytest.fixture
def study(tmp_path):
    """Return what makes a study of a clarinet that read so many cents on two evenings."""

    def made(cents, *more):
        with Logbook(tmp_path / f"{cents}.logbook", writer="the test") as book:
            for day in range(2):
                desk, start = Desk(book, f"evening {day}"), START + timedelta(days=day)
                desk.start(start, player="Kim", instrument="Bb clarinet")
                typed = [(0, "play"), (0, "temp 21"), (1, "slide barrel 2.75"), *more]
                typed += [(minute, f"F4 {cents + minute % 3 - 1:+d}") for minute in range(20, 32)]
                typed += [(32, "temp 21")]
                for minute, line in typed:
                    assert desk.enter(line, start + timedelta(minutes=minute)).saved, line
        return Study.open(tmp_path / f"{cents}.logbook")

    return made


def off(found):
    return [each for each in found.notices if each.kind is About.OFF_WHERE_TUNED]


def test_readings_that_contradict_the_assumed_tuning_are_named(study):
    band = study(-14)
    found = band.correction("Bb clarinet", 5.0, player="Kim")
    (notice,) = off(found)
    assert -20.0 < notice.value < -10.0
    line = (
        f"by the readings it is {-notice.value:.0f} flat where it is assumed to be in tune "
        "(barrel 2.75 mm, 20 °C): tune first"
    )
    assert f"note: {line}" in " ".join(answer(found).split())
    line = f"B{line[1:]}."
    table = band.positions("Bb clarinet", player="Kim", celsius=[5.0])
    assert line in slide_table.legend(table)
    assert line in room_card.to_know(table)


def test_readings_in_tune_there_are_not(study):
    assert not off(study(0).correction("Bb clarinet", 5.0, player="Kim"))


@pytest.mark.slow
@pytest.mark.parametrize(
    "given", [{"tuned_celsius": 21.0}, {"tuned_minutes": 20.0}, {"at": {}}], ids=str
)
def test_who_says_where_it_was_tuned_is_believed(study, given):
    assert not off(study(-14).correction("Bb clarinet", 5.0, player="Kim", **given))


def test_a_slide_that_was_moved_in_between_is_taken_into_account(study):
    """Read 14 flat with the barrel out; in by 2 mm it is about right."""
    band = study(-14)
    assert not off(band.correction("Bb clarinet", 5.0, player="Kim", at={"barrel": 0.75}))
