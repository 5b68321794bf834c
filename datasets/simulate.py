"""Make the shipped rehearsals: a season in a hall that does not exist, byte for byte the same.

Run ``python datasets/simulate.py``. Only the standard library is used, so that no release of
another package can change a byte. The physics is the drift model of the README, with truths of
our own choosing; nothing here was measured.
"""

from __future__ import annotations

import csv
import json
import math
import random
from datetime import datetime, timedelta, timezone
from pathlib import Path

SEED = 20261003
HERE = Path(__file__).parent / "cold-hall-season"
HALL = timezone(timedelta(hours=1))

# The truth that a fit should find again: cents per degree of the unplayed instrument, cents from
# cold to warm at 20 °C, and the time constants in minutes.
COLD_CENTS_PER_CELSIUS = 2.9
TRUTH = {
    "double horn": {"rise": 16.0, "warm": 7.0, "cool": 13.0},
    "Bb trumpet": {"rise": 13.0, "warm": 4.5, "cool": 9.0},
}
PLAYERS = {
    "Rowan": {
        "instrument": "double horn",
        "notes": [("F4", "F", -1.5), ("C4", "F", 2.0), ("Bb3", "Bb", 1.0), ("F4", "Bb", 3.5)],
        "slides": {"main": 12.0, "F": 8.0},
    },
    "Isolde": {
        "instrument": "Bb trumpet",
        "notes": [("Bb4", "", 0.5), ("F4", "", -2.0)],
        "slides": {"main": 10.0},
    },
}
# Cents of a move x: -1200 log2((L + 2 x k)/L), L = c/(2 f1), c = 343.9867 m/s, k below.
LENGTH_M = {"F": 343.9867 / 2 / 43.6535, "Bb": 343.9867 / 2 / 58.2705, "": 343.9867 / 2 / 116.5409}
# On a real bore a millimetre does about a tenth more (the catalogue's effect of brass).
REAL_BORE = 1.10
REACH = {"main": ("F", "Bb", ""), "F": ("F",)}

# Start and end of the room's temperature, minutes of playing before, and the rest.
SEASON = [
    ("2026-01-13 winter heating off", 12.2, 16.8, 34),
    ("2026-01-20 heating on", 17.5, 21.9, 40),
    ("2026-02-03 cold snap", 12.9, 15.4, 30),
    ("2026-03-10 spring", 18.8, 21.0, 45),
    ("2026-04-21 mild evening", 20.4, 22.2, 38),
    ("2026-05-19 warm", 23.1, 25.4, 42),
    ("2026-06-16 hot", 26.0, 28.1, 36),
    ("2026-06-30 hottest", 28.8, 30.6, 40),
    ("2026-09-15 doors open", 24.5, 19.6, 44),
    ("2026-10-06 autumn", 17.0, 19.4, 35),
]


def main() -> None:
    """Write the folder."""
    chance = random.Random(SEED)
    readings, temperatures, events = [], [], []
    for number, (name, first, last, rest_at) in enumerate(SEASON):
        evening = Evening(chance, number, name, first, last, rest_at)
        temperatures += evening.temperatures()
        events += evening.events()
        readings += evening.readings()
    write("readings.csv", READING_COLUMNS, readings)
    write("temperatures.csv", TEMPERATURE_COLUMNS, temperatures)
    write("events.csv", EVENT_COLUMNS, events)
    (HERE / "datapackage.json").write_text(
        json.dumps(PACKAGE, ensure_ascii=False, indent=2) + "\n", encoding="utf-8", newline="\n"
    )


