"""What a reader of a plan must know of the rehearsals that it was learnt from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from drift.findings import Finding
from drift.logbook.rehearsals import Rehearsals
from drift.regression.results import Fit

__all__ = ["for_sections"]


def for_sections(fit: Fit, rehearsals: Rehearsals) -> Fit:
    """Return a fit with the warnings that its rehearsals call for where sections are planned.

    Parameters
    ----------
    fit : Fit
        Of the rehearsals.
    rehearsals : Rehearsals
        What was logged.
    """
    return replace(fit, warnings=(*fit.warnings, *_warnings(fit, rehearsals)))


def _warnings(fit: Fit, rehearsals: Rehearsals) -> Iterator[Finding]:
    """Yield that a player's measured slide does not count for a section, and what was assumed."""
    if measured := sorted(set(rehearsals.calibrations["instrument"]) & set(fit.kinds)):
        yield Finding("calculated_slides", {"instruments": measured})
    if fit.kinds and (assumed := rehearsals.without_a_beginning):
        yield Finding("playing_assumed", {"rehearsals": [*assumed]})
