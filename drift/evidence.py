"""What a report is made of: values, before any of them is put into words or drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from drift.errors import InputError
from drift.instruments import Catalogue
from drift.logbook.rehearsals import Rehearsals
from drift.pairing import Paired
from drift.pairing.spoilt import Spoilt
from drift.regression.comparison import Comparison
from drift.regression.results import Fit
from drift.slides.positions import PositionTable

if TYPE_CHECKING:
    from drift.study import Study

__all__ = ["Evidence", "evidence_of", "for_sections", "players_of"]


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What a report is made of.

    Attributes
    ----------
    rehearsals : Rehearsals
        All that was logged, of one player where one was asked for.
    paired : Paired
        Its readings as they were paired.
    fit : Fit
        The fit of all of them.
    names : tuple of str
        The rehearsals to show.
    tables : tuple of PositionTable
        Slide positions of every player whose instrument has something to move.
    reference_mm : mapping
        Reference positions of the slides [mm] by (player, instrument).
    comparison : Comparison or None
        The methods compared on each rehearsal in turn, where that was asked for.
    catalogue : Catalogue
        The instruments that are known.
    spoilt : tuple of Spoilt
        What the tables show to be spoilt.
    rehearsal, player : str or None
        What it was asked for, where not for everything.
    """

    rehearsals: Rehearsals
    paired: Paired
    fit: Fit
    names: tuple[str, ...]
    tables: tuple[PositionTable, ...]
    reference_mm: Mapping[tuple[str, str], Mapping[str, float]]
    comparison: Comparison | None
    catalogue: Catalogue
    spoilt: tuple[Spoilt, ...] = ()
    rehearsal: str | None = None
    player: str | None = None

    @property
    def instruments(self) -> list[str]:
        """The instruments in the fit, the one with most readings first."""
        return sorted(self.fit.kinds, key=lambda name: -self.fit.kinds[name].readings)

    @property
    def players(self) -> list[tuple[str, str]]:
        """Who played what, of the readings that were used."""
        return players_of(self.fit)


def evidence_of(
    scope: Study, whole: Study, rehearsal: str | None, player: str | None, compared: bool
) -> Evidence:
    """Return what a report is made of.

    Parameters
    ----------
    scope : Study
        Of what is reported: everything, or one player.
    whole : Study
        Of everything, where reference positions come from.
    rehearsal, player, compared
        As in `drift.study.Study.report`.

    Raises
    ------
    InputError
        If there are no readings.
    """
    if not len(scope.rehearsals.readings):
        raise InputError("there are no readings to report", "log or import readings first")
    players = players_of(scope.fit)
    moved = [(who, what) for who, what in players if whole.catalogue.find(what).slides]
    return Evidence(
        rehearsals=scope.rehearsals,
        paired=scope.paired,
        fit=scope.fit,
        names=scope.rehearsals.measured_names if rehearsal is None else (rehearsal,),
        tables=tuple(scope.positions(what, player=who) for who, what in moved),
        reference_mm={pair: whole.reference_positions(*pair) for pair in players},
        comparison=scope.comparison if compared else None,
        catalogue=whole.catalogue,
        spoilt=scope.spoilt,
        rehearsal=rehearsal,
        player=player,
    )


def players_of(found: Fit) -> list[tuple[str, str]]:
    """Return who played what, of the readings of a fit, in order of their names."""
    pairs = found.rows[["player", "instrument"]].drop_duplicates()
    return sorted((str(who), str(what)) for who, what in pairs.itertuples(index=False))


def for_sections(fit: Fit, rehearsals: Rehearsals) -> Fit:
    """Return a fit with a warning where a player's measured slide does not count for a section."""
    measured = sorted(set(rehearsals.calibrations["instrument"]) & set(fit.kinds))
    if not measured:
        return fit
    text = (
        f"a plan is for whole sections and uses the calculated slides of {', '.join(measured)};"
        " a player's measured slide counts in drift slides SOURCE --player"
    )
    return replace(fit, warnings=(*fit.warnings, text))
