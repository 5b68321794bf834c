"""Elapsed playing time, honestly: rests, late players, logs that start in the middle."""

import numpy as np
import pandas as pd
import pytest

from drift.pairing.playing import playing_at, playing_before

START = pd.Timestamp("2026-10-03T18:00Z")


def events(*rows):
    """Rows of (minute, player, event) or (minute, player, event, already_warm)."""
    filled = [(*row, False)[:4] for row in rows]
    return pd.DataFrame(
        {
            "time": [START + pd.Timedelta(minutes=row[0]) for row in filled],
            "rehearsal": "hall",
            "player": [row[1] for row in filled],
            "event": [row[2] for row in filled],
            "already_warm": [row[3] for row in filled],
        }
    ).astype({"time": "datetime64[us, UTC]", "player": "str", "event": "str"})


def table_of(*readings):
    """Readings of (minute, player)."""
    return pd.DataFrame(
        {
            "time": [START + pd.Timedelta(minutes=minute) for minute, _ in readings],
            "rehearsal": "hall",
            "player": [player for _, player in readings],
        }
    )


def played(log, *readings):
    """Playing minutes and spells at readings of (minute, player)."""
    found = playing_before(log, table_of(*readings))
    return list(zip(found["playing_minutes"], found["spells"], strict=True))


def test_rests_are_left_out():
    log = events((0, "", "play"), (20, "", "rest"), (30, "", "play"))
    assert played(log, (10, "a"), (25, "a"), (40, "a")) == [
        (10.0, ()),
        (20.0, (20.0,)),
        (30.0, (20.0, 10.0)),
    ]


def test_without_events_playing_began_a_minute_before_each_players_first_reading():
    assert played(events(), (10, "a"), (14, "a"), (30, "b")) == [(1, ()), (5, ()), (1, ())]


def test_evenings_without_events_are_counted_day_by_day_among_others_that_have_some():
    random = np.random.default_rng(4)
    count = 60
    table = pd.DataFrame(
        {
            "time": START + pd.to_timedelta(random.integers(0, 9000, count), unit="s"),
            "rehearsal": random.choice(["hall", "shed", "tent"], count),
            "player": random.choice(["a", "b", "c"], count),
        }
    ).astype({"time": "datetime64[us, UTC]", "rehearsal": "str", "player": "str"})
    found = playing_before(events((0, "", "play")), table)
    for row, reading in table[table["rehearsal"] != "hall"].iterrows():
        mine = (table["rehearsal"] == reading["rehearsal"]) & (table["player"] == reading["player"])
        minute = reading["time"].value / 60e9
        minutes, spells, into, warm = playing_at(events(), table[mine], reading["player"], minute)
        here = found.loc[row, ["playing_minutes", "spells", "minutes_into_spell", "initial_warmth"]]
        assert here.tolist() == [minutes, spells, into, warm]
        assert found.loc[row, "began"] == minute - minutes


def test_a_log_that_starts_in_the_middle_with_a_rest():
    log = events((20, "", "rest"), (30, "", "play"))
    assert played(log, (11, "a"), (35, "a")) == [(1.0, ()), (15.0, (10.0, 10.0))]


def test_an_unended_rest_is_over_when_the_player_reads_again():
    log = events((0, "", "play"), (20, "", "rest"))
    assert played(log, (10, "a"), (41, "a"), (45, "a"), (50, "b")) == [
        (10.0, ()),
        (21.0, (20.0, 20.0)),
        (25.0, (20.0, 20.0)),
        (21.0, (20.0, 29.0)),
    ]


def test_a_rest_after_a_reading_counts_though_play_was_forgotten():
    log = events((0, "", "play"), (20, "", "rest"), (32, "", "rest"), (60, "a", "rest"))
    assert played(log, (30, "a"), (70, "a"), (70, "b")) == [
        (21.0, (20.0, 9.0)),
        (24.0, (20.0, 9.0, 3.0, 37.0)),
        (21.0, (20.0, 49.0)),  # who was not read between rested on
    ]
    resting = playing_at(log, table_of((30, "a")), "a", float(START.value / 60e9) + 65.0)
    assert resting[:3] == (23.0, (20.0, 9.0, 3.0), 33.0)


def test_the_end_is_a_rest_though_play_was_forgotten():
    log = events((0, "", "play"), (20, "", "rest"), (40, "", "end"), (50, "", "play"))
    assert played(log, (30, "a"), (55, "a")) == [
        (21.0, (20.0, 9.0)),
        (36.0, (20.0, 9.0, 11.0, 10.0)),
    ]


def test_who_arrives_late_begins_then():
    for word in ("play", "start"):
        log = events((0, "", "play"), (25, "late", word))
        assert played(log, (30, "a"), (30, "late")) == [(30.0, ()), (5.0, ())]


def test_a_rest_of_ones_own():
    log = events((0, "", "play"), (10, "a", "rest"), (20, "a", "play"))
    assert played(log, (30, "a"), (30, "b")) == [(20.0, (10.0, 10.0)), (30.0, ())]


def test_before_playing_began_nothing_was_played():
    assert played(events((10, "", "play")), (5, "a")) == [(0.0, ())]


def test_an_instrument_that_was_warm_already():
    log = events((0, "", "play", True))
    table = pd.DataFrame({"time": [START], "rehearsal": "hall", "player": "a"})
    assert playing_before(log, table)["initial_warmth"].tolist() == [1.0]


def test_end_is_a_rest_and_start_is_nothing():
    log = events((-5, "", "start"), (0, "", "play"), (30, "", "end"), (40, "", "start"),
                 (45, "", "play"))  # fmt: skip
    assert played(log, (50, "a")) == [(35.0, (30.0, 15.0))]


def test_repeated_words_change_nothing():
    log = events((0, "", "play"), (5, "", "play"), (10, "", "rest"), (12, "", "rest"),
                 (20, "", "play"))  # fmt: skip
    assert played(log, (30, "a")) == [(20.0, (10.0, 10.0))]


@pytest.mark.parametrize("minute", [3.0, 12.0, 26.0])
def test_the_state_now_agrees_with_the_state_at_a_reading(minute):
    log = events((0, "", "play"), (10, "", "rest"), (20, "", "play"))
    readings = pd.DataFrame(
        {"time": [START + pd.Timedelta(minutes=minute)], "rehearsal": "hall", "player": "a"}
    )
    at_reading = playing_before(log, readings).iloc[0]
    now = playing_at(log, readings, "a", START.timestamp() / 60 + minute)
    assert now[0] == pytest.approx(at_reading["playing_minutes"])
    assert now[1] == pytest.approx(at_reading["spells"])
