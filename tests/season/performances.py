"""Six outdoor performances whose sheets are followed as people would, and what else one might do.

Ways: *indoors* leaves the slides as they were; *rule* moves them by 3 cents per °C of the forecast;
*tuner* puts the tuner at zero at every tune of the schedule; *acoustics* and *own* follow the
sheets of ``drift gig``, from acoustics alone and from the band's logbook. At a tune one player in
ten does nothing, who is within 3 cents of what the tuner should show leaves the slide, and the
slide is set to the millimetre, as far as it goes.
"""

import json
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from tests.gig.simulated_bands import STEP
from tests.season.keeping import asked
from tests.season.world import FIRST, LOGGING, READING_SD

#: (activity, minutes from, to, celsius of a room), temperature at the beginning, change an hour
COLD = (
    ("play", 0, 20, 21.0), ("tune", 20, 30, 21.0), ("rest", 30, 60, None), ("play", 60, 75, None),
    ("rest", 75, 110, None), ("tune", 110, 118, None), ("play", 118, 130, None),
    ("rest", 130, 165, None), ("play", 165, 180, None),
)  # fmt: skip
HOT = (
    ("play", 0, 15, 22.0), ("tune", 15, 25, 22.0), ("rest", 25, 50, None), ("play", 50, 80, None),
    ("rest", 80, 110, None), ("tune", 110, 118, None), ("play", 118, 140, None),
)  # fmt: skip
#: After which rehearsal, name, timetable, temperature at the beginning, change in an hour.
PERFORMANCES = (
    (8, "cold game", COLD, 10.0, -0.8), (11, "colder game", COLD, 5.0, -1.0),
    (14, "cold parade", COLD, 7.0, 0.0), (24, "mild concert", HOT, 17.0, -0.5),
    (27, "hot parade", HOT, 30.0, 0.5), (29, "hotter field", HOT, 33.0, 1.0),
)  # fmt: skip
WAYS = ("indoors", "rule", "tuner", "acoustics", "own")
FORGETS, LEAVES_WITHIN = 0.1, 3.0


def performed(season, place, book, folder):
    """Mean absolute error of each section while playing outdoors, by each way: rows of a table."""
    _, name, rows, first, per_hour = PERFORMANCES[place]
    rng = np.random.default_rng([season.seed, 2, place])
    first = first + rng.normal(0, 1.5)
    files = _files(season, place, rows, first + rng.normal(0, 1.0), per_hour, folder)
    plans = {source: _plan(source, files) for source in ("acoustics", book)}
    found = []
    for section in season.sections:
        around = _around(rows, first, per_hour)
        dice = np.random.default_rng([season.seed, 4, place])
        tuned = section.drift(np.full(240, 20.0), np.ones(240))[:, 160]
        before = -tuned + dice.normal(0, READING_SD, len(tuned))
        for way in WAYS:
            plan = {"acoustics": plans["acoustics"], "own": plans[book]}.get(way)
            error = _error(section, way, plan, rows, around, before, (first, per_hour), dice)
            found.append({"performance": name, "section": section.name, "way": way, **error})
    return found


def _start(place):
    return FIRST + timedelta(weeks=PERFORMANCES[place][0], days=3)


def _files(season, place, rows, forecast_first, per_hour, folder):
    folder = folder / f"performance-{place}"
    folder.mkdir(parents=True, exist_ok=True)
    begin = _start(place)
    hours = [begin + timedelta(hours=hour) for hour in range(-1, 6)]
    celsius = [round(forecast_first + per_hour * hour, 1) for hour in range(-1, 6)]
    pd.DataFrame({"time": [h.isoformat() for h in hours], "celsius": celsius}).to_csv(
        folder / "forecast.csv", index=False
    )
    pd.DataFrame(
        [
            {
                "start": (begin + timedelta(minutes=a)).isoformat(),
                "end": (begin + timedelta(minutes=b)).isoformat(),
                "activity": what,
                "celsius": there,
            }
            for what, a, b, there in rows
        ]
    ).to_csv(folder / "schedule.csv", index=False)
    pd.DataFrame(
        [
            {
                "section": s.name,
                "instrument": s.instrument,
                "players": len(s.slope),
                "slide": s.slide,
                "position_mm": round(float(s.at_mm.mean())),
                "travel_mm": s.travel_mm,
                "names": ";".join(f"{s.name} {n + 1}" for n in range(LOGGING)),
            }
            for s in season.sections
        ]
    ).to_csv(folder / "roster.csv", index=False)
    return folder


