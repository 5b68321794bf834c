"""The catalogue against published lengths, the harmonic series and itself."""

import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from drift.air import speed_of_sound
from drift.errors import InputError, InstrumentError, ReachError
from drift.instruments import Catalogue, canonical_name, catalogue, find, known_name
from drift.instruments.anatomy import SPEED_AT_20_CELSIUS
from drift.instruments.names import SEVERAL
from drift.notes import cents_between, hertz_of, midi_of, written_of
from drift.regression.fits import physics
from drift.slides.correction import correct

DATA = Path(__file__).parents[1] / "data"
PUBLISHED = pd.read_csv(DATA / "slide_reference.csv").set_index("instrument")
ROWS = [
    ("horn_F_side", "double horn", "F", "F"),
    ("horn_Bb_side", "double horn", "Bb", "Bb"),
    ("horn_F_side", "F horn", "", "main"),
    ("horn_Bb_side", "Bb horn", "", "main"),
    ("trumpet_or_cornet_Bb", "Bb trumpet", "", "main"),
    ("trumpet_or_cornet_Bb", "cornet", "", "main"),
    ("mellophone_F", "mellophone", "", "main"),
    ("trombone_euphonium_baritone_Bb", "tenor trombone", "", "main"),
    ("trombone_euphonium_baritone_Bb", "euphonium", "", "main"),
    ("trombone_euphonium_baritone_Bb", "baritone", "", "main"),
    ("tuba_sousaphone_BBb", "BBb tuba", "", "main"),
    ("tuba_sousaphone_BBb", "sousaphone", "", "main"),
    ("tuba_CC", "CC tuba", "", "main"),
    ("tuba_Eb", "Eb tuba", "", "main"),
    ("tuba_F", "F tuba", "", "main"),
]
METRES_PER_FOOT, METRES_PER_INCH = 0.3048, 0.0254
SHIPPED = Catalogue.shipped()
EVERY = list(SHIPPED.values())
WINDS = [entry for entry in EVERY if entry.fixed_pitch is None]


@pytest.mark.parametrize(("row", "name", "side", "slide"), ROWS)
def test_published_lengths_and_slides(row, name, side, slide):
    # slide_reference.csv: lengths, hertz and slopes rounded to 4 decimals, millimetres to 3.
    published, instrument = PUBLISHED.loc[row], find(name)
    column = instrument.side(side)
    assert column.fundamental_hz == pytest.approx(published["f1_hz"], abs=6e-5)
    assert column.length_m == pytest.approx(published["L_eff_m_at_c20_50pct"], abs=6e-5)
    slope = instrument.cents_per_mm(side, slide)
    assert slope == pytest.approx(published["cents_per_mm_slide_pull"], abs=6e-5)
    pull = published["mm_pull_for_-10_cents"]
    assert instrument.cents_of_moves(side, {slide: pull}) == pytest.approx(-10.0, abs=2e-3)


def test_lengths_of_an_old_dictionary():
    # Grove's Dictionary (1954), "Horn", computed for A = 435: F 12 ft 3 1/2 in, B flat alto
    # 9 ft 2 1/2 in (second-hand).
    grove_f = 12 * METRES_PER_FOOT + 3.5 * METRES_PER_INCH
    grove_bb = 9 * METRES_PER_FOOT + 2.5 * METRES_PER_INCH
    horn = find("double horn")
    ours_f, ours_bb = horn.side("F").length_m, horn.side("Bb").length_m
    # The ratio of the two sides is free of A and of the corrections: five semitones.
    assert grove_f / grove_bb == pytest.approx(ours_f / ours_bb, rel=1e-4)
    # At A = 435 the ideal tube is 440/435 longer, 3.985 m. Grove's is 6 % shorter: the measured
    # tube lacks the end corrections of bell and mouthpiece (a few per cent of a horn, from
    # memory), so between 3 and 9 % is allowed, and both sides must lack the same.
    lacking_f = 1 - grove_f / (ours_f * 440 / 435)
    lacking_bb = 1 - grove_bb / (ours_bb * 440 / 435)
    assert 0.03 < lacking_f < 0.09
    assert lacking_f == pytest.approx(lacking_bb, abs=1e-3)


def test_speed_at_20_degrees_is_that_of_the_air():
    assert speed_of_sound(20.0, 50.0) == SPEED_AT_20_CELSIUS


