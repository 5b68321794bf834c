"""The slide-position table: where each slide stands at each temperature, for one player."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import pandas as pd

from drift.degrees import fahrenheit_of_celsius
from drift.instruments import Catalogue, find
from drift.instruments.anatomy import Instrument, MeasuredSlopes
from drift.regression.estimates import ONLY
from drift.regression.results import Fit
from drift.slides.caveats import beyond
from drift.slides.correction import Correction, Move, correct
from drift.slides.moves import MM_UNSEEN
from drift.slides.reference import ASSUMED_A4_HZ, Reference

__all__ = ["MOST_TABLES", "PositionTable", "positions", "shows", "whose_tables"]

CELSIUS = tuple(range(0, 41, 5))

MOST_TABLES = 12
"""A table for each of more players would fill a report."""


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
    extrapolated : tuple of bool
        Where the temperature lies outside those measured so far.
    travel_mm : mapping of str to float
        How far slides come out, as far as that was given [mm].
    """

    instrument: Instrument
    player: str
    corrections: tuple[Correction, ...]
    extrapolated: tuple[bool, ...]
    travel_mm: Mapping[str, float] = field(default_factory=dict)

    @property
    def slides(self) -> tuple[str, ...]:
        """The slides that have a known position or move somewhere in the table."""
        return tuple(
            slide.name
            for number, slide in enumerate(self.instrument.slides)
            if slide.name in self.corrections[0].at
            or any(shows(c.moves[number]) for c in self.corrections)
        )

    @property
    def travel_unknown(self) -> tuple[str, ...]:
        """The slides that are pulled out somewhere in the table, nobody knows how far they go."""
        return tuple(
            slide
            for number, slide in enumerate(one.name for one in self.instrument.slides)
            if slide not in self.travel_mm
            and any(
                shows(c.moves[number]) and c.moves[number].move_mm > 0 for c in self.corrections
            )
        )

    def beyond_usual(self, row: int, slide: str) -> bool:
        """Return whether a position is further out than most models go, and travel not given."""
        usual, to = self.instrument.slide(slide).usual_travel_mm, self.move(row, slide).to_mm
        return slide not in self.travel_mm and to is not None and beyond(usual, to)

    def to_frame(self) -> pd.DataFrame:
        """Return one row a temperature, for a file.

        Returns
        -------
        DataFrame
            ``celsius, fahrenheit, a4_hz, expected_cents, expected_low_cents,
            expected_high_cents``; for each slide ``<slide>_position_mm`` (where it is known),
            ``<slide>_move_mm`` and ``<slide>_at_end_of_travel``; for each side ``remaining_cents``
            (``remaining_<side>_cents`` where there are several); ``extrapolated``.
        """
        return pd.DataFrame(
            [
                _row(correction, beyond)
                for correction, beyond in zip(self.corrections, self.extrapolated, strict=True)
            ]
        )

    def move(self, row: int, slide: str) -> Move:
        """Return the move of a slide in a row."""
        return next(move for move in self.corrections[row].moves if move.slide == slide)

    def summary(self, *, inches: bool = False) -> str:
        """Return the table as text."""
        from drift.words.slide_table import summary

        return summary(self, inches=inches)


def whose_tables(players: Sequence[tuple[str, str]]) -> list[tuple[str | None, str]]:
    """Return whose tables a report has: each player's, or of many each instrument's.

    Parameters
    ----------
    players : sequence of (str, str)
        Who plays what.

    Examples
    --------
    >>> whose_tables([("Rowan", "flute"), ("Wren", "flute")])
    [('Rowan', 'flute'), ('Wren', 'flute')]
    >>> whose_tables([(f"player {number}", "flute") for number in range(13)])
    [(None, 'flute')]
    """
    if len(players) <= MOST_TABLES:
        return list(players)
    return [(None, what) for what in sorted({what for _, what in players})]


def shows(move: Move) -> bool:
    """Return whether a move can be seen on the slide, or would go further if it could."""
    return move.at_end_of_travel or abs(move.move_mm) >= MM_UNSEEN


def _row(correction: Correction, beyond: bool) -> dict[str, float | bool | None]:
    expected = next(iter(correction.expected_cents.values()))
    row: dict[str, float | bool | None] = {
        "celsius": correction.celsius,
        "fahrenheit": float(fahrenheit_of_celsius(correction.celsius)),
        "a4_hz": correction.a4_hz,
        "expected_cents": expected.estimate,
        "expected_low_cents": expected.low,
        "expected_high_cents": expected.high,
    }
    for move in correction.moves:
        if move.to_mm is not None:
            row[f"{move.slide}_position_mm"] = move.to_mm
        row[f"{move.slide}_move_mm"] = move.move_mm
        row[f"{move.slide}_at_end_of_travel"] = move.at_end_of_travel
    for side, cents in correction.remaining_cents.items():
        row[f"remaining_{side}_cents" if side else "remaining_cents"] = cents
    row["extrapolated"] = beyond
    return row


def positions(
    fit: Fit,
    instrument: str | Instrument,
    *,
    player: str = "",
    celsius: Sequence[float] = CELSIUS,
    minutes: float = 30.0,
    tuned_celsius: float | None = None,
    tuned_minutes: float | None = None,
    a4_hz: float | None = None,
    tuned_a4_hz: float = ASSUMED_A4_HZ,
    reference: Reference | None = None,
    read_from: Mapping[str, float] | None = None,
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
        Whose; may be empty.
    celsius : sequence of float
        Temperatures [°C].
    minutes, tuned_celsius, tuned_minutes, a4_hz, tuned_a4_hz, reference, read_from
        As in `drift.correct`.
    at, travel, stuck, calibration, catalogue
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
            a4_hz=a4_hz,
            tuned_a4_hz=tuned_a4_hz,
            reference=reference,
            read_from=read_from,
            at=at,
            travel=travel,
            stuck=stuck,
            calibration=calibration,
            player=player or ONLY,
        )
        for there in celsius
    )
    beyond = tuple(bool(fit.extrapolation(float(there))) for there in celsius)
    known = {horn.slide(name).name: float(mm) for name, mm in (travel or {}).items()}
    return PositionTable(horn, player, corrections, beyond, known)
