"""Try everything on simulated data, with no hardware and nothing to type.

for example:
  drift demo
  drift demo --out somewhere-else

Good to know:
  A simulated season of an invented band is imported into a logbook, paired and fitted. Then come
  the slides for a hot room and a cold field, the plan for an autumn evening, charts and a report.
  The files stay, to look at and to copy.
"""

from __future__ import annotations

import argparse
import os
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from drift.cli.progress import of_source
from drift.writing import written_file

if TYPE_CHECKING:
    from drift.regression.results import Fit
    from drift.study import Study

__all__ = ["add_arguments", "run"]

SIMULATED = "A season in the Old Malthouse (simulated)"
SEASON = "datasets/cold-hall-season"
HOT_CELSIUS, COLD_CELSIUS = 33.0, 5.0
PLAYER, INSTRUMENT = "Rowan", "double horn"
HOTTEST = "2026-06-30 hottest"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        default=Path("drift-demo"),
        help="where the files go (default: drift-demo)",
    )


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    import drift
    from drift.logbook.book import Logbook
    from drift.logbook.bulk import import_tables
    from drift.study import Study
    from drift.tables.taking import take_tables

    out: Path = options.out
    _make(out)
    book = out / "season.logbook"
    with Logbook(book, writer=f"drift demo, process {os.getpid()}") as opened:
        import_tables(opened, take_tables(drift.shipped.folder(SEASON)))
    study = Study.open(book, **of_source(book))
    print("A simulated season of an invented band; nothing here was measured.\n")
    left_out = sum(item.count for item in study.paired.left_out)
    print(f"{len(study.paired)} readings paired with their temperature, {left_out} left out")
    print(_answer(study.fit))
    for celsius in (HOT_CELSIUS, COLD_CELSIUS):
        print(_slides(study, celsius))
    print(_gig(study, out / "gig"))
    _charts(study, out)
    _report(study, book, out / "report.html")
    print(f"\nIn {out}:")
    for file in sorted(path for path in out.rglob("*") if path.is_file()):
        if not file.name.endswith((".head", ".writer", "-wal", "-shm")):
            print(f"  {file.relative_to(out).as_posix()}")
    print("\nNext, try:")
    for words in _suggested(book):
        print(f"  {shlex.join(words)}")
    return 0


def _suggested(book: Path) -> list[list[str]]:
    """Return commands to go on with, each to be pasted as one line."""
    whose = ["--player", PLAYER, "--instrument", INSTRUMENT]
    return [
        ["drift", "fit", str(book)],
        ["drift", "slides", str(book), *whose, "--celsius", f"{COLD_CELSIUS:g}"],
        ["drift", "page", str(book)],
    ]


def _make(out: Path) -> None:
    from drift.errors import InputError

    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"{out} cannot be made: {error.strerror or error}",
            "choose a folder that you may write to",
        ) from None


def _answer(fit: Fit) -> str:
    entries = fit.curve(INSTRUMENT).entries()
    warm, rise = entries["warm_cents_per_celsius"], entries["warm_up_cents"]
    minutes = entries["warm_up_time_constant_minutes"]
    return (
        f"The double horn, warmed up, drifts {warm.estimate:.2f} cents/°C "
        f"({warm.low:.2f} to {warm.high:.2f});\nwarming up raises it {rise.estimate:.0f} cents "
        f"at 20 °C, 95 % of that in {3 * minutes.estimate:.0f} minutes."
    )


def _slides(study: Study, celsius: float) -> str:
    from drift.words.slides import orders

    at = study.reference_positions(PLAYER, INSTRUMENT)
    found = study.correction(INSTRUMENT, celsius, player=PLAYER, at=at)
    expected = found.expected_cents["F"].estimate
    return f"At {celsius:g} °C: {expected:+.1f} cents. {' '.join(orders(found))}"


def _gig(study: Study, out: Path) -> str:
    from drift import shipped
    from drift.gig.roster import read_roster
    from drift.gig.timetable import read_schedule
    from drift.gig.weather import read_forecast
    from drift.sheets.plan_files import write_plans
    from drift.words.gig_pitch import reason_words

    demo = shipped.folder("demo")
    plans = study.plans(
        read_forecast(demo / "forecast.csv"),
        read_roster(demo / "roster.csv"),
        read_schedule(demo / "schedule.csv"),
    )
    write_plans(plans, out)
    pitch = plans[0].pitch
    return (
        f"The gig on an autumn evening: tune to A4 = {pitch.recommended_a4_hz:.1f} Hz; "
        f"{reason_words(pitch)}."
    )


def _charts(study: Study, out: Path) -> None:
    from matplotlib.figure import Figure

    from drift.charts import drift_against_temperature, png, rehearsal_figure

    figure = Figure(figsize=(7.2, 4.2), layout="constrained")
    drift_against_temperature(study.fit, figure.subplots(), instrument=INSTRUMENT)
    _write(out / "drift-against-temperature.png", png(figure))
    logged = study.rehearsals
    rows, temperatures, events = (
        table[table["rehearsal"] == HOTTEST]
        for table in (study.fit.rows, logged.temperatures, logged.events)
    )
    figure = rehearsal_figure(rows, temperatures, events=events, title=f"{HOTTEST} (simulated)")
    _write(out / "hottest-rehearsal.png", png(figure))


def _report(study: Study, book: Path, out: Path) -> None:
    from drift.report import Made, compose, to_html

    made = Made(f"drift report {book.as_posix()} --out {out.as_posix()}", {})
    _write(out, to_html(compose(study.report(), made=made, about=SIMULATED)).encode())


def _write(file: Path, content: bytes) -> None:
    """Write a file that is there whole or not at all."""
    with written_file(file) as unfinished:
        unfinished.write_bytes(content)
