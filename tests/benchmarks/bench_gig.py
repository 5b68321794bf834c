"""The outdoor plan against plain arithmetic, in the same run.

Run ``python tests/benchmarks/bench_gig.py``. Forty sections (every instrument of the catalogue,
then again), twelve hours in steps of a minute, twelve tunes. The reference is ``numpy.exp`` of as
many numbers as there are sections, minutes and draws: the least that a plan without any sharing
between sections would have to compute. From acoustics alone, instruments of one size share a
course; with readings of each of them a plan takes about twice as long. Prints medians of processor
seconds, which a busy machine hardly changes, and their ratio to the reference. Limits: a plan with
its bands within 1 s, 2 000 draws of the forecast within 20 s, both after import.
"""

from __future__ import annotations

import itertools
import statistics
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np

from drift.gig.plan import Assumptions, Plan
from drift.gig.planning import plan
from drift.gig.roster import Section
from drift.gig.timetable import Entry, Schedule, arrange
from drift.gig.weather import constant_forecast
from drift.instruments import Catalogue

ROUNDS = 7
SECTIONS, HOURS = 40, 12
START = datetime(2026, 10, 9, 10, 0, tzinfo=UTC)


def band() -> list[Section]:
    """Return forty sections, with every slide somewhere in its travel."""
    kinds = itertools.islice(itertools.cycle(Catalogue.shipped().values()), SECTIONS)
    sections = []
    for number, kind in enumerate(kinds):
        slides = tuple(slide.name for slide in kind.slides)
        at = dict.fromkeys(slides, 12.0 + number % 20)
        sections.append(
            Section(f"section {number + 1}", kind, 4, slides, at, dict.fromkeys(slides, 70.0))
        )
    return sections


def day() -> Schedule:
    """Return twelve hours of tuning, playing and resting."""
    hourly = (0, 8, "tune"), (8, 35, "play"), (35, 60, "rest")
    rows = [(60 * h + first, 60 * h + last, what) for h in range(HOURS)
            for first, last, what in hourly]  # fmt: skip
    minutes = [(START + timedelta(minutes=a), START + timedelta(minutes=b), w) for a, b, w in rows]
    return arrange([Entry(*row) for row in minutes])


def planned(draws: int) -> Callable[[], Plan]:
    """Return the making of a plan with some draws of the forecast's error."""
    sections, schedule = band(), day()
    forecast = constant_forecast(6.0, schedule.start, schedule.end, humidity_percent=70)
    return lambda: plan(forecast, sections, schedule, assumptions=Assumptions(draws=draws))


def reference(draws: int) -> Callable[[], object]:
    """Return ``numpy.exp`` over sections, minutes and draws, a section at a time."""
    numbers = np.linspace(-5.0, 0.0, (HOURS * 60 + 1) * draws)
    return lambda: [np.exp(numbers) for _ in range(SECTIONS)]


def main() -> None:
    """Measure in turn, so that a change of the machine's speed meets all alike."""
    what: dict[str, Callable[[], object]] = {
        "exp of 40 x 721 x 500 numbers": reference(500),
        "plan with bands, 500 draws": planned(500),
        "exp of 40 x 721 x 2000 numbers": reference(2000),
        "plan with 2000 draws of the forecast": planned(2000),
    }
    times: dict[str, list[float]] = {name: [] for name in what}
    for _ in range(ROUNDS):
        for name, run in what.items():
            start = time.process_time()
            run()
            times[name].append(time.process_time() - start)
    medians = {name: statistics.median(found) for name, found in times.items()}
    names = list(medians)
    for ref_name, name in zip(names[::2], names[1::2], strict=True):
        ref, seconds = medians[ref_name], medians[name]
        print(f"{name}: {seconds:.2f} s, {seconds / ref:.1f} times {ref_name} ({ref:.2f} s)")


if __name__ == "__main__":
    main()
