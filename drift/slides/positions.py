"""The slide-position table: where each slide stands at each temperature, for one player."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from drift.degrees import fahrenheit_of_celsius
from drift.instruments import Catalogue, find
from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.notes import shown
from drift.regression.results import Fit
from drift.slides.correction import Correction, Move, correct
from drift.slides.moves import MM_UNSEEN
from drift.slides.work_order import in_inches

__all__ = ["PositionTable", "positions"]

CELSIUS = tuple(range(0, 41, 5))
BEYOND_SEEN = "*"
AT_THE_END = "|"
STAY = "stay"
A_MOVE = "move"


@dataclass(frozen=True)
class PositionTable:
    """Slide positions of one player and instrument over a range of temperatures.

    Attributes
    ----------
    instrument : Instrument
        The instrument.
    player : str
        Whose; may be empty.
    corrections : tuple of Correction
        One for each temperature.
    beyond_seen : tuple of bool
        Where the temperature lies beyond those the fit has seen.
    """

    instrument: Instrument
    player: str
    corrections: tuple[Correction, ...]
    beyond_seen: tuple[bool, ...]

    @property
    def slides(self) -> tuple[str, ...]:
        """The slides that have a known position or move somewhere in the table."""
        return tuple(
            slide.name
            for number, slide in enumerate(self.instrument.slides)
            if slide.name in self.corrections[0].at
            or any(_shows(c.moves[number]) for c in self.corrections)
        )

    def to_frame(self) -> pd.DataFrame:
        """Return one row a temperature, for a file.

        Returns
        -------
        DataFrame
            ``celsius, fahrenheit, expected_cents, low_cents, high_cents``; for each slide
            ``<slide>_to_mm`` (where its position is known), ``<slide>_move_mm`` and
            ``<slide>_limited``; for each side ``left_over_cents`` (``left_over_<side>_cents``
            where there are several); ``beyond_seen``.
        """
        return pd.DataFrame(
            [
                _row(correction, beyond)
                for correction, beyond in zip(self.corrections, self.beyond_seen, strict=True)
            ]
        )

    def head(self, slide: str, unit: str = "") -> str:
        """Return what stands above a slide's column: whether it tells positions or moves."""
        move = "" if slide in self.corrections[0].at else A_MOVE
        inside = ", ".join(filter(None, (move, unit)))
        return f"{shown(slide)} ({inside})" if inside else shown(slide)

    def cell(self, row: int, slide: str, *, inches: bool = False) -> str:
        """Return what stands in the table for a slide: a position, else a signed move."""
        move = next(m for m in self.corrections[row].moves if m.slide == slide)
        known = move.to_mm is not None
        value = move.move_mm if move.to_mm is None else move.to_mm
        if not known and not _shows(move):
            return STAY
        text = in_inches(value) if inches else f"{value:.1f}"
        if not known and value > 0:
            text = f"+{text}"
        return text + (AT_THE_END if move.limited else "")

    def left_over(self, row: int) -> str:
        """Return the cents that stay, where they can be heard, by side."""
        return ", ".join(
            f"{shown(side)} {cents:+.0f}".strip()
            for side, cents in self.corrections[row].left_over_cents.items()
            if abs(cents) >= 0.5
        )

    def heading(self) -> str:
        """Return whose table it is."""
        of = f", {self.player}" if self.player else ""
        return f"{shown(self.instrument.name)}{of}"

    def legend(self, *, inches: bool = False) -> str:
        """Return how to read the table."""
        unit = "inches" if inches else "millimetres"
        tuned = self.corrections[0]
        celsius = round(tuned.tuned_celsius, 1)
        at = f"tuned at {celsius:g} °C, after {tuned.minutes:g} minutes of playing"
        if not self.instrument.slides:
            return f"Nothing on it can be moved; cents against where it was {at}."
        what = "Positions from fully in" if tuned.at else "Moves"
        lines = [f"{what}, {unit}; {at}."]
        if set(self.slides) - set(tuned.at):
            lines.append(f"({A_MOVE}): how far from where it was tuned, + out, - in.")
        if any(self.beyond_seen):
            lines.append(f"{BEYOND_SEEN} beyond the temperatures measured so far")
        if any(move.limited for c in self.corrections for move in c.moves):
            lines.append(f"{AT_THE_END} at the end of its travel, or stuck")
        return "\n".join(lines)

    def summary(self, *, inches: bool = False) -> str:
        """Return the table as text."""
        header = ["°C", "°F", *(self.head(slide) for slide in self.slides), "left over"]
        rows = [header] + [
            [
                f"{c.celsius:g}{BEYOND_SEEN if self.beyond_seen[row] else ''}",
                f"{fahrenheit_of_celsius(c.celsius):.0f}",
                *(self.cell(row, slide, inches=inches) for slide in self.slides),
                self.left_over(row),
            ]
            for row, c in enumerate(self.corrections)
        ]
        widths = [max(len(row[column]) for row in rows) for column in range(len(header))]
        lines = [
            "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
            for row in rows
        ]
        return "\n".join([self.heading(), *lines, self.legend(inches=inches)])


