"""Who is taken for one player, and how sure the pitch is: in dry rooms, rooms and halls.

    python tests/benchmarks/study_rooms.py [--seed 20] [--singles 600] [--pairs 600] [--out FILE]

Players, rooms and noise are drawn from the seed (`tests.rooms`): added harmonics, a sound font, a
reed and a lip by physical model; rooms of 0.25 to 3 s by image sources and rays, direct over
reverberant sound of +12 to -6 dB; wandering by 0 to 4 cents, vibrato of 0 to 15, noise 10 to 30 dB
below. A pair is two players of any kinds, 3 to 70 cents apart, the second 0, 6 or 12 dB below; it
is harmful where a pitch is found that is more than a cent from both. The constants of
`sensors.quality` were fitted on seeds 2 and 3; judge on others.

Clip after clip goes into the file of --out (a table); the same command resumes. Needs
pyroomacoustics and, for the sound font, fluidsynth; a clip takes a quarter of a second.
"""

from __future__ import annotations

import argparse
import csv
import os
import shutil
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np

from sensors import segments
from sensors.quality import DOUBTFUL, FLAGGED, PAIR
from sensors.tones import Tone, find_tones
from tests.rooms import (
    BEGINS_S,
    DRY,
    RATE,
    Note,
    Room,
    Sound,
    added,
    font_notes,
    heard,
    held,
    lip,
    pitch_of,
    reed,
    room,
)

LONGEST_S = 3.8
HARMFUL_CENTS = 1.0
ROOMS = 60
COLUMNS = [
    "clip", "kind", "second", "seconds", "direct_db", "vibrato", "apart", "level_db", "score",
    "cents_sd", "error",
]  # fmt: skip

Base = tuple[str, float, Sound]  # kind of player, own pitch [Hz], a steady note
Row = dict[str, Any]


def bases(rng: np.random.Generator) -> list[Base]:
    """Return steady notes of the physical models and of the sound font."""
    found: list[Base] = []
    for name, model, low, octaves in (("reed", reed, 125, 2), ("lip", lip, 300, 1)):
        while sum(base[0] == name for base in found) < 16:
            hertz = low * 2 ** (octaves * rng.uniform())
            sound = model(hertz, rng, LONGEST_S)
            own = pitch_of(sound)
            if sound.std() > 0.02 and abs(1200 * np.log2(own / hertz)) < 200:
                found.append((name, own, sound))
    if shutil.which("fluidsynth"):
        notes = font_notes(rng, 4, LONGEST_S)
        found += [("font", pitch_of(sound), sound) for sound in notes]
    return found


def play(
    hertz: float, bank: list[Base], rng: np.random.Generator, **how: float
) -> tuple[str, Note]:
    """Return a note of any player whose own notes lie near."""
    near = [base for base in bank if abs(12 * np.log2(base[1] / hertz)) < 3]
    if not near or rng.uniform() < 0.4:
        kind, own, sound = "added", hertz, added(hertz, rng, LONGEST_S)
    else:
        kind, own, sound = near[rng.integers(len(near))]
    if kind == "font":
        how["vibrato_cents"] = 0.0  # the players of the font have their own
    return kind, held(sound, own, rng, hertz=hertz, wander_cents=4 * rng.uniform() ** 2, **how)


def vibrato(rng: np.random.Generator) -> float:
    return 15 * float(rng.uniform()) if rng.uniform() < 0.5 else 0.0


def clip(bank: list[Base], where: Room, rng: np.random.Generator, *, pair: bool) -> tuple[Row, Any]:
    """Return a clip and what was made of it."""
    hertz, seconds = float(87 * 10 ** rng.uniform()), rng.uniform(1.4, 3.0)
    swing = vibrato(rng)
    players = [play(hertz, bank, rng, seconds=seconds, vibrato_cents=swing)]
    apart, level_db = 0.0, 0.0
    if pair:
        apart = float(3 * (70 / 3) ** rng.uniform() * rng.choice([-1, 1]))
        level_db = float(rng.choice([0, -6, -12]))
        other = hertz * 2 ** (apart / 1200)
        players.append(play(other, bank, rng, seconds=seconds, vibrato_cents=vibrato(rng)))
    levels = [1.0, 10 ** (level_db / 20)]
    notes = [note for _, note in players]
    sound = heard(notes, levels, where, rng.uniform(10, 30), rng)
    row = {
        "kind": players[0][0],
        "second": players[1][0] if pair else "",
        "seconds": where.seconds,
        "direct_db": where.direct_db,
        "vibrato": swing,
        "apart": apart,
        "level_db": level_db,
    }
    tones, _ = find_tones(sound, RATE)
    tone = max(tones, key=lambda one: one.frames, default=None)
    score, sure, error = (tone.score, tone.cents_sd, off(tone, notes)) if tone else (99.0, "", "")
    return row | {"score": score, "cents_sd": sure, "error": error}, sound


def off(tone: Tone, notes: list[Note]) -> float:
    """Return how far a tone is from the nearest player over the time that it covers [cents]."""
    span = tone.start_s - BEGINS_S, tone.end_s - BEGINS_S
    errors = [1200 * float(np.log2(tone.hertz / note.mean_hertz(*span))) for note in notes]
    return min(errors, key=abs)


