"""Every command: help with an example, 2 on wrong usage, the same list everywhere."""

import importlib
import re
import shlex
from pathlib import Path

import pytest

import drift as package
from drift.cli import COMMANDS, module_of

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("command", COMMANDS)
def test_help_begins_with_a_sentence_and_has_examples_that_parse(drift, command, monkeypatch):
    status, out, _ = drift(command, "--help")
    assert status == 0
    _, sentence, examples, *_ = out.split("\n\n")
    assert re.fullmatch(r"[A-Z].{20,88}\.", sentence), sentence
    assert examples.startswith("for example:\n"), examples
    lines = examples.replace("\\\n", " ").splitlines()[1:]
    assert lines
    monkeypatch.setattr(importlib.import_module(module_of(command)), "run", lambda options: 0)
    for line in lines:
        words = shlex.split(line.partition(" > ")[0])
        assert words[:2] == ["drift", command]
        assert drift(*words[1:])[0] == 0, line


@pytest.mark.parametrize("command", COMMANDS)
def test_wrong_usage_exits_with_2(drift, command):
    status, out, err = drift(command, "--no-such-option")
    assert (status, out) == (2, "")
    assert "usage: drift" in err


def test_the_list_of_commands(drift):
    status, out, _ = drift("--help")
    assert status == 0
    assert all(re.search(rf"^  {command} ", out, re.M) for command in COMMANDS)
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["dance"], "drift: no command 'dance'\ndrift --help lists all commands\n"),
        (["tun"], "did you mean drift tune? drift --help lists"),
        (["now"], "type it in drift log LOGBOOK or on the page"),
        (["slides", "--celcius", "4"], "arguments: --celcius; did you mean --celsius"),
        (["fit", "a", "b"], "unrecognized arguments: b\n"),
    ],
)
def test_what_may_have_been_meant_is_said(drift, words, told):
    status, out, err = drift(*words)
    assert (status, out) == (2, "")
    assert told in err


def test_alone_it_shows_what_one_can_do(drift):
    assert drift() == drift("--help")


def test_every_command_named_to_begin_with_works(drift, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    begin = drift()[1].partition("To begin:\n")[2].partition("\n\n")[0].splitlines()
    assert "drift demo" in [line.strip() for line in begin]  # its own tests run it
    for line in (line for line in begin if line.strip() != "drift demo"):
        status, out, err = drift(*shlex.split(line)[1:])
        assert (status, err) == (0, ""), line
        assert out


def test_the_version_is_one_everywhere(drift):
    assert drift("--version")[1] == f"drift {package.__version__}\n"
    cited = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    assert f"\nversion: {package.__version__}\n" in cited


@pytest.mark.parametrize("command", ["gig", "listen", "log", "page", "slides"])
def test_a_long_help_is_in_groups_of_a_few(drift, command):
    _, out, _ = drift(command, "--help")
    groups = [part for part in out.split("\n\n") if part.splitlines()[0].rstrip().endswith(":")]
    counts = [sum(line.startswith("  -") for line in part.splitlines()) for part in groups]
    assert sum(bool(count) for count in counts) >= 3
    assert max(counts) <= 12
