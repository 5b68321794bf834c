"""Take tuner readings from recordings (WAV or FLAC), so that nobody has to type them.

Steady tones of one player, 0.7 s or longer, from F1 to C7, become readings; everything else is
refused with its reason: silence, speech, two notes at once, slides between notes. Vibrato is
fine. With --into they are kept in a logbook, each at the time it was played; the same recording
is not kept twice.

The clock of a recorder that is wrong by some parts in a million shifts every pitch by the same
number of cents (100 ppm: 0.17 cents), which no regression on temperature notices; --clock-ppm
corrects it.

The side of a double horn cannot be heard: --side names it, for all notes or for some
(Bb,F2-F4=F is: F2 to F4 on the F side, the others on the Bb side).

example: drift listen warm-up.wav --into band.logbook --rehearsal "2026-10-03 hall"
         --player Rowan --instrument "double horn" --side Bb --notes F4,Bb3
         --starts 2026-10-03T19:00:00+02:00
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.options import (
    add_instruments,
    add_json,
    add_notes,
    add_side,
    amount,
    catalogue_of,
    notes_of,
    print_json,
)
from drift.errors import InputError
from drift.quantities import HERTZ, NUMBER

if TYPE_CHECKING:
    from drift.capture.heard import Wanted
    from drift.capture.listening import Listening
    from drift.instruments import Instrument
    from sensors.sound import Recording

__all__ = ["add_arguments", "run"]

_A4_HZ = (380.0, 500.0)
_MOST_PPM = 10_000.0
_PROGRESS_S = 60.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("files", metavar="FILE", type=Path, nargs="+", help="a WAV or FLAC file")
    parser.add_argument("--into", metavar="BOOK", type=Path, help="keep the readings in a logbook")
    parser.add_argument("--rehearsal", metavar="NAME", help="its name, with --into")
    parser.add_argument("--player", metavar="P", help="who plays, with --into")
    parser.add_argument("--instrument", metavar="I", help="what is played; its compass limits")
    parser.add_argument(
        "--starts",
        metavar="TIME",
        action="append",
        default=[],
        help="when the recording began, such as 2026-10-03T19:00:00+02:00; once for each FILE "
        "(default: what the file says of itself)",
    )
    add_notes(parser)
    parser.add_argument("--a4", metavar="HZ", type=amount(HERTZ), default=440.0, help="pitch of A4")
    add_side(parser)
    parser.add_argument(
        "--channel", metavar="N", type=int, help="one channel (default: their mean)"
    )
    parser.add_argument(
        "--section", action="store_true", help="several players on one note are one tone"
    )
    parser.add_argument(
        "--clock-ppm",
        metavar="X",
        type=amount(NUMBER),
        default=0.0,
        help="by how many parts in a million the clock of the recorder runs fast",
    )
    parser.add_argument("--picture", metavar="FILE", type=Path, help="draw what was found")
    add_instruments(parser)
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.capture.listening import listen

    wanted = _wanted(options)
    began = _beginnings(options) if options.into else []
    found = [
        listen(path, wanted, channel=options.channel, progress=_progress(path))
        for path in options.files
    ]
    if options.picture:
        _draw(found, options.picture)
    kept = _keep(options, wanted, found, began) if options.into else ""
    if options.json:
        print_json(_together(found))
    else:
        print("\n\n".join(one.summary() for one in found))
    if kept:
        print(kept, file=sys.stderr if options.json else sys.stdout)
    return 0


def _wanted(options: argparse.Namespace) -> Wanted:
    from drift.capture.heard import Wanted, parse_sides
    from drift.instruments import find

    if not _A4_HZ[0] <= options.a4 <= _A4_HZ[1]:
        raise InputError(f"A4 at {options.a4:g} Hz is outside 380 to 500 Hz", "give --a4 440")
    if not abs(options.clock_ppm) <= _MOST_PPM:
        raise InputError(
            f"a clock {options.clock_ppm:g} parts in a million fast is no clock",
            "measure it against a time signal; 10 to 100 is usual",
        )
    instrument = find(options.instrument, catalogue_of(options)) if options.instrument else None
    sides = _sides(options.side, instrument, parse_sides)
    if options.into:
        _check_names(options)
        if instrument and len(instrument.sides) > 1 and not sides:
            names = " or ".join(side.name for side in instrument.sides)
            raise InputError(
                f"which side of the {instrument.name} was played cannot be heard",
                f"give --side {names}, or a rule such as Bb,F2-F4=F",
            )
    return Wanted(
        instrument=instrument if options.into or sides else _without_sides(instrument),
        a4_hz=options.a4,
        notes=notes_of(options),
        sides=sides,
        sections=options.section,
        clock_ppm=options.clock_ppm,
    )


def _sides(
    rule: str,
    instrument: Instrument | None,
    parse: Callable[[str, Instrument], dict[int, str]],
) -> dict[int, str]:
    if not rule:
        return {}
    if instrument is None:
        raise InputError("--side says nothing without --instrument", "name the instrument")
    return parse(rule, instrument)


def _without_sides(instrument: Instrument | None) -> Instrument | None:
    """Return the instrument for its compass alone: sides matter only to a logbook."""
    from dataclasses import replace

    return replace(instrument, sides=instrument.sides[:1]) if instrument else None


def _check_names(options: argparse.Namespace) -> None:
    for name in ("rehearsal", "player", "instrument"):
        if not getattr(options, name):
            raise InputError(f"--into needs --{name}", f"give --{name} as well")
    if options.starts and len(options.starts) != len(options.files):
        raise InputError(
            f"{len(options.files)} recordings and {len(options.starts)} times to start",
            "give --starts once for each recording, in their order",
        )


def _beginnings(options: argparse.Namespace) -> list[datetime]:
    """Return when each recording began: by the option, by its metadata, or by asking."""
    from drift.times import parse_time
    from sensors.sound import inspect

    if options.starts:
        return [parse_time(text) for text in options.starts]
    return [_began(inspect(path)) for path in options.files]


def _began(recording: Recording) -> datetime:
    from drift.times import parse_time

    name = recording.path.name
    if recording.started is not None:
        began = recording.started.astimezone()
        zone = "" if recording.started.tzinfo else ", in the time zone of this computer"
        print(f"{name} began at {began.isoformat(' ')} by its own account{zone}", file=sys.stderr)
        return began
    if sys.stdin is not None and sys.stdin.isatty():
        print(f"when did {name} begin (2026-10-03T19:00:00+02:00)? ", end="", file=sys.stderr)
        return parse_time(sys.stdin.readline().strip())
    raise InputError(
        f"{name} does not say when it began", "give --starts, such as 2026-10-03T19:00:00+02:00"
    )


def _progress(path: Path) -> Callable[[float, float], None] | None:
    """Return what tells a person how far a long recording is, on a terminal only."""
    if not sys.stderr.isatty():
        return None
    shown = -1

    def tell(done: float, total: float) -> None:
        nonlocal shown
        percent = int(100 * done / total)
        if total >= _PROGRESS_S and percent != shown:
            shown = percent
            end = "\r" if percent < 100 else "\n"
            print(f"{path.name}: {percent} % of {total / 60:.0f} minutes", end=end, file=sys.stderr)

    return tell


def _keep(
    options: argparse.Namespace, wanted: Wanted, found: list[Listening], began: list[datetime]
) -> str:
    """Keep all readings, or none, and say what was kept."""
    import os

    from drift.capture.listening import clock, fingerprint
    from drift.logbook.book import Logbook

    assert wanted.instrument is not None
    readings, keys = [], []
    for one, start in zip(found, began, strict=True):
        name = one.recording.path.name
        mark = fingerprint(one.recording.path)
        for item in one.heard:
            at, spread = item.tone.start_s, item.tone.spread_cents
            readings.append(
                item.reading(
                    began=start,
                    rehearsal=options.rehearsal,
                    player=options.player,
                    instrument=wanted.instrument.name,
                    a4_hz=wanted.a4_hz,
                    remark=f"from {name} at {clock(at)}, spread {spread:.1f} cents",
                )
            )
            keys.append(f"{mark} {at:.1f} {options.rehearsal} {options.player}")
    if not readings:
        raise InputError(
            f"no reading in {', '.join(one.recording.path.name for one in found)}: "
            f"{_why_none(found)}",
            "hold single notes for two seconds, and see drift listen without --into",
        )
    with Logbook(options.into, writer=f"drift listen, process {os.getpid()}") as book:
        new = book.keep_all(readings, once=keys)
    again = len(readings) - new
    return f"kept {new} readings in {options.into}" + (
        f"; {again} were there already" if again else ""
    )


def _why_none(found: list[Listening]) -> str:
    """Return the reason that takes the longest time."""
    seconds: dict[str, float] = {}
    for one in found:
        for item in one.refused:
            seconds[item.reason] = seconds.get(item.reason, 0.0) + item.end_s - item.start_s
    return max(seconds, key=lambda reason: seconds[reason], default="too short")


def _together(found: list[Listening]) -> dict[str, object]:
    """Return one object: of one recording, or of several with the name of each at its tones."""
    if len(found) == 1:
        return found[0].to_json()
    together: dict[str, list[object]] = {"tones": [], "findings": [], "refused": []}
    for one in found:
        for key, items in one.to_json().items():
            together[key] += [item | {"file": str(one.recording.path)} for item in items]
    return dict(together)


def _draw(found: list[Listening], path: Path) -> None:
    from matplotlib.figure import Figure

    from drift.charts.style import save, style

    with style():
        figure = Figure(figsize=(9, 3.6 * len(found)), layout="constrained")
        axes = figure.subplots(len(found), squeeze=False)[:, 0]
    for one, ax in zip(found, axes, strict=True):
        one.plot(ax)
    save(figure, path)
