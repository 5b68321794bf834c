"""A season put into a logbook by the public commands alone, in the ways a band would.

Most rehearsals are imported as tables. Some are typed while a thermometer on a serial port is
logged, by a clock that runs 150 times as fast (the program ``faketime``), once with a crash
(SIGKILL) in the middle. Some are recorded: the tones of three players, found by ``drift listen``.
"""

import os
import pty
import signal
import subprocess
import sys
import threading
import time
from datetime import timedelta

import numpy as np
import pandas as pd
import soundfile

from tests.gig.simulated_bands import STEP
from tests.season.world import HERTZ, NOTES, Season
from tests.sounds import horn

TYPED, CRASHED, RECORDED = (3, 13, 23), 13, (6, 16, 26)
FASTER = 150
RATE = 16_000
DRIFT = [sys.executable, "-m", "drift"]


def asked(*words, stdin=None):
    """Run a command of drift; return what it printed."""
    done = subprocess.run(
        [*DRIFT, *map(str, words)], capture_output=True, text=True, input=stdin, check=False
    )
    if done.returncode:
        raise RuntimeError(f"drift {' '.join(map(str, words))}\n{done.stderr}")
    return done.stdout


def keep(season: Season, number, book, folder):
    """Put one rehearsal into the logbook."""
    met = season.rehearsal(number)
    place = folder / f"rehearsal-{number}"
    place.mkdir(parents=True, exist_ok=True)
    if number in TYPED:
        _typed(season, met, book)
        return
    recorded = season.sections[2:5] if number in RECORDED else []
    heard = {f"{section.name} 1" for section in recorded}
    write_folder(season, met, place, heard)
    asked("import", book, place)
    for section in recorded:
        _recorded(season, met, section, book, place)


def instrument_of(season, name):
    return next(s for s in season.sections if s.name == name).instrument


def write_folder(season, met, place, heard):
    """The rehearsal as the tables that a band keeps, but for the players who are recorded."""

    def at(minutes):
        return (met.begin + timedelta(minutes=minutes)).isoformat(timespec="seconds")

    air = [{"time": at(m), "rehearsal": met.name, "celsius": round(c, 2)} for m, c in met.logged]
    pd.DataFrame(air).to_csv(place / "temperatures.csv", index=False)
    rows = [
        {"time": at(r.minutes), "rehearsal": met.name, "player": r.player,
         "instrument": instrument_of(season, r.section), "note": NOTES[r.section],
         "cents": r.cents}
        for r in met.readings
        if r.player not in heard
    ]  # fmt: skip
    pd.DataFrame(rows).to_csv(place / "readings.csv", index=False)
    events = [{"time": at(0), "rehearsal": met.name, "event": "start"}]
    for section in season.sections:
        for name in season.names(section, met.number):
            mm = section.at_mm[int(name.split()[-1]) - 1]
            events.append({"time": at(0), "rehearsal": met.name, "player": name,
                           "instrument": section.instrument, "event": "slide",
                           "slide": section.slide, "position_mm": round(float(mm), 1)})  # fmt: skip
    events += [{"time": at(m), "rehearsal": met.name, "event": e}
               for m, e in ((0, "play"), (35, "rest"), (45, "play"), (75, "end"))]  # fmt: skip
    pd.DataFrame(events).to_csv(place / "events.csv", index=False)


class SerialThermometer:
    """A thermometer on a pseudo-terminal that speaks four times in a second."""

    def __init__(self, room):
        self.room, self.began, self.alive = room, time.monotonic(), True
        self.controller, held = pty.openpty()
        self.name = os.ttyname(held)
        threading.Thread(target=self._speak, daemon=True).start()

    def _speak(self):
        while self.alive:
            minutes = (time.monotonic() - self.began) * FASTER / 60
            step = min(int(minutes / STEP), len(self.room) - 1)
            os.write(self.controller, f"{self.room[step]:.2f}\r\n".encode())
            time.sleep(0.25)


def _typed(season, met, book):
    """One player of each section types, beside a serial thermometer; one log is killed."""
    speaks = SerialThermometer(met.room)
    kept = [r for r in met.readings if r.player.endswith(" 1")]
    events = [(0.5, "play"), (35.0, "rest"), (45.0, "play")]
    lines = sorted([*events, *((r.minutes, r) for r in kept)], key=lambda line: line[0])
    log, player, crash = _log(met, book, speaks, 0.0), None, met.number == CRASHED
    for minutes, line in lines:
        if crash and minutes > 40:
            os.killpg(log.pid, signal.SIGKILL)  # faketime is a process of its own, before the log
            log.wait()
            log, player, crash = _log(met, book, speaks, _minutes(speaks)), None, False
        time.sleep(max(0.0, (minutes - _minutes(speaks)) * 60 / FASTER))
        if isinstance(line, str):
            _type(log, line)
            continue
        if line.player != player:
            player = line.player
            _type(log, f"player {player}")
            _type(log, f"instrument {instrument_of(season, line.section)}")
        _type(log, f"{NOTES[line.section]} {line.cents:+.1f}")
    log.communicate("end\n", timeout=60)
    speaks.alive = False
    if log.returncode:
        raise RuntimeError(f"the log of {met.name} ended with {log.returncode}")


def _minutes(speaks):
    return (time.monotonic() - speaks.began) * FASTER / 60


def _log(met, book, speaks, minutes):
    now = (met.begin + timedelta(minutes=minutes)).astimezone()
    began = f"@{now:%Y-%m-%d %H:%M:%S} x{FASTER}"
    first = ["--rehearsal", met.name, "--player", "trumpets 1", "--instrument", "Bb trumpet"]
    return subprocess.Popen(
        ["faketime", "-f", began, *DRIFT, "log", str(book), *first,
         "--thermometer", f"serial:{speaks.name}"],
        stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, start_new_session=True,
    )  # fmt: skip


def _type(log, line):
    log.stdin.write(line + "\n")
    log.stdin.flush()


def _recorded(season, met, section, book, place):
    """Four seconds of each reading of a section's first player, in one recording."""
    name = f"{section.name} 1"
    rng = np.random.default_rng([season.seed, 3, met.number])
    sound = 1e-4 * rng.standard_normal(int(MINUTES_RECORDED * 60 * RATE))
    for reading in met.readings:
        if reading.player == name:
            hertz = HERTZ[NOTES[section.name]] * 2 ** (reading.cents / 1200)
            tone = 0.2 * horn(hertz, rng, seconds=4.0, rate=RATE)
            at = int(reading.minutes * 60 * RATE)
            sound[at : at + len(tone)] += tone
    file = place / f"{section.name}.flac"
    soundfile.write(file, np.clip(sound, -1, 1).astype(np.float32), RATE)
    asked("listen", file, "--into", book, "--rehearsal", met.name, "--player", name,
          "--instrument", section.instrument, "--starts", met.begin.isoformat())  # fmt: skip


MINUTES_RECORDED = 76