def test_the_catalogue_holds_a_band():
    wanted = """double horn, F horn, Bb horn, mellophone, Bb trumpet, C trumpet, cornet,
    flugelhorn, soprano cornet, tenor horn, tenor trombone, bass trombone, baritone, euphonium,
    BBb tuba, CC tuba, Eb tuba,
    F tuba, sousaphone, flute, piccolo, oboe, Bb clarinet, bassoon, alto saxophone,
    tenor saxophone, baritone saxophone, rosewood marimba, synthetic marimba, vibraphone,
    glockenspiel"""
    missing = {" ".join(name.split()) for name in wanted.split(",")} - set(SHIPPED)
    assert missing == set()


@pytest.mark.parametrize("instrument", EVERY, ids=lambda entry: entry.name)
def test_every_number_has_a_source(instrument):
    parts = [instrument, *instrument.slides, *instrument.valves]
    parts += [instrument.fixed_pitch] if instrument.fixed_pitch else instrument.sides
    assert all(part.source for part in parts)
    assert instrument.fixed_pitch or instrument.priors.source


@pytest.mark.parametrize("instrument", WINDS, ids=lambda entry: entry.name)
def test_tuning_notes_lie_in_the_compass(instrument):
    low, high = (midi_of(note) for note in instrument.compass)
    for side in instrument.sides:
        assert side.tuning_notes
        assert all(low <= midi_of(note) <= high for note in side.tuning_notes)


@pytest.mark.parametrize(
    "instrument", [e for e in WINDS if e.family == "brass"], ids=lambda entry: entry.name
)
def test_tuning_notes_of_brass_are_open(instrument):
    # Open notes are harmonics of the open side. The 5th and 7th are 14 and 31 cents flat of
    # equal temperament: no player tunes on them, so every note must lie within 2.5 cents.
    for side in instrument.sides:
        for note in side.tuning_notes:
            harmonic = round(hertz_of(note) / side.fundamental_hz)
            off = cents_between(harmonic * side.fundamental_hz, hertz_of(note))
            assert abs(off) < 2.5, (note, harmonic)


@pytest.mark.parametrize(
    ("name", "sounding", "written"),
    [
        ("double horn", "F4", "C5"),
        ("Bb trumpet", "Bb4", "C5"),
        ("C trumpet", "C5", "C5"),
        ("mellophone", "F4", "C5"),
        ("tenor horn", "Eb4", "C5"),
        ("soprano cornet", "Eb5", "C5"),
        ("Bb clarinet", "F4", "G4"),
        ("alto saxophone", "Bb3", "G4"),
        ("tenor saxophone", "Bb3", "C5"),
        ("baritone saxophone", "Bb2", "G4"),
        ("piccolo", "A5", "A4"),
        ("BBb tuba", "Bb2", "Bb2"),
        ("glockenspiel", "C7", "C5"),
    ],
)
def test_transpositions(name, sounding, written):
    # Common practice.
    assert written_of(sounding, find(name).written_semitones) == written


@pytest.mark.parametrize(
    ("name", "sounding"),
    [
        ("tenor trombone", "Bb3"),
        ("baritone", "Bb3"),
        ("euphonium", "Bb3"),
        ("Eb bass", "Eb3"),
        ("Bb bass", "Bb2"),
    ],
)
def test_open_notes_of_low_brass_are_written_c_in_treble_clef(name, sounding):
    # Common practice: a brass band fingers all its valved instruments alike.
    found = find(name)
    assert found.sides[0].tuning_notes[0] == sounding
    assert written_of(sounding, found.treble_clef_semitones) == "C5"
    assert found.written_semitones == 0


@pytest.mark.parametrize(
    ("name", "factor"),
    [("flute", 1), ("Bb clarinet", 1), ("alto saxophone", 1), ("BBb tuba", 2)],
)
def test_a_telescoping_joint_has_one_leg_and_a_slide_two(name, factor):
    assert find(name).slides[0].path_factor == factor


def test_a_clarinet_is_a_quarter_wave():
    clarinet, flute = find("Bb clarinet").side(), find("flute").side()
    assert clarinet.length_m * clarinet.fundamental_hz * 4 == pytest.approx(SPEED_AT_20_CELSIUS)
    assert flute.length_m * flute.fundamental_hz * 2 == pytest.approx(SPEED_AT_20_CELSIUS)


