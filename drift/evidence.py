"""What a report is made of: values, before any of them is put into words or drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import pandas as pd

from drift.errors import InputError, TooLittleData
from drift.instruments import Catalogue, Instrument
from drift.logbook.rehearsals import Rehearsals
from drift.notes import midi_of
from drift.pairing.paired import Paired, Reason
from drift.pairing.slide_log import calibration_of
from drift.pairing.spoilt import Spoilt
from drift.pairing.thermometers import temperatures_at
from drift.regression.advice import Advice, additions_near
from drift.regression.comparison import Comparison
from drift.regression.results import Estimate, Fit
from drift.slides.correction import Correction
from drift.slides.player_now import know_player
from drift.slides.positions import PositionTable, whose_tables

if TYPE_CHECKING:
    from drift.study import Study

__all__ = [
    "Evidence",
    "NoteTendency",
    "PlayerEvidence",
    "PlayersEvening",
    "Wanted",
    "evenings_of",
    "evidence_of",
    "evidence_of_player",
    "players_of",
    "tendencies_of",
]

ROOMS_APART_CELSIUS = 5.0
"""Rehearsals within so much say little about temperature."""
COLD_MINUTES, WARM_MINUTES, ENOUGH = 10.0, 30.0, 4
"""Readings this early and this late show the warm-up; so many of each."""


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
        Slide positions where there is something to move: those of `whose_tables`.
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
    moved = whose_tables([one for one in players if whole.catalogue.find(one[1]).slides])
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


@dataclass(frozen=True)
class NoteTendency:
    """How one note of a player lies against the others that were read on that side.

    Attributes
    ----------
    side, note : str
        The side and the sounding note.
    cents : Estimate
        How much sharper it is than the mean of the notes read on that side, the slides, the air
        and the warmth taken out.
    readings : int
        How many readings of it were used.
    """

    side: str
    note: str
    cents: Estimate
    readings: int


@dataclass(frozen=True, kw_only=True)
class PlayerEvidence:
    """What the page of one player is made of.

    Attributes
    ----------
    player : str
        Whose.
    instrument : Instrument
        On which instrument.
    fit : Fit
        The fit of everybody's readings, for players of one instrument teach each other.
    rows : DataFrame
        The player's own readings of it.
    correction : Correction
        The slide moves for the next room.
    asked : bool
        Whether the temperature of the next room was given; else it is that of the last reading.
    table : PositionTable
        Slide positions over a range of temperatures.
    tendencies : tuple of NoteTendency
        The notes that were read, side by side in the order of work.
    advice : Advice or None
        What to measure next; None where the method cannot tell.
    """

    player: str
    instrument: Instrument
    fit: Fit
    rows: pd.DataFrame
    correction: Correction
    asked: bool
    table: PositionTable
    tendencies: tuple[NoteTendency, ...]
    advice: Advice | None


def evidence_of_player(
    study: Study, player: str, instrument: str | None = None, **conditions: Any
) -> PlayerEvidence:
    """Return what the page of one player is made of, of the fit of everybody's readings.

    Parameters
    ----------
    study : Study
        The study of everybody.
    player, instrument : str
        Whose, and of which instrument; None where only one was played.
    **conditions
        As in `drift.study.Study.correction`; ``celsius`` is by default that of the player's last
        reading.

    Raises
    ------
    InputError
        If there is no such player.
    TooLittleData
        If none of the player's readings could be used.
    """
    study.rehearsals.only(players=[player])
    kind = study.instrument(instrument, player)
    rows = study.fit.rows
    mine = rows[(rows["player"] == player) & (rows["instrument"] == kind.name)]
    if not len(mine):
        raise TooLittleData(
            f"no reading of {player!r} on a {kind.name} could be used",
            "drift report without --one-page lists what was left out, and why",
        )
    asked = conditions.get("celsius") is not None
    last = mine.sort_values("time", kind="stable").iloc[-1]
    celsius = float(conditions["celsius"]) if asked else float(last["celsius"])
    others = {name: value for name, value in conditions.items() if name != "celsius"}
    return PlayerEvidence(
        player=player,
        instrument=kind,
        fit=study.fit,
        rows=mine,
        correction=study.correction(kind, celsius, player=player, **others),
        asked=asked,
        table=study.positions(kind, player=player, **others),
        tendencies=tendencies_of(study, player, kind),
        advice=study.advice(
            celsius if asked else None,
            instrument=kind.name,
            player=player,
            options=additions_near(mine, celsius if asked else None),
        )
        if study.fit.method == "bayesian"
        else None,
    )


def tendencies_of(study: Study, player: str, instrument: Instrument) -> tuple[NoteTendency, ...]:
    """Return the tendency of each note that a player read, by side and pitch.

    One note of a side has nothing to be compared with.

    Parameters
    ----------
    study : Study
        The study of everybody.
    player : str
        Whose.
    instrument : Instrument
        On which instrument.

    Raises
    ------
    TooLittleData
        If the readings cannot be fitted.
    """
    if study.fit.method != "bayesian":  # the other methods have no draws to learn notes from
        return ()
    rows = study.fit.rows
    rows = rows[(rows["player"] == player) & (rows["instrument"] == instrument.name)]
    if not len(rows):
        return ()
    slopes = calibration_of(study.rehearsals, player, instrument)
    knowledge = know_player(study.fit, player, instrument, (), slopes)
    counts = rows.groupby(["side", "note"]).size()
    read = {
        side.name: sorted(
            (
                note
                for where, note in knowledge.notes
                if (where, note) in counts and where == side.name
            ),
            key=midi_of,
        )
        for side in instrument.sides
    }
    compared = {side: tuple(notes) for side, notes in read.items() if len(notes) > 1}
    knowledge = replace(knowledge, tuning_notes=compared)
    found = {side: knowledge.tendencies(side) for side in compared}
    return tuple(
        NoteTendency(side, note, found[side][note], int(counts[side, note]))
        for side, notes in compared.items()
        for note in notes
    )


class Wanted(StrEnum):
    """What readings of another time would help a player most."""

    TEMPERATURE = "temperature"  # no reading has a temperature near it
    SIDE = "side"  # no reading names the side it was played on
    PLAYING = "playing"  # no reading was taken while playing, after its first half minute
    COLD_START = "cold_start"  # too few readings soon after playing began
    WARM = "warm"  # too few readings of a warm instrument
    OTHER_ROOM = "other_room"  # all rooms so far were much the same
    REPEAT = "repeat"  # nothing is missing


@dataclass(frozen=True)
class PlayersEvening:
    """What a player logged in one rehearsal, and what would help most next time.

    Attributes
    ----------
    player, instrument : str
    readings, flagged : int
        Readings of this rehearsal, and how many of them are flagged as unusual.
    low_cents, high_cents : float
        The flattest and the sharpest of those that are not flagged, of all where each is [cents].
    celsius : tuple of float
        Lowest and highest temperature of all the player's readings so far [°C]; empty without.
    wanted : Wanted
        What is missing most, in all rehearsals.
    """

    player: str
    instrument: str
    readings: int
    low_cents: float
    high_cents: float
    celsius: tuple[float, ...]
    wanted: Wanted
    flagged: int = 0


def evenings_of(rehearsals: Rehearsals, paired: Paired, rehearsal: str) -> list[PlayersEvening]:
    """Return what each player logged in a rehearsal, and what would help most next time.

    Parameters
    ----------
    rehearsals : Rehearsals
        All that was logged.
    paired : Paired
        Its readings as they were paired.
    rehearsal : str
        Which.
    """
    here = rehearsals.readings[rehearsals.readings["rehearsal"] == rehearsal]
    unsided, found = any(x.reason is Reason.UNKNOWN_SIDE for x in paired.left_out), []
    for (player, instrument), own in here.groupby(["player", "instrument"], sort=True):
        frame = paired.frame
        rows = frame[(frame["player"] == player) & (frame["instrument"] == instrument)]
        celsius = (float(rows["celsius"].min()), float(rows["celsius"].max())) if len(rows) else ()
        flagged = own["flagged"].astype(bool)
        usual = own.loc[~flagged if not flagged.all() else flagged, "cents"]
        wanted = _wanted(rows) if len(rows) else _unpaired(rehearsals, own, unsided)
        found.append(PlayersEvening(
            str(player), str(instrument), len(own), float(usual.min()), float(usual.max()),
            celsius, wanted, int(flagged.sum()),
        ))  # fmt: skip
    return found


def _unpaired(rehearsals: Rehearsals, own: pd.DataFrame, unsided: bool) -> Wanted:
    """Return why none of a player's readings in a rehearsal could be paired."""
    here, own = rehearsals.only(rehearsals=[own["rehearsal"].iloc[0]]), own.reset_index(drop=True)
    if pd.isna(temperatures_at(here, own)).all():
        return Wanted.TEMPERATURE
    return Wanted.SIDE if unsided and not own["side"].any() else Wanted.PLAYING


def _wanted(rows: pd.DataFrame) -> Wanted:
    """Return what is missing most among a player's paired readings."""
    if (rows["playing_minutes"] < COLD_MINUTES).sum() < ENOUGH:
        return Wanted.COLD_START
    if (rows["playing_minutes"] >= WARM_MINUTES).sum() < ENOUGH:
        return Wanted.WARM
    if rows["celsius"].max() - rows["celsius"].min() < ROOMS_APART_CELSIUS:
        return Wanted.OTHER_ROOM
    return Wanted.REPEAT
