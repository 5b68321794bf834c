"""From simulated evenings to the estimator's tables, and how its answers are judged."""

import numpy as np
import pandas as pd

import drift
from drift.instruments.catalogue import Catalogue
from drift.tonight import Course, Evening, Reading, SlideSetting, know, pitch_now
from drift.tonight.target import target_at
from tests.evenings import CLOCK, REFERENCE_MM, Player, nominal_slope
from tests.evenings import Evening as Truth

DRAWS = 600
NOON = pd.Timestamp("2026-09-01T18:00Z")


def periods(truth, minute):
    passed = int(np.searchsorted(truth.switches, minute, side="right"))
    lengths = np.diff(truth.switches)[: max(passed - 1, 0)]
    return tuple(float(x) for x in lengths), float(minute - truth.switches[passed - 1])


def paired(truth):
    """The paired table of an evening, at the nominal slope of the slides."""
    player, rows = truth.player, []
    for read in truth.readings:
        spells, into = periods(truth, read.minutes)
        slides = nominal_slope(player.sides[read.side][0]) * (
            truth.logged_mm(read.minutes) - REFERENCE_MM
        )
        rows.append({
            "time": NOON + pd.Timedelta(days=7 * truth.number, minutes=read.minutes),
            "rehearsal": f"evening {truth.number}", "player": "Rowan", "instrument": player.kind,
            "side": read.side, "note": read.note, "cents": read.cents, "a4_hz": 440.0,
            "reference_cents": read.cents - slides,
            "celsius": truth.room_at(read.minutes), "spells": spells, "minutes_into_spell": into,
            "playing_minutes": sum(spells[::2]) + into * (len(spells) % 2 == 0),
            "initial_warmth": 0.0,
        })  # fmt: skip
    return pd.DataFrame(rows)


def tonight_of(truth, until, more=()):
    """What was logged of an evening up to a moment, as the estimator takes it."""
    minutes, celsius = np.array([sample for sample in truth.air if sample[0] <= until]).T
    return Evening(
        Course(minutes, celsius, tuple(s for s in truth.switches if s <= until)),
        tuple(
            Reading(r.minutes, r.note, r.cents, r.side)
            for r in [*truth.readings, *more]
            if r.minutes <= until
        ),
        tuple(SlideSetting(m, "main", mm) for m, mm in sorted(truth.logged) if m <= until),
        {"main": REFERENCE_MM},
    )


def learnt(earlier, kind, more):
    """What earlier evenings teach, by the fit of the program."""
    horn = Catalogue.shipped().find(kind)
    if not earlier:
        return know(horn, drift.physics().draws(kind, DRAWS, 1), more_notes=more)
    found = drift.fit(pd.concat([paired(e) for e in earlier], ignore_index=True))
    return know(
        horn, found.draws(kind, DRAWS, 1, "Rowan"), found.rows, more_notes=more,
        reading_sd_cents=found.reading_sd_cents, day_sd_cents=found.rehearsal_sd_cents,
    )  # fmt: skip


def trial(seed, which, watched=False):
    """One player's evening after ``which - 1`` others, judged at four moments."""
    player = Player(seed)
    *earlier, truth = [
        Truth(player, number, watched and number == which - 1) for number in range(which)
    ]
    knowledge = learnt(earlier, player.kind, list(player.notes))
    rng = np.random.default_rng([seed, 7])
    rows = []
    for now in (
        rng.uniform(7, 12), rng.uniform(18, 26), rng.uniform(38, 50), rng.uniform(65, 85)
    ):  # fmt: skip
        if not any(r.minutes <= now for r in truth.readings):
            continue
        found = pitch_now(knowledge, tonight_of(truth, now), now)
        rows.append({"seed": seed, "which": which, **judged(truth, knowledge, found, now)})
    return rows


