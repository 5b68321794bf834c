"""One place that answers: a source is opened once, and every answer comes from the same data.

Examples
--------
>>> import drift
>>> study = Study.open(drift.shipped.folder("datasets/cold-hall-season"))
>>> [move.slide for move in study.correction("double horn", 33.0, player="Rowan").moves]
['main', 'F', 'Bb']
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drift.errors import DriftError, InstrumentError, TooLittleData
from drift.evidence import Evidence, PlayerEvidence, evidence_of, evidence_of_player
from drift.findings import Finding
from drift.instruments import Catalogue, Instrument
from drift.logbook.rehearsals import Progress, Rehearsals, load, nothing_logged
from drift.pairing import Paired, pair
from drift.pairing.examination import suspicious
from drift.pairing.slide_log import calibration_of, last_positions, reference_positions
from drift.pairing.spoilt import Spoilt, spoilt_tables
from drift.pairing.who_plays import only_instrument, player_of, present, unused_calibrations
from drift.regression.comparison import Comparison, compare, compare_shapes
from drift.regression.fits import fit, physics
from drift.regression.priors import Priors
from drift.regression.results import Fit
from drift.slides.correction import Correction, correct
from drift.slides.player_now import PlayerNow, answer_now, know_player
from drift.slides.player_target import target_now
from drift.slides.positions import CELSIUS, PositionTable, positions
from drift.slides.reference import players_slides
from drift.tonight import Knowledge
from drift.tonight.logged import Logged, evening_of
from drift.tonight.target import Target

if TYPE_CHECKING:
    from drift.bands.band_file import BandSummary
    from drift.bands.written import Written
    from drift.gig.plan import Assumptions, Plan
    from drift.gig.roster import Section
    from drift.gig.timetable import Schedule
    from drift.gig.weather import Forecast
    from drift.regression.advice import Advice
    from drift.regression.notices import Notice
    from drift.slides.calibration import SlideSlope

__all__ = ["ACOUSTICS", "Study"]

ACOUSTICS = ("acoustics", "physics")
"""The words that stand for a source before anything was logged; the second is the older one."""


class Study:
    """What was logged and all that follows from it, each thing computed once.

    `refreshed` gives a new one after a change, which computes only what the change touches.

    Parameters
    ----------
    rehearsals : Rehearsals
        What was logged.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    pairing, fitting : mapping, optional
        Options of `drift.pair` (``thermometer``, ``flagged``...), `drift.fit` (``method``...).
    source : Path or str, optional
        Where they are from: a file, or the word for acoustics alone.
    """

    def __init__(
        self,
        rehearsals: Rehearsals,
        catalogue: Catalogue | None = None,
        pairing: Mapping[str, Any] | None = None,
        fitting: Mapping[str, Any] | None = None,
        source: Path | str | None = None,
    ) -> None:
        self.rehearsals, self.source = rehearsals, source
        self.catalogue = Catalogue.shipped() if catalogue is None else catalogue
        self._pairing, self._fitting = dict(pairing or {}), dict(fitting or {})
        # The latest fit of each part of the data, handed on when the study is refreshed.
        self._fits: dict[tuple[str, str], tuple[Paired, Fit]] = {}
        self._players: dict[tuple[str, str], tuple[Fit, Knowledge]] = {}
        self._within: tuple[Study, str] | None = None  # of one player: everybody's, and who

    @classmethod
    def open(
        cls, source: Path | str | Rehearsals, *, catalogue: Catalogue | None = None,
        thermometer: str | Sequence[str] | None = None, flagged: bool = True,
        without: Sequence[str] = (), beside: Path | str | Sequence[Path | str] | None = None,
        reading: Progress | None = None, **fitting: Any,
    ) -> Study:  # fmt: skip
        """Open a rehearsal folder, a logbook, or the word ``acoustics``.

        Parameters
        ----------
        source : Path, str or Rehearsals
            Where the readings are; ``acoustics`` (or ``physics``) where there are none yet.
        catalogue, thermometer, flagged, without, beside
            As in the class and in `drift.pair`.
        reading : callable, optional
            Called with the number of rows that are read and the number of all.
        **fitting
            ``method, start, covariates, formula, priors, progress`` as in `drift.fit`; priors also
            as a file.
        """
        how = {"thermometer": thermometer, "flagged": flagged, "without": without, "beside": beside}
        if isinstance(fitting.get("priors"), Path | str):
            fitting["priors"] = Priors.read(fitting["priors"])
        if isinstance(source, Rehearsals):
            return cls(source, catalogue, how, fitting)
        if str(source) in ACOUSTICS:
            return cls(nothing_logged(), catalogue, how, fitting, ACOUSTICS[0])
        read = load(source, catalogue, progress=reading)
        return cls(read, catalogue, how, fitting, Path(source))

    def refreshed(self) -> Study:
        """Return the study of what the source holds now; this one, if that is the same."""
        if self.source is None or self.is_acoustics:
            return self
        now = load(self.source, self.catalogue)
        return self if now.same_as(self.rehearsals) else self._of(now, self.source)

    @cached_property
    def paired(self) -> Paired:
        """Each reading with its temperature, its playing time and its slides undone."""
        return pair(self.rehearsals, catalogue=self.catalogue, **self._pairing)

    @cached_property
    def spoilt(self) -> tuple[Spoilt, ...]:
        """What the tables show to be spoilt, before any regression."""
        return tuple(spoilt_tables(self.rehearsals, self.catalogue))

    @cached_property
    def notices(self) -> tuple[Notice, ...]:
        """What the regression notices; nothing where the readings cannot be fitted."""
        try:
            return self.fit.notices
        except DriftError:
            return ()

    @property
    def is_acoustics(self) -> bool:
        """Whether the answers come from acoustics alone, because that is the source."""
        return self.source == ACOUSTICS[0]

    @cached_property
    def acoustics(self) -> Fit:
        """What is expected before any reading."""
        return physics(self.catalogue, self._fitting.get("priors"))

    @cached_property
    def fit(self) -> Fit:
        """The regression; acoustics alone where the source is that.

        Raises
        ------
        TooLittleData
            If the readings cannot answer; says what is missing.
        """
        if self.is_acoustics:
            return self.acoustics
        if self._within and self._within[0].fit.method == "bayesian":
            return self._within[0].fit.only(self._within[1])
        return self._fitted(self.paired, ("all", ""))

    def only(self, player: str) -> Study:
        """Return the study of one player; a method that knows no players has those readings."""
        mine = self._of(self.rehearsals.only(players=[player]), None)
        mine._within = self, player
        return mine

    def _fit_of(self, player: str | None) -> Fit:
        """Return the regression that answers for a player; straight lines know one at a time."""
        lines = self._fitting.get("method") in ("least-squares", "mixed")
        return self.only(player).fit if player and lines else self.fit

    @cached_property
    def known(self) -> Fit:
        """The regression, or acoustics alone while the readings are too few."""
        try:
            return self.fit
        except TooLittleData:
            return self.acoustics

    def before(self, rehearsal: str) -> Fit:
        """Return what the rehearsals before one teach; acoustics alone where that is too little."""
        names = self.rehearsals.names
        earlier = names[: names.index(rehearsal)] if rehearsal in names else names
        frame = self.paired.frame
        rows = frame[frame["rehearsal"].isin(earlier)].reset_index(drop=True)
        try:
            return self._fitted(replace(self.paired, frame=rows), ("before", rehearsal))
        except TooLittleData:
            return self.acoustics

    def present(self, rehearsal: str) -> list[tuple[str, str]]:
        """Return who plays what in a rehearsal, as far as readings and slides tell."""
        return present(self.rehearsals, rehearsal)

    def now(
        self, rehearsal: str, player: str, instrument: str, time: datetime, a4: float | None = None
    ) -> PlayerNow:
        """Return where a player's pitch is and what to do, against an A4 [Hz] where one is said."""
        return answer_now(*self.tonight(rehearsal, player, instrument, time), player, time, a4)

    def target(
        self, rehearsal: str, player: str, instrument: str, now: datetime, **ahead: Any
    ) -> dict[str, Target]:
        """Return what the tuner should show now, by side; ``at, celsius`` as in `target_now`."""
        return target_now(*self.tonight(rehearsal, player, instrument, now), player, now, **ahead)

    def tonight(
        self, rehearsal: str, player: str, instrument: str, time: datetime
    ) -> tuple[Logged, Fit, Knowledge]:
        """Return a player's evening, the fit of what came before, and what that says."""
        kind = self.catalogue.find(instrument)
        logged = evening_of(self.rehearsals, rehearsal, player, kind, time)
        known = self.before(rehearsal)
        slopes = calibration_of(self.rehearsals, player, kind)
        kept = self._players.get((player, kind.name))
        if kept is None or kept[0] is not known or not set(logged.notes) <= set(kept[1].notes):
            kept = known, know_player(known, player, kind, logged.notes, slopes)
            self._players[player, kind.name] = kept
        return logged, *kept

    def correction(
        self, instrument: str | Instrument | None, celsius: float, *, player: str | None = None,
        at: Mapping[str, float] | None = None, known: Fit | None = None, **conditions: Any,
    ) -> Correction:  # fmt: skip
        """Return the slide moves for a room or a field.

        Parameters
        ----------
        instrument : str, Instrument or None
            Which; None where the readings are of one instrument only.
        celsius : float
            Temperature of the air there [°C].
        player : str, optional
            Whose drift, positions and measured slides count; by default the only one who plays it.
        at : mapping of str to float, optional
            Positions of the slides when it was tuned [mm]; by default as the last tuning left them.
        known : Fit, optional
            What is known of the drift; by default `fit`.
        **conditions
            ``minutes, tuned_celsius, tuned_minutes, a4_hz, tuned_a4_hz, travel, stuck`` as in
            `drift.correct`; what is not given of how it was tuned is as the last tuning logged it.
        """
        kind, own = self._slides_of(instrument, player, at)
        return correct(known or self._fit_of(player), kind, celsius, **{**own, **conditions})

    def positions(
        self, instrument: str | Instrument | None, *, player: str | None = None,
        celsius: Sequence[float] = CELSIUS, at: Mapping[str, float] | None = None,
        known: Fit | None = None, **conditions: Any,
    ) -> PositionTable:  # fmt: skip
        """Return where the slides go over a range of temperatures; as in `correction`."""
        kind, own = self._slides_of(instrument, player, at)
        own = {"player": player or "", **own, **conditions}
        return positions(known or self._fit_of(player), kind, celsius=celsius, **own)

    def plans(
        self, forecast: Forecast, sections: Sequence[Section], schedule: Schedule,
        assumptions: Assumptions | None = None, *, as_scheduled: bool = False,
    ) -> tuple[Plan, ...]:  # fmt: skip
        """Return the plans of an evening, one a pitch; as in `drift.gig.evening.plan_evening`."""
        from drift.gig.evening import plan_evening
        from drift.gig.of_rehearsals import for_sections

        known, band = for_sections(self.fit, self.rehearsals), tuple(sections)
        return plan_evening(forecast, band, schedule, known, assumptions, as_scheduled=as_scheduled)

    def report(
        self, *, rehearsal: str | None = None, player: str | None = None, compared: bool = False
    ) -> Evidence:
        """Return what a report of everything, of one player or of one rehearsal is made of.

        Parameters
        ----------
        rehearsal, player : str, optional
            Show this rehearsal only (the fit is still of all); show this player's readings and
            what is known of this player.
        compared : bool
            Also leave out each rehearsal in turn and compare the methods on it.

        Raises
        ------
        InputError
            If there is no such rehearsal or player, or there are no readings.
        TooLittleData
            If the readings cannot be fitted, or one rehearsal is to be compared with none.
        """
        self.rehearsals.only(rehearsals=None if rehearsal is None else [rehearsal])
        scope = self if player is None else self.only(player)
        return evidence_of(scope, self, rehearsal, player, compared)

    def summary(self, written: Written, season: str | None = None) -> tuple[BandSummary, Written]:
        """Return what the band knows of a season, without names; as in `drift.bands.summaries`."""
        from drift.bands.summaries import next_summary

        return next_summary(self.paired, written, season, self._fitting.get("progress"))

    def player_report(self, player: str, **asked: Any) -> PlayerEvidence:
        """Return what the page of one player is made of; as in `evidence_of_player`."""
        return evidence_of_player(self, player, **asked)

    def check(self, travel: Mapping[str, float] | None = None) -> list[Finding]:
        """Return the values that can hardly be true; slides may have a usable travel [mm]."""
        return suspicious(self.rehearsals, travel=dict(travel or {}), catalogue=self.catalogue)

    @cached_property
    def comparison(self) -> Comparison:
        """The methods, each rehearsal predicted from the others."""
        return compare(self.paired, catalogue=self.catalogue, **self._asked("start", "priors"))

    @cached_property
    def shapes(self) -> Comparison:
        """The shapes of the time term, each rehearsal predicted from the others."""
        return compare_shapes(self.paired, catalogue=self.catalogue, **self._asked())

    def _asked(self, *more: str) -> dict[str, Any]:
        given = self._fitting.items()
        return {k: v for k, v in given if k in ("covariates", "formula", "progress", *more)}

    def advice(self, celsius: float | None = None, **whose: Any) -> Advice:
        """Return what to measure next; with ``instrument`` and ``player`` as in `advise`."""
        from drift.regression.advice import advise

        if self._within and self.fit.method == "bayesian":
            return self._within[0].advice(celsius, **{"player": self._within[1], **whose})
        return advise(self.fit, celsius=celsius, catalogue=self.catalogue, **whose)

    def slide_slopes(
        self, player: str, slide: str, instrument: str | None = None,
        rehearsals: Sequence[str] | None = None,
    ) -> tuple[SlideSlope, ...]:  # fmt: skip
        """Return what a player's slide does, from some rehearsals or all; as in `measure`."""
        from drift.slides.calibration import measure

        named, known = self.rehearsals.only(rehearsals=rehearsals), self.catalogue
        return measure(named, player, slide, instrument=instrument, catalogue=known)

    def instrument(self, name: str | None = None, player: str | None = None) -> Instrument:
        """Return an instrument by name, or the only one that the readings are of."""
        if name is None:
            if self.is_acoustics:
                raise InstrumentError("no instrument was named", "add --instrument NAME")
            name = only_instrument(self.rehearsals, player)
        return self.catalogue.find(name)

    def unused_calibrations(self, instrument: str, player: str | None = None) -> list[str]:
        """Return the measured slides that are not used: pulling would sharpen."""
        who = self._player_of(instrument, player) or ""
        return unused_calibrations(self.rehearsals, who, instrument)

    def last_positions(self, player: str, instrument: str) -> dict[str, float]:
        """Return the last logged positions of a player's slides [mm]."""
        return last_positions(self.rehearsals, player, self.catalogue.find(instrument))

    def reference_positions(self, player: str, instrument: str) -> dict[str, float]:
        """Return the positions [mm] that a player's readings are brought to."""
        return reference_positions(self.rehearsals, player, self.catalogue.find(instrument))

    def _of(self, rehearsals: Rehearsals, source: Path | str | None) -> Study:
        """Return a study of other data with the same settings; a refreshed one shares the fits."""
        other = Study(rehearsals, self.catalogue, self._pairing, self._fitting, source)
        if source is not None:
            other._fits, other._players = self._fits, self._players
        return other

    def _fitted(self, paired: Paired, part: tuple[str, str]) -> Fit:
        """Return the fit of a part of the data: the latest one of that part, if it is the same."""
        kept = self._fits.get(part)
        if kept is not None and kept[0].same_as(paired):
            return kept[1]
        found = fit(paired, catalogue=self.catalogue, **self._fitting)
        self._fits[part] = paired, found
        return found

    def _slides_of(
        self, instrument: str | Instrument | None, player: str | None,
        at: Mapping[str, float] | None,
    ) -> tuple[Instrument, dict[str, Any]]:  # fmt: skip
        """Return the instrument, and where its slides are and what they do for its player."""
        if not isinstance(instrument, Instrument):
            instrument = self.instrument(instrument, player)
        who = self._player_of(instrument.name, player)
        if who is None:
            return instrument, {"at": at}
        return instrument, players_slides(self.rehearsals, who, instrument, at)

    def _player_of(self, instrument: str, player: str | None) -> str | None:
        return None if self.is_acoustics else player_of(self.rehearsals, instrument, player)
