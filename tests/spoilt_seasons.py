"""Seasons of a band as they would be logged, clean or spoilt by one known fault.

Written from the physics in words, without any code of the estimator or of the program: a bore in
two parts, the mouthpiece's end warmed quickly by breath and the bell's end slowly, or one tube
whose pitch follows two linear laws; rooms that warm while they play; rests; players and days that
differ. What is given back are tables, as `drift.load` takes them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

STEP = 0.5
LENGTH = 90.0
CLOCK = np.arange(0.0, LENGTH + STEP, STEP)
NOTES = {
    "double horn": [("F", "F4"), ("F", "C4"), ("F", "F3"), ("Bb", "F4"), ("Bb", "Bb3"),
                    ("Bb", "D4")],
    "Bb trumpet": [("", "Bb4"), ("", "F4"), ("", "Bb3")],
    "flute": [("", "A4"), ("", "D5")],
}  # fmt: skip
TUBE_MM = {("double horn", "F"): 3940.0, ("double horn", "Bb"): 2952.0, ("Bb trumpet", ""): 1476.0}
WRITTEN_SEMITONES = {"double horn": 7, "Bb trumpet": 2}
PLAYERS = ("Ann", "Ben", "Cleo", "Dov", "Edda", "Finn", "Gil", "Hana", "Ivo", "Jun", "Kim", "Lou")
BEGIN = pd.Timestamp("2026-01-05T18:00Z")
SCALE = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]


@dataclass
class Made:
    """One season.

    ``readings`` has the columns of the table and ``k``, ``p`` (numbers of rehearsal and player)
    and ``minute``; ``air`` is (rehearsals, steps), true; ``celsius`` what the thermometer shows.
    """

    random: np.random.Generator
    readings: pd.DataFrame
    air: np.ndarray
    celsius: np.ndarray
    rests: list[list[tuple[float, float]]]
    instruments: list[str]
    other: np.ndarray | None = None
    true_drift: dict[tuple[int, int], np.ndarray] = field(default_factory=dict)

    @property
    def middle(self) -> int:
        return len(self.rests) // 2

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the tables of a rehearsal folder."""
        wanted = ["time", "rehearsal", "player", "instrument", "side", "note", "cents"]
        events, temperatures = [], []
        for k, rests in enumerate(self.rests):
            rows = [(0.0, "play")]
            for low, high in rests:
                rows += [(low, "rest"), (high, "play")]
            events += [(when(k, minute), name_of(k), "", word) for minute, word in rows]
            for source, celsius in (("hall", self.celsius), ("window", self.other)):
                if celsius is not None:
                    temperatures += [
                        (when(k, CLOCK[step]), name_of(k), round(celsius[k, step], 2), source)
                        for step in range(0, len(CLOCK), 2)
                    ]
        readings = self.readings.sort_values("time", kind="stable")[wanted].round({"cents": 1})
        return {
            "readings": readings.reset_index(drop=True),
            "temperatures": pd.DataFrame(
                temperatures, columns=["time", "rehearsal", "celsius", "source"]
            ),
            "events": pd.DataFrame(events, columns=["time", "rehearsal", "player", "event"]),
        }


def name_of(k: int) -> str:
    return f"week {k + 1:02d}"


def when(k: int, minute: float) -> pd.Timestamp:
    return BEGIN + pd.Timedelta(days=7 * k) + pd.Timedelta(seconds=round(60.0 * minute))


