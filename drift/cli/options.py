"""Arguments that several commands share, worded once."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drift.errors import InputError
from drift.quantities import HERTZ, LENGTH, Quantity, Units, parse_units, read_quantity
from drift.texts import unfit

if TYPE_CHECKING:
    from drift.instruments import Catalogue
    from sensors.microphone import Microphone

__all__ = [
    "SHOWN_AND_READ",
    "Once",
    "add_instruments",
    "add_json",
    "add_logging",
    "add_microphone",
    "add_notes",
    "add_priors",
    "add_side",
    "add_source",
    "add_start",
    "add_tables",
    "add_without",
    "amount",
    "by_slide",
    "catalogue_of",
    "check_microphone",
    "microphone_of",
    "notes_of",
    "print_json",
    "units",
]


def add_source(parser: argparse.ArgumentParser, *, acoustics: bool = False) -> None:
    """Add the argument SOURCE: a rehearsal folder, a logbook or (optionally) ``acoustics``."""
    also = ", or the word acoustics (no readings needed)" if acoustics else ""
    parser.add_argument("source", metavar="SOURCE", help=f"a rehearsal folder or a logbook{also}")


def add_start(parser: argparse._ActionsContainer) -> None:
    """Add ``--start``, how warm instruments were when they began."""
    parser.add_argument(
        "--start",
        choices=["stated", "estimated"],
        default="stated",
        help="how warm instruments were at the start: as logged (default), or estimated",
    )


def add_without(parser: argparse._ActionsContainer) -> None:
    """Add ``--without-rehearsal``, whose readings are left out."""
    parser.add_argument(
        "--without-rehearsal",
        metavar="NAME",
        action="append",
        default=[],
        help="leave out the readings of a rehearsal; repeat for more than one",
    )


SHOWN_AND_READ = (
    "time zone of what is shown (default: that of the tables, or this computer's) and of times "
    "without an offset"
)


def add_tables(
    parser: argparse._ActionsContainer, zone: str | None = "time zone of times without an offset"
) -> None:
    """Add how tables are written: ``--dates``, ``--wide`` and, with what it is for, ``--zone``."""
    if zone is not None:
        parser.add_argument("--zone", metavar="ZONE", help=f"{zone}, e.g. Europe/Berlin")
    parser.add_argument(
        "--dates",
        choices=("day-first", "month-first"),
        help="order of dates such as 9/12/2026, if the table does not show it",
    )
    parser.add_argument(
        "--wide",
        action="store_true",
        help="readings have a column for each note (F4, Bb3, ...) or time (18:05, 18:20, ...)",
    )


class Once(argparse.Action):
    """Take an option once: a second one is refused, and does not replace the first."""

    def __call__(
        self, parser: argparse.ArgumentParser, namespace: argparse.Namespace, values: Any,
        option_string: str | None = None,
    ) -> None:  # fmt: skip
        """Take the value."""
        if (before := getattr(namespace, self.dest)) is not None:
            raise argparse.ArgumentError(
                self, f"is given twice, {before} and {values}: put both into one file"
            )
        setattr(namespace, self.dest, values)


def add_json(parser: argparse._ActionsContainer) -> None:
    """Add ``--json``."""
    parser.add_argument("--json", action="store_true", help="one JSON object on standard output")


def add_covariates(parser: argparse._ActionsContainer) -> None:
    """Add ``--covariate NAME`` and ``--beside FILE``, what else may change the pitch."""
    parser.add_argument(
        "--covariate",
        action="append",
        default=[],
        metavar="NAME",
        help="a column that may change the pitch as well, such as humidity; repeat for more "
        "than one",
    )
    parser.add_argument(
        "--beside",
        action="append",
        default=[],
        metavar="FILE",
        type=Path,
        help="columns of your own to take as covariates, such as time,player,note,mute or "
        "rehearsal,crowd (CSV or Parquet); repeat for more than one",
    )


def add_priors(parser: argparse._ActionsContainer) -> None:
    """Add ``--priors FILE``, what is expected before any reading."""
    parser.add_argument(
        "--priors",
        metavar="FILE",
        type=Path,
        help="a TOML file of expectations, such as drift combine writes",
    )


def add_instruments(parser: argparse._ActionsContainer) -> None:
    """Add ``--instruments FILE``, a catalogue of the user's own beside the shipped one."""
    parser.add_argument(
        "--instruments",
        metavar="FILE",
        type=Path,
        help="a TOML file with instruments of your own, beside the shipped catalogue",
    )


def catalogue_of(options: argparse.Namespace) -> Catalogue:
    """Return the catalogue of ``--instruments``, or the shipped one."""
    from drift.instruments import Catalogue

    if options.instruments is None:
        return Catalogue.shipped()
    return Catalogue.read(options.instruments)


