"""Rosters: one row a section and slide, each refusal with its line."""

import pytest

from drift.errors import InputError
from drift.gig.roster import read_roster, read_whole_roster
from drift.instruments import Catalogue
from drift.words.gig_warnings import warning_text

HEADER = "section,instrument,players,slide,position_mm,travel_mm,stuck,built_a4_hz"


def written(tmp_path, *rows):
    path = tmp_path / "roster.csv"
    path.write_text("\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    return path


def test_a_band(tmp_path):
    horns, tuba, bells = read_roster(
        written(
            tmp_path,
            "horns,double horn,4,main,12,45,,",
            "horns,double horn,,F,8,30,no,",
            "tuba,BB♭ tuba,1,main,20,70,yes,",
            "bells,glockenspiel,1,,,,,442",
        )
    )
    assert (horns.players, horns.slides, horns.movable) == (4, ("main", "F"), ("main", "F"))
    assert horns.held == ("Bb",)
    assert (horns.at_mm, horns.travel_mm) == ({"main": 12, "F": 8}, {"main": 45, "F": 30})
    assert (tuba.instrument.name, tuba.movable, tuba.stuck) == ("BBb tuba", (), ("main",))
    assert (bells.slides, bells.built_a4_hz) == ((), 442)


def test_what_is_not_known_may_be_left_out(tmp_path):
    path = tmp_path / "roster.csv"
    path.write_text("section,instrument,slide\ntrumpets,b♭ trumpet,main\n", encoding="utf-8")
    (trumpets,) = read_roster(path)
    assert (trumpets.players, trumpets.at_mm, trumpets.travel_mm) == (1, {}, {})
    assert trumpets.built_a4_hz == 440


def test_instruments_of_ones_own(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(
        '[[instrument]]\nname = "post horn"\nfamily = "brass"\ncompass = ["Bb3", "Bb5"]\n'
        'sides = [{ fundamental = "Bb2" }]\nslides = [{ name = "main" }]\n',
        encoding="utf-8",
    )
    (horn,) = read_roster(written(tmp_path, "post,post horn,1,main,5,20,,"), Catalogue.read(own))
    assert horn.instrument.name == "post horn"


@pytest.mark.parametrize(
    ("rows", "problem"),
    [
        (["horns,dubble horn,4,main,12,45,,"], "line 2: no instrument 'dubble horn'"),
        (["horns,double horn,4,third,12,45,,"], "line 2: double horn has no slide 'third'"),
        (["horns,double horn,4,main,50,45,,"], "line 2: position_mm 50 is beyond travel_mm 45"),
        (["horns,double horn,4,main,-1,45,,"], "line 2: position_mm '-1'"),
        (["horns,double horn,four,main,1,45,,"], "line 2: players 'four'"),
        (["horns,double horn,4,main,1,45,maybe,"], "line 2: stuck 'maybe' is neither yes nor no"),
        (["horns,double horn,4,,1,45,,"], "line 2: position_mm or travel_mm without a slide"),
        (["horns,double horn,4,,,,yes,"], "line 2: stuck without a slide"),
        ([",double horn,4,main,1,45,,"], "line 2: the section has no name"),
        (["bells,glockenspiel,1,,,,,4420"], "line 2: built_a4_hz '4420'"),
        (
            ["horns,double horn,4,main,1,45,,", "horns,double horn,4,main,1,45,,"],
            "line 3: section 'horns' is there already, with slide 'main'",
        ),
        (
            ["low,BBb tuba,4,main,1,45,,", "low,euphonium,4,main,1,45,,"],
            "line 3: section 'low' plays euphonium here, BBb tuba above",
        ),
    ],
)
def test_rosters_that_are_refused(tmp_path, rows, problem):
    with pytest.raises(InputError, match=problem):
        read_roster(written(tmp_path, *rows))


def test_the_former_name_of_a_column_is_taken(tmp_path):
    path = tmp_path / "roster.csv"
    path.write_text("section,instrument,slide,at_mm\nhorns,horns,main,12\n", encoding="utf-8")
    assert read_roster(path)[0].at_mm == {"main": 12.0}


def test_a_section_may_name_its_players(tmp_path):
    path = tmp_path / "roster.csv"
    path.write_text(
        "section,instrument,players,names\nlow,sousas,,Rowan; Alder\nhigh,trumpets,5,Isolde\n",
        encoding="utf-8",
    )
    low, high = read_roster(path)
    assert (low.players, low.names) == (2, ("Rowan", "Alder"))
    assert (high.players, high.names) == (5, ("Isolde",))


def test_a_roster_as_a_staff_keeps_it(tmp_path):
    path = tmp_path / "roster.csv"
    path.write_text(
        "Band 2026;;;;;;\n"
        "Section;Instrument;# of players;Which slide;Pulled out (mm);Leader;Notes\n"
        "Flutes;flutes;4;head joint;3 mm;Ida;\n"
        "Trumpets;trumpets;8;main tuning slide;15;Bram;new\n"
        "Bones;bones;6;;20;;\nHorns;double horns;2;F slide;9;;\nTotal;;20;;;;\n",
        encoding="utf-8",
    )
    flutes, trumpets, bones, horns = read_roster(path)
    assert [(s.players, s.at_mm) for s in (flutes, trumpets, bones, horns)] == [
        (4, {"head": 3.0}), (8, {"main": 15.0}), (6, {"main": 20.0}), (2, {"F": 9.0}),
    ]  # fmt: skip
    assert not bones.from_catalogue


def test_drums_are_passed_over_and_counted(tmp_path):
    path = written(tmp_path, "drums,Drums,6,,,,,", "flutes,flutes,4,,,,,", "snare,Snares,3,,,,,")
    found = read_whole_roster(path)
    assert [section.name for section in found.sections] == ["flutes"]
    assert found.not_planned == (("drums", 6), ("snare", 3))
    (told,) = map(warning_text, found.notices)
    assert told == "not planned, no pitch to tune: drums (6), snare (3)"


def test_columns_that_are_known_stay_where_all_others_are_left_out(tmp_path):
    path = tmp_path / "roster.csv"
    path.write_text(
        "Section,Instrument,Slide,Out (mm),Max travel,Tuned at\ntrumpets,trumpets,main,15,35,70\n",
        encoding="utf-8",
    )
    found = read_whole_roster(path, columns={"*": "unused"})
    assert found.sections[0].travel_mm == {"main": 35.0}
    (told,) = map(warning_text, found.notices)
    assert told == "roster.csv: columns that nothing here needs were left out: Tuned at"
    assert read_whole_roster(path, columns={"Tuned at": "unused"}).notices == ()
