"""What leaves a band: totals of sections of three or more, and never a change of one player."""

import json
import re

import numpy as np
import pandas as pd
import pytest

from drift.bands.reference import NAMES, reference_of
from drift.bands.summaries import fingerprints, next_summary, rows_of_season, seasons_of, summarise
from drift.bands.written import Written
from drift.errors import InputError
from drift.pairing import Paired
from tests.collection import band, rows_of
from tests.many_bands.conftest import band_named


def rows(seed=1, kinds=("flute",), players=4, rehearsals=3):
    random = np.random.default_rng([32, seed])
    return rows_of({kind: band(random, kind, players, rehearsals) for kind in kinds})


def paired(table):
    return Paired(table, ())


def test_the_file_holds_no_name_reading_date_or_note():
    table = rows(kinds=("flute", "BBb tuba"))
    text = json.dumps(summarise(table, band_named(3), "2026").to_json())
    for name in {*table["player"], *table["rehearsal"], "p00", "F4", "Bb3"}:
        assert name not in text
    assert not re.search(r"\d\d:\d\d|2026-", text)
    for value in table["reference_cents"]:
        assert f"{value:.4g}" not in text


def test_the_likelihood_finds_the_truth_of_a_large_section():
    random = np.random.default_rng(8)
    truth = band(random, "flute", 20, 8)
    found = summarise(truth.rows, band_named(1), "2026").sections["flute"]
    mean, covariance = found.likelihood.alone()
    reference = reference_of("flute")
    off = (reference.mean + reference.sd * mean - truth.phi) / (
        reference.sd * np.sqrt(np.diag(covariance))
    )
    assert len(NAMES) == len(off)
    assert np.abs(off).max() < 3.0
    assert (found.players, found.rehearsals) == ("12+", "5+")
    assert found.readings == pytest.approx(len(truth.rows), rel=0.1)


def test_readings_of_a_section_know_more_when_they_are_more():
    few, many = (summarise(rows(players=count), "0", "2026").sections["flute"] for count in (3, 12))
    assert np.trace(many.likelihood.information) > 2 * np.trace(few.likelihood.information)


def test_two_players_are_withheld():
    table = pd.concat([rows(), rows(2, ("BBb tuba",), players=2)])
    found = summarise(table, "0", "2026")
    assert list(found.sections) == ["flute"]
    assert found.withheld == 1
    assert found.to_json()["instruments"].keys() == {"flute"}


def test_a_player_with_most_of_the_readings_is_withheld():
    table = rows(players=3, rehearsals=8)
    one = table["player"] == table["player"].iloc[0]
    scarce = pd.concat([table[one], table[~one].groupby("player").head(5)])
    assert one.sum() > 0.7 * len(scarce)
    with pytest.raises(InputError, match="no section of 2026 has 3 players"):
        summarise(scarce, "0", "2026")


def test_an_instrument_named_by_the_user_never_leaves():
    table = pd.concat([rows(), rows(2).assign(instrument="Anna's whistle")])
    assert "Anna" not in json.dumps(summarise(table, "0", "2026").to_json())
    assert summarise(table, "0", "2026").withheld == 1


def test_spreads_are_those_of_the_sections_shown():
    shown = rows()
    hidden = pd.concat([shown, rows(2, ("BBb tuba",), players=2)])
    one, other = (summarise(table, "0", "2026").spreads for table in (shown, hidden))
    assert (one.information == other.information).all()


def test_a_season_is_the_year_in_which_a_rehearsal_began():
    early = rows()
    late = early.assign(
        rehearsal="late " + early["rehearsal"], time=early["time"] + pd.Timedelta(days=365)
    )
    both = paired(pd.concat([early, late], ignore_index=True))
    assert seasons_of(both) == ("2026", "2027")
    parts = [rows_of_season(both, season) for season in seasons_of(both)]
    assert sum(map(len, parts)) == len(both.frame)
    assert not set(parts[0]["rehearsal"]) & set(parts[1]["rehearsal"])
    assert next_summary(both, Written("0"))[0].season == "2027"
    with pytest.raises(InputError, match="no readings of 2025"):
        rows_of_season(both, "2025")


def test_a_rehearsal_over_new_year_is_in_one_season():
    table = rows(rehearsals=1)
    shift = pd.Timestamp("2026-12-31T23:30Z") - table["time"].min()
    over = table.assign(time=table["time"] + shift)
    assert seasons_of(paired(over)) == ("2026",)


def test_without_times_there_is_no_season():
    with pytest.raises(InputError, match="no times"):
        seasons_of(paired(rows().drop(columns="time")))


# --- written once ---------------------------------------------------------------------------------


def written(*tables):
    record = Written("0")
    for table in tables:
        record = next_summary(paired(table), record)[1]
    return record


def test_the_same_readings_may_be_written_again():
    record = written(rows(), rows())
    assert len(record.seasons["2026"]) == 1


@pytest.mark.parametrize("newcomers", [1, 2])
def test_a_newcomer_or_two_are_not_shown(newcomers):
    table = rows(players=4 + newcomers)
    names = sorted(set(table["player"]))
    before = written(table[table["player"].isin(names[:4])])
    with pytest.raises(InputError, match=f"since then {newcomers} of the flute players changed"):
        next_summary(paired(table), before)


def test_three_newcomers_are():
    table = rows(players=7)
    names = sorted(set(table["player"]))
    before = written(table[table["player"].isin(names[:4])])
    assert next_summary(paired(table), before)[0].sections["flute"].players == "6-11"


def test_another_reading_of_one_player_is_a_change():
    table = rows()
    with pytest.raises(InputError, match="since then 1 of the flute"):
        next_summary(paired(table), written(table.iloc[:-1]))


def test_no_earlier_version_may_differ_by_few_either():
    table = rows(players=7)
    names = sorted(set(table["player"]))
    four, all_seven = table[table["player"].isin(names[:4])], table
    record = written(four, all_seven)
    five = table[table["player"].isin(names[:5])]  # 2 fewer than the last, 1 more than the first
    with pytest.raises(InputError, match="since then 1 of the flute"):
        next_summary(paired(five), record)


def test_another_season_is_free():
    table = rows()
    later = table.assign(time=table["time"] + pd.Timedelta(days=365)).iloc[:-1]
    assert set(written(table, later).seasons) == {"2026", "2027"}


def test_the_record_is_kept_and_holds_no_names(tmp_path):
    record = written(rows())
    file = tmp_path / "town.logbook.bands"
    record.write(file)
    assert Written.read(file, "new") == record
    assert "p00" not in file.read_text("utf-8")
    assert Written.read(tmp_path / "none", "new") == Written("new")


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"format": "drift-band-written"}'])
def test_a_spoilt_record_is_refused(tmp_path, text):
    file = tmp_path / "town.logbook.bands"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="is not the record"):
        Written.read(file, "new")


def test_digests_follow_readings_alone():
    table = rows()
    assert fingerprints(table) == fingerprints(table.sample(frac=1.0, random_state=1))
    other = fingerprints(table.assign(reference_cents=table["reference_cents"] + 0.1))
    assert not set(other["flute"]) & set(fingerprints(table)["flute"])
