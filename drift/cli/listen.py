r"""Take tuner readings from recordings, so that nobody has to type them.

for example:
  drift listen warm-up.wav
  drift listen warm-up.wav --into band.logbook --rehearsal "2026-10-03 hall" --player Rowan \
      --instrument "double horn" --side Bb --notes F4,Bb3 --starts 2026-10-03T19:00:00+02:00

Steady tones of one player, 0.7 s or longer, become readings. Everything else is refused with its
reason: silence, speech, two notes at once, slides between notes. Vibrato is fine.

Good to know:
  Formats: WAV, AIFF, CAF, FLAC, MP3, Ogg and, with the extra phone, .m4a.
  With --into, readings are saved in a logbook, each at the time it was played; the same recording
  is not saved twice.
  The side of a double horn cannot be heard: name it with --side, for all notes or for some
  (Bb,F2-F4=F is: F2 to F4 on the F side, the others on the Bb side).
  A recorder's clock that is wrong by some parts in a million shifts every pitch by the same number
  of cents (100 ppm: 0.17 cents). No regression notices that; --clock-ppm corrects it.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.named_player import settle_player_of_book
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
from sensors.errors import SensorError

if TYPE_CHECKING:
    from drift.capture.heard import Wanted
    from drift.capture.listening import Listening
    from drift.capture.turns import Turn
    from drift.instruments import Instrument
    from sensors.sound import Recording

__all__ = ["add_arguments", "run"]

_A4_HZ = (380.0, 500.0)
_MOST_PPM = 10_000.0
_PROGRESS_S = 60.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("files", metavar="FILE", type=Path, nargs="+", help="a recording")
    saved = parser.add_argument_group("saving the readings")
    saved.add_argument(
        "--into", metavar="LOGBOOK", type=Path, help="save the readings in a logbook"
    )
    saved.add_argument("--rehearsal", metavar="NAME", help="its name, with --into")
    saved.add_argument("--player", metavar="P", help="who plays, with --into")
    saved.add_argument("--instrument", metavar="I", help="what is played; its compass limits")
    saved.add_argument(
        "--starts",
        metavar="TIME",
        action="append",
        default=[],
        help="when the recording began, such as 2026-10-03T19:00:00+02:00; once for each FILE "
        "(default: what the file says of itself)",
    )
    saved.add_argument(
        "--turns",
        metavar="CSV",
        type=Path,
        help="who plays when, one row a turn: start,end,player,instrument,side",
    )
    saved.add_argument(
        "--replace",
        action="store_true",
        help="undo what was saved of this recording with another start, side or A4",
    )
    taken = parser.add_argument_group("what to take")
    taken.add_argument(
        "--from", dest="begin", metavar="M:S", help="take only what follows, such as 3:10"
    )
    taken.add_argument(
        "--to", dest="until", metavar="M:S", help="take only what comes before, such as 3:40"
    )
    add_notes(taken)
    add_side(taken)
    taken.add_argument(
        "--channel", metavar="N", type=int, help="one channel (default: all, each apart)"
    )
    taken.add_argument(
        "--section", action="store_true", help="several players on one note are one tone"
    )
    sound = parser.add_argument_group("the recording")
    sound.add_argument("--a4", metavar="HZ", type=amount(HERTZ), default=440.0, help="pitch of A4")
    sound.add_argument(
        "--clock-ppm",
        metavar="X",
        type=amount(NUMBER),
        default=0.0,
        help="by how many parts in a million the clock of the recorder runs fast",
    )
    answer = parser.add_argument_group("the answer")
    answer.add_argument("--picture", metavar="FILE", type=Path, help="draw what was found")
    add_json(answer)
    add_instruments(answer)


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    if options.into:
        settle_player_of_book(options, options.into)
    turns = _turns(options)
    began = [parse_starts(text) for text in options.starts] if options.into else []
    found = _heard(options, turns)
    if options.picture and found:
        _draw(list(found.values()), options.picture)
    saved, lines = _save(options, found, began) if options.into else (True, [])
    if options.json:
        print_json(_together(list(found.values())))
    elif found:
        print("\n\n".join(one.summary() for one in found.values()))
    for line in lines:
        print(line, file=sys.stderr if options.json else sys.stdout)
    return 0 if saved and any(one.heard for one in found.values()) else 1


def parse_starts(text: str) -> datetime:
    """Return when a recording began, as it was typed."""
    from drift.times import parse_time

    return parse_time(text)


def _heard(options: argparse.Namespace, turns: list[Turn]) -> dict[int, Listening]:
    """Listen to each recording; one that cannot be read is named and stops no other."""
    from drift.capture.listening import listen

    found, refused = {}, []
    for place, path in enumerate(options.files):
        try:
            found[place] = listen(path, turns, channel=options.channel, progress=_progress(path))
        except SensorError as error:
            refused.append(error)
    if len(refused) == len(options.files) == 1:
        raise refused[0]
    for refusal in refused:
        print(f"not heard: {refusal.problem}\n{refusal.remedy}", file=sys.stderr)
    return found


def _turns(options: argparse.Namespace) -> list[Turn]:
    """Return who is listened to from when to when."""
    from drift.capture.turns import Turn, parse_clock, read_turns

    if options.into:
        _check_names(options)
    if options.turns is None:
        start = parse_clock(options.begin) if options.begin else 0.0
        end = parse_clock(options.until) if options.until else math.inf
        if end <= start:
            raise InputError(
                f"--to {options.until} is not after --from {options.begin}",
                "give where the part begins and where it ends, such as --from 3:10 --to 3:40",
            )
        wanted = _wanted(options, options.player or "", options.instrument, options.side)
        return [Turn(wanted, start, end)]
    if options.begin or options.until or options.player:
        raise InputError(
            "--turns already says who plays when", "leave out --from, --to and --player"
        )
    rows = read_turns(options.turns)
    return [
        Turn(
            _wanted(
                options, row.player, row.instrument or options.instrument, row.side or options.side
            ),
            row.start_s,
            row.end_s,
        )
        for row in rows
    ]


def _wanted(options: argparse.Namespace, player: str, name: str | None, rule: str) -> Wanted:
    from drift.capture.heard import Wanted, parse_sides
    from drift.instruments import find

    if not _A4_HZ[0] <= options.a4 <= _A4_HZ[1]:
        raise InputError(f"A4 at {options.a4:g} Hz is outside 380 to 500 Hz", "give --a4 440")
    if not abs(options.clock_ppm) <= _MOST_PPM:
        raise InputError(
            f"a clock {options.clock_ppm:g} parts in a million fast is not a clock",
            "measure it against a time signal; 10 to 100 is usual",
        )
    instrument = find(name, catalogue_of(options)) if name else None
    sides = _sides(rule, instrument, parse_sides)
    if options.into:
        if instrument is None:
            raise InputError(
                f"the instrument of {player} is not named",
                "give --instrument, or a column instrument in the table of turns",
            )
        if len(instrument.sides) > 1 and not sides:
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
        player=player,
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
    needed = ["rehearsal"] if options.turns else ["rehearsal", "player", "instrument"]
    for name in needed:
        if not getattr(options, name):
            raise InputError(f"--into needs --{name}", f"give --{name} as well")
    if options.starts and len(options.starts) != len(options.files):
        raise InputError(
            f"{len(options.files)} recordings and {len(options.starts)} times to start",
            "give --starts once for each recording, in their order",
        )


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


def _save(
    options: argparse.Namespace, found: dict[int, Listening], began: list[datetime]
) -> tuple[bool, list[str]]:
    """Save all readings, or none; return whether any is in the book now, and what to say."""
    import os
    from datetime import UTC

    from drift.capture.listening import clock, fingerprint
    from drift.capture.saving import Marked, save_readings
    from drift.logbook.book import Logbook
    from drift.words.listening import describe_findings, describe_saved

    readings = []
    for place, one in found.items():
        if not one.heard:
            continue
        start = began[place] if began else _began(one.recording)
        name, mark = one.recording.path.name, fingerprint(one.recording.path)
        for item in one.heard:
            at, spread = item.tone.start_s, item.tone.spread_cents
            reading = item.reading(
                began=start,
                rehearsal=options.rehearsal,
                player=item.player,
                instrument=item.instrument,
                a4_hz=options.a4,
                remark=f"from {name} at {clock(at)}, spread {spread:.1f} cents",
            )
            readings.append(Marked(reading, mark, at))
    if not readings:
        why = [
            f"{one.recording.path.name}: {text}"
            for one in found.values()
            for text in describe_findings(one).values()
        ]
        raise InputError(
            f"no reading in {' '.join(why) or 'any of the recordings'}",
            "hold single notes for two seconds, and see drift listen without --into",
        )
    with Logbook(options.into, writer=f"drift listen, process {os.getpid()}") as book:
        saved = save_readings(book, readings, datetime.now(UTC), replace=options.replace)
    done = saved.new + saved.already + (len(saved.changed) if saved.replaced else 0)
    return done > 0, describe_saved(saved, str(options.into))


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
