"""drift summary and drift combine: from logged bands to the expectations of the next one."""

import json
from importlib.resources import files

import jsonschema
import numpy as np
import pytest

from drift.regression.priors import Priors
from drift.words.bands import ABOUT_THE_FILE
from tests.collection import band, rows_of
from tests.many_bands.conftest import make

SCHEMA = json.loads(files("drift").joinpath("schemas", "summary.json").read_text("utf-8"))


@pytest.fixture
def folder(tmp_path):
    """A rehearsal folder of four flutes and two tubas, as people would have logged it."""
    return folder_of(tmp_path / "town-band", 4)


def folder_of(where, flutes, seed=5):
    random = np.random.default_rng([35, seed])
    sections = {
        "flute": band(random, "flute", flutes, 2),
        "BBb tuba": band(random, "BBb tuba", 2, 2),
    }
    rows = rows_of(sections)
    where.mkdir(exist_ok=True)
    stamp = rows["time"].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    cents = rows["reference_cents"].round(1)
    readings = rows.assign(time=stamp, cents=cents)[
        ["time", "rehearsal", "player", "instrument", "note", "cents"]
    ]
    readings = readings.assign(order=rows["time"]).sort_values("order").drop(columns="order")
    readings.to_csv(where / "readings.csv", index=False)
    air = rows.assign(time=stamp, source="stage").sort_values("time")
    air[["time", "rehearsal", "celsius", "source"]].drop_duplicates("time").to_csv(
        where / "temperatures.csv", index=False
    )
    began = rows.groupby("rehearsal")["time"].min().dt.floor("h")
    begins = [f"{time:%Y-%m-%dT%H:%M:%SZ},{name},,play" for name, time in began.items()]
    text = "\n".join(["time,rehearsal,player,event", *begins, ""])
    (where / "events.csv").write_text(text, encoding="utf-8")
    return where


@pytest.mark.slow
def test_the_summary_of_a_folder(drift, folder, tmp_path):
    out = tmp_path / "band.json"
    status, said, _ = drift("summary", folder, "--out", out)
    assert status == 0
    value = json.loads(out.read_text("utf-8"))
    jsonschema.validate(value, SCHEMA, jsonschema.Draft202012Validator)
    assert list(value["instruments"]) == ["flute"]
    assert value["withheld"] == 1
    assert "flute: 3-5 players, 2-4 rehearsals each" in said
    assert "1 instrument is left out" in said
    for sentence in ABOUT_THE_FILE:
        assert sentence in said
    new = f"Your band has a new number, for there was no {folder.name}.bands: "
    assert new in said
    status, again, _ = drift("summary", folder, "--out", out, "--json")
    assert status == 0
    assert json.loads(again) == value  # the band keeps its number
    assert new not in drift("summary", folder, "--out", out)[1]


def test_a_newcomer_is_not_shown_by_a_second_file(drift, folder, tmp_path):
    out = tmp_path / "band.json"
    assert drift("summary", folder, "--out", out)[0] == 0
    before = out.read_text("utf-8")
    table = folder / "readings.csv"
    lines = [line for line in table.read_text("utf-8").splitlines() if "flute p003" not in line]
    table.write_text("\n".join(lines) + "\n", encoding="utf-8")
    status, _, problem = drift("summary", folder, "--out", out)
    assert status == 1
    assert "1 of the flute players changed" in problem
    assert "hand on the file there is" in problem
    assert out.read_text("utf-8") == before


def test_a_source_without_a_section_of_three_is_refused(drift, tmp_path):
    season = "datasets/cold-hall-season"
    status, _, problem = drift("summary", season, "--out", tmp_path / "band.json")
    assert status == 1
    assert "3 players" in problem
    assert not list(tmp_path.iterdir())


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """Files of four bands, one of them twice."""
    where = tmp_path_factory.mktemp("bands")
    summaries = [make(seed, ("flute",), players=4, rehearsals=2) for seed in range(4)]
    names = []
    for number, one in enumerate([*summaries, summaries[0]]):
        one.write(where / f"band-{number}.json")
        names.append(where / f"band-{number}.json")
    return names


@pytest.mark.slow
def test_combining_writes_priors_that_the_fit_takes(drift, written, tmp_path):
    out = tmp_path / "priors.toml"
    status, said, _ = drift("combine", *written, "--out", out)
    assert status == 0
    assert "expectations from 4 bands (4 files)" in said
    assert "flute (4 bands), expected of a new band:" in said
    assert "another file of this band and season" in said
    expected = Priors.read(out).of("flute")
    assert expected.rise_sd < Priors().of("flute").rise_sd
    question = ("--instrument", "flute", "--celsius", 5, "--json")
    usual, taught = (
        json.loads(drift("slides", "acoustics", *question, *more)[1])["expected_cents"][""]
        for more in ((), ("--priors", out))
    )
    assert taught["high"] - taught["low"] < 0.8 * (usual["high"] - usual["low"])


@pytest.mark.slow
def test_a_picture_of_one_quantity(drift, written, tmp_path):
    words = ("combine", *written, "--out", tmp_path / "p.toml", "--plot", tmp_path / "rise.svg")
    assert drift(*words)[0] == 0
    assert "flute: rise when warmed (cents)" in (tmp_path / "rise.svg").read_text("utf-8")
    status, _, problem = drift(*words, "--instrument", "tuba")
    assert status == 1
    assert "there are flute" in problem


def test_combining_in_json(drift, written, tmp_path):
    status, said, _ = drift("combine", *written, "--out", tmp_path / "p.toml", "--json")
    answer = json.loads(said)
    assert status == 0
    assert (answer["bands"], answer["files"]) == (4, 4)
    assert [one["reason"] for one in answer["rejected"]] == ["older_version"]
    rise = next(one for one in answer["quantities"] if one["quantity"] == "rise_cents")
    assert rise["new_band_low"] < rise["mean_low"] < rise["mean"] < rise["new_band_high"]


@pytest.mark.slow
def test_a_fit_takes_the_expectations(drift, written, folder, tmp_path):
    out = tmp_path / "priors.toml"
    drift("combine", *written, "--out", out)
    usual, taught = (
        json.loads(drift("fit", folder, "--json", *more)[1])["instruments"]["flute"]["population"]
        for more in ((), ("--priors", out))
    )
    widths = [one["warm_up_cents"]["high"] - one["warm_up_cents"]["low"] for one in (usual, taught)]
    assert widths[1] < widths[0]


@pytest.mark.parametrize("text", ["", "{}", '{"format": "drift-band-summary"}'])
def test_a_file_that_is_not_a_summary_is_refused(drift, tmp_path, text):
    file = tmp_path / "band.json"
    file.write_text(text, encoding="utf-8")
    status, _, problem = drift("combine", file, "--out", tmp_path / "p.toml")
    assert status == 1
    assert "band.json" in problem
    assert not (tmp_path / "p.toml").exists()
