"""Where pitch stands at this moment of a rehearsal, and what to move."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Any

import numpy as np
import pandas as pd

from drift.errors import InputError
from drift.instruments import Catalogue, find
from drift.logbook.rehearsals import Rehearsals
from drift.notes import shown
from drift.pairing import temperatures_at
from drift.pairing.playing import playing_at
from drift.pairing.slide_log import calibration_of, last_positions
from drift.regression.results import Draws, Estimate, Fit
from drift.regression.warmup import warmth
from drift.slides.correction import Move, moves_against
from drift.slides.moves import MM_UNSEEN
from drift.times import shown_time

__all__ = ["Conditions", "Standing", "basis_of", "standing"]

DRAWS = 4000
WARM_ENOUGH = 0.8
"""Less warmed up than this, an instrument goes on rising by itself: common practice."""
WARM = 0.95
LITTLE_CENTS = 2.0
"""Less than this is no reason to touch a slide: common practice, and finer than a tuner is read."""


@dataclass(frozen=True)
class Conditions:
    """What surrounds an instrument at a moment.

    Attributes
    ----------
    time : datetime
    celsius : float
        Temperature of the air [°C].
    playing_minutes : float
        Minutes played so far, rests left out.
    spells, minutes_into_spell, initial_warmth
        As in the paired table.
    """

    time: datetime
    celsius: float
    playing_minutes: float
    spells: tuple[float, ...]
    minutes_into_spell: float
    initial_warmth: float

    @property
    def playing(self) -> bool:
        """Whether the player is playing, not resting."""
        return len(self.spells) % 2 == 0

    def warmth(self, draws: Draws) -> Any:
        """Return how far the instrument is warmed up, for each draw of the time constants."""
        return warmth(
            self.spells,
            self.minutes_into_spell,
            draws.warm_minutes,
            draws.cool_minutes,
            self.initial_warmth,
        )


@dataclass(frozen=True)
class Standing:
    """Where pitch stands for one player.

    Attributes
    ----------
    player, instrument : str
    now, tuned : Conditions
        This moment, and the moment the slides were last set in this rehearsal (or else the
        player's first reading).
    slides_set : bool
        Whether ``tuned`` is a slide setting.
    cents : Estimate
        Expected change of pitch since then, sharp positive.
    moves : tuple of Move
        What would undo it.
    basis : str
        What the answer rests on, in words.
    warnings : tuple of str
    warmth : float
        How far the instrument is expected to be warmed up now, 0 to 1.
    minutes_to_warm : float
        Minutes of playing until it is expected to be 95 % warm.
    """

    player: str
    instrument: str
    now: Conditions
    tuned: Conditions
    slides_set: bool
    cents: Estimate
    moves: tuple[Move, ...]
    basis: str
    warnings: tuple[str, ...] = ()
    warmth: float = 1.0
    minutes_to_warm: float = 0.0

    @property
    def reason(self) -> str:
        """Why no slide is to be moved: ``little``, ``warming up``, ``not sure``; else empty.

        A change is sure enough when its 95 % interval excludes zero and is no wider than the
        change itself.
        """
        cents = self.cents
        if abs(cents.estimate) < LITTLE_CENTS:
            return "little"
        if self.warmth < WARM_ENOUGH:
            return "warming up"
        if cents.low <= 0.0 <= cents.high or cents.high - cents.low > abs(cents.estimate):
            return "not sure"
        return ""

    def in_words(self) -> list[str]:
        """Return what to do as players say it: ``main out 4.2 mm (3.5 to 4.9), to 16.2``."""
        if self.reason == "little":
            return ["leave the slides where they are"]
        if self.reason == "warming up":
            minutes = f"{max(1, math.ceil(self.minutes_to_warm))} minutes"
            if self.now.playing:
                return [f"still warming up: leave the slides, look again in {minutes}"]
            return [f"not warmed up: leave the slides, look again after {minutes} of playing"]
        if self.reason == "not sure":
            return [f"not sure enough to move: anywhere from {_span(self.cents)} cents; go by ear"]
        return [_said(move) for move in self.moves if abs(move.move_mm) >= MM_UNSEEN]

    def summary(self, zone: tzinfo = UTC) -> str:
        """Return a few lines for a person, times of day in a zone."""
        since = "the slides were set" if self.slides_set else "the first reading"
        state = "playing" if self.now.playing else "resting"
        way = "sharper" if self.cents.estimate > 0 else "flatter"
        lines = [
            f"{self.player}, {shown(self.instrument)}: {self.now.celsius:z.1f} °C, "
            f"{self.now.playing_minutes:.0f} min played ({state})",
            f"since {since} at {self.tuned.time.astimezone(zone):%H:%M} "
            f"({self.tuned.celsius:z.1f} °C): "
            f"{abs(self.cents.estimate):.1f} cents {way} ({_span(self.cents)})",
            *self.in_words(),
            f"from {self.basis}",
        ]
        return "\n".join([*lines, *self.warnings])

    def to_json(self) -> dict[str, Any]:
        """Return the answer as one JSON object."""
        return {
            "player": self.player,
            "instrument": self.instrument,
            "time": shown_time(self.now.time),
            "celsius": self.now.celsius,
            "playing_minutes": self.now.playing_minutes,
            "playing": self.now.playing,
            "since": shown_time(self.tuned.time),
            "since_celsius": self.tuned.celsius,
            "slides_set": self.slides_set,
            "cents": self.cents.to_json(),
            "moves": [move.to_json() for move in self.moves],
            "reason": self.reason,
            "in_words": self.in_words(),
            "warmth": self.warmth,
            "minutes_to_warm": self.minutes_to_warm,
            "basis": self.basis,
            "warnings": list(self.warnings),
        }


def standing(
    season: Rehearsals,
    rehearsal: str,
    player: str,
    instrument: str,
    now: datetime,
    *,
    known: Fit,
    catalogue: Catalogue | None = None,
) -> Standing:
    """Return where pitch stands for a player, and what to move.

    Parameters
    ----------
    season : Rehearsals
        Everything logged so far.
    rehearsal, player, instrument : str
        Whose pitch.
    now : datetime
        The moment.
    known : Fit
        What the rehearsals before it teach.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    Standing
        The expected change since the slides were last set in this rehearsal, and the moves that
        undo it.

    Raises
    ------
    InputError
        When the temperature now, or a moment to compare with, is not known.
    """
    horn = find(instrument, catalogue)
    here = season.only(rehearsals=[rehearsal]) if rehearsal in season.names else season
    tuned, slides_set = _tuned_at(season, here, rehearsal, player, horn.name)
    moment = pd.Timestamp(now)
    at_now = _conditions(here, rehearsal, player, moment, moment)
    at_tuned = _conditions(here, rehearsal, player, tuned, moment)
    draws = known.draws(horn.name, DRAWS, 0)
    warm_now = at_now.warmth(draws)
    change = draws.drift(at_now.celsius, warm_now) - draws.drift(
        at_tuned.celsius, at_tuned.warmth(draws)
    )
    cents = Estimate(float(change.mean()), *(float(q) for q in np.percentile(change, [2.5, 97.5])))
    at = last_positions(season, player, horn)
    calibration = calibration_of(season, player, horn)
    _, moves = moves_against(horn, cents, at=at, calibration=calibration)
    beyond = known.extrapolation(at_now.celsius)
    return Standing(
        player, horn.name, at_now, at_tuned, slides_set, cents, moves, basis_of(known),
        (beyond,) if beyond else (), float(warm_now.mean()), _minutes_to_warm(draws, warm_now),
    )  # fmt: skip


def basis_of(known: Fit) -> str:
    """Return what an answer rests on, in words."""
    count = len(known.rows)
    if not count:
        return "acoustics alone: too few readings yet"
    return f"{count} reading{'' if count == 1 else 's'} and acoustics"


def _tuned_at(
    season: Rehearsals, here: Rehearsals, rehearsal: str, player: str, instrument: str
) -> tuple[pd.Timestamp, bool]:
    """Return when the player last set a slide in this rehearsal, else read the first note."""
    events = season.events
    moved = events[
        (events["rehearsal"] == rehearsal)
        & (events["event"] == "slide")
        & events["player"].isin(["", player])
        & events["instrument"].isin(["", instrument])
    ]["time"]
    first = here.readings.loc[here.readings["player"] == player, "time"]
    if len(moved):
        # Slides are written down before the first note and tuned with it.
        last = moved.max()
        return max(last, first.min()) if len(first) and last < first.min() else last, True
    if not len(first):
        raise InputError(
            f"{player} has neither a reading nor a slide position in {rehearsal} yet",
            "take a reading, or say where the slides are (slide main 14)",
        )
    return first.min(), False


def _conditions(
    here: Rehearsals, rehearsal: str, player: str, moment: pd.Timestamp, until: pd.Timestamp
) -> Conditions:
    """Return what surrounded the player at a moment, as far as it is known at a later one."""
    times = pd.Series([moment]).dt.tz_convert("UTC").astype("datetime64[us, UTC]")
    point = pd.DataFrame({"time": times, "rehearsal": pd.Series([rehearsal], dtype="str")})
    celsius = float(temperatures_at(here, point)[0])
    if np.isnan(celsius):
        raise InputError(
            f"no temperature is known near {shown_time(moment.floor('s').to_pydatetime())}",
            "type one (temp 21.5), or see whether the thermometer is away",
        )
    events = here.events[(here.events["rehearsal"] == rehearsal) & (here.events["time"] <= until)]
    readings = here.readings[here.readings["time"] <= until]
    played = playing_at(events, readings, player, times[0].timestamp() / 60.0)
    return Conditions(moment.to_pydatetime(), celsius, *played)


def _minutes_to_warm(draws: Draws, warm_now: Any) -> float:
    """Return the minutes of playing until an instrument is warm: ``tau ln((1 - w)/0.05)``."""
    ahead = draws.warm_minutes * np.log(np.maximum((1.0 - warm_now) / (1.0 - WARM), 1.0))
    return float(np.median(ahead))


def _span(cents: Estimate) -> str:
    return f"{cents.low:+z.1f} to {cents.high:+z.1f}"


def _said(move: Move) -> str:
    way, sign = ("out", 1.0) if move.move_mm > 0 else ("in", -1.0)
    low, high = sorted((sign * move.low_mm, sign * move.high_mm))
    to = "" if move.to_mm is None else f", to {move.to_mm:z.1f}"
    end = " (the end of its travel)" if move.limited else ""
    span = f"({low:z.1f} to {high:z.1f})"
    return f"{shown(move.slide)} {way} {abs(move.move_mm):.1f} mm {span}{to}{end}"
