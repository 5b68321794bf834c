"""Where pitch stands for everyone in a rehearsal, or why it is not known."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from drift.errors import DriftError

if TYPE_CHECKING:
    from drift.slides.player_now import PlayerNow
    from drift.study import Study

__all__ = ["Unknown", "standings"]


@dataclass(frozen=True)
class Unknown:
    """A player whose pitch is not known yet, and why."""

    player: str
    instrument: str
    problem: str
    remedy: str


def standings(study: Study, rehearsal: str, now: datetime) -> tuple[PlayerNow | Unknown, ...]:
    """Return where pitch stands for each player of a rehearsal, in order of their names."""
    return tuple(
        _standing(study, rehearsal, player, instrument, now)
        for player, instrument in study.present(rehearsal)
    )


def _standing(
    study: Study, rehearsal: str, player: str, instrument: str, now: datetime
) -> PlayerNow | Unknown:
    try:
        return study.now(rehearsal, player, instrument, now)
    except DriftError as refusal:
        return Unknown(player, instrument, refusal.problem, refusal.remedy)
