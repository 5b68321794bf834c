"""drift demo: the whole job on the shipped data."""

import contextlib
import io
import re
import shlex

import pytest

from drift.cli import main


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The demonstration, run once: (the folder it was run in, what it printed)."""
    folder = tmp_path_factory.mktemp("demo")
    with contextlib.chdir(folder), contextlib.redirect_stdout(io.StringIO()) as out:
        assert main(["demo"]) == 0
    return folder, out.getvalue()


def test_the_whole_job(made):
    folder, text = made
    assert "557 readings paired with their temperature, 6 left out" in text
    files = re.findall(r"^  (\S+)$", text, re.MULTILINE)
    assert len(files) >= 4
    for file in files:
        assert (folder / "drift-demo" / file).stat().st_size > 0, file


def test_hot_is_sharp_and_out_and_cold_is_flat_and_in(made):
    _, text = made
    hot = re.search(r"At 33 °C: ([+-][\d.]+) cents. (Pull|Push) the main slide", text)
    cold = re.search(r"At 5 °C: ([+-][\d.]+) cents. (Pull|Push) the main slide", text)
    assert float(hot[1]) > 10
    assert hot[2] == "Pull"
    assert float(cold[1]) < -10
    assert cold[2] == "Push"


@pytest.mark.slow
def test_what_it_suggests_can_be_pasted_line_by_line(drift, made, monkeypatch):
    folder, text = made
    monkeypatch.chdir(folder)
    lines = text.partition("Next, try:\n")[2].splitlines()
    assert len(lines) == 3
    for line in lines[:2]:
        status, out, err = drift(*shlex.split(line)[1:])
        assert (status, err) == (0, ""), line
        assert "double horn" in out
    assert shlex.split(lines[2])[:2] == ["drift", "page"]


@pytest.mark.slow
def test_again_over_its_own_files(drift, made, monkeypatch):
    folder, text = made
    monkeypatch.chdir(folder)
    assert drift("demo") == (0, text, "")


def test_a_folder_that_cannot_be_made(drift, tmp_path):
    (tmp_path / "file").write_text("")
    status, _, err = drift("demo", "--out", tmp_path / "file" / "made")
    assert status == 1
    assert "cannot be made" in err
