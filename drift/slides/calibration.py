"""What a player's own slide does: cents per millimetre from readings at several positions.

Two or more readings of one note at two or more positions of one slide are enough. Going back to
the first position at the end is better: the drift of the warming instrument then cancels.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from math import ceil, inf
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from drift.errors import DriftError, InputError, TooLittleData
from drift.findings import Finding
from drift.instruments import Catalogue, find
from drift.instruments.anatomy import Instrument
from drift.logbook.records import Calibration
from drift.logbook.rehearsals import Rehearsals
from drift.notes import shown
from drift.pairing.slide_log import slide_events

__all__ = ["GOOD_SHARE", "SlideSlope", "measure"]

# Readings belong together while no more than this lies between one and the next [min]; over a
# longer sitting the drift of the instrument would be taken for the slide.
GAP_MINUTES = 5.0
LONG_SITTING_MINUTES = 15.0

# What is assumed of the scatter of a reading before any is seen [cents], and how many readings
# that assumption is worth; it keeps two readings from claiming to be exact.
READING_SD_CENTS = 2.0
READINGS_ASSUMED = 3

WARN_BEYOND = 0.20
GOOD_SHARE, MOST_MORE = 0.15, 100.0
"""A slope known so well, each way, as a share of it, asks for no more readings."""


@dataclass(frozen=True)
class SlideSlope:
    """The measured slope of one slide on one side.

    Attributes
    ----------
    player, instrument, slide, side : str
        Whose, of which instrument, which slide, on which side.
    cents_per_mm, low, high : float
        Slope at the tuned positions with its 95 % interval [cents/mm], negative.
    theory : float
        What the length of the instrument says [cents/mm].
    readings : int
        How many readings it rests on.
    positions_mm : tuple of float
        The positions that were read.
    warnings : tuple of Finding
        What to know about it.
    by_rehearsal : mapping of str to int
        How many of the readings are of which rehearsal, in order of time.
    """

    player: str
    instrument: str
    slide: str
    side: str
    cents_per_mm: float
    low: float
    high: float
    theory: float
    readings: int
    positions_mm: tuple[float, ...]
    warnings: tuple[Finding, ...] = ()
    by_rehearsal: Mapping[str, int] = field(default_factory=dict)

    @property
    def more_readings(self) -> int:
        """How many more readings at these positions make it good to ±15 %; 0 where it is.

        Notes
        -----
        The interval narrows as one over the square root of the readings.
        """
        half = (self.high - self.low) / 2.0
        times = (half / (GOOD_SHARE * abs(self.cents_per_mm))) ** 2 if self.cents_per_mm else inf
        return ceil(min(self.readings * (times - 1.0), MOST_MORE)) if times > 1.0 else 0

    @property
    def refusal(self) -> DriftError | None:
        """Why it is not to be saved; None where it is."""
        from drift.words.calibration import found_in_words, positions

        if self.low <= 0.0 <= self.high:
            return TooLittleData(
                f"{found_in_words(self)}: the interval includes zero, and nothing was saved",
                "measure again with positions further apart, and come back to the first one",
            )
        if self.cents_per_mm > 0.0:
            return InputError(
                f"{found_in_words(self)}: pulling would sharpen, which no slide does; nothing "
                "was saved",
                f"check the signs of the readings at {positions(self)} mm and that positions "
                "count from fully in; measure again with the right ones",
            )
        return None

    def record(self, time: datetime, remark: str = "") -> Calibration:
        """Return the row of the logbook that keeps it.

        Raises
        ------
        InputError
            If pulling would sharpen, which no slide does.
        TooLittleData
            If the interval includes zero, so that not even the sign is known.
        """
        if refusal := self.refusal:
            raise refusal
        return Calibration(
            time=time,
            player=self.player,
            instrument=self.instrument,
            slide=self.slide,
            side=self.side,
            cents_per_mm=self.cents_per_mm,
            low=self.low,
            high=self.high,
            readings=self.readings,
            remark=remark,
        )

    def to_json(self) -> dict[str, Any]:
        """Return its numbers by name."""
        from drift.words.calibration import warning_text

        return {
            "player": self.player,
            "instrument": self.instrument,
            "slide": self.slide,
            "side": self.side,
            "cents_per_mm": {"estimate": self.cents_per_mm, "low": self.low, "high": self.high},
            "calculated_cents_per_mm": self.theory,
            "readings": self.readings,
            "readings_by_rehearsal": dict(self.by_rehearsal),
            "positions_mm": list(self.positions_mm),
            "more_readings": self.more_readings,
            "warnings": [found.to_json(warning_text(found)) for found in self.warnings],
        }

    def summary(self) -> str:
        """Return it in a few lines."""
        from drift.words.calibration import summary_of

        return summary_of(self)


def measure(
    rehearsals: Rehearsals,
    player: str,
    slide: str,
    *,
    instrument: str | None = None,
    catalogue: Catalogue | None = None,
) -> tuple[SlideSlope, ...]:
    """Return what a player's slide does, one answer for each side that was read.

    Parameters
    ----------
    rehearsals : Rehearsals
        Readings and slide events.
    player : str
        Whose slide.
    slide : str
        Its name.
    instrument : str, optional
        Which instrument; needed where the player has several.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Returns
    -------
    tuple of SlideSlope
        By side, in the order of the instrument.

    Raises
    ------
    TooLittleData
        If no note was read at two positions of the slide within a sitting.
    InstrumentError
        If the instrument or the slide does not exist.

    Notes
    -----
    Least squares of cents on the exact effect that the length of the instrument predicts for
    each position; the slope of that line times the predicted cents per millimetre is the answer.
    Every sitting (readings of a rehearsal, no more than 5 minutes apart) and note has an intercept
    of its own, and positions of the other slides make another sitting. Sittings of up to 15
    minutes in which a position is visited again measure by themselves, and a steady drift of each
    is taken out. Others, such as tunings in which a slide was moved between two readings of a
    note, count only where there is none of those: the warming of an instrument is in them. The
    scatter of a reading begins at 2 cents, worth three readings, so that the interval exists from
    two readings on.
    """
    horn = _instrument_of(rehearsals, player, instrument, catalogue)
    moved = horn.slide(slide)
    rows = _positioned(rehearsals, player, horn, moved.name)
    found = [
        _slope(rows[rows["side"] == name], player, horn, moved.name, name)
        for name in (side.name for side in horn.sides)
        if name in moved.sides
    ]
    slopes = tuple(slope for slope in found if slope)
    if not slopes:
        raise TooLittleData(
            f"no note of {player} was read at two positions of the {shown(moved.name)} slide "
            f"within {GAP_MINUTES:g} minutes",
            f"log one note again and again: slide {moved.name} 10, read, slide {moved.name} 25, "
            f"read, slide {moved.name} 10, read",
        )
    return slopes


def _instrument_of(
    rehearsals: Rehearsals, player: str, instrument: str | None, catalogue: Catalogue | None
) -> Instrument:
    readings = rehearsals.readings
    played = sorted(set(readings.loc[readings["player"] == player, "instrument"]))
    if instrument is not None:
        return find(instrument, catalogue)
    if not played:
        known = ", ".join(sorted(readings["player"].unique())) or "nobody yet"
        raise TooLittleData(f"there are no readings of {player!r}", f"there are some of {known}")
    if len(played) > 1:
        raise TooLittleData(
            f"{player} plays {' and '.join(shown(name) for name in played)}",
            "say which one with --instrument",
        )
    return find(played[0], catalogue)


def _positioned(rehearsals: Rehearsals, player: str, horn: Instrument, slide: str) -> pd.DataFrame:
    """Return the player's readings with the position of the slide and their sitting."""
    readings = rehearsals.readings
    mine = (readings["player"] == player) & (readings["instrument"] == horn.name)
    rows = readings[mine & ~readings["flagged"]].sort_values("time", kind="stable")
    events = slide_events(rehearsals, player, horn)
    positions = {
        name: _position_at(rows["time"], events[events["slide"] == name])
        for name in (s.name for s in horn.slides)
    }
    others = pd.DataFrame(positions, index=rows.index).drop(columns=slide)
    apart = rows["time"].diff() > pd.Timedelta(minutes=GAP_MINUTES)
    apart |= rows["rehearsal"].ne(rows["rehearsal"].shift())
    changed = others.ne(others.shift()).any(axis=1) & ~(others.isna() & others.shift().isna()).all(
        axis=1
    )
    return rows.assign(
        position_mm=positions[slide],
        sitting=(apart | changed).cumsum(),
        cents_at_440=rows["cents"] + 1200.0 * np.log2(rows["a4_hz"] / 440.0),
    ).dropna(subset=["position_mm"])


