"""How the notes of one player lie against each other."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MultipleLocator

from drift.charts.style import GREY, look, new_axes, round_limits, signed_text, style
from drift.evidence import NoteTendency
from drift.notes import shown, written_of

__all__ = ["note_tendencies"]

USUAL_CENTS = (-20.0, 20.0)
"""What the axis holds in any case, so that pages of two weeks can be compared."""

ROW_INCHES = 0.26


@style()
def note_tendencies(
    tendencies: Sequence[NoteTendency], ax: Axes | None = None, semitones: int = 0
) -> Axes:
    """Draw how sharp or flat each note is against the others of its side.

    Parameters
    ----------
    tendencies : sequence of NoteTendency
        One a row, from above.
    ax : Axes, optional
        Where to draw (default: new axes).
    semitones : int
        How much higher than they sound the notes are named.

    Returns
    -------
    Axes
        A point with its 95 % interval for each note, [cents]; a shape for each side.
    """
    ax = ax or new_axes(width=4.2, height=0.7 + ROW_INCHES * len(tendencies))
    sides = list(dict.fromkeys(each.side for each in tendencies))
    for row, each in enumerate(tendencies):
        one, cents = look(sides.index(each.side)), each.cents
        ax.plot([cents.low, cents.high], [row, row], color=one.colour, linewidth=2.0)
        ax.plot(cents.estimate, row, one.marker, color=one.colour, markersize=6)
    ax.axvline(0.0, color=GREY, linewidth=1.0)
    ends = [end for each in tendencies for end in (each.cents.low, each.cents.high)]
    ax.set_xlim(round_limits(ends, 10.0, USUAL_CENTS))
    ax.xaxis.set_major_locator(MultipleLocator(10.0))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: signed_text(value)))
    ax.set_yticks(range(len(tendencies)), [_name(each, semitones) for each in tendencies])
    ax.set_ylim(len(tendencies) - 0.4, -0.6)
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel("flat      cents      sharp", fontsize=9)
    return ax


def _name(each: NoteTendency, semitones: int) -> str:
    note = shown(written_of(each.note, semitones) if semitones else each.note)
    return f"{note} ({shown(each.side)})" if each.side else note