def judged(truth, knowledge, found, now):
    player, side = truth.player, truth.player.main
    pitch = truth.playing_on(now)
    true = {h: truth.off(now + h, side, pitch, now) for h in (0, 5, 10, 15, 20, 30)}
    answer = found.sides[side]
    estimates = {0.0: answer.off_cents} | {a.minutes: a.off_cents for a in answer.ahead}
    row = {
        "now": now, "kind": player.kind, "physics": type(player.physics).__name__,
        "watched": truth.watched, "moved": truth.unlogged is not None and truth.unlogged[0] <= now,
        "move_cents": 0.0 if truth.unlogged is None else truth.unlogged[1] * truth.slope(side),
        "since": 0 if truth.unlogged is None else sum(
            truth.unlogged[0] < r.minutes <= now for r in truth.readings
        ),
        "surprises": tuple(s.value for s in found.surprises),
    }  # fmt: skip
    for minutes, estimate in estimates.items():
        row[f"e{minutes:g}"] = estimate.estimate - true[minutes]
        row[f"in{minutes:g}"] = estimate.low <= true[minutes] <= estimate.high
        row[f"width{minutes:g}"] = estimate.high - estimate.low
    decision, asked = found.sides[side].decision, False
    if decision.action == "read":
        asked = True
        if truth.playing(now):
            more = [truth.read(now + 0.1 * j, usual=True) for j in range(2)]
            later = now + 0.2
            found = pitch_now(knowledge, tonight_of(truth, later, more), later)
            decision = found.sides[side].decision
    ahead = np.array([true[h] for h in (0, 5, 10, 15, 20)])
    after = ahead
    if decision.action == "move":
        mm = round(2 * found.sides[side].wished_cents / -nominal_slope(player.sides[side][0])) / 2
        after = ahead + truth.slope(side) * (mm + truth.rng.normal(0, 0.25))
    row |= {
        "action": str(decision.action), "asked": asked, "off": ahead.mean(),
        "was": np.abs(ahead).mean(), "left": np.abs(after).mean(),
    }  # fmt: skip
    return row


def summary(rows):
    """The figures of the table, of a set of judged moments."""
    rows = pd.DataFrame(rows)
    moved = rows["action"] == "move"
    figures = {}
    for h in ("0", "10", "30"):
        figures[f"mean {h}"] = rows[f"e{h}"].abs().mean()
        figures[f"95th {h}"] = rows[f"e{h}"].abs().quantile(0.95)
        figures[f"holds {h}"] = 100 * rows[f"in{h}"].mean()
    figures |= {
        "width": rows["width0"].mean(), "moves": 100 * moved.mean(),
        "asks": 100 * rows["asked"].mean(),
        "needless": 100 * (moved & (rows["off"].abs() < 3)).mean(),
        "missed": 100 * (~moved & (rows["off"].abs() >= 8)).mean(),
        "wrong way": 100 * (moved & (rows["left"] > rows["was"] + 1)).mean(),
        "was": rows["was"].mean(), "left": rows["left"].mean(), "moments": len(rows),
    }  # fmt: skip
    return figures


def outdoors(seed, minutes):
    """Tune in a room after some minutes, rest on the way, play twelve minutes in the cold.

    What is off on the mean of the playing when the tuner was set to zero and to the target. The
    air in the simulated bore follows its walls; in the other instruments it acts at once.
    """
    player = Player(seed)
    known = learnt([Truth(player, number) for number in range(4)], player.kind, [])
    rng = np.random.default_rng([seed, 11])
    room, field, rest = rng.uniform(19, 23), rng.uniform(2, 12), rng.uniform(10, 30)
    switches = np.cumsum([0.0, minutes, rest, 12.0])
    air = np.where(minutes > CLOCK, room, field)
    playing = np.searchsorted(switches, CLOCK, side="right") % 2 == 1
    pitch = player.physics.cents(air, playing)
    block = (switches[2] <= CLOCK) & (switches[3] > CLOCK)
    mean, at_tune = pitch[block].mean(), np.interp(0.9 * minutes, CLOCK, pitch)
    course = Course(
        [0.0, minutes, minutes + 0.5, 140.0], [room, room, field, field], tuple(switches)
    )
    show = target_at(
        known.draws, course, (0.6 * minutes, minutes), (switches[2], switches[3])
    ).show_cents
    set_by = rng.normal(0.0, player.reading_sd / np.sqrt(2.0))
    return {
        "physics": type(player.physics).__name__, "minutes": minutes, "show": show.estimate,
        "zero": mean - at_tune + set_by, "target": mean - at_tune + set_by + show.estimate,
        "held": show.low <= at_tune - mean <= show.high, "half": (show.high - show.low) / 2,
    }  # fmt: skip
