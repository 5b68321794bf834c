"""The tones found in a recording, over its loudness."""

from __future__ import annotations

from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from drift.capture.heard import Heard, Verdict
from drift.capture.listening import clock
from drift.charts.style import GREY, INK, Look, look, new_axes, signed, signed_text, style
from drift.notes import midi_of, shown

if TYPE_CHECKING:
    from drift.capture.listening import Listening

__all__ = ["tones_over_recording"]

_LABELS = 40
"""With more readings than this their cents are not written beside them."""
_LEAST_CENTS = 10.0
"""The axis goes at least this far both ways, so that a good player's dots lie close together."""
_DRIFT_READINGS = 3
_ROOM_FOR_REASON = 0.02  # of the length of the recording


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
    _refused(ax, listening, unit, length / unit)
    notes = sorted({item.note for item in listening.heard}, key=midi_of)
    for place, note in enumerate(notes):
        _one_note(ax, [item for item in listening.heard if item.note == note], unit, look(place))
    for item in listening.heard if len(listening.heard) <= _LABELS else []:
        ax.annotate(
            f"{shown(item.note)} {signed_text(round(item.cents, 1))}",
            (_middle(item) / unit, item.cents),
            xytext=(0, 8),
            textcoords="offset points",
            ha="center",
            fontsize="small",
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.7, "pad": 0.5},
        )
    if any(item.verdict is Verdict.DOUBTFUL for item in listening.heard):
        ax.plot([], [], "o", markersize=13, markerfacecolor="none", markeredgecolor=INK,
                linestyle="none", label="maybe two players, or echo")  # fmt: skip
    ax.set(
        title=f"Tones in {listening.recording.path.name}",
        xlabel=f"{name} into the recording",
        ylabel="cents",
        xlim=(0, length / unit),
    )
    signed(ax.yaxis)
    ax.margins(y=0.2)
    low, high = ax.get_ylim()
    ax.set_ylim(min(low, -_LEAST_CENTS), max(high, _LEAST_CENTS))
    ax.legend(loc="upper left", bbox_to_anchor=(-0.02, -0.18), ncols=2)
    return ax


def _one_note(ax: Axes, mine: list[Heard], unit: float, one: Look) -> None:
    """Draw the readings of one note, each with its uncertainty, and where they drift to."""
    times = np.array([_middle(item) / unit for item in mine])
    cents = np.array([item.cents for item in mine])
    sure = np.array([2 * item.tone.cents_sd for item in mine])
    doubtful = np.array([item.verdict is Verdict.DOUBTFUL for item in mine])
    label = shown(mine[0].note)
    sound = ~doubtful
    if sound.sum() >= _DRIFT_READINGS:
        slope, start = np.polyfit(times[sound], cents[sound], 1)
        ends = times[sound][[0, -1]]
        label += f": {signed_text(round(float(slope * np.ptp(ends)), 1))} cents in "
        label += f"{clock(float(np.ptp(ends)) * unit).partition('.')[0]} minutes"
        ax.plot(ends, start + slope * ends, linestyle=one.line, color=one.colour, linewidth=1.0)
    ax.errorbar(times, cents, sure, fmt=one.marker, color=one.colour, label=label, capsize=2)
    ax.plot(
        times[doubtful], cents[doubtful], "o", markersize=13, markerfacecolor="none",
        markeredgecolor=INK, markeredgewidth=1.0,
    )  # fmt: skip


def _refused(ax: Axes, listening: Listening, unit: float, length: float) -> None:
    """Hatch what was not taken, with its reason where there is room for it."""
    from drift.words.listening import describe_refusal

    for place, refusal in enumerate(listening.refused):
        start, end = refusal.start_s / unit, refusal.end_s / unit
        ax.axvspan(
            start,
            end,
            facecolor="none",
            edgecolor=GREY,
            hatch="///",
            alpha=0.35,
            linewidth=0,
            zorder=0,
            label="" if place else "not taken",
        )
        if end - start > _ROOM_FOR_REASON * length:
            ax.text(
                (start + end) / 2, 0.03, fill(describe_refusal(refusal).split(":")[0], 22),
                transform=ax.get_xaxis_transform(), ha="center", va="bottom", fontsize="x-small",
                color=INK, rotation=90,
                bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1},
            )  # fmt: skip


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