def test_bars_go_flat_when_warm_and_carry_their_range():
    bars = [entry for entry in EVERY if entry.fixed_pitch and "keyboard" not in entry.name]
    assert bars
    for entry in bars:
        assert entry.fixed_pitch.low < entry.fixed_pitch.cents_per_celsius < 0
        assert entry.fixed_pitch.cents_per_celsius < entry.fixed_pitch.high <= 0
        assert not entry.slides


def test_larger_instruments_are_expected_to_warm_more_slowly():
    minutes = [find(name).priors.warm_minutes for name in ("Bb trumpet", "double horn", "BBb tuba")]
    assert minutes == sorted(set(minutes))


def test_the_main_slide_of_a_double_horn_moves_the_f_side_three_quarters_as_much():
    # Design of every double horn: 2^(-5/12) = 0.749.
    horn = find("double horn")
    both = {side: horn.cents_of_moves(side, {"main": 0.01}) for side in ("F", "Bb")}
    assert both["F"] / both["Bb"] == pytest.approx(0.749, abs=1e-3)
    assert horn.cents_of_moves("Bb", {"F": 20.0}) == 0.0
    assert horn.cents_of_moves("F", {"Bb": 20.0}) == 0.0


def test_moves_are_exact_and_add_as_paths():
    trumpet = find("Bb trumpet")
    doubled = 1000.0 * trumpet.side().length_m / 2.0
    assert trumpet.cents_of_moves("", {"main": doubled}) == pytest.approx(-1200.0)
    horn = find("double horn")
    together = horn.cents_of_moves("F", {"main": 5.0, "F": 7.0})
    assert together == horn.cents_of_moves("F", {"main": 12.0})


def test_a_measured_slide_replaces_the_calculated_one():
    horn = find("double horn")
    measured = {("main", "Bb"): -1.4}
    assert horn.cents_per_mm("Bb", "main", measured) == pytest.approx(-1.4)
    assert horn.cents_of_moves("Bb", {"main": 0.001}, measured) == pytest.approx(-1.4e-3, rel=1e-5)
    assert horn.cents_per_mm("F", "main", measured) == horn.cents_per_mm("F", "main")


def test_moves_that_leave_no_air_are_refused():
    with pytest.raises(ReachError, match="leave no air column"):
        find("Bb trumpet").cents_of_moves("", {"main": -5000.0})


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Double Horn", "double horn"),
        ("B♭ trumpet", "Bb trumpet"),
        ("bb♭ tuba", "BBb tuba"),
        ("trombone", "tenor trombone"),
        ("single horn in B♭", "Bb horn"),
        ("E♭ bass", "Eb tuba"),
        ("alto horn", "tenor horn"),
    ],
)
def test_names_are_found_however_they_are_typed(typed, name):
    assert find(typed).name == name
    assert canonical_name(typed) == name


def test_a_name_that_is_not_there_is_kept_in_ascii():
    assert canonical_name(" E♭  post horn") == "Eb post horn"


def test_an_unknown_instrument_lists_names_that_are_near():
    near = r"no instrument 'frumpet'.*\n.*B♭ trumpet.*--instruments FILE"
    with pytest.raises(InstrumentError, match=near):
        find("frumpet")
    with pytest.raises(
        InstrumentError, match="\nwrite which: BB♭ tuba or CC tuba or E♭ tuba or F tuba"
    ):
        find("tuba")
    with pytest.raises(InstrumentError, match=r"no instrument 'kazoo'.*\ndrift instruments lists"):
        find("kazoo")
    with pytest.raises(InstrumentError, match="\ndrift instruments lists them"):
        find("qqqq")


def test_sides_and_slides_are_found_or_named():
    horn = find("double horn")
    assert horn.side("B♭") is horn.side("Bb")
    assert find("flute").side().name == ""
    with pytest.raises(InstrumentError, match="has no side ''\nit has side F, B♭"):
        horn.side()
    with pytest.raises(InstrumentError, match="has no slide 'third'\nit has slide main, F, B♭"):
        horn.slide("third")
    with pytest.raises(InstrumentError, match="leave the side out"):
        find("flute").side("F")


def test_a_model_whose_common_slide_is_another_one():
    horn = find("double horn").serving("main", ["F"]).serving("Bb", ["F", "B♭"])
    assert horn.slide("main").sides == ("F",)
    assert horn.cents_of_moves("Bb", {"main": 10.0}) == 0.0
    assert horn.cents_of_moves("F", {"Bb": 10.0}) < 0.0