def clean(
    seed: tuple[int, ...],
    rehearsals: int = 6,
    players: int = 4,
    instrument: str = "double horn",
    physics: str = "two parts",
    coldest: float = 15.0,
    warmest: float = 26.0,
) -> Made:
    """Return a season in which nothing is spoilt; ``physics``: two parts, slow walls or linear."""
    random = np.random.default_rng(seed)
    instruments = [instrument] * players
    if players > 4:
        instruments = [["double horn", "Bb trumpet"][p % 2] for p in range(players)]
    start, trend = random.uniform(coldest, warmest, rehearsals), random.uniform(-1, 3, rehearsals)
    air = start[:, None] + trend[:, None] * CLOCK / LENGTH
    rests = [_rests(random) for _ in range(rehearsals)]
    common = random.standard_normal(5)
    made = Made(
        random, pd.DataFrame(), air, air + random.normal(0.0, 0.06, air.shape), rests, instruments
    )
    noise, day_sd = random.uniform(2.0, 4.0), random.uniform(1.0, 2.5)
    shared = random.normal(0.0, 1.0, rehearsals) * (random.uniform(0, 1) if players > 1 else 0.0)
    rows = []
    for p in range(players):
        taste = (common + random.standard_normal(5)) / np.sqrt(2.0)
        scatter = noise * np.exp(0.12 * random.standard_normal())
        tendency = {key: random.normal(0.0, 6.0) for key in NOTES[instruments[p]]}
        for k in range(rehearsals):
            played = _played(rests[k])
            drift = _PHYSICS[physics](air[k], played, taste)
            made.true_drift[k, p] = drift
            off = random.normal(0.0, day_sd) + shared[k]
            free = np.flatnonzero(played & (CLOCK > 1.0) & (CLOCK < LENGTH))
            for step in np.sort(random.choice(free, int(random.integers(8, 16)), replace=False)):
                side, note = NOTES[instruments[p]][random.integers(len(tendency))]
                cents = tendency[side, note] + drift[step] + off + random.normal(0.0, scatter)
                rows.append((k, p, CLOCK[step], side, note, cents))
    table = pd.DataFrame(rows, columns=["k", "p", "minute", "side", "note", "cents"])
    table["player"] = [PLAYERS[p] for p in table["p"]]
    table["instrument"] = [instruments[p] for p in table["p"]]
    made.readings = _dated(table)
    return made


def _dated(table: pd.DataFrame) -> pd.DataFrame:
    table["time"] = [when(k, m) for k, m in zip(table["k"], table["minute"], strict=True)]
    table["rehearsal"] = [name_of(k) for k in table["k"]]
    return table


def _rests(random: np.random.Generator) -> list[tuple[float, float]]:
    found = []
    at = random.uniform(18.0, 35.0) if random.random() < 0.6 else np.inf
    while at < LENGTH - 16.0:
        at, length = round(2 * at) / 2, round(2 * random.uniform(5.0, 15.0)) / 2
        found.append((at, at + length))
        at += length + random.uniform(20.0, 40.0)
    return found


def _played(rests: list[tuple[float, float]]) -> np.ndarray:
    played = np.ones(len(CLOCK), dtype=bool)
    for low, high in rests:
        played &= ~((low <= CLOCK) & (high > CLOCK))
    return played


def _linear(air: np.ndarray, played: np.ndarray, taste: np.ndarray) -> np.ndarray:
    slope, rise = 2.95 + 0.25 * taste[0], np.clip(14.0 + 5.0 * taste[1], 2.0, 28.0)
    warming, cooling = 6.0 * np.exp(0.4 * taste[2]), 12.0 * np.exp(0.4 * taste[3])
    share, found = 0.0, np.empty(len(air))
    for step, celsius in enumerate(air):
        if step:
            kept = np.exp(-STEP / (warming if played[step] else cooling))
            share = 1.0 - (1.0 - share) * kept if played[step] else share * kept
        found[step] = slope * (celsius - 20.0) + rise * share * (34.0 - celsius) / 14.0
    return found


