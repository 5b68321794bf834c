"""Where slides go and what to mind, in the sentences and headers of a report."""

from __future__ import annotations

from collections.abc import Iterable

from drift.notes import shown
from drift.slides.positions import PositionTable
from drift.words import slide_table
from drift.words.gig_cautions import DEFER
from drift.words.slides import tuned_positions

__all__ = ["caption", "care", "header"]

WHERE = "Where the slides go"
HOW_TO_READ = (
    "For an instrument warmed up by 30 minutes of playing, from where it stood right at 20 °C "
    "after as long. The last logged positions are taken as those; without any, moves are "
    "given instead of positions. Millimetres from fully in; a move out has a plus."
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
    started = tuned_positions(table.corrections[0])
    notes = [f"tuned with {started}" if started else "no positions logged"]
    if any(table.extrapolated):
        notes.append("* outside the temperatures measured so far: extrapolated")
    return f"{table.player}, {shown(table.instrument.name)}: {'; '.join(notes)}"


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
