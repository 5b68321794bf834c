"""An invented band on an invented evening, for the tests of the outdoor plan."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd

from drift.gig.roster import Section
from drift.gig.timetable import Entry, arrange
from drift.gig.weather import constant_forecast
from drift.instruments import find

START = datetime(2026, 10, 9, 18, 0, tzinfo=UTC)


def minute(number):
    return START + timedelta(minutes=number)


def schedule(*rows):
    """A schedule of rows (activity, first minute, last minute)."""
    return arrange([Entry(minute(first), minute(last), what) for what, first, last in rows])


def steady(celsius, hours=6):
    return constant_forecast(celsius, START - timedelta(hours=1), START + timedelta(hours=hours))


def section(name, instrument, players, given):
    given = {"name": name, "instrument": find(instrument), "players": players, **given}
    return Section(**given)


def trumpets(**changes):
    given = {"slides": ("main",), "at_mm": {"main": 15.0}, "travel_mm": {"main": 40.0}}
    return section("trumpets", "Bb trumpet", 12, {**given, **changes})


def horns(**changes):
    given = {
        "slides": ("main", "F"),
        "at_mm": {"main": 20.0, "F": 12.0},
        "travel_mm": {"main": 45.0, "F": 30.0},
    }
    return section("horns", "double horn", 4, {**given, **changes})


def tuba(**changes):
    given = {"slides": ("main",), "at_mm": {"main": 40.0}, "travel_mm": {"main": 90.0}}
    return section("tuba", "BBb tuba", 1, {**given, **changes})


def bells(**changes):
    return section("bells", "glockenspiel", 1, {"built_a4_hz": 442.0, **changes})


def simulated_trumpet():
    """Readings of one trumpet with slope 2.95, rise 14 and time constant 4.5 minutes."""
    rng = np.random.default_rng(4)
    rows = []
    for rehearsal in range(8):
        celsius = 15 + 2 * rehearsal
        for minutes in np.arange(1.0, 40.0, 3.0):
            w = 1 - np.exp(-minutes / 4.5)
            cents = 2.95 * (celsius - 20) + 14 * (w * (34 - celsius) / 14 - 1)
            rows.append((f"r{rehearsal}", "Rowan", "Bb trumpet", "Bb4",
                         cents + rng.normal(0, 2), celsius, minutes))  # fmt: skip
    names = ["rehearsal", "player", "instrument", "note", "reference_cents", "celsius",
             "playing_minutes"]  # fmt: skip
    return pd.DataFrame(rows, columns=names)
