"""Columns of one's own beside the readings, for each reading or for each player."""

import json

import pandas as pd
import pytest

from drift import fit, load, pair, shipped
from drift.cli import main
from drift.errors import InputError
from drift.pairing.beside import with_columns

FOLDER = shipped.folder("datasets/cold-hall-season")


@pytest.fixture(scope="module")
def season():
    return load(FOLDER)


@pytest.fixture(scope="module")
def paired(season):
    return pair(season).frame


def test_a_column_for_each_player(season, paired):
    ages = pd.DataFrame({"player": ["Rowan", "Isolde"], "age": [31, 44]})
    found = pair(season, beside=ages).frame
    pd.testing.assert_frame_equal(found.drop(columns="age"), paired)
    assert set(found.loc[found["player"] == "Isolde", "age"]) == {44}


@pytest.mark.parametrize("suffix", ["csv", "parquet"])
def test_a_column_for_each_reading_from_a_file(season, paired, tmp_path, suffix):
    """Every third reading with the mute, from a file in any order."""
    mutes = paired[["time", "player", "note"]].assign(
        mute=["straight" if number % 3 == 0 else "none" for number in range(len(paired))]
    )
    file = tmp_path / f"mutes.{suffix}"
    mixed = mutes.sample(frac=1.0, random_state=1)
    getattr(mixed, f"to_{suffix}")(file, index=False)
    found = pair(season, beside=file).frame
    assert found["mute"].tolist() == mutes["mute"].tolist()


def test_an_instrument_with_one_side_is_found_where_the_file_leaves_the_side_empty(
    season, paired, tmp_path
):
    keys = ["time", "player", "side", "note"]
    readings = season.readings[keys].drop_duplicates(keys).assign(mute="straight")
    readings.to_csv(tmp_path / "mutes.csv", index=False)
    assert (readings["side"] == "").any()
    found = pair(season, beside=tmp_path / "mutes.csv").frame
    assert (found["mute"] == "straight").all()


def test_readings_no_row_is_about_are_left_out_of_the_fit_and_counted(season, paired):
    few = paired[["time", "player", "note"]].iloc[:200].assign(mute=0.0)
    few.loc[::2, "mute"] = 1.0
    found = fit(pair(season, beside=few), "least-squares", covariates=["mute"])
    assert len(found.rows) == 200
    assert found.left_out[-1].count == len(paired) - 200


@pytest.mark.parametrize(
    ("table", "problem", "remedy"),
    [
        ({"who": ["Rowan"], "age": [31]}, "no column says which readings", "player"),
        ({"player": ["Rowan"]}, "no column beside player", "add one"),
        ({"player": ["Rowan", "Rowan"], "age": [31, 32]}, "two rows are about Rowan", "one row"),
        ({"player": ["Rowan"], "celsius": [20]}, "have a column 'celsius' already", "another"),
        ({"player": ["Nobody"], "age": [31]}, "no row is about any", "spell player"),
        ({"time": ["2026-10-03 19:05"], "age": [31]}, "row 1: the time cannot be read", "offset"),
        ({"time": ["yesterday"], "age": [31]}, "the time cannot be read", "offset"),
    ],
)
def test_a_table_that_cannot_be_put_beside_is_refused(season, table, problem, remedy):
    with pytest.raises(InputError, match=problem) as refusal:
        pair(season, beside=pd.DataFrame(table))
    assert remedy in refusal.value.remedy


