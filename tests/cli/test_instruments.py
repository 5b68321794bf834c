"""drift instruments: the list, one entry, its drawing and its TOML."""

import json

import pytest

from drift.instruments import Catalogue


def test_the_list(drift):
    status, out, _ = drift("instruments")
    assert status == 0
    assert "BB♭ tuba" in out
    assert len(json.loads(drift("instruments", "--json")[1])["instruments"]) == len(
        Catalogue.shipped()
    )


def test_one_instrument(drift):
    status, out, _ = drift("instruments", "b♭ trumpet")
    assert status == 0
    assert "main: -2.35 cents/mm" in out
    assert json.loads(drift("instruments", "trumpet", "--json")[1])["name"] == "Bb trumpet"


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_the_drawing(drift, tmp_path, ending):
    path = tmp_path / f"horn.{ending}"
    assert drift("instruments", "double horn", "--draw", path)[0] == 0
    assert path.stat().st_size > 2000


def test_a_drawing_that_cannot_be_written(drift, tmp_path):
    for path in (tmp_path / "no" / "horn.png", tmp_path / "horn.tune"):
        status, _, err = drift("instruments", "double horn", "--draw", path)
        assert status == 1
        assert len(err.splitlines()) == 2
        assert "cannot be written" in err


def test_an_entry_to_copy(drift, tmp_path):
    _, toml, _ = drift("instruments", "cornet", "--toml")
    mine = tmp_path / "mine.toml"
    mine.write_text(toml.replace('"cornet"', '"cornet in C"').replace("Bb2", "C3"), "utf-8")
    status, out, _ = drift("instruments", "cornet in C", "--instruments", mine)
    assert status == 0
    assert "130.813 Hz" in out
    assert "cornet in C" in drift("instruments", "--instruments", mine)[1]
    assert (
        'name = "cornet in C"'
        in drift("instruments", "cornet in C", "--toml", "--instruments", mine)[1]
    )


def test_problems_are_told_in_two_lines(drift, tmp_path):
    status, out, err = drift("instruments", "frumpet")
    assert (status, out) == (1, "")
    assert err.splitlines()[1].startswith("did you mean")
    broken = tmp_path / "broken.toml"
    broken.write_text("[[instrument]]\nname = 3\n", encoding="utf-8")
    status, _, err = drift("instruments", "--instruments", broken)
    assert status == 1
    assert "broken.toml: line" in err
    assert len(err.splitlines()) == 2