def _two_parts(
    air: np.ndarray, played: np.ndarray, taste: np.ndarray, slowness: float = 1.0
) -> np.ndarray:
    """The pitch of a tube whose near third warms quickly and whose far part slowly and less."""
    breath = 34.0 + 0.7 * taste[4]
    length = np.array([0.33, 0.67])
    reach = np.array([0.75, 0.28]) * np.exp(0.25 * taste[0])
    warming = slowness * np.array([2.5, 9.0]) * np.exp(0.3 * taste[1])
    cooling = slowness * np.array([7.0, 14.0]) * np.exp(0.3 * taste[2])
    wall, found = np.full(2, air[0]), np.empty(len(air))
    for step, celsius in enumerate(air):
        if step:
            goal = celsius + (reach * (breath - celsius) if played[step] else 0.0)
            pace = warming if played[step] else cooling
            wall = goal + (wall - goal) * np.exp(-STEP / pace)
        gas = wall + 0.08 * (1.0 + 0.2 * taste[3]) * (breath - wall) * np.array([1.0, 0.4])
        speed = 331.3 * np.sqrt(1.0 + gas / 273.15)
        found[step] = -1200.0 * np.log2(np.sum(length / speed))
    return found - 1200.0 * np.log2(331.3 * np.sqrt(1.0 + 20.0 / 273.15))


def _slow_walls(air: np.ndarray, played: np.ndarray, taste: np.ndarray) -> np.ndarray:
    return _two_parts(air, played, taste, slowness=2.5)


_PHYSICS = {"linear": _linear, "two parts": _two_parts, "slow walls": _slow_walls}


# ------------------------------------------------------------------------------- what spoils one


def _day_of(made: Made) -> tuple[int, int, np.ndarray]:
    """Return a rehearsal, a player, and which readings are theirs."""
    k, p = made.middle, int(made.random.integers(len(made.instruments)))
    table = made.readings
    return k, p, ((table["k"] == k) & (table["p"] == p)).to_numpy()


def slide(made: Made, millimetres: float) -> None:
    """A slide is moved in the middle of a player's day and nobody logs it."""
    _, _, day = _day_of(made)
    table = made.readings
    late = day & (table["minute"] > table.loc[day, "minute"].median()).to_numpy()
    tube = np.array([TUBE_MM[key] for key in zip(table["instrument"], table["side"], strict=True)])
    way = made.random.choice([-1.0, 1.0])
    table["cents"] += late * way * 1200.0 * np.log2(tube / (tube + 2.0 * millimetres))


def a4(made: Made, hertz: float) -> None:
    """The tuner is set to another A4 for a rehearsal."""
    here = made.readings["k"] == made.middle
    made.readings["cents"] -= 1200.0 * np.log2(hertz / 440.0) * here


def a4_of_a_section(made: Made, hertz: float) -> None:
    """All who play one of two instruments set their tuners to another A4 for a rehearsal."""
    table = made.readings
    here = (table["k"] == made.middle) & (table["instrument"] == made.instruments[-1])
    made.readings["cents"] -= 1200.0 * np.log2(hertz / 440.0) * here


def day(made: Made, cents: float) -> None:
    """A player's whole day is off: another mouthpiece, a slide put back elsewhere."""
    _, _, mine = _day_of(made)
    made.readings["cents"] += cents * mine


def swap(made: Made, common: float) -> None:
    """From a rehearsal on a player plays another instrument: all notes, and each, lie anew."""
    k, p, _ = _day_of(made)
    way = made.random.choice([-1.0, 1.0]) * common
    moved = {key: made.random.normal(0.0, 6.0) + way for key in NOTES[made.instruments[p]]}
    table = made.readings
    late = (table["p"] == p) & (table["k"] >= k)
    keys = zip(table["side"], table["note"], strict=True)
    table["cents"] += np.array([moved.get(key, 0.0) for key in keys]) * late


def sign(made: Made, everybody: float) -> None:
    """The minus is forgotten for a day."""
    k, _, mine = _day_of(made)
    turned = (made.readings["k"] == k).to_numpy() if everybody else mine
    made.readings.loc[turned, "cents"] *= -1.0


def always_turned(made: Made, _: float) -> None:
    """Whoever typed took flat for plus, all season."""
    made.readings["cents"] *= -1.0


