"""The file of a band: written, read, and what is not one refused."""

import json
from importlib.resources import files

import jsonschema
import pytest

from drift.bands.band_file import BandSummary, problems
from drift.errors import InputError

SCHEMA = json.loads(files("drift").joinpath("schemas", "summary.json").read_text("utf-8"))


def is_valid(value):
    return jsonschema.Draft202012Validator(SCHEMA).is_valid(value)


@pytest.mark.slow
def test_what_is_written_is_read(collection, tmp_path):
    file = tmp_path / "band.json"
    collection[0].write(file)
    again = BandSummary.read(file)
    assert again.to_json() == collection[0].to_json() == json.loads(file.read_text("utf-8"))
    assert is_valid(again.to_json())
    assert not problems(again.to_json())
    assert file.stat().st_size < 2000


SPOILT = {
    "format is not": {"format": "other"},
    "version is not": {"version": 2},
    "season is not": {"season": "spring 2026"},
    "band is not": {"band": "Town Band"},
    "spreads is not": {"spreads": {"information": [1.0], "pull": [0.0] * 6}},
    "withheld is not": {"withheld": True},
    "'players' does not belong there": {"players": ["Ada"]},
    "instruments is not": {"instruments": []},
}


@pytest.mark.parametrize("problem", SPOILT)
def test_what_is_not_a_summary_is_refused_by_reader_and_schema(collection, tmp_path, problem):
    value = collection[1].to_json() | SPOILT[problem]
    assert not is_valid(value)
    file = tmp_path / "band.json"
    file.write_text(json.dumps(value), encoding="utf-8")
    with pytest.raises(InputError, match=problem):
        BandSummary.read(file)


SECTIONS = {
    "players is not": {"players": "4"},
    "celsius is not": {"celsius": [10.5, 20]},
    "readings is not": {"readings": 0},
    "information is not": {"information": [1e9] * 21},
    "'notes' does not belong": {"notes": ["F4"]},
}


@pytest.mark.parametrize("problem", SECTIONS)
def test_a_section_with_something_else_in_it_is_refused(collection, tmp_path, problem):
    value = collection[1].to_json()
    value["instruments"]["flute"] = value["instruments"]["flute"] | SECTIONS[problem]
    assert not is_valid(value)
    assert any(problem in one for one in problems(value))


@pytest.mark.parametrize("missing", ["band", "model", "spreads", "instruments"])
def test_what_is_missing_is_named(collection, missing):
    value = collection[1].to_json()
    del value[missing]
    assert not is_valid(value)
    assert problems(value) == [f"{missing} is missing"]


@pytest.mark.parametrize("text", ["", "[]", "[" * 100_000, '{"band": NaN}', "\x00", '"x"'])
def test_a_file_that_is_something_else_is_refused(tmp_path, text):
    file = tmp_path / "band.json"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"band\.json"):
        BandSummary.read(file)


def test_a_huge_file_is_not_read(tmp_path):
    file = tmp_path / "band.json"
    file.write_text(" " * 300_000, encoding="utf-8")
    with pytest.raises(InputError, match="too large"):
        BandSummary.read(file)
