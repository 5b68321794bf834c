"""Spoilt seasons are noticed, with their cause and place, and clean ones are left alone.

The seasons are those of `tests.spoilt_seasons`, which shares no code with the search; how often
each fault is noticed is measured by tests/benchmarks/study_notices.py.
"""

import json

import numpy as np
import pandas as pd
import pytest

import drift
from drift.regression.notices import NoticeKind
from drift.regression.notices.faults import SHARE_OF
from drift.words.fit import warning_text
from tests.bands import band_season
from tests.spoilt_seasons import FAULTS, clean, name_of
from tests.two_beginnings import two_beginnings

SEED = (31, 3)


def noticed(fault, size=None, **season):
    made = clean(SEED, **season)
    spoil, usual = FAULTS[fault]
    spoil(made, usual if size is None else size)
    return drift.fit(drift.pair(drift.load(made.tables()))).notices, name_of(made.middle)


def test_a_clean_season_is_left_alone():
    assert noticed("clean")[0] == ()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("fault", "size", "kind"),
    [
        ("slide 12 mm", 20.0, NoticeKind.SLIDE),
        ("day +10", 20.0, NoticeKind.DAY),
        ("swap, common 12", 20.0, NoticeKind.SWAP),
        ("sign, one player", None, NoticeKind.SIGN),
    ],
)
def test_a_large_fault_is_named_first_and_placed(fault, size, kind):
    found, day = noticed(fault, size)
    assert found[0].kind is kind
    assert found[0].rehearsal == day
    assert found[0].player
    assert 0.5 < found[0].share <= 1.0
    assert found[0].times > 2.0


@pytest.mark.slow
def test_one_shift_in_careful_readings_is_told_once():
    rows, truth = band_season(400, 4, 6, 12)
    there = zip(
        rows["player"].map(truth.players), rows["celsius"], rows["playing_minutes"], strict=True
    )
    cents = np.array([truth.change(*one) for one in there])
    cents += np.random.default_rng(400).normal(0.0, 0.3, len(rows))
    cents -= 18.0 * ((rows["player"] == "p001") & (rows["rehearsal"] >= "r003"))
    rows = rows.assign(
        reference_cents=cents, cents=cents, a4_hz=440.0, flagged=False,
        spells=pd.Series([()] * len(rows), dtype=object),
        minutes_into_spell=rows["playing_minutes"],
    )  # fmt: skip
    (found,) = drift.fit(rows).notices
    assert (found.kind, found.player, found.rehearsal) == (NoticeKind.SWAP, "p001", "r003")


@pytest.mark.slow
def test_a_mute_that_the_fit_was_told_of_is_no_fault():
    made = clean(SEED)
    rows = drift.fit(drift.pair(drift.load(made.tables()))).rows
    rows = rows.drop(columns=["drift", "residual"])
    there = (rows["rehearsal"] == name_of(made.middle)) & (rows["player"] == "Ann")
    muted = there & (rows["time"] > rows["time"][there].median())
    assert muted.sum() >= 3
    changed = {name: rows[name] - 25.0 * muted for name in ("cents", "reference_cents")}
    rows = rows.assign(mute=np.where(muted, "straight", "none"), **changed)
    assert drift.fit(rows).notices[0].kind is NoticeKind.SLIDE
    assert drift.fit(rows, covariates=["mute"]).notices == ()


@pytest.mark.parametrize("twice", [False, True])
@pytest.mark.slow
def test_readings_that_are_there_twice_blame_nobody_and_move_no_row(twice):
    made = clean(SEED)
    FAULTS["slide 12 mm"][0](made, 20.0)
    rows = drift.fit(drift.pair(drift.load(made.tables()))).rows
    rows = rows.drop(columns=["drift", "residual"]).sort_values("time", ignore_index=True)
    first = rows[rows["rehearsal"] == name_of(0)]
    rows = pd.concat([first, rows] if twice else [rows], ignore_index=True)
    found = drift.fit(rows)
    (notice,) = found.notices
    assert notice.kind is NoticeKind.SLIDE
    there = found.rows.iloc[notice.row]
    assert (there["rehearsal"], there["player"]) == (notice.rehearsal, notice.player)
    assert there["time"] == notice.since