def test_importing_the_instruments_stays_light():
    # The logbook starts with them; numpy alone takes longer than Python itself.
    code = (
        "import sys, drift.instruments, drift.notes; drift.instruments.find('double horn');"
        "print([m for m in ('numpy', 'pandas', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


MINE = """\
[[instrument]]
name = "alphorn"
family = "brass"
written_semitones = 0
compass = ["F2", "C5"]
source = "mine"
sides = [
  { fundamental = "F1", tuning_notes = ["C4"], source = "mine" },
]
slides = [
  { name = "joint", path_factor = 1, source = "mine" },
]
"""


def mine(tmp_path, text=MINE):
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_file_of_the_users_own_adds_and_replaces(tmp_path):
    path = mine(tmp_path, MINE + MINE.replace("alphorn", "flute").replace('"F1"', '"F4"'))
    known = Catalogue.read(path)
    assert find("Alphorn", known).cents_per_mm("", "joint") == pytest.approx(-0.4394, abs=1e-4)
    assert known.find("flute").side().fundamental_hz == pytest.approx(hertz_of("F4"))
    assert find("flute").side().fundamental_hz == pytest.approx(hertz_of("A4"))
    assert known["double horn"] is SHIPPED["double horn"]
    assert list(known) == [*SHIPPED, "alphorn"]
    assert len(known) == len(SHIPPED) + 1
    assert "alphorn" not in SHIPPED


def test_a_catalogue_holds_what_its_file_held_when_it_was_read(tmp_path):
    path = mine(tmp_path)
    before = Catalogue.read(path)
    path.write_text(MINE.replace("path_factor = 1", "path_factor = 2"), encoding="utf-8")
    assert before.find("alphorn").slides[0].path_factor == 1
    assert Catalogue.read(path).find("alphorn").slides[0].path_factor == 2


def test_the_usual_travel_of_a_slide_marks_and_never_limits(tmp_path):
    horn = find("double horn")
    assert [slide.usual_travel_mm for slide in horn.slides] == [45.0, 45.0, 30.0]
    far = correct(physics(), horn, 60.0, at={"main": 30.0})
    assert far.moves[0].to_mm > 45.0
    assert not far.moves[0].at_end_of_travel
    assert Catalogue.read(mine(tmp_path)).find("alphorn").slides[0].usual_travel_mm is None
    text = MINE.replace("path_factor = 1", "usual_travel_mm = 0")
    with pytest.raises(InputError, match="'usual_travel_mm': 0 is not above 0"):
        Catalogue.read(mine(tmp_path, text))


def test_the_shipped_catalogue_is_one():
    assert Catalogue.shipped() is Catalogue.shipped()
    assert find("cornet") is SHIPPED["cornet"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('family = "brass"', 'family = "bras"', "line 3: key 'family': 'bras' is not one of"),
        ('family = "brass"', "", "line 1: key 'family': missing"),
        ('"F2", "C5"', '"F2", "H5"', "line 5: key 'compass': 'H5' is not a note"),
        ('"F2", "C5"', '"F4", "C3"', "line 5: key 'compass': the lowest and the highest"),
        ('= "F1"', '= "X1"', "line 8: key 'fundamental': 'X1' is not a note"),
        ("path_factor = 1", 'path_factor = "1"', "line 11: key 'path_factor': '1' is not a number"),
        ("path_factor = 1", "path_factor = -1", "line 11: key 'path_factor': -1 is not above 0"),
        ("path_factor", "pathfactor", "line 11: key 'pathfactor': not a key of slides"),
        ('"joint"', '"long joint"', "line 11: key 'name': 'long joint' is not one word"),
        ("written_semitones = 0", "written_semitones = 1.5", "line 4: .* is not a whole number"),
        (
            "written_semitones = 0",
            'size = "tiny"',
            "line 4: key 'size': 'tiny' is not one of small",
        ),
        ('name = "alphorn"', 'name = ""', "line 2: key 'name': is empty"),
    ],
)
def test_a_wrong_entry_names_file_line_and_key(tmp_path, old, new, words):
    path = mine(tmp_path, MINE.replace(old, new, 1))
    with pytest.raises(InputError, match=words) as refused:
        Catalogue.read(path)
    assert str(path) in refused.value.problem


