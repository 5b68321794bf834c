"""The script by which a shell completes commands, options and file names."""

from __future__ import annotations

import argparse
import importlib
from collections.abc import Mapping
from pathlib import Path

from drift.errors import InputError

__all__ = ["completion_script"]

SHELLS = ("bash", "zsh", "tcsh")


def completion_script(shell: str, modules: Mapping[str, str]) -> str:
    """Return the script for one shell.

    Parameters
    ----------
    shell : str
        ``bash``, ``zsh`` or ``tcsh``.
    modules : mapping of str to str
        The module of each command.

    Raises
    ------
    InputError
        When the shell is another one, or the extra ``completion`` is not installed.
    """
    if shell not in SHELLS:
        raise InputError(
            f"there is no completion for {shell!r}", f"name one of {', '.join(SHELLS)}"
        )
    try:
        import shtab
    except ImportError:
        raise InputError(
            "completion needs the package shtab", "pip install 'rehearsal-drift[completion]'"
        ) from None
    parser = argparse.ArgumentParser(prog="drift")
    parser.add_argument("--version", action="store_true", help="show the version")
    commands = parser.add_subparsers(dest="command")
    for command, module in modules.items():
        runner = importlib.import_module(module)
        runner.add_arguments(commands.add_parser(command, help=str(runner.__doc__).split("\n")[0]))
    for described in commands.choices.values():
        for action in described._actions:
            if action.type is Path:
                action.complete = shtab.FILE  # type: ignore[attr-defined]
    return str(shtab.complete(parser, shell))