@pytest.mark.slow
def test_cents_that_are_whole_numbers_are_searched_as_well():
    made = clean(SEED)
    rows = drift.fit(drift.pair(drift.load(made.tables()))).rows
    rows = rows.drop(columns=["drift", "residual"])
    whole = {name: rows[name].round().astype(int) for name in ("cents", "reference_cents")}
    mute = np.where(np.arange(len(rows)) % 2, "straight", "none")
    assert drift.fit(rows.assign(**whole)).notices == ()
    assert drift.fit(rows.assign(mute=mute, **whole), covariates=["mute"]).notices == ()


@pytest.mark.slow
def test_a_day_stands_out_where_days_are_taken_to_be_narrow():
    """It makes days look wide: at the likeliest widths alone it would seem 6 times as likely."""
    made = clean((300, 9), 6, 4, "Bb trumpet", "linear")
    FAULTS["day +10"][0](made, 10.0)
    (first, *_) = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert (first.kind, first.rehearsal) == (NoticeKind.DAY, name_of(made.middle))
    assert first.times > 12.0


@pytest.mark.slow
def test_a_single_reading_under_another_note_is_named_with_the_note_it_was():
    made = clean((33, 7))
    table = made.readings
    lowest = (table["p"] == 1) & (table["note"] == "Bb3")
    table.loc[lowest, "cents"] -= 25.0
    table.loc[table.index[lowest & (table["k"] == made.middle)][0], "note"] = "D4"
    (first, *_) = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert first.kind is NoticeKind.WRONG_NOTE
    assert (first.note, first.other, first.rehearsal) == ("D4", "Bb3", name_of(made.middle))