class Evening:
    """One rehearsal: 100 minutes, a ten-minute rest, a slide moved in some of them."""

    def __init__(
        self,
        chance: random.Random,
        number: int,
        name: str,
        first: float,
        last: float,
        rest_at: int,
    ) -> None:
        self.chance, self.number, self.name = chance, number, name
        self.first, self.last, self.rest_at = first, last, rest_at
        day = datetime.fromisoformat(name[:10])
        self.start = day.replace(hour=19, tzinfo=HALL)
        self.positions = {player: dict(facts["slides"]) for player, facts in PLAYERS.items()}
        self.moves = self._moves()

    def _moves(self) -> list[tuple[float, str, str, float]]:
        """In the hottest and the coldest rooms the players correct, as they would."""
        if self.number in (0, 2):
            return [(58.0, "Rowan", "main", 6.0), (59.0, "Isolde", "main", 6.0)]
        if self.number in (6, 7):
            return [(57.0, "Rowan", "main", 22.0), (57.5, "Rowan", "F", 11.0),
                    (60.0, "Isolde", "main", 17.0)]  # fmt: skip
        return []

    def celsius(self, minute: float) -> float:
        """The room warms (or cools) with the people in it, fast at first."""
        return self.first + (self.last - self.first) * (1 - math.exp(-minute / 45)) / (
            1 - math.exp(-100 / 45)
        )

    def warmth(self, minute: float, warm: float, cool: float) -> float:
        """How far the instrument is warmed up: playing from minute 2, a rest of ten minutes."""
        before = 1 - math.exp(-max(min(minute, self.rest_at) - 2, 0) / warm)
        if minute <= self.rest_at:
            return before
        rested = before * math.exp(-min(minute - self.rest_at, 10) / cool)
        if minute <= self.rest_at + 10:
            return rested
        return 1 - (1 - rested) * math.exp(-(minute - self.rest_at - 10) / warm)

    def at(self, minute: float) -> str:
        """The time of a minute of the evening."""
        return (self.start + timedelta(seconds=round(minute * 60))).isoformat()

    def temperatures(self) -> list[list[object]]:
        """A sample every two minutes; in one rehearsal the thermometer was away for a while."""
        rows: list[list[object]] = []
        for minute in range(-4, 104, 2):
            if self.number == 4 and 40 <= minute < 64:
                continue
            celsius = self.celsius(max(minute, 0)) + self.chance.gauss(0, 0.08)
            humidity = 48 + 6 * math.sin(self.number) + self.chance.gauss(0, 0.6)
            rows.append(
                [self.at(minute), self.name, f"{celsius:.2f}", f"{humidity:.1f}", "", "hall"]
            )
        return rows

    def events(self) -> list[list[object]]:
        """Start, playing, the rest, slides."""
        rows = [(-5.0, "", "", "start", "", ""), (2.0, "", "", "play", "", ""),
                (self.rest_at, "", "", "rest", "", ""), (self.rest_at + 10, "", "", "play", "", ""),
                (100.0, "", "", "end", "", "")]  # fmt: skip
        for player, slides in self.positions.items():
            instrument = PLAYERS[player]["instrument"]
            rows += [(-4.0, player, instrument, "slide", name, mm) for name, mm in slides.items()]
        rows += [
            (minute, player, PLAYERS[player]["instrument"], "slide", slide, mm)
            for minute, player, slide, mm in self.moves
        ]
        rows.sort(key=lambda row: row[0])
        return [[self.at(row[0]), self.name, *row[1:], ""] for row in rows]

    def readings(self) -> list[list[object]]:
        """Each player reads the same few notes in rounds; one reading in sixty is a remark."""
        rows = []
        for player, facts in PLAYERS.items():
            day = self.chance.gauss(0, 1.3)
            truth = TRUTH[facts["instrument"]]
            for turn, minute in enumerate((4, 9, 15, 23, 31, 50, 56, 66, 78, 92)):
                for place, (note, side, habit) in enumerate(facts["notes"]):
                    moment = minute + 0.3 * place + 0.15 * (player == "Isolde")
                    if self.rest_at - 1 <= moment <= self.rest_at + 11:
                        continue
                    w = self.warmth(moment, truth["warm"], truth["cool"])
                    celsius = self.celsius(moment)
                    cents = (
                        habit
                        + COLD_CENTS_PER_CELSIUS * (celsius - 20)
                        + truth["rise"] * (w * (34 - celsius) / 14 - 1)
                        + self.slide_cents(player, side, moment)
                        + day
                        + self.chance.gauss(0, 2.4)
                    )
                    odd = (self.number * 10 + turn) % 60 == 37 and place == 0
                    rows.append([moment, self.at(moment), self.name, player, facts["instrument"],
                                 side, note, f"{cents - 6 * odd:.1f}", "440",
                                 *(("true", "mute left in") if odd else ("", ""))])  # fmt: skip
        rows.sort(key=lambda row: row[0])
        return [row[1:] for row in rows]

    def slide_cents(self, player: str, side: str, moment: float) -> float:
        """What the slides do to the pitch, against where they stood first."""
        path_m = 0.0
        for minute, who, slide, position in self.moves:
            if who == player and minute <= moment and side in REACH[slide]:
                path_m += 2e-3 * REAL_BORE * (position - PLAYERS[player]["slides"][slide])
        return -1200 * math.log2((LENGTH_M[side] + path_m) / LENGTH_M[side])


READING_COLUMNS = ["time", "rehearsal", "player", "instrument", "side", "note", "cents", "a4_hz",
                   "flagged", "remark"]  # fmt: skip
TEMPERATURE_COLUMNS = ["time", "rehearsal", "celsius", "humidity_percent", "pressure_hpa", "source"]
EVENT_COLUMNS = ["time", "rehearsal", "player", "instrument", "event", "slide", "position_mm",
                 "remark"]  # fmt: skip

PACKAGE = {
    "profile": "tabular-data-package",
    "name": "cold-hall-season",
    "title": "A season in the Old Malthouse (simulated)",
    "description": "Simulated by datasets/simulate.py; hall, players and readings are invented. "
    "Ten rehearsals between 12 and 31 °C, a double horn and a Bb trumpet, rests, slide moves, one "
    "gap in the temperatures.",
    "licenses": [{"name": "MIT", "title": "MIT License"}],
    "resources": [
        {"name": name, "path": f"{name}.csv", "profile": "tabular-data-resource"}
        for name in ("readings", "temperatures", "events")
    ],
}


def write(name: str, columns: list[str], rows: list[list[object]]) -> None:
    """Write one table."""
    HERE.mkdir(exist_ok=True)
    with (HERE / name).open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


if __name__ == "__main__":
    main()
