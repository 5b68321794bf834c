"""Draws of the drift of the players of a section."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drift.gig.basis import anybody, players_read
from drift.gig.roster import Section
from drift.regression.fits import Fit
from drift.regression.results import Draws

__all__ = ["section_draws"]

Array = NDArray[np.float64]


def section_draws(fit: Fit, section: Section, size: int, seed: int) -> Draws:
    """Return draws of the players of a section in turn, as many of each.

    Players that it names and that were read have their own, the others are new ones; where it
    names nobody, all are new ones, but for a single player where only one was read.
    """
    read = players_read(fit, section)
    if not section.names:
        return fit.draws(section.instrument.name, size, seed, anybody(section))
    unread = max(section.players - len(read), 0)
    shares = [*((name, 1) for name in read), *([("new", unread)] if unread else [])]
    turns = [name for name, share in shares for _ in range(share)]
    # One permutation for all: the forecast's errors rise with no player.
    turn = np.random.default_rng([seed, 1]).permutation(size) % len(turns)
    found = [
        (np.isin(turn, [n for n, who in enumerate(turns) if who == name]), name)
        for name, _ in shares
    ]
    parts = [
        (chosen, fit.draws(section.instrument.name, int(chosen.sum()), seed, name))
        for chosen, name in found
        if chosen.any()
    ]

    def whole(column: str) -> Array:
        values = np.empty(size)
        for chosen, part in parts:
            values[chosen] = getattr(part, column)
        return values

    columns = ("cold", "rise", "warm_minutes", "cool_minutes", "slow", "curvature")
    arrays: dict[str, Any] = {column: whole(column) for column in columns}
    return replace(parts[0][1], **arrays)
