"""What a fit hands over, whichever method made it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, tzinfo
from functools import cached_property
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.errors import InputError
from drift.findings import Finding
from drift.groups import codes_of
from drift.pairing.paired import LeftOut, left_out_of
from drift.regression.asked import air_of, curve_of, level_of, minutes_of, named, size_of
from drift.regression.estimates import (
    NEW,
    ONLY,
    Curve,
    Draws,
    Estimate,
    Kind,
    Settings,
    frame_of,
    strict,
)
from drift.regression.frames import (
    fit_json,
    frame_of_players,
    intercepts_frame,
    posterior_of,
    predicted_frame,
)
from drift.regression.notices import Notice, notices_of
from drift.regression.warned import with_warnings

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from drift.regression.bayesian import Found
    from drift.regression.beliefs import Unread
    from drift.regression.jointly import JointDraws

__all__ = ["NEW", "ONLY", "Curve", "Draws", "Estimate", "Fit", "Kind", "Settings", "strict"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Fit:
    """The answer of a regression of cents on temperature and playing time.

    Parameters
    ----------
    method : str
        ``bayesian``, ``least-squares``, ``mixed`` or ``acoustics``.
    kinds : mapping of str to Kind
        The kinds of instrument in the readings, by name.
    rows : DataFrame
        The readings used, with ``drift`` (expected of that player, cents), ``residual`` (cents)
        and ``weight`` (1, or less when a reading looks like an outlier).
    left_out : tuple of LeftOut
        Readings that were not used, by reason; a DataFrame does not carry those of `drift.pair`.
    sds : mapping of str to Estimate
        Standard deviations (cents) with their intervals (NaN for the straight lines, which have
        none): ``reading_sd``, ``day_sd``, ``rehearsal_sd``, and of how players differ.
    celsius_range : tuple of two floats, optional
        Lowest and highest temperature seen; None without readings.
    warnings : tuple of Finding
        What a reader of the numbers must know; `summary` has it in words.
    diagnostics : mapping
        Figures for a methods section.
    otherwise : Unread, optional
        Answers for instruments that have no readings.
    settings : Settings
        How it was made.
    rehearsal_effects : mapping of str to float
        How far off each rehearsal was for everybody (cents).
    shifts : DataFrame
        What `sensitivity` returns.
    posterior : Found, optional
        What `joint_draws`, `intercepts` and `predicted_rehearsals` are made of (bayesian only).
    """

    method: str
    kinds: Mapping[str, Kind]
    rows: pd.DataFrame = field(repr=False)
    left_out: tuple[LeftOut, ...] = ()
    sds: Mapping[str, Estimate] = field(default_factory=dict, repr=False)
    celsius_range: tuple[float, float] | None = None
    warnings: tuple[Finding, ...] = ()
    diagnostics: Mapping[str, Any] = field(default_factory=dict, repr=False)
    otherwise: Unread | None = field(default=None, repr=False)
    settings: Settings = field(default_factory=Settings, repr=False)
    rehearsal_effects: Mapping[str, float] = field(default_factory=dict, repr=False)
    shifts: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False)
    posterior: Found | None = field(default=None, repr=False)

    def __repr__(self) -> str:
        kinds = ", ".join(f"{name}: {kind.readings}" for name, kind in self.kinds.items())
        return f"<Fit {self.method}, {len(self.rows)} readings ({kinds})>"

    def _repr_html_(self) -> str:
        """Return the answer as a table for a notebook."""
        return f"<p>{escape(repr(self))}</p>{self.players_frame().to_html(index=False)}"

    @property
    def reading_sd_cents(self) -> float:
        """Standard deviation of a single reading (NaN: not estimated)."""
        return self._sd("reading_sd")

    @property
    def rehearsal_sd_cents(self) -> float:
        """Standard deviation of a player's day, by itself and shared (NaN: not estimated)."""
        return float(np.hypot(self._sd("day_sd"), np.nan_to_num(self._sd("rehearsal_sd"))))

    def _sd(self, name: str) -> float:
        return self.sds[name].estimate if name in self.sds else float("nan")

    @cached_property
    def players(self) -> int:
        """Number of players."""
        return codes_of(self.rows["player"])[1].nunique()

    @cached_property
    def rehearsals(self) -> int:
        """Number of rehearsals."""
        return codes_of(self.rows["rehearsal"])[1].nunique()

    @cached_property
    def notices(self) -> tuple[Notice, ...]:
        """What looks spoilt, the surest first, its `str` a sentence (bayesian only)."""
        return notices_of(self)

    @property
    def outliers(self) -> pd.DataFrame:
        """Readings that look like outliers: time, player, note, cents and how far off they are."""
        of = ("time", "rehearsal", "player", "instrument", "note", "cents", "residual", "weight")
        rows = self.rows[self.rows["weight"] < 0.5]
        return rows[[name for name in of if name in rows]].copy()

    def curve(self, instrument: str | None = None, player: str | None = ONLY) -> Curve:
        """Return what is known of one instrument; by default of the one with most readings.

        Parameters
        ----------
        instrument : str, optional
            Its name.
        player : str or None
            See `Kind.of`.

        Raises
        ------
        InputError
            If the method needs readings of that instrument and there are none, or a player is
            named of whom there are none.
        """
        return curve_of(self, instrument, player)

    def only(self, player: str) -> Fit:
        """Return what is known of one player, whom everybody's readings have taught.

        Parameters
        ----------
        player : str
            A name. Where the method knows no players, what it knows of all is kept, and said.

        Raises
        ------
        InputError
            If there are no readings of that player.
        """
        player = named(player)
        rows = self.rows[self.rows["player"] == player].reset_index(drop=True)
        if rows.empty:
            known = ", ".join(sorted(self.rows["player"].unique())) or "no readings"
            raise InputError(f"there are no readings of {player!r}", f"there are {known}")
        counts = rows["instrument"].value_counts()
        both = [name for name in self.kinds if name in counts]
        kinds = {name: self.kinds[name].only(player, int(counts[name])) for name in both}
        told = replace(self, left_out=left_out_of(player, self.left_out), warnings=())
        return with_warnings(replace(told, kinds=kinds, rows=rows, posterior=None), whole=self)

    def change(
        self,
        instrument: str | None = None,
        *,
        celsius: float,
        minutes: float = 30.0,
        tuned_celsius: float = 20.0,
        tuned_minutes: float = 30.0,
        player: str | None = ONLY,
        at: Mapping[str, Any] | None = None,
        level: float = 0.95,
    ) -> Estimate:
        """Return how far the pitch moves from where the instrument was tuned to somewhere else.

        Parameters
        ----------
        instrument : str, optional
            Name of the instrument (default: the one with most readings).
        celsius, tuned_celsius : float
            Temperature there and where it was tuned (°C).
        minutes, tuned_minutes : float
            Minutes of unbroken playing there and before tuning.
        player : str or None
            A name, ``"new"`` for a player nobody has read, None for the mean of all players; by
            default the only player of whom there are readings, or where there are several, a new
            one.
        at : mapping of str to number or text, optional
            Covariates on which the slope depends; by default their means, or the commonest. By
            bayesian those that are so much for each °C from 20: how much, by default the player's.
        level : float
            Of the interval.

        Returns
        -------
        Estimate
            Mean change in cents (positive: sharper there) with its interval. The slow drift is in
            it: a straight line up to the longest playing seen (kept within 30 and 180 minutes),
            then constant and known less and less, by 2 cents an hour.
        """
        where, tuned = air_of({"celsius": celsius, "tuned_celsius": tuned_celsius})
        when, before = minutes_of({"minutes": minutes, "tuned_minutes": tuned_minutes})
        found = curve_of(self, instrument, player, at).contrast(
            np.atleast_1d(where), np.atleast_1d(when), float(tuned), float(before),
            level=level_of(level),
        )  # fmt: skip
        return Estimate(*(float(limit[0]) for limit in found))

    def predict(
        self, celsius: npt.ArrayLike, minutes: npt.ArrayLike = 30.0, instrument: str | None = None,
        *, player: str | None = ONLY, at: Mapping[str, Any] | None = None, level: float = 0.95,
    ) -> pd.DataFrame:  # fmt: skip
        """Return the expected drift at temperatures and minutes of playing.

        Parameters
        ----------
        celsius : float or array of shape (n,)
            Temperature of the air (°C).
        minutes : float or array of shape (n,)
            Minutes of unbroken playing.
        instrument : str, optional
            Name of the instrument (default: the one with most readings).
        player, at
            As in `change`.
        level : float
            Of the intervals.

        Returns
        -------
        DataFrame
            ``celsius, minutes, cents`` against a warmed-up instrument at 20 °C (after 30 minutes
            for the methods that know no warm-up), ``low, high`` for the mean, ``reading_low,
            reading_high`` for one new reading on a new day, and ``beyond`` where the temperature
            lies more than 1 °C outside those seen.
        """
        air, played = *air_of({"celsius": celsius}), *minutes_of({"minutes": minutes})
        where, when = (np.atleast_1d(part) for part in np.broadcast_arrays(air, played))
        curve, level = curve_of(self, instrument, player, at), level_of(level)
        beyond = [self.extrapolation(value) is not None for value in where]
        return predicted_frame(curve, where, when, level).assign(beyond=beyond)

    def extrapolation(self, celsius: float) -> Finding | None:
        """Return a warning if a temperature lies beyond those seen, else None."""
        if self.celsius_range is None:
            return None
        low, high = self.celsius_range
        if low - 1.0 <= celsius <= high + 1.0:
            return None
        values = {"celsius": celsius, "low_celsius": low, "high_celsius": high}
        return Finding("extrapolated", values)

    def draws(
        self, instrument: str | None = None, size: int = 1000, seed: int = 0,
        player: str | None = ONLY,
    ) -> Draws:  # fmt: skip
        """Return random draws of slope, rise, slow drift, bend and time constants.

        Parameters
        ----------
        instrument : str, optional
            Name of the instrument (default: the one with most readings).
        size, seed : int
            How many, and where chance begins.
        player : str or None
            As in `change`.

        Raises
        ------
        InputError
            If the method has no warm-up to draw from.
        """
        return self.curve(instrument, player).draws(size_of(size), seed)

    def to_frame(self) -> pd.DataFrame:
        """Return the reported quantities, one row an instrument and quantity, as `change` answers.

        See `population` for the mean of all players and `players_frame` for each.
        """
        return frame_of((name, kind.curve) for name, kind in self.kinds.items())

    @property
    def population(self) -> pd.DataFrame:
        """The mean of all players of each instrument, one row a quantity."""
        return frame_of((name, kind.population) for name, kind in self.kinds.items())

    def players_frame(self) -> pd.DataFrame:
        """Return each player, one row a quantity; `known` from the player's own readings or not."""
        return frame_of_players(self.kinds)

    def sensitivity(self) -> pd.DataFrame:
        """Return how far the population's quantities move when prior or readings count double.

        Returns
        -------
        DataFrame
            ``instrument, quantity, prior, likelihood``: shifts of the mean, in posterior standard
            deviations; see `drift.regression.sensitivity`. Empty for methods without priors.
        """
        return self.shifts.copy()

    def to_json(self) -> dict[str, Any]:
        """Return the answer as a dict for `json.dumps` (numbers unrounded; None where none is)."""
        return fit_json(self)

    def covariance(self, instrument: str | None = None, player: str | None = ONLY) -> pd.DataFrame:
        """Return the covariance of what is estimated, by name; players as in `change`."""
        return self.curve(instrument, player).covariance_frame()

    def joint_draws(self, size: int = 1000, seed: int = 0) -> JointDraws:
        """Return draws of everything at once; see `drift.regression.jointly.JointDraws`.

        Raises
        ------
        InputError
            If the method is not bayesian, or there are no readings.
        """
        from drift.regression.jointly import joint_draws

        return joint_draws(*posterior_of(self), size_of(size), seed)

    def intercepts(self, level: float = 0.95) -> pd.DataFrame:
        """Return the pitch of each note of each player, warmed up at 20 °C [cents].

        Covariates of 0 and 1 are at 0, those of words at the commonest, others at their mean
        (`joint_draws().covariates` has the table).

        Returns
        -------
        DataFrame
            ``instrument, player, side, note, estimate, low, high``, from 1000 joint draws.
        """
        return intercepts_frame(self.joint_draws().intercepts, level_of(level))

    def predicted_rehearsals(self) -> pd.DataFrame:
        """Return how well each rehearsal is predicted by the others, without a refit.

        See `drift.regression.leave_out.rehearsals_left_out`.
        """
        from drift.regression.leave_out import rehearsals_left_out

        return rehearsals_left_out(posterior_of(self)[0])

    def summary(self, zone: tzinfo | None = UTC) -> str:
        """Return answer, warnings and what looks spoilt in words, times as clocks in a zone."""
        from drift.words.fit import summary_of

        return summary_of(self, zone)

    def plot(
        self, ax: Axes | None = None, *, instrument: str | None = None, player: str = ONLY
    ) -> Axes:
        """Draw drift against temperature: the readings, the expected drift and its band.

        Parameters
        ----------
        ax : Axes, optional
            Where to draw (default: new axes).
        instrument : str, optional
            Which instrument (default: the one with most readings).
        player : str
            Whose readings and line (default: all readings, and the line of the only player, or of
            a new one).
        """
        from drift.charts import drift_against_temperature

        return drift_against_temperature(self, ax, instrument=instrument, player=player)

    def plot_residuals(self) -> Figure:
        """Draw residuals against drift, temperature, playing time, normal quantiles and time."""
        from drift.charts import residuals_figure

        return residuals_figure(self)
