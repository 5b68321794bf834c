"""Every command: help with an example, 2 on wrong usage, the same list everywhere."""

import re

import pytest

from drift.cli import COMMANDS


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_an_example(drift, command):
    status, out, _ = drift(command, "--help")
    assert status == 0
    assert re.search(rf"example:\s+drift {command}\b", out), out


@pytest.mark.parametrize("command", COMMANDS)
def test_wrong_usage_exits_with_2(drift, command):
    status, out, err = drift(command, "--no-such-option")
    assert (status, out) == (2, "")
    assert "usage: drift" in err


def test_the_list_of_commands(drift):
    status, out, _ = drift("--help")
    assert status == 0
    assert all(command in out for command in COMMANDS)
    assert drift()[0] == 2
    assert drift("dance")[0] == 2