def test_a_file_that_is_none_is_refused(season, tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        pair(season, beside=tmp_path / "no.csv")
    (tmp_path / "x.parquet").write_text("player,age\n")
    with pytest.raises(InputError, match="cannot be read") as refusal:
        pair(season, beside=tmp_path / "x.parquet")
    assert "CSV or Parquet" in refusal.value.remedy


def test_a_covariate_of_ones_own_at_the_command_line(tmp_path, paired, capsys):
    file = tmp_path / "mutes.csv"
    mutes = paired[["time", "player", "note"]].copy()
    mutes["mute"] = ["straight" if number % 3 == 0 else "none" for number in range(len(paired))]
    mutes.to_csv(file, index=False)
    words = ["fit", str(FOLDER), "--method", "least-squares", "--json"]
    assert main([*words, "--beside", str(file), "--covariate", "mute"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert "mute[straight]" in answer["instruments"]["double horn"]["covariates"]
    assert answer["settings"]["beside"] == str(file)
    assert main([*words, "--beside", str(file), "--covariate", "humidty"]) == 1
    err = capsys.readouterr().err
    assert "no column humidty" in err
    assert "did you mean humidity? there are time, rehearsal" in err
    assert "mute" in err.partition("there are")[2]


def test_times_across_a_change_of_the_clock_are_those_of_the_readings(season, paired):
    """Written as a logger in Berlin has them: +01:00 in winter, +02:00 in summer."""
    berlin = paired["time"].dt.tz_convert("Europe/Berlin")
    texts = [one.isoformat() for one in berlin]
    texts[0] = (berlin[0].tz_convert("+05:00")).isoformat()
    table = pd.DataFrame({"time": texts, "player": paired["player"], "note": paired["note"]})
    table["number"] = range(len(table))
    assert pair(season, beside=table).frame["number"].tolist() == table["number"].tolist()


def test_several_tables_are_put_beside_one_after_the_other(season, paired, tmp_path, capsys):
    mutes = paired[["time", "player", "note"]].assign(muted=[n % 2 for n in range(len(paired))])
    crowds = pd.DataFrame({"rehearsal": paired["rehearsal"].unique()})
    crowds["crowd"] = range(len(crowds))
    found = pair(season, beside=[mutes, crowds]).frame
    assert {"muted", "crowd"} <= set(found)
    files = [tmp_path / "mutes.csv", tmp_path / "crowds.csv"]
    for table, file in zip((mutes, crowds), files, strict=True):
        table.to_csv(file, index=False)
    words = ["fit", str(FOLDER), "--method", "least-squares", "--json", "--covariate", "muted"]
    words += ["--covariate", "crowd", "--beside", str(files[0]), "--beside", str(files[1])]
    assert main(words) == 0
    answer = json.loads(capsys.readouterr().out)
    assert {"muted", "crowd"} <= set(answer["instruments"]["double horn"]["covariates"])
    assert answer["settings"]["beside"] == f"{files[0]}, {files[1]}"


def test_players_that_are_numbers_in_the_table_beside_are_those_of_that_name(paired, tmp_path):
    """A CSV file knows no text: pandas reads 7 as a number."""
    numbered = paired.assign(player=paired["player"].map({"Rowan": "7", "Isolde": "25"}))
    ages = pd.DataFrame({"player": [7, 25], "age": [31, 44]})
    ages.to_csv(tmp_path / "ages.csv", index=False)
    for table in (numbered, numbered.assign(player=numbered["player"].astype(int))):
        for beside in (ages, tmp_path / "ages.csv"):
            found = with_columns(table, beside)
            assert set(found.loc[found["player"] == "25", "age"]) == {44}
            assert len(found) == len(paired)


def test_columns_called_as_readings_may_call_them_say_what_a_row_is_about(paired):
    ours = paired[["time", "player"]].drop_duplicates().assign(age=lambda rows: range(len(rows)))
    theirs = ours.rename(columns={"time": "timestamp", "player": "Musician"})
    pd.testing.assert_frame_equal(with_columns(paired, theirs), with_columns(paired, ours))
    named = ours.drop(columns="time").drop_duplicates("player").assign(horn="old")
    assert (with_columns(paired, named)["horn"] == "old").all()  # a column of one's own


def test_a_time_finer_than_a_microsecond_is_that_of_the_reading(paired):
    ours = paired[["time", "player"]].drop_duplicates().assign(age=1)
    text = ours.assign(time=[one.isoformat(timespec="nanoseconds") for one in ours["time"]])
    early = ours.assign(time=ours["time"].astype("datetime64[ns, UTC]") - pd.Timedelta(1, "ns"))
    for beside in (text, early):
        assert (with_columns(paired, beside)["age"] == 1).all()


def test_how_warm_instruments_began_is_taken_where_a_row_is_about_a_reading(season, paired):
    """In one rehearsal Rowan began a quarter warm, of Isolde nothing is known."""
    first = paired["rehearsal"].iloc[0]
    begun = pd.DataFrame({"rehearsal": first, "player": ["Rowan", "Isolde"]})
    begun = begun.assign(initial_warmth=[0.25, float("nan")])
    found = pair(season, beside=begun).frame
    there = found["rehearsal"] == first
    assert set(found.loc[there & (found["player"] == "Rowan"), "initial_warmth"]) == {0.25}
    assert found.loc[there & (found["player"] == "Isolde"), "initial_warmth"].isna().all()
    pd.testing.assert_frame_equal(found[~there], paired[~there], check_like=True)


def test_how_warm_instruments_began_is_a_number_from_0_to_1(tmp_path, paired, capsys):
    file = tmp_path / "begun.csv"
    for given, problem in ((1.5, "initial_warmth is outside 0 to 1"), ("warm", "is not a number")):
        pd.DataFrame({"player": ["Rowan"], "initial_warmth": [given]}).to_csv(file, index=False)
        assert main(["fit", str(FOLDER), "--beside", str(file)]) == 1
        assert problem in capsys.readouterr().err
