"""Where pitch stands for everyone in a rehearsal, or why it is not known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from drift.capture.last_used import slides_as_before
from drift.errors import DriftError
from drift.page.faults import answered_anyway
from drift.reminders import progress_of

if TYPE_CHECKING:
    from drift.slides.player_now import PlayerNow
    from drift.study import Study
    from drift.tonight.progress import Progress

__all__ = ["Known", "Unknown", "standings"]


@dataclass(frozen=True)
class Known:
    """Where a player's pitch is, how well that is known, and the slides of an earlier rehearsal."""

    now: PlayerNow
    progress: Progress | None
    slides: Mapping[str, tuple[float, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Unknown:
    """A player whose pitch is not known yet, and why."""

    player: str
    instrument: str
    problem: str
    remedy: str


def standings(
    study: Study, rehearsal: str, now: datetime, a4_hz: float | None = None
) -> tuple[Known | Unknown, ...]:
    """Return where the pitch of each player of a rehearsal is, in order of their names.

    Parameters
    ----------
    study : Study
        The whole logbook.
    rehearsal : str
        Which.
    now : datetime
        The moment.
    a4_hz : float, optional
        What the tuner is set to (default: as at the last reading) [Hz].
    """
    return tuple(
        _standing(study, (rehearsal, player, instrument, now), a4_hz)
        for player, instrument in study.present(rehearsal)
    )


def _standing(
    study: Study, asked: tuple[str, str, str, datetime], a4_hz: float | None
) -> Known | Unknown:
    try:
        with answered_anyway():
            now, progress = study.now(*asked, a4_hz), progress_of(study, *asked)
        events = study.rehearsals.events
        moves: Any = events[events["slide"] != ""].to_dict("records")
        return Known(now, progress, slides_as_before(moves, *asked[:3], study.catalogue))
    except DriftError as refusal:
        _, player, instrument, _ = asked
        return Unknown(player, instrument, refusal.problem, refusal.remedy)
