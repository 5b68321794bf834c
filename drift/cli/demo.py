"""Do the whole job on the shipped data, with no hardware and nothing to type.

A simulated season of an invented band: its rehearsals go into a logbook, are paired and fitted;
then come the slides for a hot room and a cold field, the plan for a gig on an autumn evening,
charts and a report. The files stay, to look at and to copy.

example: drift demo --out drift-demo
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drift.logbook.rehearsals import Rehearsals
    from drift.regression.results import Fit

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
    from drift.logbook.exchange import import_folder
    from drift.logbook.folders import read_folder

    out: Path = options.out
    _make(out)
    book = out / "season.logbook"
    with Logbook(book, writer=f"drift demo, process {os.getpid()}") as opened:
        import_folder(opened, read_folder(drift.shipped.folder(SEASON)))
    season = drift.load(book)
    paired = drift.pair(season)
    fit = drift.fit(paired)
    print("A simulated season of an invented band; nothing here was measured.\n")
    left_out = sum(item.count for item in paired.left_out)
    print(f"{len(paired)} readings paired with their temperature, {left_out} left out")
    print(_answer(fit))
    for celsius in (HOT_CELSIUS, COLD_CELSIUS):
        print(_slides(fit, season, celsius))
    print(_gig(fit, out / "gig"))
    _charts(fit, season, out)
    _report(season, book, out / "report.html")
    print(f"\nIn {out}:")
    for file in sorted(path for path in out.rglob("*") if path.is_file()):
        if not file.name.endswith((".writer", "-wal", "-shm")):
            print(f"  {file.relative_to(out).as_posix()}")
    print(f"\nGo on with: drift fit {book}, drift slides {book} --instrument '{INSTRUMENT}'")
    print(f"            --celsius 5 --player {PLAYER}, drift page {book}")
    return 0


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


def _slides(fit: Fit, season: Rehearsals, celsius: float) -> str:
    import drift
    from drift.instruments import find
    from drift.pairing.slide_log import reference_positions

    at = reference_positions(season, PLAYER, find(INSTRUMENT))
    found = drift.correct(fit, INSTRUMENT, celsius, at=at)
    expected = found.expected_cents["F"].estimate
    moves = ", ".join(
        f"{move.slide} {'out' if move.move_mm > 0 else 'in'} {abs(move.move_mm):.1f} mm "
        f"to {move.to_mm:.1f}{' (its end)' if move.limited else ''}"
        for move in found.moves
        if move.to_mm is not None
    )
    left = [
        f"{side} {cents:+.1f}" for side, cents in found.left_over_cents.items() if abs(cents) > 0.05
    ]
    remains = f"; {' and '.join(left)} cents remain" if left else ""
    return f"At {celsius:g} °C: {expected:+.1f} cents; {moves}{remains}."


def _gig(fit: Fit, out: Path) -> str:
    from drift import shipped
    from drift.gig.planning import plan
    from drift.gig.roster import read_roster
    from drift.gig.timetable import read_schedule
    from drift.gig.weather import read_forecast
    from drift.sheets.plan_files import write_plan

    demo = shipped.folder("demo")
    planned = plan(
        read_forecast(demo / "forecast.csv"),
        read_roster(demo / "roster.csv"),
        read_schedule(demo / "schedule.csv"),
        fit,
    )
    write_plan(planned, out)
    pitch = planned.to_json()["pitch"]
    return (
        f"The gig on an autumn evening: tune to A4 = {pitch['recommended_a4_hz']:.1f} Hz; "
        f"{pitch['reason']}."
    )


def _charts(fit: Fit, season: Rehearsals, out: Path) -> None:
    from matplotlib.figure import Figure

    from drift.charts import drift_against_temperature, png, rehearsal_figure

    figure = Figure(figsize=(7.2, 4.2), layout="constrained")
    drift_against_temperature(fit, figure.subplots(), instrument=INSTRUMENT)
    (out / "drift-against-temperature.png").write_bytes(png(figure))
    rows, temperatures, events = (
        table[table["rehearsal"] == HOTTEST]
        for table in (fit.rows, season.temperatures, season.events)
    )
    figure = rehearsal_figure(rows, temperatures, events=events, title=f"{HOTTEST} (simulated)")
    (out / "hottest-rehearsal.png").write_bytes(png(figure))


def _report(season: Rehearsals, book: Path, out: Path) -> None:
    from drift.report import Made, compose, to_html

    made = Made(f"drift report {book.as_posix()} --out {out.as_posix()}", {})
    out.write_bytes(to_html(compose(season, made=made, about=SIMULATED)).encode())
