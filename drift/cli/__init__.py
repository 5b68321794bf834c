"""The command line: parse, one call, print.

Each sub-command is a module of this package with ``add_arguments(parser)`` and
``run(options) -> int``; only the chosen one is imported, so that ``drift --help`` and the start
of ``drift log`` stay fast. Heavy imports belong inside ``run``.
"""

from __future__ import annotations

import argparse
import importlib
import io
import os
import sys
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from functools import partial
from typing import Any, TextIO

from drift import __version__
from drift.cli.progress import wiped
from drift.errors import DriftError
from drift.spelling import near
from drift.texts import harmless
from sensors.errors import SensorError

__all__ = ["main"]

GROUPS = {
    "Start": {
        "demo": "try everything on simulated data",
    },
    "Record": {
        "log": "log temperatures and tuner readings in the terminal",
        "page": "log them in a browser, on this computer or a tablet",
        "listen": "take tuner readings from a recording",
        "thermometers": "list the serial ports, and try a thermometer",
        "microphone": "choose a microphone, and measure how late it hears",
    },
    "Understand": {
        "fit": "fit the drift of pitch to temperature and playing time",
        "report": "write a report to keep or print",
    },
    "Act": {
        "tune": "tune an instrument step by step",
        "slides": "show how far to move which slide, for a hot room or a cold field",
        "calibrate": "measure what a millimetre of a slide does",
        "gig": "plan an outdoor performance",
    },
    "Data": {
        "import": "put a rehearsal folder into a logbook",
        "export": "write a logbook as a rehearsal folder",
        "summary": "write what the band knows, without names, to share",
        "combine": "make expectations from the summaries of many bands",
        "check": "look for damage, interruptions and suspicious values",
        "instruments": "list the instruments: sides, slides, lengths",
    },
}

COMMANDS = {command: line for group in GROUPS.values() for command, line in group.items()}

OVERVIEW = """\
usage: drift COMMAND [options]

Measures how pitch drifts with temperature and playing time, and tells you how
far to move each slide.

To begin:
  drift demo
  drift slides acoustics --instrument "Bb trumpet" --celsius 33
"""


def overview() -> str:
    """Return what one can do, by group, and how to begin."""
    lines = [OVERVIEW]
    for group, commands in GROUPS.items():
        lines.append(f"{group}:")
        lines += [f"  {command:<13} {line}" for command, line in commands.items()]
        lines.append("")
    lines.append("drift COMMAND --help explains a command, drift --version shows the version.")
    return "\n".join(lines)


#: Exit status of a command that was stopped: 128 and the number of the signal.
INTERRUPTED = 130
WRONG_USAGE = 2
#: Words that are typed while a rehearsal is logged.
TYPED_IN_A_LOG = ("now", "target", "temp", "slide", "play", "rest", "undo", "at")


