"""One place that answers: each thing is computed once, and a change is computed once more."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

import drift.study
from drift.errors import InputError, InstrumentError
from drift.gig.timetable import Entry, Schedule
from drift.gig.weather import constant_forecast
from drift.logbook.book import Logbook
from drift.logbook.records import Event, Reading, Temperature
from drift.regression.priors import Priors
from drift.study import Study
from drift.words.fit import warning_text

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def at(minutes, week=0):
    return START + timedelta(minutes=minutes, weeks=week)


def an_evening(week, readings=8):
    """Records of a rehearsal whose air warms by 4 °C; the last reading comes after 40 minutes."""
    name = f"week {week}"
    yield Event(at(0, week), name, "", "play")
    yield Event(at(0, week), name, "Rowan", "slide", slide="main", position_mm=12.0)
    for minute in range(0, 61, 5):
        yield Temperature(at(minute, week), name, 18.0 + week + minute / 15, source="hall")
    for number in range(readings):
        when = at(5 + 5 * number, week)
        yield Reading(when, name, "Rowan", "double horn", "F", "F4", float(number + week))


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "band.logbook"
    with Logbook(path, writer="the test") as opened:
        opened.keep_all([record for week in range(3) for record in an_evening(week)])
    return path


@pytest.fixture
def calls(monkeypatch):
    """How often the layers below were asked."""
    counted = Counter()
    for name in ("load", "pair", "fit"):
        real = getattr(drift.study, name)

        def counting(*given, _name=name, _real=real, **options):
            counted[_name] += 1
            return _real(*given, **options)

        monkeypatch.setattr(drift.study, name, counting)
    return counted


def ask_everything(study):
    study.fit.summary()
    study.correction("double horn", 30.0)
    study.positions("double horn")
    schedule = Schedule((Entry(at(0), at(60), "play"),))
    study.plans(constant_forecast(8.0, at(0), at(60)), _sections(study), schedule)
    study.report()
    study.check()


def _sections(study):
    from drift.gig.roster import Section

    horn = study.instrument("double horn")
    return [Section(horn.name, horn, slides=tuple(slide.name for slide in horn.slides))]


def write(path, *records):
    with Logbook(path, writer="the test") as opened:
        opened.keep_all(records)


def test_every_answer_comes_from_one_pairing_and_one_fit(book, calls):
    study = Study.open(book)
    ask_everything(study)
    ask_everything(study)
    assert calls == {"load": 1, "pair": 1, "fit": 1}


@pytest.mark.slow
def test_a_book_that_did_not_change_is_the_same_study(book, calls):
    study = Study.open(book)
    ask_everything(study)
    assert study.refreshed() is study
    assert calls["fit"] == 1


@pytest.mark.slow
def test_one_change_of_the_book_means_one_refit(book, calls):
    study = Study.open(book)
    ask_everything(study)
    write(book, Reading(at(50, 2), "week 2", "Rowan", "double horn", "F", "F4", 6.0))
    after = study.refreshed()
    ask_everything(after)
    assert calls == {"load": 2, "pair": 2, "fit": 2}
    assert len(after.paired) == len(study.paired) + 1
    assert after.fit is not study.fit


@pytest.mark.slow
def test_a_change_that_no_reading_feels_means_no_refit(book, calls):
    study = Study.open(book)
    ask_everything(study)
    write(book, Event(at(70, 2), "week 2", "", "remark", remark="windows open"))
    after = study.refreshed()
    assert after is not study
    ask_everything(after)
    assert after.fit is study.fit
    assert calls["fit"] == 1


def test_a_live_evening_needs_one_fit(book, calls):
    """Pitch now rests on the rehearsals before: tonight's readings do not change their fit."""
    study = Study.open(book)
    for minute in (50, 55, 60):
        write(book, Reading(at(minute, 2), "week 2", "Rowan", "double horn", "F", "F4", 6.0))
        study = study.refreshed()
        study.now("week 2", "Rowan", "double horn", at(minute, 2))
    assert calls["fit"] == 1
    assert set(study.before("week 2").rows["rehearsal"]) == {"week 0", "week 1"}
    assert len(study.before("week 0").rows) == 0  # acoustics alone


def test_acoustics_answer_before_anything_was_logged():
    for word in ("acoustics", "physics"):
        study = Study.open(word)
        assert len(study.fit.rows) == 0
        assert study.refreshed() is study
        assert study.correction("Bb trumpet", 33.0).expected_cents[""].estimate > 10.0
        with pytest.raises(InstrumentError, match="no instrument was named"):
            study.instrument()


def test_the_only_instrument_and_the_only_player_need_no_name(book):
    study = Study.open(book)
    assert study.instrument().name == "double horn"
    assert study.correction(None, 30.0).at == {"main": 12.0}
    assert study.correction(None, 30.0, player="").at == {}
    with pytest.raises(InputError, match="there is no player 'Ada'"):
        study.correction("double horn", 30.0, player="Ada")