@pytest.mark.parametrize("flagged", [False, True])
@pytest.mark.slow
def test_a_reading_that_is_flagged_is_not_to_be_checked(flagged):
    made = clean(SEED)
    rows = drift.fit(drift.pair(drift.load(made.tables()))).rows
    rows = rows.drop(columns=["drift", "residual"])
    one = rows.index == rows.index[len(rows) // 2]
    changed = {name: rows[name] + 80.0 * one for name in ("cents", "reference_cents")}
    found = drift.fit(rows.assign(flagged=one & flagged, **changed)).notices
    assert [notice.kind for notice in found] == [NoticeKind.OUTLIER] * (not flagged)


def test_the_shares_of_the_faults_add_up_to_one():
    assert set(SHARE_OF) == set(NoticeKind)
    assert sum(SHARE_OF.values()) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.slow
def test_exchanged_names_are_named_in_most_seasons():
    """Two alike players exchanged for a few readings can look like outliers: not in all."""
    named = 0
    for number in range(1, 5):
        made = clean((32, number))
        FAULTS["names"][0](made, FAULTS["names"][1])
        found = drift.fit(drift.pair(drift.load(made.tables()))).notices
        assert all(notice.kind is NoticeKind.NAMES for notice in found)
        named += any(notice.rehearsal == name_of(made.middle) for notice in found)
    assert named >= 3


@pytest.mark.slow
def test_exchanged_names_are_noticed_though_they_draw_tendencies_together():
    """Columns of tendencies that hold the exchanged readings too showed it a quarter as clearly."""
    made = clean((500, 24), 6, 4, "double horn", "linear")
    FAULTS["names"][0](made, FAULTS["names"][1])
    (first, *_) = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert (first.kind, first.rehearsal) == (NoticeKind.NAMES, name_of(made.middle))


def test_a_slide_says_by_how_much_and_from_which_reading():
    (found, *_), _ = noticed("slide 12 mm", 20.0)
    assert abs(abs(found.size) - 20.0) < 6.0
    assert found.cents * found.size < 0.0
    assert 1 < found.first < found.last


@pytest.mark.slow
def test_another_a4_is_told_in_hertz():
    (found, *_), day = noticed("A4 442")
    assert (found.kind, found.rehearsal, found.player) == (NoticeKind.A4, day, "")
    assert found.size == 442.0
    assert found.cents == pytest.approx(-7.9, abs=1.5)


@pytest.mark.slow
def test_another_a4_of_a_section_is_named_with_its_instrument():
    """Asked about everybody and about one player alone, it bent the section's slope unseen."""
    made = clean((31, 9), 6, 8)
    FAULTS["A4 442, a section"][0](made, 442.0)
    found, *_ = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert (found.kind, found.rehearsal) == (NoticeKind.A4, name_of(made.middle))
    assert (found.instrument, found.player) == ("Bb trumpet", "")
    assert str(found).startswith(f"All B♭ trumpet readings on {found.rehearsal} lie ")


@pytest.mark.slow
def test_another_a4_is_named_though_many_single_readings_are_wrong():
    """Wrong notes are named by the fit one by one; they must not use up the search."""
    made = clean((31, 8), 10, 6)
    FAULTS["A4 442"][0](made, 442.0)
    wrong = np.random.default_rng(5).choice(len(made.readings), 12, replace=False)
    made.readings.loc[made.readings.index[wrong], "cents"] += np.repeat([35.0, -35.0], 6)
    found = drift.fit(drift.pair(drift.load(made.tables()))).notices
    kinds = [one.kind for one in found]
    assert (NoticeKind.A4, name_of(made.middle)) in {(one.kind, one.rehearsal) for one in found}
    assert kinds.count(NoticeKind.OUTLIER) <= 3  # as many as are named here


@pytest.mark.parametrize("number", [1, 2, 3])
@pytest.mark.slow
def test_a_sign_turned_in_every_rehearsal_is_said_first_and_once(number):
    """It is no player who watches the tuner, though that player drifts less than expected."""
    made = clean((41, number), 6, 4)
    made.readings.loc[made.readings["p"] == 1, "cents"] *= -1.0
    first, *rest = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert (first.kind, first.rehearsal) == (NoticeKind.SIGN, "")
    assert first.player == made.readings.loc[made.readings["p"] == 1, "player"].iloc[0]
    assert not {NoticeKind.SIGN, NoticeKind.WATCHES} & {one.kind for one in rest}
    assert len(rest) <= 1  # a day that the clean season shows as well


@pytest.mark.parametrize(
    ("players", "instrument"),
    [(3, "flute"), (4, "double horn"), *(pytest.param(*more, marks=pytest.mark.slow) for more in
                                         ((1, "flute"), (3, "Bb trumpet"), (12, "")))],
)  # fmt: skip
@pytest.mark.slow
def test_a_band_whose_signs_are_all_turned_is_told_so_and_nothing_else(players, instrument):
    """No reading is out of line with the others, and yet instruments do not fall as they warm."""
    made = clean((48, players), 6, players, instrument)
    assert drift.fit(drift.pair(drift.load(made.tables()))).notices == ()
    made.readings["cents"] *= -1.0
    (found,) = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert (found.kind, found.rehearsal) == (NoticeKind.SIGN, "")
    assert found.player == ("Ann" if players == 1 else "")
    assert found.share > 0.9


@pytest.mark.slow
@pytest.mark.parametrize("number", [51, 52, 53])
def test_an_instrument_whose_signs_are_all_turned_is_named(number):
    made = clean((number, 1), 6, 12)
    assert drift.fit(drift.pair(drift.load(made.tables()))).notices == ()
    made.readings.loc[made.readings["instrument"] == "Bb trumpet", "cents"] *= -1.0
    (found,) = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert (found.kind, found.rehearsal) == (NoticeKind.SIGN, "")
    assert (found.player, found.instrument) == ("", "Bb trumpet")


@pytest.mark.parametrize(
    ("players", "cents"),
    [(4, 30.0), *(pytest.param(*more, marks=pytest.mark.slow) for more in
                  ((4, 20.0), (12, 20.0), (12, 30.0)))],
)  # fmt: skip
def test_names_exchanged_all_day_are_no_two_bad_days(players, cents):
    """Where both lie equally far apart on every note the day's own effect hid the exchange."""
    made = clean((48, players), 6, players)
    FAULTS["names, all day, 12"][0](made, cents)
    (found,) = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert (found.kind, found.rehearsal) == (NoticeKind.NAMES, name_of(made.middle))
    assert found.first == 0  # all of the day


@pytest.mark.parametrize("number", [1, 2, 3])
@pytest.mark.slow
def test_two_bad_days_are_no_exchange(number):
    made = clean((46, number), 6, 4)
    FAULTS["day +10 and -10"][0](made, 25.0)
    found = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert [one.kind for one in found[:2]] == [NoticeKind.DAY, NoticeKind.DAY]


@pytest.mark.slow
@pytest.mark.parametrize("number", [256, 472])
def test_readings_that_are_all_smaller_than_expected_name_no_turned_sign(number):
    """A sign is turned or it is not; one turned by a little less would make all smaller."""
    made = clean((71000, number), 12, 1, "double horn", "linear")
    found = drift.fit(drift.pair(drift.load(made.tables()))).notices
    assert not {NoticeKind.SIGN, NoticeKind.WATCHES} & {one.kind for one in found}


def in_two_rooms(made):
    """Every rehearsal is split: half of the players are in another room at the same time."""
    for table in (tables := made.tables()).values():
        if "player" in table and "cents" in table:
            upstairs = table["player"].isin(made.readings.loc[made.readings["p"] > 1, "player"])
            table["rehearsal"] = table["rehearsal"].where(~upstairs, table["rehearsal"] + " above")
    return tables


@pytest.mark.parametrize("number", [1, 2, 3])
@pytest.mark.slow
def test_another_a4_of_an_evening_in_two_rooms_is_noticed(number):
    """Two rehearsals that are off alike make rehearsals look wide, and hid each other."""
    made = clean((43, number), 8, 4)
    FAULTS["A4 442"][0](made, 442.0)
    tables = in_two_rooms(made)
    above = {
        name: table.assign(rehearsal=table["rehearsal"] + " above")
        for name, table in tables.items() if name in ("temperatures", "events")
    }  # fmt: skip
    for name, table in above.items():
        tables[name] = pd.concat([tables[name], table], ignore_index=True)
    (found, *_) = drift.fit(drift.pair(drift.load(tables))).notices
    day = name_of(made.middle)
    assert (found.kind, found.size) == (NoticeKind.A4, 442.0)
    assert {found.rehearsal, found.other} == {day, f"{day} above"}


def test_one_player_alone_can_be_spoilt_too():
    (found, *_), day = noticed("slide 12 mm", 20.0, players=1)
    assert found.rehearsal == day


def test_too_little_to_tell_is_silent():
    assert noticed("day +10", 20.0, rehearsals=1, players=1)[0] == ()


@pytest.mark.slow
def test_only_the_bayesian_method_looks():
    made = clean(SEED)
    FAULTS["day +10"][0](made, 30.0)
    paired = drift.pair(drift.load(made.tables()))
    assert drift.fit(paired).notices
    assert drift.fit(paired, method="least-squares").notices == ()


@pytest.mark.slow
def test_notices_are_in_the_answer_as_json():
    made = clean(SEED)
    FAULTS["A4 442"][0](made, 442.0)
    answer = drift.fit(drift.pair(drift.load(made.tables()))).to_json()
    (first, *_) = json.loads(json.dumps(answer))["notices"]
    assert (first["kind"], first["size"]) == ("a4", 442.0)


@pytest.mark.slow
def test_the_order_of_the_rows_changes_nothing():
    made = clean(SEED)
    FAULTS["slide 12 mm"][0](made, 20.0)
    rows = drift.pair(drift.load(made.tables())).frame
    first = drift.fit(rows).notices
    other = drift.fit(rows.sample(frac=1.0, random_state=1).reset_index(drop=True)).notices
    assert [(one.kind, one.rehearsal, one.first) for one in first] == [
        (one.kind, one.rehearsal, one.first) for one in other
    ]
    assert first[0].times == pytest.approx(other[0].times, rel=1e-6)


@pytest.mark.slow
def test_more_readings_than_can_be_searched_are_said_and_not_searched(monkeypatch):
    made = clean(SEED)
    FAULTS["day +10"][0](made, 20.0)
    paired = drift.pair(drift.load(made.tables()))
    spoilt = drift.fit(paired)
    assert spoilt.notices
    assert "searched" not in " ".join(map(warning_text, spoilt.warnings))
    for module in ("notices", "warned"):
        monkeypatch.setattr(f"drift.regression.{module}.MOST_READINGS", len(spoilt.rows) - 1)
    again = drift.fit(paired)
    assert again.notices == ()
    assert "other faults were not searched for" in " ".join(map(warning_text, again.warnings))


@pytest.mark.slow
def test_an_estimated_start_is_searched_for_faults_as_the_same_start_stated():
    rows = two_beginnings()
    warmed = rows["routine"] == "warm air"
    unsaid = rows.assign(initial_warmth=np.where(warmed, np.nan, 0.0))
    found = drift.fit(unsaid, start="estimated")
    assert len(found.rows) == len(rows)
    start = found.curve(player=None).entries()["warmth_at_start"].estimate
    stated = drift.fit(rows.assign(initial_warmth=warmed * start))
    assert [str(one) for one in found.notices] == [str(one) for one in stated.notices]
