"""A fit in which a slide that moved unlogged, or another instrument, bends nothing."""

import numpy as np
import pytest

import drift
from drift.regression.notices import NoticeKind
from drift.regression.notices.apart import fitted_apart, readings_of
from drift.words.fit import warning_text
from tests.spoilt_seasons import FAULTS, clean, name_of

SEED = (31, 3)


def spoilt(fault, size):
    made = clean(SEED)
    FAULTS[fault][0](made, size)
    return made, drift.fit(drift.pair(drift.load(made.tables())))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("fault", "size", "kind"),
    [("slide 12 mm", 20.0, NoticeKind.SLIDE), ("swap, common 12", 20.0, NoticeKind.SWAP)],
)
def test_what_was_noticed_is_fitted_apart_and_said(fault, size, kind):
    made, found = spoilt(fault, size)
    again = fitted_apart(found)
    assert found.notices[0].kind is kind
    assert again.notices == ()
    (said,) = (one for one in again.warnings if one.kind == "fitted_apart")
    assert said.values["rehearsals"][0] == name_of(made.middle)
    assert f"{said.values['count']} readings of {found.notices[0].player}" in warning_text(said)
    assert len(again.rows) == len(found.rows)


@pytest.mark.slow
def test_a_slide_bends_the_player_less_where_it_is_fitted_apart():
    unspoilt = drift.fit(drift.pair(drift.load(clean(SEED).tables())))
    _, found = spoilt("slide 12 mm", 30.0)
    again, player = fitted_apart(found), found.notices[0].player

    def off(fit):
        at = [fit.change(celsius=celsius, player=player).estimate for celsius in (5.0, 33.0)]
        meant = [unspoilt.change(celsius=one, player=player).estimate for one in (5.0, 33.0)]
        return float(np.abs(np.subtract(at, meant)).mean())

    assert off(again) < 0.6 * off(found)
    assert again.reading_sd_cents < found.reading_sd_cents


@pytest.mark.slow
def test_a_slide_is_about_the_readings_after_it_alone():
    made, found = spoilt("slide 12 mm", 20.0)
    (one, *_) = found.notices
    here = found.rows[readings_of(one, found.rows)]
    assert set(here["player"]) == {one.player}
    assert set(here["rehearsal"]) == {name_of(made.middle)}
    assert len(here) == one.last - one.first + 1
    assert here["time"].min() == found.rows["time"].iloc[one.row]


def test_a_clean_season_is_not_fitted_again():
    found = drift.fit(drift.pair(drift.load(clean(SEED).tables())))
    assert fitted_apart(found) is found