def names(made: Made, _: float) -> None:
    """Two players' readings are entered under each other's name from a moment on."""
    k, p, other = _two_of(made)
    table = made.readings
    both = (table["k"] == k) & table["p"].isin([p, other])
    late = both & (table["minute"] > table.loc[both, "minute"].median())
    table.loc[late, "player"] = [PLAYERS[p + other - q] for q in table.loc[late, "p"]]


def names_all_day(made: Made, cents: float) -> None:
    """Two players, one about so far above the other on every note, are exchanged for a day."""
    k, p, other = _two_of(made)
    table = made.readings
    usual = table.groupby(["p", "side", "note"])["cents"].mean()
    for (q, side, note), mean in usual.items():
        if q == other and (p, side, note) in usual:
            its = (table["p"] == q) & (table["side"] == side) & (table["note"] == note)
            table.loc[its, "cents"] += usual[p, side, note] + cents - mean
    both = (table["k"] == k) & table["p"].isin([p, other])
    table.loc[both, "player"] = [PLAYERS[p + other - q] for q in table.loc[both, "p"]]


def two_days(made: Made, cents: float) -> None:
    """Two players have a bad day, one as sharp as the other is flat."""
    k, p, other = _two_of(made)
    for q, way in ((p, cents), (other, -cents)):
        made.readings["cents"] += way * ((made.readings["k"] == k) & (made.readings["p"] == q))


def _two_of(made: Made) -> tuple[int, int, int]:
    """Return a rehearsal and two players on one instrument."""
    k, p, _ = _day_of(made)
    alike = [q for q, kind in enumerate(made.instruments) if kind == made.instruments[p] and q != p]
    return k, p, int(made.random.choice(alike))


def wrong_note(made: Made, every: float) -> None:
    """One reading of a player's day, or all of one note, is entered under another note."""
    _, p, mine = _day_of(made)
    table = made.readings
    first = table[mine].iloc[0]
    rows = np.flatnonzero(
        mine & (table["side"] == first["side"]) & (table["note"] == first["note"])
    )
    others = [note for side, note in NOTES[made.instruments[p]]
              if side == first["side"] and note != first["note"]]  # fmt: skip
    rows = rows if every else rows[:1]
    table.loc[rows, "note"] = others[made.random.integers(len(others))]


def watches(made: Made, everybody: float) -> None:
    """A player watches the tuner and pulls every note half of the way to its usual place."""
    _, p, _mine = _day_of(made)
    table = made.readings
    usual = table.groupby(["p", "side", "note"])["cents"].transform("mean")
    who = np.ones(len(table), dtype=bool) if everybody else (table["p"] == p).to_numpy()
    table["cents"] = np.where(who, usual + 0.5 * (table["cents"] - usual), table["cents"])


def thermometer(made: Made, celsius: float) -> None:
    """The thermometer of a rehearsal lies in the sun."""
    made.celsius[made.middle] += celsius


def rests(made: Made, _: float) -> None:
    """Nobody logs any rest of the season."""
    made.rests = [[] for _ in made.rests]


def fahrenheit(made: Made, _: float) -> None:
    """A rehearsal's temperatures are in °F."""
    made.celsius[made.middle] = made.celsius[made.middle] * 1.8 + 32.0


def slow_probe(made: Made, celsius: float) -> None:
    """The probe comes from the cold and settles within five minutes."""
    made.celsius[made.middle] -= celsius * np.exp(-CLOCK / 5.0)


def two_thermometers(made: Made, celsius: float) -> None:
    """A second thermometer disagrees in one rehearsal."""
    made.other = made.air + made.random.normal(0.0, 0.06, made.air.shape)
    made.other[made.middle] += celsius


def clock(made: Made, minutes: float) -> None:
    """The clock of whoever read was off for a rehearsal."""
    here = made.readings["k"] == made.middle
    made.readings.loc[here, "time"] += pd.Timedelta(minutes=minutes)


def duplicates(made: Made, _: float) -> None:
    """A rehearsal's readings are imported twice."""
    here = made.readings[made.readings["k"] == made.middle]
    made.readings = pd.concat([made.readings, here], ignore_index=True)


