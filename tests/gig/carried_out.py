"""A plan carried out by a simulated band that does what the sheet says and follows the tuner."""

from datetime import timedelta
from functools import lru_cache

import numpy as np
import pandas as pd

import drift
from drift.gig.evening import plan_evening
from drift.gig.plan import Assumptions
from drift.gig.roster import Section as Planned
from drift.gig.timetable import Entry, arrange
from drift.gig.weather import Forecast
from drift.instruments import find
from tests.gig.simulated_bands import EVENINGS, STEP, band, rehearsals
from tests.gigs import START, minute

READING_SD, FORECAST_SD = 2.5, 1.0
#: How much wider than drawn the printed intervals might be.
WIDER = (1.0, 1.25, 1.5)


def forecast_of(first, per_hour, error):
    times = pd.date_range(START - timedelta(hours=1), periods=9, freq="1h", name="time")
    celsius = first + per_hour * (np.arange(9) - 1) + error
    frame = pd.DataFrame(
        {
            "celsius": celsius,
            "humidity_percent": np.nan,
            "wind_m_s": np.nan,
            "pressure_hpa": np.nan,
        },
        index=times,
    )
    return Forecast(frame)


def truth(entries, first, per_hour):
    """The true air and the duty at each step, and in which entry each lies."""
    minutes = np.arange(0, (entries[-1].end - START) / timedelta(minutes=1), STEP) + STEP / 2
    ends = [(entry.end - START) / timedelta(minutes=1) for entry in entries]
    place = np.searchsorted(ends, minutes, side="right")
    rooms = np.array([np.nan if e.celsius is None else e.celsius for e in entries])[place]
    air = np.where(np.isnan(rooms), first + per_hour * minutes / 60, rooms)
    blown = {"play": 1.0, "tune": 1.0, "warm": 1.0, "rest": 0.0, "stands": 0.1}
    return minutes, air, np.array([blown[entries[n].activity] for n in place]), place


def evening(seed, which, own=False, staged=False, at_once=False):
    """Rows of one evening: a section each, untouched and with the sheet carried out."""
    rng = np.random.default_rng([seed, 7])
    rows, first, per_hour = EVENINGS[which]
    first = first + rng.normal(0, 1.5)
    sections = band(seed, staged, at_once)
    entries = [Entry(minute(a), minute(b), what, celsius=there) for what, a, b, there in rows]
    fit = None
    if own:
        fit, rng.bit_generator.state = rehearsed(seed, staged, at_once)
    planned = [
        Planned(s.name, find(s.instrument), len(s.slope), (s.slide,),
                {s.slide: float(s.at_mm.mean())}, {s.slide: s.travel_mm})
        for s in sections
    ]  # fmt: skip
    forecast = forecast_of(first, per_hour, rng.normal(0, FORECAST_SD))
    take = Assumptions(a4_hz=None, draws=200)
    plan = plan_evening(forecast, planned, arrange(entries), fit, take)[0]
    aim = 1200 * np.log2(plan.aim_a4_hz / 440.0)
    found = []
    for section in sections:
        room = section.drift(np.full(240, 20.0), np.ones(240))[:, 160]  # tuned warm at 20 °C
        before = -room + rng.normal(0, READING_SD, len(room))
        untouched = _played(section, entries, first, per_hour, before) - 0.0
        carried, held = _carried_out(section, plan, first, per_hour, before, rng)
        found.append({"seed": seed, "which": which, "own": own, "section": section.name,
                      "lumped": section.lumped, "untouched": np.abs(untouched).mean(),
                      "sheet": np.abs(carried - aim).mean(),
                      "worst": np.quantile(np.abs(carried - aim), 0.95),
                      "held": held[1.0], "targets": held["targets"],
                      **{f"held_{wider:g}": held[wider] for wider in WIDER}})  # fmt: skip
    return found


@lru_cache(maxsize=1)
def rehearsed(seed, staged=False, at_once=False):
    """The fit of a band's own rehearsals, alike for all its evenings, and the state after them."""
    rng = np.random.default_rng([seed, 7])
    rng.normal()  # the weather of the evening comes first
    sections = band(seed, staged, at_once)
    table = pd.DataFrame([row for section in sections for row in rehearsals(section, rng)])
    return drift.fit(table), rng.bit_generator.state


def _played(section, entries, first, per_hour, cents):
    _, air, duty, place = truth(entries, first, per_hour)
    outdoors = np.array([e.activity == "play" and e.celsius is None for e in entries])[place]
    return (section.drift(air, duty) + cents[:, None])[:, outdoors]


def _carried_out(section, plan, first, per_hour, before, rng):
    """Pitch while playing, and how many printed targets held the truth of how many players."""
    entries = plan.schedule.entries
    minutes, air, duty, place = truth(entries, first, per_hour)
    drift_cents = section.drift(air, duty)
    outdoors = np.array([e.activity == "play" and e.celsius is None for e in entries])[place]
    sharp = section.at_mm * section.cents_per_mm
    flat = -(section.travel_mm - section.at_mm) * section.cents_per_mm
    aim = 1200 * np.log2(plan.aim_a4_hz / 440.0)
    slide, pitch = np.zeros(len(before)), np.empty_like(drift_cents)
    settings = [s for s in plan.settings if s.section.name == section.name]
    held = dict.fromkeys([*WIDER, "targets"], 0)
    done = 0
    for number, setting in enumerate(settings):
        block, show = setting.block, setting.show_cents
        start, ready = ((t - START) / timedelta(minutes=1) for t in (block.tune_at, block.ready))
        at = int(np.searchsorted(minutes, start + 0.75 * (ready - start)))
        pitch[:, done:at] = drift_cents[:, done:at] + (before + slide)[:, None]
        seen = drift_cents[:, at] + before + slide + rng.normal(0, READING_SD, len(before))
        slide = np.clip(slide + aim + show.estimate - seen, flat, sharp)
        done = at
        serving = next((s for s in settings[number:] if s.block.plays), setting).block
        end = (serving.end - START) / timedelta(minutes=1)
        begin = (serving.ready - START) / timedelta(minutes=1)
        served = outdoors & (minutes >= begin) & (minutes < end)
        if served.any():
            true = drift_cents[:, at] - drift_cents[:, served].mean(axis=1)
            for wider in WIDER:
                half = max(3.0, wider * (show.high - show.low) / 2)
                held[wider] += int((np.abs(true - show.estimate) <= half + 1e-9).sum())
            held["targets"] += len(true)
    pitch[:, done:] = drift_cents[:, done:] + (before + slide)[:, None]
    return pitch[:, outdoors], held
