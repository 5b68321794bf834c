"""The console blocks of the documents: what they run, and what it printed.

A block is fenced and its first line begins with ``$ ``. Every line that begins so is a command
(continued by a backslash), and the lines below it are what it prints, on either stream. The blocks
of a page run in order, in one temporary folder in which ``datasets`` and ``demo`` lie. ``...``
stands for what is left out. A comment ``<!-- not run: why -->`` on the line before a fence keeps
a block from being run. Blocks that begin with ``>>> `` are Python, in one session a page.

Usage: python tests/consoles.py PAGE.md ...   writes into the pages what the commands print.
"""

from __future__ import annotations

import contextlib
import doctest
import io
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parent.parent
BLOCK = re.compile(
    r"(?:^<!-- not run: (?P<why>.+?) -->\n)?^```\w*\n(?P<body>(?:\$|>>>) .*?)^```", re.M | re.S
)
SIZE = re.compile(r"\b\d+(?= [KM]iB)")
SECONDS = 240


class Step(NamedTuple):
    """A command of a block, as it is written, and what is shown below it."""

    command: str
    shown: str


class Block(NamedTuple):
    """A console block: where its lines stand in the page, its steps, and whether it is Python."""

    span: tuple[int, int]
    steps: tuple[Step, ...]
    why_not: str | None
    is_python: bool


def blocks_of(text: str) -> Iterator[Block]:
    """Yield the console blocks of a page, in order."""
    for found in BLOCK.finditer(text):
        body = found["body"]
        is_python = body.startswith(">>>")
        if is_python:
            examples = doctest.DocTestParser().get_examples(body)
            steps = [Step(example.source.rstrip("\n"), example.want) for example in examples]
        else:
            steps = [_step(part) for part in re.split(r"^\$ ", body, flags=re.M)[1:]]
        yield Block(found.span("body"), tuple(steps), found["why"], is_python)


def _step(part: str) -> Step:
    lines = part.splitlines(keepends=True)
    end = next(n for n, line in enumerate(lines) if not line.rstrip("\n").endswith("\\")) + 1
    return Step("".join(lines[:end]).rstrip("\n"), "".join(lines[end:]))


def prepared(folder: Path) -> dict[str, str]:
    """Lay the shipped folders into a folder; return the environment its commands run in."""
    for name in ("datasets", "demo"):
        (folder / name).symlink_to(ROOT / name, target_is_directory=True)
    programs = folder / ".programs"
    programs.mkdir()
    drift = programs / "drift"
    drift.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m drift "$@"\n', encoding="utf-8")
    drift.chmod(0o755)
    paths = [str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
    return os.environ | {
        "PATH": f"{programs}{os.pathsep}{os.environ['PATH']}",
        "PYTHONPATH": os.pathsep.join(paths),
        "TZ": "UTC",
        "COLUMNS": "88",
        "PYTHONIOENCODING": "utf-8",
    }


def printed_by(command: str, folder: Path, environment: dict[str, str]) -> str:
    """Run a command and return what it prints."""
    done = subprocess.run(
        ["sh", "-c", command], cwd=folder, env=environment, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=SECONDS, check=False,
    )  # fmt: skip
    return done.stdout.decode("utf-8")


class Sessions:
    """What runs the blocks of one page: a shell in its folder, and one Python session."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._environment = prepared(folder)
        self._names: dict[str, object] = {}

    def printed_by(self, command: str, *, is_python: bool) -> str:
        """Run a step and return what it prints."""
        if not is_python:
            return printed_by(command, self._folder, self._environment)
        out = io.StringIO()
        with contextlib.chdir(self._folder), contextlib.redirect_stdout(out):
            exec(compile(f"{command}\n", "<page>", "single"), self._names)
        return out.getvalue()


def as_typed(command: str, *, is_python: bool) -> str:
    """Return a command behind its prompt."""
    if not is_python:
        return f"$ {command}\n"
    first, *others = command.split("\n")
    return "".join([f">>> {first}\n", *(f"... {line}\n" for line in others)])


def agrees(shown: str, printed: str) -> bool:
    """Return whether what is shown is what was printed, but for ``...`` and the size of a file.

    A file with pictures grows and shrinks by a little with the library that draws them; a size
    may differ by a fiftieth.
    """
    sizes = [[int(size) for size in re.findall(SIZE, text)] for text in (shown, printed)]
    if len(sizes[0]) == len(sizes[1]) and all(
        abs(one - other) <= other / 50 for one, other in zip(*sizes, strict=True)
    ):
        shown, printed = re.sub(SIZE, "SIZE", shown), re.sub(SIZE, "SIZE", printed)
    wanted = shown.rstrip() + "\n" if shown.strip() else ""
    got = printed.rstrip() + "\n" if printed.strip() else ""
    wanted = re.sub(r"(?m)^\.\.\.$\n", "...", wanted)  # whole lines that are left out
    return wanted == got or doctest.OutputChecker().check_output(wanted, got, doctest.ELLIPSIS)


def written_anew(text: str) -> str:
    """Return a page with what its commands print now, where that differs."""
    with tempfile.TemporaryDirectory() as place:
        sessions = Sessions(Path(place))
        pieces, at = [], 0
        for block in blocks_of(text):
            if block.why_not is None:
                pieces += [text[at : block.span[0]]]
                for command, shown in block.steps:
                    printed = sessions.printed_by(command, is_python=block.is_python)
                    kept = shown if agrees(shown, printed) else printed.rstrip() + "\n"
                    typed = as_typed(command, is_python=block.is_python)
                    pieces += [typed, kept if kept.strip() else ""]
                at = block.span[1]
        return "".join([*pieces, text[at:]])


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    for name in sys.argv[1:]:
        page = Path(name)
        page.write_text(written_anew(page.read_text(encoding="utf-8")), encoding="utf-8")