def _shows(move: Move) -> bool:
    return move.limited or abs(move.move_mm) >= MM_UNSEEN


def _row(correction: Correction, beyond: bool) -> dict[str, float | bool | None]:
    expected = next(iter(correction.expected_cents.values()))
    row: dict[str, float | bool | None] = {
        "celsius": correction.celsius,
        "fahrenheit": float(fahrenheit_of_celsius(correction.celsius)),
        "expected_cents": expected.estimate,
        "low_cents": expected.low,
        "high_cents": expected.high,
    }
    for move in correction.moves:
        if move.to_mm is not None:
            row[f"{move.slide}_to_mm"] = move.to_mm
        row[f"{move.slide}_move_mm"] = move.move_mm
        row[f"{move.slide}_limited"] = move.limited
    for side, cents in correction.left_over_cents.items():
        row[f"left_over_{side}_cents" if side else "left_over_cents"] = cents
    row["beyond_seen"] = beyond
    return row


def positions(
    fit: Fit,
    instrument: str | Instrument,
    *,
    player: str = "",
    celsius: Sequence[float] = CELSIUS,
    minutes: float = 30.0,
    tuned_celsius: float = 20.0,
    tuned_minutes: float = 30.0,
    at: Mapping[str, float] | None = None,
    travel: Mapping[str, float] | None = None,
    stuck: Collection[str] = (),
    calibration: MeasuredSlopes | None = None,
    catalogue: Catalogue | None = None,
) -> PositionTable:
    """Return the positions of the slides of an instrument over a range of temperatures.

    Parameters
    ----------
    fit : Fit
        What is known of the drift.
    instrument : str or Instrument
        The instrument, by name or as it stands.
    player : str
        Whose, for the heading.
    celsius : sequence of float
        Temperatures [°C].
    minutes, tuned_celsius, tuned_minutes, at, travel, stuck, calibration, catalogue
        As in `drift.correct`.

    Returns
    -------
    PositionTable
        The table; text, rows for a file, and a page to print.

    Raises
    ------
    InstrumentError
        If the instrument or a slide does not exist.
    ReachError
        If a position or a travel is impossible.

    Examples
    --------
    >>> import drift
    >>> table = positions(drift.physics(), "Bb trumpet", at={"main": 12.0})
    >>> [int(c) for c in table.to_frame()["celsius"]][-1]
    40
    """
    horn = instrument if isinstance(instrument, Instrument) else find(instrument, catalogue)
    corrections = tuple(
        correct(
            fit,
            horn,
            there,
            minutes,
            tuned_celsius=tuned_celsius,
            tuned_minutes=tuned_minutes,
            at=at,
            travel=travel,
            stuck=stuck,
            calibration=calibration,
        )
        for there in celsius
    )
    beyond = tuple(fit.extrapolation(float(there)) is not None for there in celsius)
    return PositionTable(horn, player, corrections, beyond)
