"""A player with two instruments in one rehearsal: each has a warm-up of its own."""

from __future__ import annotations

from itertools import pairwise

import pandas as pd
import pytest

from drift.pairing.playing import playing_at, playing_before


def at(minute: float) -> pd.Timestamp:
    return pd.Timestamp("2026-10-03T17:00Z") + pd.Timedelta(minutes=minute)


def events(*what: tuple[float, str], player: str = "", warm: float | None = None) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {
                "time": at(minute),
                "rehearsal": "a",
                "player": player,
                "event": event,
                "already_warm": minute == warm,
            }
            for minute, event in what
        ],
        columns=["time", "rehearsal", "player", "event", "already_warm"],
    )


def readings(*what: tuple[float, str], player: str = "Wren") -> pd.DataFrame:
    rows = [
        {"time": at(minute), "rehearsal": "a", "player": player, "instrument": name}
        for minute, name in what
    ]
    return pd.DataFrame(rows)


FLUTE, EUPHONIUM = "flute", "euphonium"
EVENING = [(5.0, FLUTE), (35.0, FLUTE), (52.0, EUPHONIUM), (60.0, EUPHONIUM)]
LOGGED = [(0.0, "play"), (40.0, "rest"), (50.0, "play")]


def test_the_second_instrument_comes_cold_out_of_its_case():
    found = playing_before(events(*LOGGED), readings(*EVENING))
    assert found["playing_minutes"].tolist() == [5.0, 35.0, 2.0, 10.0]
    assert found["spells"].tolist() == [(), (), (), ()]


def test_it_cools_while_the_other_one_is_played_again():
    again = [*EVENING, (75.0, FLUTE), (90.0, EUPHONIUM)]
    found = playing_before(events(*LOGGED), readings(*again))
    assert found["spells"].iloc[4] == (40.0, 34.0)  # taken up a minute before it was read
    assert found["minutes_into_spell"].iloc[4] == 1.0
    assert found["spells"].iloc[5] == (24.0, 15.0)
    assert found["playing_minutes"].iloc[5] == 25.0


def test_one_that_is_said_to_be_warm_is_warm():
    found = playing_before(events(*LOGGED, warm=50.0), readings(*EVENING))
    assert found["initial_warmth"].tolist() == [0.0, 0.0, 1.0, 1.0]
    first = playing_before(events(*LOGGED, warm=0.0), readings(*EVENING))
    assert first["initial_warmth"].tolist() == [1.0, 1.0, 0.0, 0.0]


@pytest.mark.parametrize("logged", [[], [(0.0, "start")]])
def test_where_nobody_logged_playing_each_begins_before_its_first_reading(logged):
    found = playing_before(events(*logged), readings(*EVENING))
    assert found["playing_minutes"].tolist() == [1.0, 31.0, 1.0, 9.0]


def test_the_others_of_the_band_are_as_before():
    both = pd.concat([readings(*EVENING), readings((10.0, FLUTE), (60.0, FLUTE), player="Kim")])
    found = playing_before(events(*LOGGED), both.reset_index(drop=True))
    assert found["playing_minutes"].tolist()[4:] == [10.0, 50.0]
    assert found["spells"].iloc[5] == (40.0, 10.0)


@pytest.mark.parametrize("until", [52.0, 60.0])
def test_now_counts_as_the_fit_does(until):
    known = [one for one in EVENING if one[0] < until]
    played, spells, into, warmth = playing_at(
        events(*LOGGED), readings(*known), "Wren", at(until).timestamp() / 60.0, EUPHONIUM
    )
    assert (round(played, 6), spells, warmth) == (until - 50.0, (), 0.0)
    assert round(into, 6) == until - 50.0


def test_times_alternate_however_instruments_change():
    many = [(3.0 * n + 3.0, (FLUTE, EUPHONIUM)[n % 3 == 0]) for n in range(30)]
    found = playing_before(events(*LOGGED, (70.0, "rest"), (80.0, "play")), readings(*many))
    assert (found["playing_minutes"] >= 0.0).all()
    for spells in found["spells"]:
        assert all(minutes >= 0.0 for minutes in spells)
    for name in (FLUTE, EUPHONIUM):
        own = [n for n, (_, which) in enumerate(many) if which == name]
        played = found["playing_minutes"].iloc[own].tolist()
        assert all(later >= sooner for sooner, later in pairwise(played))


def test_an_instrument_that_was_read_before_any_playing_was_logged_has_not_played():
    found = playing_before(events((50.0, "play")), readings((5.0, FLUTE), (52.0, EUPHONIUM)))
    assert found["playing_minutes"].tolist() == [0.0, 2.0]  # the first is left out, as of anybody
    assert found["began"].iloc[0] == found["began"].iloc[1]