def _position_at(times: pd.Series[Any], events: pd.DataFrame) -> NDArray[np.float64]:
    """Return where a slide stood at each time [mm]; NaN before its position was first stated."""
    if events.empty:
        return np.full(len(times), np.nan)
    last = np.searchsorted(events["time"].to_numpy(), times.to_numpy(), side="right") - 1
    return np.where(last < 0, np.nan, events["position_mm"].to_numpy()[np.maximum(last, 0)])


def _slope(
    rows: pd.DataFrame, player: str, horn: Instrument, slide: str, side: str
) -> SlideSlope | None:
    groups = rows.groupby(["sitting", "note"])
    rows = _by_themselves(rows[groups["position_mm"].transform("nunique") > 1])
    if rows.empty:
        return None
    first = float(rows["position_mm"].iloc[0])
    expected = np.array(
        [horn.cents_of_moves(side, {slide: mm - first}) for mm in rows["position_mm"]]
    )
    minutes = _minutes_into(rows)
    columns = [expected, *_drifts(rows, minutes)]
    ratio, error, freedom = _regress(
        np.column_stack(columns),
        rows["cents_at_440"].to_numpy(),
        rows.groupby(["sitting", "note"]).ngroup().to_numpy(),
    )
    theory = horn.cents_per_mm(side, slide)
    half = float(stats.t.ppf(0.975, freedom)) * error
    low, high = sorted((theory * (ratio - half), theory * (ratio + half)))
    return SlideSlope(
        player=player,
        instrument=horn.name,
        slide=slide,
        side=side,
        cents_per_mm=theory * ratio,
        low=low,
        high=high,
        theory=theory,
        readings=len(rows),
        positions_mm=tuple(sorted(set(rows["position_mm"]))),
        warnings=tuple(_warnings(ratio, half, minutes, drift_removed=len(columns) > 1)),
        by_rehearsal=Counter(rows["rehearsal"]),
    )