def _plan(source, folder):
    words = [f"--{name}={folder / name}.csv" for name in ("forecast", "schedule", "roster")]
    return json.loads(asked("gig", source, *words, "--json"))


def _around(rows, first, per_hour):
    """Minutes, true air and whether it is play outdoors, at each step."""
    minutes = np.arange(0, rows[-1][2], STEP) + STEP / 2
    air = first + per_hour * minutes / 60
    outdoors = np.zeros(len(minutes), bool)
    for what, a, b, there in rows:
        within = (minutes >= a) & (minutes < b)
        if there is not None:
            air[within] = there
        outdoors |= within & (what == "play") & (there is None)
    return minutes, air, outdoors


def _error(section, way, plan, rows, around, before, weather, dice):
    minutes, air, outdoors = around
    begin = None if plan is None else datetime.fromisoformat(plan["schedule"][0]["start"])
    timetable = rows if plan is None else _timetable(plan, begin)
    duty = np.zeros(len(minutes))
    playing = outdoors.copy()
    for what, a, b, *_ in timetable:
        within = (minutes >= a) & (minutes < b)
        duty[within] = what in ("play", "tune", "warm")
        if what != "play":
            playing[within] = False
    drift_cents = section.drift(air, duty)
    aim = 0.0 if plan is None else 1200 * np.log2(plan["pitch"]["moves_aim_at_a4_hz"] / 440)
    slide, pitch, done = np.zeros(len(before)), np.empty_like(drift_cents), 0
    for minute, shown in _tunes(section, way, plan, timetable, begin, weather):
        at = int(np.searchsorted(minutes, minute))
        pitch[:, done:at] = drift_cents[:, done:at] + (before + slide)[:, None]
        done = at
        if shown is None:  # by the rule: no tuner
            wanted = np.full(len(before), -3.0 * (weather[0] + weather[1] * minute / 60 - 20))
        else:
            noise = dice.normal(0, READING_SD, len(before))
            off = aim + shown - (drift_cents[:, at] + before + slide + noise)
            wanted = np.where(np.abs(off) <= LEAVES_WITHIN, slide, slide + off)
        acts = dice.random(len(before)) >= FORGETS
        slide = np.where(acts, _to_the_millimetre(section, wanted), slide)
    pitch[:, done:] = drift_cents[:, done:] + (before + slide)[:, None]
    errors = np.abs(pitch[:, playing] - aim)
    return {"cents": errors.mean(), "worst": np.quantile(errors, 0.95)}


def _timetable(plan, begin):
    def minute(text):
        return (datetime.fromisoformat(text) - begin) / timedelta(minutes=1)

    return [(e["activity"], minute(e["start"]), minute(e["end"])) for e in plan["schedule"]]


def _tunes(section, way, plan, timetable, begin, weather):
    """When a section tunes [minute], and what the tuner should show [cents]; None by the rule."""
    ends = {a: b for what, a, b, *_ in timetable if what == "tune"}
    if way == "indoors":
        return []
    if plan is None:
        outside = [(a, b) for what, a, b, there in timetable if what == "play" and there is None]
        if way == "rule":
            return [(a - STEP, None) for a, _ in outside[:1]]
        return [(a + 0.75 * (b - a), 0.0) for a, b in ends.items()]
    tunes = []
    for setting in plan["settings"]:
        if setting["section"] == section.name and setting["show_cents"] is not None:
            at = datetime.fromisoformat(setting["tune_at"])
            a = (at - begin) / timedelta(minutes=1)
            tunes.append((a + 0.75 * (ends[a] - a), setting["show_cents"]["estimate"]))
    return tunes


def _to_the_millimetre(section, cents):
    """Cents sharper by the slide, in whole millimetres and within its travel."""
    out = np.round(section.at_mm - cents / section.cents_per_mm)
    return (section.at_mm - np.clip(out, 0, section.travel_mm)) * section.cents_per_mm
