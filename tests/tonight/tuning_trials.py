"""A simulated player follows the steps, a feeling, or one formula; what is left is judged."""

import numpy as np

from drift.instruments.catalogue import Catalogue
from drift.tonight.tuning import begin_tuning, heard, played, set_to, skip
from drift.tonight.tuning_steps import Step
from tests.tuning_players import TuningPlayer

TRAVEL = {
    "double horn": {"main": 45.0, "F": 30.0, "Bb": 20.0}, "Bb clarinet": {"barrel": 8.0},
    "flute": {"head": 15.0}, "piccolo": {"head": 10.0}, "F horn": {"main": 60.0},
    **{name: {"main": 80.0} for name in ("BBb tuba", "CC tuba", "Eb tuba", "sousaphone")},
}  # fmt: skip
SPREAD = {"Bb trumpet": 0.06, "tenor trombone": 0.15, "bass trombone": 0.15}
# By feel, one move is so far [mm] (common practice: a little, then listen).
FEEL = {"brass": (3.0, 6.0), "woodwind": (0.5, 2.0)}


def player_of(name, seed, **given):
    """A simulated player of an instrument of the catalogue, with numbers of its own."""
    instrument = Catalogue.shipped().find(name)
    notes = {s.name: list(s.tuning_notes) for s in instrument.sides if s.tuning_notes}
    slides, factors, mean, sd = {}, {}, 1.10, 0.10
    for slide in instrument.slides:
        slides[slide.name] = {
            side: -1731.234 * slide.path_factor / (1000.0 * instrument.side(side).length_m)
            for side in slide.sides
        }
        if instrument.family == "woodwind":
            mean, sd = slide.effect.mean, slide.effect.sd
            factors = {note: m / mean for note, m, _ in slide.effect.notes}
    spread = SPREAD.get(name, 0.08 if instrument.family == "brass" else 0.04)
    travel = TRAVEL.get(name, {s.name: 45.0 for s in instrument.slides})
    player = TuningPlayer(
        seed, notes, slides, factors=factors, spread=spread, factor=(mean, sd),
        set_sd=0.3 if instrument.family == "brass" else 0.15,
        tau=instrument.priors.warm_minutes, **given,
    )  # fmt: skip
    return instrument, player, travel


def follow(name, seed, *, sd=2.0, valves=False, **given):
    """Tune by the steps; return the last state, the player, and the instructions given."""
    instrument, player, travel = player_of(name, seed, **given)
    tuning = begin_tuning(
        instrument, positions_mm=player.at, minutes_played=player.minutes, travel_mm=travel,
        reading_sd_cents=sd, valves=valves,
    )  # fmt: skip
    said = []
    while tuning.now.step is not Step.DONE:
        now = tuning.now
        said.append(now)
        assert len(said) < 120, "the steps must come to an end"
        player.minutes += 0.3
        if now.step is Step.WARM_UP:
            player.minutes += now.minutes - 0.3
            tuning = played(tuning, now.minutes)
        elif now.step is Step.VALVE_PLAY:
            tuning = heard(tuning, float(player.rng.normal(0.0, 8.0)))
        elif now.step is Step.VALVE_MOVE:
            tuning = set_to(tuning, now.valve, 10.0)
        elif now.step is Step.MOVE and now.slide in player.stuck:
            tuning = skip(tuning)
        elif now.step is Step.MOVE:
            player.move(now.slide, now.to_mm)
            tuning = set_to(tuning, now.slide, now.to_mm)
        else:
            tuning = heard(tuning, player.read(now.side, now.note, sd))
    return tuning, player, said


def steps(name, seed, **given):
    """One row a side: error, readings, moves, whether the 90 % interval holds it."""
    tuning, player, _ = follow(name, seed, **given)
    rows = []
    for side, state in tuning.sides.items():
        true, (mean, spread) = player.off(side), tuning.belief.estimate(side)
        rows.append({
            "error": abs(true), "readings": state.readings, "moves": state.moves,
            "holds": abs(true - mean) < 1.645 * spread, "at_end": state.at_end,
        })  # fmt: skip
    return rows


def own_slide(instrument, order, side):
    earlier = order[: order.index(side)]
    return next(
        s.name for s in instrument.slides
        if side in s.sides and not any(e in s.sides for e in earlier)
    )  # fmt: skip


def by_feel(name, seed, *, sd=3.0, **given):
    """Move a little towards the tuner until one note reads within three cents."""
    instrument, player, travel = player_of(name, seed, **given)
    order, rows = list(instrument.slides[0].sides), []
    for side in order:
        slide, readings, moves = own_slide(instrument, order, side), 0, 0
        while readings < 14:
            shown = player.read(side, player.notes[side][0], sd)
            readings, player.minutes = readings + 1, player.minutes + 0.6
            if abs(shown) <= 3.0:
                break
            far = player.rng.uniform(*FEEL[instrument.family]) * np.sign(shown)
            player.move(slide, float(np.clip(player.at[slide] + far, 0.0, travel[slide])))
            moves += 1
        rows.append({"readings": readings, "moves": moves})
    return [row | {"error": abs(player.off(side))} for row, side in zip(rows, order, strict=True)]


def by_formula(name, seed, *, sd=3.0, **given):
    """One reading, one move by the rule of the plain tube."""
    instrument, player, travel = player_of(name, seed, **given)
    order, rows = list(instrument.slides[0].sides), []
    for side in order:
        slide = own_slide(instrument, order, side)
        shown = player.read(side, player.notes[side][0], sd)
        far = -shown / instrument.cents_per_mm(side, slide)
        player.move(slide, float(np.clip(far, 0.0, travel[slide])))
        rows.append({"readings": 1, "moves": 1})
    return [row | {"error": abs(player.off(side))} for row, side in zip(rows, order, strict=True)]


def figures(rows):
    """The figures of the table, of rows a side."""
    error = np.array([row["error"] for row in rows])
    found = {
        "readings": np.mean([row["readings"] for row in rows]),
        "moves": np.mean([row["moves"] for row in rows]),
        "mean": error.mean(), "95th": np.quantile(error, 0.95),
        "within 3": 100.0 * (error < 3.0).mean(),
    }  # fmt: skip
    if "holds" in rows[0]:
        found["90 % holds"] = 100.0 * np.mean([row["holds"] for row in rows])
    return found