def _minutes_into(rows: pd.DataFrame) -> NDArray[np.float64]:
    start = rows.groupby("sitting")["time"].transform("min")
    return np.asarray((rows["time"] - start).dt.total_seconds() / 60.0, dtype=np.float64)


def _comes_back(sitting: pd.DataFrame) -> bool:
    """Return whether some position of a sitting is left and visited again."""
    stays = sitting["position_mm"][sitting["position_mm"].diff() != 0.0]
    return bool(stays.duplicated().any())


def _by_themselves(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the short sittings that come back to a position; all rows where none does."""
    kept = [
        sitting
        for _, sitting in rows.groupby("sitting")
        if _comes_back(sitting) and _minutes_into(sitting).max() <= LONG_SITTING_MINUTES
    ]
    return pd.concat(kept) if kept else rows


def _drifts(rows: pd.DataFrame, minutes: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return the minutes of each sitting that comes back: each drifts at a rate of its own."""
    return [
        np.where(rows["sitting"] == name, minutes, 0.0)
        for name, sitting in rows.groupby("sitting")
        if _comes_back(sitting)
    ]


def _regress(
    columns: NDArray[np.float64], cents: NDArray[np.float64], groups: NDArray[Any]
) -> tuple[float, float, int]:
    """Return the first coefficient, its standard error and the degrees of freedom."""
    frame = pd.DataFrame(columns).assign(cents=cents)
    within = (frame - frame.groupby(groups).transform("mean")).to_numpy()
    x, y = within[:, :-1], within[:, -1]
    slopes, _, rank, _ = np.linalg.lstsq(x, y, rcond=None)
    residual = y - x @ slopes
    free = len(y) - len(np.unique(groups)) - int(rank)
    freedom = free + READINGS_ASSUMED
    variance = (residual @ residual + READINGS_ASSUMED * READING_SD_CENTS**2) / freedom
    error = np.sqrt(variance * np.linalg.pinv(x.T @ x)[0, 0])
    return float(slopes[0]), float(error), freedom


def _warnings(
    ratio: float, half: float, minutes: NDArray[np.float64], *, drift_removed: bool
) -> Iterator[Finding]:
    """Yield what to know of a slope that is so many times the calculated one."""
    if abs(ratio) <= half:
        yield Finding("includes_zero")
    elif ratio < 0.0:
        yield Finding("pulling_sharpens")
    elif abs(ratio - 1.0) > WARN_BEYOND:
        yield Finding("unlike_calculated", {"percent": 100.0 * (ratio - 1.0)})
    if not drift_removed:
        yield Finding("drift_not_removed")
        if minutes.max(initial=0.0) > LONG_SITTING_MINUTES:
            yield Finding("long_sitting", {"minutes": float(minutes.max())})