def add_logging(parser: argparse.ArgumentParser) -> argparse._ArgumentGroup:
    """Add LOGBOOK and what a rehearsal is logged with: who plays what, thermometers, microphone.

    Returns the group of the rehearsal, for what a command adds to it.
    """
    parser.add_argument(
        "book",
        metavar="LOGBOOK",
        nargs="?",
        type=Path,
        help="the logbook, created if it does not exist (left out: asked for)",
    )
    rehearsal = parser.add_argument_group("the rehearsal")
    rehearsal.add_argument("--player", metavar="P", default="", help="who plays")
    rehearsal.add_argument("--instrument", metavar="I", default="", help="what is played")
    rehearsal.add_argument(
        "--a4",
        metavar="HZ",
        type=amount(HERTZ),
        help="pitch of A4 (default: as last in this rehearsal, else 440)",
    )
    rehearsal.add_argument(
        "--written",
        action="store_true",
        default=None,
        help="notes as the player of the instrument reads them",
    )
    rehearsal.add_argument(
        "--units",
        metavar="C|F,mm|inch",
        type=units,
        help="what is typed and shown, from now on (default: as chosen last, else C,mm)",
    )
    rehearsal.add_argument(
        "--plan",
        metavar="FOLDER",
        type=Path,
        help="the folder that drift gig --out has written, or with a schedule and a forecast: "
        "target alone is for its next playing, and the page shows the plan written there",
    )
    measured = parser.add_argument_group("what is measured")
    measured.add_argument(
        "--thermometer",
        metavar="ADDRESS",
        action="append",
        default=[],
        help="address, e.g. serial:/dev/ttyUSB0 or simulated:; repeat for more than one",
    )
    add_microphone(measured)
    add_instruments(rehearsal)
    return rehearsal


def add_microphone(parser: argparse._ActionsContainer) -> None:
    """Add ``--microphone [DEVICE]`` and ``--notes``, what to listen for."""
    parser.add_argument(
        "--microphone",
        metavar="DEVICE",
        nargs="?",
        const="",
        help="propose readings from a microphone (default: the one chosen with drift microphone); "
        "k keeps one, d drops it",
    )
    add_notes(parser)


def check_microphone(options: argparse.Namespace) -> None:
    """Refuse what says how to listen while nobody listens."""
    for name in ("side", "notes"):
        if getattr(options, name, "") and options.microphone is None:
            raise InputError(
                f"--{name} has no use without --microphone", f"give both, or leave --{name} out"
            )


def microphone_of(options: argparse.Namespace) -> Microphone:
    """Return the microphone of ``--microphone``: by its name or number, else the chosen one."""
    from drift.cli.chosen_microphone import chosen_microphone
    from sensors.microphone import Microphone

    chosen = chosen_microphone()
    device = options.microphone or chosen.device
    delay_s = chosen.delay_s if device == chosen.device else 0.0
    return Microphone(int(device) if device.isdecimal() else device or None, delay_s=delay_s)


def add_notes(parser: argparse._ActionsContainer) -> None:
    """Add ``--notes``, the only notes to take from a sound."""
    parser.add_argument(
        "--notes", metavar="F4,C4", default="", help="take only these (sounding) notes"
    )


def add_side(parser: argparse._ActionsContainer) -> None:
    """Add ``--side``, for what is taken from a sound: there the side cannot be heard."""
    parser.add_argument(
        "--side", metavar="RULE", default="", help="side of a double horn, e.g. Bb or Bb,F2-F4=F"
    )


def notes_of(options: argparse.Namespace) -> frozenset[int]:
    """Return the MIDI numbers of ``--notes``; empty for all."""
    from drift.notes import midi_of

    return frozenset(midi_of(note.strip()) for note in options.notes.split(",") if note.strip())


def amount(quantity: Quantity) -> Callable[[str], float]:
    """Return a type for argparse that reads a quantity as people write it.

    Examples
    --------
    >>> from drift.quantities import MINUTES
    >>> amount(MINUTES)("1,5 h")
    90.0
    """

    def read(text: str) -> float:
        value = read_quantity(text, quantity)
        if value is None:
            raise argparse.ArgumentTypeError(
                f"{text!r} is not {quantity.called}; {quantity.remedy}"
            )
        return value

    return read


def units(text: str) -> Units:
    """Return units from ``F,inch`` (a type for argparse)."""
    found = parse_units(text)
    if found is None:
        raise argparse.ArgumentTypeError(f"{text!r} names no units; write it as F,inch or C,mm")
    return found


def by_slide(text: str) -> dict[str, float]:
    """Return millimetres by slide from ``main=12,F=8`` (a type for argparse).

    Examples
    --------
    >>> by_slide("main=12,F=8.5")
    {'main': 12.0, 'F': 8.5}
    """
    found = {}
    for part in filter(None, text.split(",")):
        slide, _, value = part.partition("=")
        position_mm = read_quantity(value, LENGTH)
        if position_mm is None:
            raise argparse.ArgumentTypeError(
                f"{part!r} is not a slide and millimetres; write it as main=12,F=8"
            )
        found[slide.strip()] = position_mm
    return found


def print_json(answer: Mapping[str, Any]) -> None:
    """Print one JSON object, numbers unrounded; a number that does not exist becomes null."""
    import json  # most commands print none, and the start of a log waits for no module it can spare

    text = json.dumps(_without_nan(answer), ensure_ascii=False, allow_nan=False)
    while letter := unfit(text):  # JSON can spell it, so that nothing is lost
        text = text.replace(letter, json.dumps(letter)[1:-1])
    print(text)


def _without_nan(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _without_nan(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_without_nan(item) for item in value]
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