def test_an_unknown_rehearsal_has_all_others_before_it(book):
    assert Study.open(book).before("next week").rehearsals == 3


@pytest.fixture
def two(book):
    """The study of two players: Ada's horn drifts twice as much as Rowan's."""
    ada = [
        replace(record, player="Ada", cents=2.0 * record.cents + 3.0)
        for week in range(3)
        for record in an_evening(week)
        if isinstance(record, Reading)
    ]
    write(book, *ada)
    return Study.open(book)


@pytest.mark.slow
def test_each_player_has_an_answer_of_their_own(two):
    study = two
    of = {who: study.correction("double horn", 30.0, player=who) for who in ("Rowan", "Ada")}
    rowan, other = (of[who].expected_cents["F"].estimate for who in ("Rowan", "Ada"))
    assert other > rowan
    assert (
        study.positions("double horn", player="Ada").corrections[6].expected_cents["F"]
        == (of["Ada"].expected_cents["F"])
    )


@pytest.mark.slow
def test_a_report_of_one_player_knows_what_everybody_teaches(two, calls):
    """It is the fit of all, seen for one: the correction is the same, and nobody else is named."""
    evidence = two.report(player="Ada")
    assert calls["fit"] == 1
    assert set(evidence.fit.rows["player"]) == {"Ada"}
    assert [kind.readings for kind in evidence.fit.kinds.values()] == [24]
    expected = two.correction("double horn", 30.0, player="Ada").expected_cents["F"]
    assert evidence.fit.change("double horn", celsius=30.0) == expected
    assert evidence.tables[0].corrections[6].expected_cents["F"] == expected
    assert not any("Rowan" in warning_text(text) for text in evidence.fit.warnings)


@pytest.mark.slow
def test_nobody_named_is_a_player_who_was_not_read(two):
    """Two players: the answer for neither of them is wider than that for each."""
    nobody, ada = (
        two.correction("double horn", 30.0, player=who).expected_cents["F"] for who in (None, "Ada")
    )
    assert nobody == two.fit.change("double horn", celsius=30.0, player="new")
    assert nobody.high - nobody.low > ada.high - ada.low


def test_the_slides_of_a_player_follow_the_line_through_that_players_readings(two):
    study = Study(two.rehearsals, fitting={"method": "least-squares"})
    ada, rowan = (
        study.correction("double horn", 33.0, player=who).expected_cents["F"]
        for who in ("Ada", "Rowan")
    )
    assert ada == study.only("Ada").fit.change("double horn", celsius=33.0)
    assert ada.estimate == pytest.approx(2.0 * rowan.estimate, rel=1e-6)
    mine, other = (
        study.positions("double horn", player=who).corrections[6].expected_cents["F"].estimate
        for who in ("Ada", "Rowan")
    )
    assert mine == pytest.approx(2.0 * other, rel=1e-6)


def test_a_line_of_all_players_is_no_answer_for_one(two):
    lines = Study(two.rehearsals, fitting={"method": "least-squares"}).fit
    assert lines.change("double horn", celsius=30.0).estimate > 0.0
    with pytest.raises(InputError, match="one line for all 2 players"):
        lines.change("double horn", celsius=30.0, player="Ada")


def test_a_line_of_one_player_is_through_that_players_readings(two):
    study = Study(two.rehearsals, fitting={"method": "least-squares"})
    assert len(study.only("Ada").fit.rows) == 24
    with pytest.raises(InputError, match="there are no readings of 'Ida'"):
        study.fit.only("Ida")


@pytest.mark.slow
@pytest.mark.parametrize("kind", [str, Path])
def test_priors_are_read_from_a_file_by_its_name(book, tmp_path, kind):
    (tmp_path / "my.toml").write_text("day_sd = 9.0\n", "utf-8")
    study = Study.open(book, priors=kind(tmp_path / "my.toml"))
    assert study.fit.settings.priors == Priors(day_sd=9.0)


def test_a_comparison_is_made_as_the_fit_is(book, monkeypatch):
    """With the same covariates, formula, priors and start, as far as a method takes them."""
    taken = {}
    for name in ("compare", "compare_shapes"):
        monkeypatch.setattr(
            f"drift.study.{name}", lambda paired, name=name, **given: taken.update({name: given})
        )
    priors = Priors(day_sd=9.0)
    study = Study.open(book, method="mixed", covariates=["humidity"], priors=priors)
    _ = study.comparison, study.shapes
    beside = {"covariates": ["humidity"], "catalogue": study.catalogue}
    assert taken["compare"] == beside | {"priors": priors}
    assert taken["compare_shapes"] == beside
