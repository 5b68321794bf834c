"""Every answer in JSON is what its schema in the package says."""

import json
from importlib.resources import files

import jsonschema
import pandas as pd
import pytest

import drift as package
from drift.instruments import Catalogue
from tests.cli.test_calibrate import WORDS, book, folder  # noqa: F401
from tests.cli.test_gig import FILES, ONE_LINE, rehearsal_folder
from tests.cli.test_listen import take  # noqa: F401

SEASON = package.shipped.folder("datasets/cold-hall-season")
SCHEMAS = files("drift").joinpath("schemas")
HORN = ("--instrument", "double horn")


def schema(name):
    found = json.loads(SCHEMAS.joinpath(f"{name}.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(found)
    return found


def check(name, answer):
    jsonschema.validate(answer, schema(name), jsonschema.Draft202012Validator)


def asked(drift, command, *words):
    status, out, _ = drift(command, *words, "--json")
    assert status == 0
    return json.loads(out)


@pytest.mark.parametrize("entry", sorted(one.name for one in SCHEMAS.iterdir()))
def test_every_schema_is_one_and_says_what_is_stable(entry):
    found = schema(entry.removesuffix(".json"))
    assert "is stable" in found["$comment"]
    assert found["title"]


def one_rehearsal(where):
    """Return a rehearsal folder of one day, in one temperature."""
    rehearsal_folder(where)
    for name in ("readings.csv", "temperatures.csv"):
        table = pd.read_csv(where / name)
        table[table["rehearsal"] == "day 1"].to_csv(where / name, index=False)
    return where


@pytest.mark.slow
@pytest.mark.parametrize("method", ["bayesian", "least-squares", "mixed"])
def test_fit(drift, method):
    check("fit", asked(drift, "fit", SEASON, "--method", method))


@pytest.mark.slow
def test_fit_of_one_player_with_advice(drift):
    answer = asked(drift, "fit", SEASON, "--player", "Rowan", "--advise")
    check("fit", answer)
    assert answer["advice"]["options"]
    assert list(answer["instruments"]) == ["double horn"]


def test_fit_of_nothing_and_of_what_calls_for_warnings(drift, tmp_path):
    check("fit", asked(drift, "fit", "acoustics"))
    answer = asked(drift, "fit", one_rehearsal(tmp_path / "one"))
    check("fit", answer)
    kinds = {warning["kind"] for warning in answer["warnings"]}
    assert {"one_rehearsal_assumed", "narrow_temperatures"} <= kinds


def test_gig(drift):
    answer = asked(drift, "gig", "acoustics", *FILES, "--scenario", "colder=-5")
    check("gig", answer)
    assert answer["settings"]
    assert answer["cautions"]
    assert answer["other_pitches"]
    assert answer["scenarios"]


@pytest.mark.slow
def test_gig_of_readings_beside_what_was_read(drift, tmp_path):
    season = one_rehearsal(tmp_path / "season")
    words = ("--celsius", "20", "--from", "19:00", "--to", "20:30", "--instrument", "trumpets",
             "--date", "2026-09-01", "--zone=+02:00")  # fmt: skip
    answer = asked(drift, "gig", season, *words)
    check("gig", answer)
    assert any(warning.get("of_rehearsals") for warning in answer["warnings"])
    check("gig", asked(drift, "gig", "acoustics", *words, "--compare", season))


def test_a_schema_of_a_plan_refuses_what_is_not_one(drift):
    answer = asked(drift, "gig", "acoustics", *ONE_LINE[1:])
    del answer["settings"][0]["waits"]
    with pytest.raises(jsonschema.ValidationError, match="waits"):
        check("gig", answer)


@pytest.mark.parametrize("instrument", ["double horn", "Bb trumpet", "flute", "vibraphone"])
@pytest.mark.parametrize("celsius", [4, 20, 33])
def test_slides_from_acoustics(drift, instrument, celsius):
    answer = asked(drift, "slides", "acoustics", "--instrument", instrument, "--celsius", celsius)
    check("slides", answer)


def test_slides_with_everything_that_can_be_said(drift):
    words = ("--player", "Rowan", *HORN, "--celsius", 38, "--travel", "main=14", "--stuck", "F")
    answer = asked(drift, "slides", SEASON, *words)
    check("slides", answer)
    kinds = {notice["kind"] for notice in answer["warnings"]}
    assert {"extrapolated", "stuck", "end_of_travel", "remaining_error"} <= kinds


@pytest.mark.slow
def test_the_table_of_positions(drift):
    check("slides", asked(drift, "slides", SEASON, *HORN, "--table"))


def test_calibrate(drift, book):  # noqa: F811
    check("calibrate", asked(drift, "calibrate", book, *WORDS))
    check("calibrate", asked(drift, "calibrate", book, *WORDS, "--undo"))


def test_check(drift, book):  # noqa: F811
    check("check", asked(drift, "check", book))


def test_listen(drift, take):  # noqa: F811
    check("listen", asked(drift, "listen", take))


def test_instruments(drift):
    check("instruments", asked(drift, "instruments"))
    for name in ("double horn", "flute"):
        check("instruments", asked(drift, "instruments", name))
    assert len(asked(drift, "instruments")["instruments"]) == len(Catalogue.shipped())


def test_now():
    from tests.slides.test_player_now import now_with

    for cents in ((), (20.0, 21.0, 19.0), (0.0, 0.0, 0.0)):
        check("now", now_with(*cents).to_json())


def test_a_schema_refuses_what_is_not_an_answer(drift):
    answer = asked(drift, "slides", "acoustics", *HORN, "--celsius", 33)
    del answer["remaining_cents"]
    with pytest.raises(jsonschema.ValidationError, match="remaining_cents"):
        check("slides", answer)
    answer = asked(drift, "slides", "acoustics", *HORN, "--celsius", 33)
    answer["moves"][0]["move_mm"] = 4.0
    with pytest.raises(jsonschema.ValidationError, match="is not of type"):
        check("slides", answer)
