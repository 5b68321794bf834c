"""A covariate that fades in the first minutes is another start, and is not taken for a shift."""

import numpy as np
import pandas as pd
import pytest

from drift.findings import Finding
from drift.regression.covariates import Covariate
from drift.regression.fits import fit
from drift.regression.notices import NoticeKind
from drift.regression.other_starts import other_starts
from tests.two_beginnings import two_beginnings


def another_start(found):
    return [one for one in found.warnings if one.kind == "another_start"]


@pytest.fixture(scope="module")
def shifted():
    return fit(two_beginnings(2), covariates=["routine"])


@pytest.mark.slow
def test_a_routine_that_warms_before_the_first_note_is_called_another_start(shifted):
    (warned,) = another_start(shifted)
    assert warned.values["covariate"] == "routine"
    assert 3.0 < warned.values["cents"] < 9.0
    assert "routine[warm air] does otherwise in the first 5 minutes" in str(warned)
    assert str(warned) in shifted.summary()


@pytest.mark.parametrize("seed", [31, 33])
def test_a_start_that_is_a_quarter_of_the_way_to_warm_is_told(seed):
    """As of a mouthpiece warmed beforehand: its rise was too low by a cent or two, unsaid."""
    (warned,) = another_start(fit(two_beginnings(seed, 0.25, players=10), covariates=["routine"]))
    assert 1.0 < warned.values["cents"] < 4.0


def test_a_course_that_goes_with_the_air_is_not_a_start():
    """Rehearsals in the cold have another course where the model's is wrong in it."""
    rows = two_beginnings(7, begun=0.0, rehearsals=12).assign(weight=1.0)
    room = rows.groupby("rehearsal")["celsius"].transform("mean")
    rows = rows.assign(heated=(room < 20.0).astype(float))
    first = np.exp(-rows["playing_minutes"] / 5.0)
    scatter = np.random.default_rng(7).normal(0.0, 2.5, len(rows))
    bent = rows.assign(residual=0.4 * (20.0 - rows["celsius"]) * first + scatter)
    assert not other_starts(bent, [Covariate("heated")])
    begun = bent.assign(residual=bent["residual"] + 6.0 * rows["heated"] * first)
    assert other_starts(begun, [Covariate("heated")])


@pytest.mark.slow
def test_players_who_began_in_different_ways_are_not_exchanged(shifted):
    alone = fit(two_beginnings(2))  # nothing says that they began in different ways
    assert any(one.kind is NoticeKind.NAMES for one in alone.notices)
    assert not any(one.kind is NoticeKind.NAMES for one in shifted.notices)


def test_a_number_goes_by_the_sign_of_its_deviation():
    rows = two_beginnings(3)
    rows = rows.assign(breath=np.where(rows["routine"] == "cold", 5.0, -2.0))
    (warned,) = another_start(fit(rows, covariates=["breath"]))
    assert warned.values["cents"] < 0.0
    assert "cents less than later)" in str(warned)


def test_a_shift_of_the_whole_rehearsal_is_one():
    rows = two_beginnings(4, begun=0.0)
    more = 8.0 * (rows["routine"] == "warm air")
    changed = rows.assign(reference_cents=rows["reference_cents"] + more)
    assert not another_start(fit(changed, covariates=["routine"]))


def test_what_changes_within_a_rehearsal_is_not_compared():
    rows = two_beginnings(5)
    early = rows["playing_minutes"] < 5.0
    muted = rows.assign(mute=np.where(early & (rows["routine"] == "warm air"), "in", "out"))
    assert not another_start(fit(muted, covariates=["mute"]))


def test_few_readings_are_not_compared():
    rows = two_beginnings(6, players=2, rehearsals=2)
    assert not another_start(fit(rows, covariates=["routine"]))
    late = rows[rows["playing_minutes"] > 5.0]
    assert not another_start(fit(late, covariates=["routine"]))


def test_a_warning_is_a_sentence_and_what_is_not_of_a_fit_code_and_numbers():
    assert str(Finding("bad_draws", {"pareto_k": 0.738})).startswith("the draws follow")
    assert str(Finding("something", {"mm": 3})) == "Finding(kind='something', values={'mm': 3})"
    assert str(pd.Series([Finding("one_rehearsal_assumed")])[0]).startswith("only one rehearsal")
