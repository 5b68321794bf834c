"""drift demo: the whole job on the shipped data."""

import re
import shlex


def test_the_whole_job(drift, tmp_path):
    out = tmp_path / "made"
    status, text, err = drift("demo", "--out", out)
    assert (status, err) == (0, "")
    assert "557 readings paired with their temperature, 6 left out" in text
    for file in re.findall(r"^  (\S+)$", text, re.MULTILINE):
        assert (out / file).stat().st_size > 0, file
    assert drift("demo", "--out", out)[0] == 0  # again over its own files


def test_hot_is_sharp_and_out_and_cold_is_flat_and_in(drift, tmp_path):
    _, text, _ = drift("demo", "--out", tmp_path / "made")
    hot = re.search(r"At 33 °C: ([+-][\d.]+) cents. (Pull|Push) the main slide", text)
    cold = re.search(r"At 5 °C: ([+-][\d.]+) cents. (Pull|Push) the main slide", text)
    assert float(hot[1]) > 10
    assert hot[2] == "Pull"
    assert float(cold[1]) < -10
    assert cold[2] == "Push"


def test_what_it_suggests_can_be_pasted_line_by_line(drift, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    _, text, _ = drift("demo")
    lines = text.partition("Next, try:\n")[2].splitlines()
    assert len(lines) == 3
    for line in lines[:2]:
        status, out, err = drift(*shlex.split(line)[1:])
        assert (status, err) == (0, ""), line
        assert "double horn" in out
    assert shlex.split(lines[2])[:2] == ["drift", "page"]


def test_a_folder_that_cannot_be_made(drift, tmp_path):
    (tmp_path / "file").write_text("")
    status, _, err = drift("demo", "--out", tmp_path / "file" / "made")
    assert status == 1
    assert "cannot be made" in err
