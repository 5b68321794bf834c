"""Does an evening that was read teach the next one its lag? Simulated bands, acoustics alone.

Run ``python tests/benchmarks/study_lag.py --bands 8 --first 160000``. Each band plays one evening
by its plan; two players a section are read every three minutes (sd 2.5 cents); the lag found is
given to the plan of a second evening with other weather, which is carried out with it and without.
"""

import argparse
from dataclasses import replace

import numpy as np
import pandas as pd

from drift.gig.compared import compare
from drift.gig.evening import plan_evening
from drift.gig.lag import LAGS_MINUTES
from drift.gig.plan import Assumptions
from drift.gig.roster import Section as Planned
from drift.gig.timetable import Entry, arrange
from drift.instruments import find
from tests.gig.carried_out import FORECAST_SD, READING_SD, _carried_out, forecast_of, truth
from tests.gig.simulated_bands import EVENINGS, band
from tests.gigs import minute

TAKE = Assumptions(a4_hz=440.0, draws=200)
AIR = pd.DataFrame({"time": pd.to_datetime([], utc=True), "celsius": []})


def planned(sections, schedule, forecast, take, **how):
    """The plan of an evening from acoustics alone."""
    rows = [
        Planned(s.name, find(s.instrument), len(s.slope), (s.slide,),
                {s.slide: float(s.at_mm.mean())}, {s.slide: s.travel_mm})
        for s in sections
    ]  # fmt: skip
    return plan_evening(forecast, rows, schedule, None, take, **how)[0]


def carried(sections, plan, first, per_hour, seed):
    """Pitch while playing outdoors, by section, and the minutes of it."""
    minutes, _, _, place = truth(plan.schedule.entries, first, per_hour)
    outdoors = [e.activity == "play" and e.celsius is None for e in plan.schedule.entries]
    found = {}
    for section in sections:
        rng = np.random.default_rng([seed, 11])
        room = section.drift(np.full(240, 20.0), np.ones(240))[:, 160]
        before = -room + rng.normal(0, READING_SD, len(room))
        found[section.name], _ = _carried_out(section, plan, first, per_hour, before, rng)
    return found, minutes[np.array(outdoors)[place]]


def read(sections, pitch, minutes, rng):
    """What two players of each section read, every three minutes."""
    rows = [
        (minute(at), f"{section.name} {player}", find(section.instrument).name, "", "A4",
         pitch[section.name][player, n] + rng.normal(0, READING_SD), 440.0, False)
        for section in sections
        for n, at in enumerate(minutes) if at % 3 < 0.25
        for player in range(2)
    ]  # fmt: skip
    names = ["time", "player", "instrument", "side", "note", "cents", "a4_hz", "flagged"]
    table = pd.DataFrame(rows, columns=names)
    table["time"] = pd.to_datetime(table["time"], utc=True)
    return table


def one(seed):
    """Return lag found and the errors of the next evening without and with it."""
    rng = np.random.default_rng([seed, 5])
    sections = band(seed)
    rows, first, per_hour = EVENINGS["cold"]
    schedule = arrange([Entry(minute(a), minute(b), what, celsius=t) for what, a, b, t in rows])
    tonight = first + rng.normal(0, 1.5)
    forecast = forecast_of(tonight, per_hour, rng.normal(0, FORECAST_SD))
    plan = planned(sections, schedule, forecast, TAKE)
    pitch, minutes = carried(sections, plan, tonight, per_hour, seed)
    later = {
        lag: planned(sections, plan.schedule, forecast, replace(TAKE, lag_minutes=lag),
                     as_scheduled=True)
        for lag in LAGS_MINUTES
    }  # fmt: skip
    lag = compare(plan, read(sections, pitch, minutes, rng), AIR, later).lag
    tomorrow = first + rng.normal(0, 1.5)
    forecast = forecast_of(tomorrow, per_hour, rng.normal(0, FORECAST_SD))
    errors = []
    for given in (0.0, lag.estimate if lag else 0.0):
        plan = planned(sections, schedule, forecast, replace(TAKE, lag_minutes=given))
        pitch, _ = carried(sections, plan, tomorrow, per_hour, seed + 1)
        errors.append(float(np.mean([np.abs(cents).mean() for cents in pitch.values()])))
    return lag, sections[0].lumped, errors


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--bands", type=int, default=8)
    ask.add_argument("--first", type=int, default=160000, help="first seed")
    given = ask.parse_args()
    rows = []
    for seed in range(given.first, given.first + given.bands):
        lag, lumped, (without, with_it) = one(seed)
        shown = f"{lag.estimate:.1f} ({lag.low:.1f} to {lag.high:.1f})" if lag else "not known"
        rows.append((without, with_it))
        print(f"| {'lumped' if lumped else 'bore'} | {shown} | {without:.1f} | {with_it:.1f} |",
              flush=True)  # fmt: skip
    print("mean", np.mean(rows, axis=0).round(2))


if __name__ == "__main__":
    main()
