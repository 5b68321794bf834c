"""What a millimetre does on real bores: the catalogue beside an independent calculation."""

from pathlib import Path

import pandas as pd
import pytest

from drift.errors import InputError
from drift.instruments import Catalogue
from drift.instruments.catalogue_file import read_catalogue
from drift.instruments.effects import SlideEffect

# openwind 0.12.4 on bores from memory; made by tests/benchmarks/slide_bores.py.
OPENWIND = pd.read_csv(Path(__file__).parents[1] / "data" / "slide_effects_openwind.csv")

CATALOGUE = Catalogue.shipped()

# Harmonics of the tuning notes in the catalogue.
TUNING = [2, 3, 4]


@pytest.mark.parametrize(
    ("bore", "name"), [("trumpet", "Bb trumpet"), ("trombone", "tenor trombone")]
)
def test_brass_lies_within_two_sd_of_an_independent_bore(bore, name):
    effect = CATALOGUE.find(name).slides[0].effect
    found = OPENWIND[(OPENWIND["bore"] == bore) & OPENWIND["harmonic"].isin(TUNING)]["effect"]
    spread = (effect.sd**2 + effect.note_sd**2 / len(TUNING)) ** 0.5
    assert found.mean() == pytest.approx(effect.mean, abs=2.0 * spread)


def test_the_referee_sees_more_spread_from_note_to_note_on_a_trombone():
    spread = OPENWIND.groupby("bore")["effect"].std()
    assert spread["trombone"] > spread["trumpet"]
    trombone, trumpet = (
        CATALOGUE.find(n).slides[0].effect for n in ("tenor trombone", "Bb trumpet")
    )
    assert trombone.note_sd > trumpet.note_sd


def test_every_slide_says_where_its_effect_comes_from():
    for entry in CATALOGUE.values():
        for slide in entry.slides:
            assert slide.effect.source.startswith("computed"), entry.name


def test_the_octave_key_doubles_what_a_mouthpiece_does():
    # Printed in the catalogue's source: Bb3 1.0, Bb4 2.0 over the rule of the same fingering.
    effect = CATALOGUE.find("alto saxophone").slides[0].effect
    assert effect.on(["Bb3"])[0] == 1.0
    assert effect.on(["Bb4"])[0] == 2.0
    assert effect.on(["Bb3", "Bb4"])[0] == 1.5


def test_the_mean_over_notes_is_surer_than_one_note():
    effect = SlideEffect(1.1, 0.1, 0.06)
    assert effect.on() == (1.1, 0.1)
    assert effect.on(["F4"])[1] > effect.on(["F4", "Bb4", "Bb3"])[1] > 0.1


@pytest.mark.parametrize("name", ["oboe", "bassoon"])
def test_no_millimetres_where_no_rule_holds(name):
    assert CATALOGUE.find(name).slides == ()
    assert "cents" in CATALOGUE.find(name).remark


MINE = """
[effects.mine]
mean = {mean}
sd = 0.1
source = "mine"

[[instrument]]
name = "alphorn"
family = "brass"
compass = ["F2", "F5"]
sides = [
  {{ fundamental = "F1" }},
]
slides = [
  {{ name = "joint", effect = "{effect}" }},
]
"""


def test_a_file_of_ones_own_brings_its_own_effect():
    found = read_catalogue(MINE.format(mean=1.3, effect="mine"), "mine.toml", {"medium": {}})
    assert found.instruments["alphorn"].slides[0].effect.mean == 1.3


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"mean": 1.3, "effect": "other"}, "'other' is not one of mine"),
        ({"mean": 9, "effect": "mine"}, "9 is not above 0 and at most 4"),
    ],
)
def test_a_wrong_effect_is_refused(change, problem):
    with pytest.raises(InputError, match=problem):
        read_catalogue(MINE.format(**change), "mine.toml", {"medium": {}})
