"""Where slides go and what to mind, in the sentences and headers of a report."""

from __future__ import annotations

from collections.abc import Iterable

from drift.notes import shown
from drift.slides.positions import MOST_TABLES, PositionTable
from drift.words import slide_table
from drift.words.gig_cautions import DEFER
from drift.words.numbers import minus

__all__ = ["caption", "care", "header"]

WHERE = "Where the slides go"
HOW_TO_READ = (
    "For an instrument after 30 minutes of playing. Without a logged position, the move is "
    "given in its place."
)
MANY_PLAYERS = (
    f"With more than {MOST_TABLES} players each instrument has one table: for its only player, or "
    "for one who was not read yet. The table of any other is in drift report --player NAME."
)
WITH_CARE = "With care"


def header(table: PositionTable) -> tuple[str, ...]:
    """Return the header of a table of positions."""
    return (
        *("°C", "°F", "drift (cents)", "95 % interval"),
        *(slide_table.head(table, slide, "mm") for slide in table.slides),
        "remaining (cents)",
    )


def caption(table: PositionTable) -> str:
    """Return whose table of positions it is, where it starts, and what its marks mean."""
    travel = slide_table.typed_travel(table)
    lines = slide_table.legend(table, give_travel=travel)
    return f"{slide_table.heading(table)}. {minus(' '.join(lines))}"


def care(wooden: Iterable[str]) -> list[str]:
    """Return the usual cautions for slides, heat and cold, deferring to those in charge.

    Parameters
    ----------
    wooden : iterable of str
        The instruments that are of wood.
    """
    said = [
        "Warm up before tuning, and move slides by ear at the end: the tables give where to begin.",
        "Never force a slide that is stuck, least of all when the metal is cold; a repair "
        "technician frees it (common practice).",
        "In the cold, metal can hurt lips: keep mouthpieces warm until the last moment (common "
        "practice).",
    ]
    if names := ", ".join(map(shown, wooden)):
        said.append(
            f"{names}: a wooden instrument can crack in the cold or when blown warm in "
            "haste (common practice)."
        )
    said.append(
        "In heat and in cold, breaks, water, layers and when to stop are not for this report to "
        f"say. {DEFER}"
    )
    return said