def test_a_misspelt_key_is_answered_with_the_right_one(tmp_path):
    path = mine(tmp_path, MINE.replace("path_factor", "path_facter"))
    with pytest.raises(InputError, match="\ndid you mean 'path_factor'"):
        Catalogue.read(path)


def test_broken_toml_names_the_line(tmp_path):
    path = mine(tmp_path, MINE + "\nthis is no toml\n")
    with pytest.raises(InputError, match=r"mine\.toml: .*line 14"):
        Catalogue.read(path)


def test_the_same_name_twice_is_refused(tmp_path):
    path = mine(tmp_path, MINE + MINE)
    with pytest.raises(InputError, match="line 14: key 'name': 'alphorn' stands in the file twice"):
        Catalogue.read(path)


def test_a_file_without_instruments_or_that_is_not_there(tmp_path):
    with pytest.raises(InputError, match="line 1: key 'horns': not a key of the file"):
        Catalogue.read(mine(tmp_path, "[horns]\nname = 1\n"))
    with pytest.raises(InputError, match=r"cannot be read \(FileNotFoundError\)"):
        Catalogue.read(tmp_path / "nothing.toml")


@pytest.mark.parametrize("name", list(SHIPPED))
def test_an_entry_printed_is_an_entry_read(name, tmp_path):
    assert Catalogue.read(mine(tmp_path, SHIPPED.entry_text(name)))[name] == find(name)


def test_the_names_read_alone_are_those_of_the_catalogue():
    """They are taken from their lines in the file, which TOML would let one write otherwise."""
    names = {name.casefold(): name for name in SHIPPED}
    aliases = {alias.casefold(): name for name, entry in SHIPPED.items() for alias in entry.aliases}
    spellings = {**aliases, **names}
    assert catalogue._by_fold() == spellings
    for spelling, name in spellings.items():
        assert known_name(spelling.upper()) == find(spelling).name == name


def test_a_known_name_may_come_from_a_file_of_the_users_own(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(SHIPPED.entry_text("cornet").replace('"cornet"', '"practice cornet"'), "utf-8")
    known = Catalogue.read(own)
    assert known_name("Practice Cornet", known) == "practice cornet"
    assert known_name("double horn", known) == "double horn"
    with pytest.raises(InstrumentError, match="no instrument 'practice cornet'"):
        known_name("practice cornet")


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("sousas", "sousaphone"),
        ("Bones", "tenor trombone"),
        ("bass bones", "bass trombone"),
        ("vibes", "vibraphone"),
        ("bells", "glockenspiel"),
        ("Trumpets", "Bb trumpet"),
        ("French horns", "double horn"),
        ("horns in F", "F horn"),
        ("B♭ trumpets", "Bb trumpet"),
        ("trumpets in B♭", "Bb trumpet"),
        ("tenor saxes", "tenor saxophone"),
        ("bari saxes", "baritone saxophone"),
        ("mellos", "mellophone"),
        ("piccolos", "piccolo"),
        ("euphs", "euphonium"),
    ],
)
def test_everyday_names_and_plurals(said, name):
    assert find(said).name == name
    assert canonical_name(said) == known_name(said) == name


def test_no_everyday_name_means_two_instruments():
    spellings = [text.casefold() for entry in EVERY for text in (entry.name, *entry.aliases)]
    assert len(spellings) == len(set(spellings))
    assert not set(SEVERAL) & set(spellings)


@pytest.mark.parametrize(
    ("said", "one"),
    [("tubas", "CC tuba"), ("low brass", "euphonium"), ("Saxes", "alto saxophone")],
)
def test_a_word_for_several_instruments_is_not_guessed(said, one):
    with pytest.raises(InstrumentError, match="means more than one") as refusal:
        find(said)
    assert one in refusal.value.remedy.replace("♭", "b")


def test_words_for_several_instruments_name_those_of_the_catalogue():
    assert {name for names in SEVERAL.values() for name in names} <= set(SHIPPED)


def test_an_own_instrument_cannot_take_the_everyday_name_of_another(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(
        SHIPPED.entry_text("cornet").replace('name = "cornet"', 'name = "vibes"'), "utf-8"
    )
    with pytest.raises(InputError, match="'vibes' is another name of 'vibraphone'"):
        Catalogue.read(own)