def study(seed: int, singles: int, pairs: int, out: Path | None) -> list[Row]:
    """Return a row for each clip, resuming where the file ends."""
    segments.PAIR = np.inf  # type: ignore[misc]  # look beyond what is refused at once
    done = list(csv.DictReader(out.open())) if out and out.exists() else []
    rng = np.random.default_rng([seed, 2026])
    bank = bases(rng)
    rooms = [room(rng) for _ in range(ROOMS)]
    for number in range(len(done), singles + pairs):
        mine = np.random.default_rng([seed, number])
        where = DRY if mine.uniform() < 0.2 else rooms[mine.integers(ROOMS)]
        row, _ = clip(bank, where, mine, pair=number >= singles)
        done.append({"clip": number} | row)
        if out:
            write(out, done[-1])
    return [{key: number_of(value) for key, value in row.items()} for row in done]


def write(out: Path, row: Row) -> None:
    new = not out.exists()
    with out.open("a", newline="") as file:
        table = csv.DictWriter(file, COLUMNS)
        if new:
            table.writeheader()
        table.writerow(row)


def number_of(value: Any) -> Any:
    try:
        return float(value)
    except ValueError:
        return value


def is_hall(row: Row) -> bool:
    return bool(row["seconds"] >= 1 and row["direct_db"] <= 3)


SOME: dict[str, Callable[[Row], bool]] = {
    "all": lambda row: True,
    "no room": lambda row: row["seconds"] == 0,
    "rooms": lambda row: row["seconds"] > 0 and not is_hall(row),
    "halls": is_hall,
    "vibrato 5 to 15 cents": lambda row: row["vibrato"] > 5,
    "harmonics added": lambda row: row["kind"] == "added",
    "sound font": lambda row: row["kind"] == "font",
    "reed model": lambda row: row["kind"] == "reed",
    "lip model": lambda row: row["kind"] == "lip",
}


def tell(rows: list[Row]) -> None:
    singles = [row for row in rows if not row["second"]]
    pairs = [row for row in rows if row["second"] and row["error"] != ""]
    harmful = [row for row in pairs if abs(row["error"]) > HARMFUL_CENTS]
    print(
        f"{len(singles)} players alone; {len(pairs)} pairs with a pitch, {len(harmful)} harmful\n"
    )
    print("Errors over the tones that are taken; the last column over all.\n")
    print("| one player | clips | taken | flagged of these | error [cents] | u [cents] | error/u "
          "| within 2u | error/u of all |\n|---|---|---|---|---|---|---|---|---|")  # fmt: skip
    for name, which in SOME.items():
        some = [row for row in singles if which(row)]
        told = [row for row in some if row["error"] != "" and row["error"] == row["error"]]
        sure = [row for row in told if row["score"] <= DOUBTFUL]
        errors = np.array([row["error"] for row in sure])
        ratio = errors / np.array([row["cents_sd"] for row in sure])
        everyone = np.array([row["error"] / row["cents_sd"] for row in told])
        flagged = share(row["score"] > FLAGGED for row in sure)
        median = np.median([row["cents_sd"] for row in sure]) if sure else np.nan
        print(f"| {name} | {len(some)} | {len(sure) / max(len(some), 1):.2f} | {flagged:.2f} "
              f"| {rms(errors):.2f} | {median:.2f} | {rms(ratio):.2f} "
              f"| {share(abs(ratio) <= 2):.3f} | {rms(everyone):.2f} |")  # fmt: skip
    print("\n| two players | clips | not taken alone | refused at once |\n|---|---|---|---|")
    for name, some in (
        ("harmful", harmful),
        *((f"harmful, {db:g} dB", [row for row in harmful if row["level_db"] == db])
          for db in (0, -6, -12)),
        ("harmful, two kinds of player", [r for r in harmful if r["kind"] != r["second"]]),
        ("harmless", [row for row in pairs if abs(row["error"]) <= HARMFUL_CENTS]),
    ):  # fmt: skip
        not_taken = share(row["score"] > DOUBTFUL for row in some)
        print(f"| {name} | {len(some)} | {not_taken:.3f} "
              f"| {share(row['score'] > PAIR for row in some):.3f} |")  # fmt: skip
    print(
        "\n| score up to | one player taken | in halls | harmful pairs above |\n|---|---|---|---|"
    )
    for limit in np.arange(-3, 2.1, 0.5):
        taken = share(row["score"] <= limit for row in singles)
        halls = share(row["score"] <= limit for row in singles if is_hall(row))
        above = share(row["score"] > limit for row in harmful)
        print(f"| {limit:+.1f} | {taken:.2f} | {halls:.2f} | {above:.3f} |")


def share(these: Iterable[Any]) -> float:
    values = np.array(list(these), dtype=float)
    return float(values.mean()) if values.size else float("nan")


def rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(values**2))) if values.size else float("nan")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=20)
    parser.add_argument("--singles", type=int, default=600)
    parser.add_argument("--pairs", type=int, default=600)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    tell(study(options.seed, options.singles, options.pairs, options.out))


if __name__ == "__main__":
    main()
