"""An instrument in words and JSON."""

import json
import math

import pytest

from drift.instruments import Catalogue, find
from drift.instruments.answer import to_json
from drift.words.instruments import described, listed


def test_the_list_names_every_instrument_once():
    lines = [line[2:].split("  ")[0] for line in listed(Catalogue.shipped()).splitlines()]
    for instrument in Catalogue.shipped():
        assert lines.count(instrument.replace("Bb", "B♭").replace("Eb", "E♭")) == 1


def test_a_horn_is_told_in_full():
    text = described(find("double horn"))
    assert "F side: 3.940 m at 20 °C" in text
    assert "main: -1.17 cents/mm on the B♭ side (10 cents take 8.5 mm)" in text
    assert "sounding F4 is written C5" in text
    assert "1+2 +10.6" in text
    assert "differs between models" in text


def test_bars_are_told_with_their_range():
    assert "-0.18 cents/°C (-0.21 to -0.15)" in described(find("glockenspiel"))


def test_wood_comes_with_a_caution():
    assert "Wood: cold and sudden changes can crack it" in described(find("oboe"))
    assert "Wood" not in described(find("flute"))


@pytest.mark.parametrize("name", list(Catalogue.shipped()))
def test_json_holds_numbers_with_units_and_sources(name):
    answer = json.loads(json.dumps(to_json(find(name)), allow_nan=False))
    assert answer["name"] == name
    for slide in answer["slides"]:
        assert all(slope < 0 for slope in slide["cents_per_mm"].values())
        assert slide["source"]
    for side in answer["sides"]:
        assert math.isfinite(side["length_m"])
