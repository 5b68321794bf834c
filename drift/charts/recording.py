"""The tones found in a recording, over its loudness."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from drift.charts.style import GREY, look, new_axes, signed, signed_text, style
from drift.notes import midi_of, shown

if TYPE_CHECKING:
    from drift.capture.heard import Heard
    from drift.capture.listening import Listening

__all__ = ["tones_over_recording"]

_LABELS = 40
"""With more readings than this their cents are not written beside them."""


@style()
def tones_over_recording(listening: Listening, ax: Axes | None = None) -> Axes:
    """Draw each reading at its place with its cents, and what was not taken, over the loudness.

    Parameters
    ----------
    listening : Listening
        What was heard.
    ax : Axes, optional
        Where to draw (default: new axes).

    Returns
    -------
    Axes
    """
    ax = ax or new_axes()
    length = listening.recording.seconds
    unit, name = (60, "minutes") if length > 180 else (1, "seconds")
    _loudness(ax, listening.levels_db, length / unit)
    for place, refusal in enumerate(listening.refused):
        ax.axvspan(
            refusal.start_s / unit,
            refusal.end_s / unit,
            facecolor="none",
            edgecolor=GREY,
            hatch="///",
            alpha=0.5,
            linewidth=0,
            zorder=0,
            label="" if place else "not taken",
        )
    notes = sorted({item.note for item in listening.heard}, key=midi_of)
    for place, note in enumerate(notes):
        mine = [item for item in listening.heard if item.note == note]
        one = look(place)
        ax.plot(
            [_middle(item) / unit for item in mine],
            [item.cents for item in mine],
            one.marker,
            color=one.colour,
            label=shown(note),
        )
        for item in mine if len(listening.heard) <= _LABELS else []:
            ax.annotate(
                signed_text(round(item.cents, 1)),
                (_middle(item) / unit, item.cents),
                xytext=(0, 6),
                textcoords="offset points",
                ha="center",
                fontsize="small",
            )
    ax.set(
        title=f"Tones in {listening.recording.path.name}",
        xlabel=f"{name} into the recording",
        ylabel="cents",
        xlim=(0, length / unit),
    )
    signed(ax.yaxis)
    ax.margins(y=0.2)
    ax.legend(loc="upper left", bbox_to_anchor=(-0.02, -0.18), ncols=4)
    return ax


def _middle(item: Heard) -> float:
    return (item.tone.start_s + item.tone.end_s) / 2


def _loudness(ax: Axes, levels_db: NDArray[np.float64], length: float) -> None:
    """Shade the lower half of the axes by the level, from -70 dB to full scale."""
    behind = np.clip((levels_db + 70) / 140, 0, 0.5)
    ax.fill_between(
        np.linspace(0, length, behind.size),
        behind,
        color=GREY,
        alpha=0.15,
        linewidth=0,
        label="loudness (−70 dB to full scale)",
        transform=ax.get_xaxis_transform(),
        zorder=0,
    )