def module_of(command: str) -> str:
    """Return the module that carries out a command (``import`` is a word of the language)."""
    return f"drift.cli.{command}_" if command == "import" else f"drift.cli.{command}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status.

    0 done, 1 explained problem, 2 wrong usage, 130 stopped with Ctrl-C.
    """
    _write_any_letter()
    try:
        with redirect_stdout(_Harmless(sys.stdout)), redirect_stderr(_Harmless(sys.stderr)):
            status = _run(_joined(sys.argv[1:] if arguments is None else arguments))
        sys.stdout.flush()
    except BrokenPipeError:  # such as of a pager that was left; Python would try again at its end
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return status


def _run(words: list[str]) -> int:
    if not words or words[0] in ("-h", "--help"):
        print(overview())
        return 0
    if words[0] == "--version":
        print(f"drift {__version__}")
        return 0
    if words[0] == "--completion":
        return _completion(words[1:])
    chosen = words[0] if words[0] in COMMANDS else None
    if chosen is None and not words[0].startswith("-"):
        return _no_command(words[0])
    # Only help is worth the wait for the width of the terminal: argparse asks for it at the first
    # argument it is given, and imports shutil with its decompressors.
    width = None if not {"-h", "--help"}.isdisjoint(words) else 78
    parser = argparse.ArgumentParser(
        prog="drift", formatter_class=partial(argparse.HelpFormatter, width=width)
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    runner, own = None, parser
    for command in [chosen] if chosen else COMMANDS:
        if command == chosen:
            runner = importlib.import_module(module_of(command))
            described, _, more = str(runner.__doc__).partition("\nGood to know:\n")
            own = commands.add_parser(
                command,
                description=described,
                epilog=f"good to know:\n{more}" if more else None,
                formatter_class=partial(argparse.RawDescriptionHelpFormatter, width=width),
            )
            runner.add_arguments(own)
            if missing := _missing_options(own, words):
                print(f"drift {command}: there is no file of options {missing}", file=sys.stderr)
                print("check its name", file=sys.stderr)
                return 1
        else:
            commands.add_parser(command, add_help=False)
    options, unknown = parser.parse_known_args(words)
    if unknown:
        name = unknown[0].partition("=")[0]
        meant = near(name, [*own._option_string_actions]) if name.startswith("--") else []
        hint = f"; did you mean {' or '.join(meant)}?" if meant else ""
        own.error(f"unrecognized arguments: {' '.join(unknown)}{hint}")
    try:
        with wiped():
            return int(runner.run(options))  # type: ignore[union-attr]
    except (DriftError, SensorError) as refusal:
        print(f"drift {options.command}: {refusal.problem}", file=sys.stderr)
        print(refusal.remedy, file=sys.stderr)
        return 1
    except BrokenPipeError:
        raise
    except KeyboardInterrupt:
        print(f"\ndrift {options.command}: stopped", file=sys.stderr)
        return INTERRUPTED
    except OSError as error:  # a name that is too long, a disk that is full
        print(f"drift {options.command}: {error}"[:300], file=sys.stderr)
        print("check the name, the permissions and the space on the disk", file=sys.stderr)
        return 1


def _no_command(word: str) -> int:
    """Say that there is no such command, and what may have been meant."""
    meant = near(word, [*COMMANDS])
    remedy = f"did you mean drift {' or '.join(meant)}? " if meant else ""
    if word in TYPED_IN_A_LOG:
        remedy = "type it in drift log LOGBOOK or on the page of drift page LOGBOOK; "
    print(f"drift: no command {word!r}\n{remedy}drift --help lists all commands", file=sys.stderr)
    return WRONG_USAGE


def _missing_options(parser: argparse.ArgumentParser, words: list[str]) -> str:
    """Return the first file of options that is not there; argparse would answer with its usage."""
    marks = tuple(parser.fromfile_prefix_chars or ())
    files = (word[1:] for word in words if marks and word.startswith(marks))
    return next((file for file in files if not os.path.isfile(file)), "")


def _completion(words: list[str]) -> int:
    from drift.cli.completion import completion_script

    try:
        print(completion_script(" ".join(words), {name: module_of(name) for name in COMMANDS}))
    except DriftError as refusal:
        print(f"drift --completion: {refusal.problem}\n{refusal.remedy}", file=sys.stderr)
        return 1
    return 0


def _joined(words: Sequence[str]) -> list[str]:
    """Return the words with an option and its negative value in one: ``--celsius=-4,5``.

    argparse knows a negative number when it sees one, yet neither ``-4,5`` nor ``-4F``.
    """
    joined: list[str] = []
    for word in words:
        negative = word[:1] == "-" and word[1:2].isdecimal()
        if negative and joined and joined[-1].startswith("--") and "=" not in joined[-1]:
            joined[-1] = f"{joined[-1]}={word}"
        else:
            joined.append(word)
    return joined


class _Harmless:
    """A stream that spells out what could drive the terminal, whatever an old logbook holds.

    Everything that a command prints passes here and nowhere else.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        # Alone it is the program's own, which writes a line of progress anew.
        return self._stream.write(text if text == "\r" else harmless(text))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def _write_any_letter() -> None:
    """Let a console that lacks ♭ or ° show something else in its place, not fail."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