def written(made: Made, _: float) -> None:
    """A player's day is entered at written pitch."""
    _, p, mine = _day_of(made)
    up = WRITTEN_SEMITONES[made.instruments[p]]
    made.readings.loc[mine, "note"] = [
        _transposed(note, up) for note in made.readings.loc[mine, "note"]
    ]


def _transposed(note: str, semitones: int) -> str:
    number = SCALE.index(note[:-1]) + 12 * int(note[-1]) + semitones
    return SCALE[number % 12] + str(number // 12)


def sides_apart(made: Made, cents: float) -> None:
    """Tune the F side anew each day, to within so much: nothing is wrong with that."""
    of_f = made.readings["side"] == "F"
    days = made.readings.loc[of_f, ["k", "p"]]
    off = {one: made.random.normal(0.0, cents) for one in sorted(set(map(tuple, days.to_numpy())))}
    made.readings.loc[of_f, "cents"] += [off[one] for one in map(tuple, days.to_numpy())]


def wandering(made: Made, cents: float) -> None:
    """Let each player's pitch wander through the evening, alike for about half an hour."""
    for _, day in made.readings.groupby(["k", "p"]):
        order = day.sort_values("minute").index
        apart = np.diff(day["minute"].loc[order], prepend=-np.inf)
        off, now = [], 0.0
        for kept in np.exp(-apart / 30.0):
            now = kept * now + made.random.normal(0.0, cents * np.sqrt(1.0 - kept**2))
            off.append(now)
        made.readings.loc[order, "cents"] += off


def nothing(made: Made, _: float) -> None:
    """Leave the season clean."""


Fault = tuple[Callable[[Made, float], None], float]

PITCH_FAULTS: dict[str, Fault] = {
    "slide 4 mm": (slide, 4.0), "slide 8 mm": (slide, 8.0), "slide 12 mm": (slide, 12.0),
    "A4 442": (a4, 442.0), "A4 438": (a4, 438.0),
    "A4 442, a section": (a4_of_a_section, 442.0), "A4 438, a section": (a4_of_a_section, 438.0),
    "day +6": (day, 6.0), "day +8": (day, 8.0), "day +10": (day, 10.0),
    "swap, common 0": (swap, 0.0), "swap, common 12": (swap, 12.0),
    "sign, one player": (sign, 0.0), "sign, all": (sign, 1.0),
    "sign, always": (always_turned, 0.0),
    "names": (names, 0.0),
    "names, all day, 12": (names_all_day, 12.0), "names, all day, 20": (names_all_day, 20.0),
    "day +10 and -10": (two_days, 10.0),
    "one wrong note": (wrong_note, 0.0),
    "watches, one": (watches, 0.0), "watches, all": (watches, 1.0),
    "thermometer +1.5": (thermometer, 1.5), "thermometer +3": (thermometer, 3.0),
    "rests not logged": (rests, 0.0),
}  # fmt: skip
TABLE_FAULTS: dict[str, Fault] = {
    "°F": (fahrenheit, 0.0), "clock +60 min": (clock, 60.0), "clock -60 min": (clock, -60.0),
    "slow probe": (slow_probe, 6.0), "two thermometers": (two_thermometers, 1.0),
    "duplicates": (duplicates, 0.0), "written": (written, 0.0),
}  # fmt: skip
OF_TWO = {
    name for name, (spoil, _) in PITCH_FAULTS.items() if spoil in (names, names_all_day, two_days)
}
OF_SECTIONS = {name for name, (spoil, _) in PITCH_FAULTS.items() if spoil is a4_of_a_section}
CLEAN: dict[str, Fault] = {
    "clean": (nothing, 0.0),
    "clean, sides apart": (sides_apart, 2.6),
    "clean, wandering": (wandering, 3.0),
}
FAULTS = CLEAN | PITCH_FAULTS | TABLE_FAULTS
