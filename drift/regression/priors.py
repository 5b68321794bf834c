"""What is believed before any reading: one record of all priors of the Bayesian method."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from drift.errors import InputError
from drift.instruments import Catalogue, canonical_name
from drift.instruments.anatomy import Priors as CataloguePriors
from drift.spelling import near

__all__ = ["InstrumentPriors", "Priors", "SpreadPrior", "refuse_unknown"]

SDS = (
    "reading_sd",
    "day_sd",
    "player_slope_sd",
    "player_rise_sd",
    "player_slow_sd",
    "rehearsal_sd",
)
"""The standard deviations that are estimated, in the order of their scores."""

FLAT_SD = 1000.0
"""A prior this wide says nothing that readings could not overrule."""

AT_ITS_WORD_SD = 1e-6
"""Next to no allowance for what the model does not know."""


@dataclass(frozen=True)
class InstrumentPriors:
    """What is believed of one kind of instrument.

    Parameters
    ----------
    cold_mean, cold_sd : float
        Slope of an unplayed instrument [cents/°C]; the sd is that of the kind by itself, beside
        what all kinds have in common.
    rise_mean, rise_sd : float
        Rise from cold to warm at 20 °C [cents].
    warm_minutes, warm_log_sd, cool_minutes, cool_log_sd : float
        Medians of the time constants [min, 63 %], and the sds of their logarithms.
    slow_mean : float
        Slow drift with playing time [cents/hour].
    slow_sd : float, optional
        Its sd [cents/hour]; by default that of all kinds (`Priors.slow_sd`).
    cold_rise_correlation, cold_slow_correlation, rise_slow_correlation : float
        Between what is believed of slope, rise and slow drift, such as other bands teach.
    """

    cold_mean: float = 2.95
    cold_sd: float = 0.30
    rise_mean: float = 14.0
    rise_sd: float = 8.0
    warm_minutes: float = 6.0
    warm_log_sd: float = 0.6
    cool_minutes: float = 12.0
    cool_log_sd: float = 0.6
    slow_mean: float = 0.0
    slow_sd: float | None = None
    cold_rise_correlation: float = 0.0
    cold_slow_correlation: float = 0.0
    rise_slow_correlation: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is not a prior."""
        _refuse(self, [one.name for one in fields(self) if one.name.endswith(("_sd", "_minutes"))])
        if np.linalg.eigvalsh(self.covariance(1.0))[0] <= 0.0:
            raise InputError(
                "the correlations of slope, rise and slow drift contradict each other",
                "give correlations that three quantities can have at once, or leave them out",
            )

    def covariance(self, slow_sd: float) -> npt.NDArray[np.float64]:
        """Return the covariance of slope, rise and slow drift, where all kinds have this sd."""
        sds = np.array([self.cold_sd, self.rise_sd, self.slow_sd or slow_sd])
        correlation = np.eye(3)
        correlation[0, 1] = correlation[1, 0] = self.cold_rise_correlation
        correlation[0, 2] = correlation[2, 0] = self.cold_slow_correlation
        correlation[1, 2] = correlation[2, 1] = self.rise_slow_correlation
        return correlation * np.outer(sds, sds)


@dataclass(frozen=True)
class SpreadPrior:
    """What is believed of a standard deviation, as a change of its half-normal prior.

    Parameters
    ----------
    score_mean, score_sd : float
        Of the normal score of the standard deviation under that half-normal: 0 and 1 leave it as
        it is.
    """

    score_mean: float = 0.0
    score_sd: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what is not a prior."""
        _refuse(self, ["score_sd"])


TABLES: dict[str, type[Any]] = {"instruments": InstrumentPriors, "spreads": SpreadPrior}
"""The tables in a file of priors, and what each entry of theirs is."""


@dataclass(frozen=True)
class Priors:
    """All priors of the Bayesian method.

    Parameters
    ----------
    common_slope_sd : float
        What the slopes of all kinds of instrument have in common [cents/°C]. Computed: 2.74 to 3.8
        cents/°C over moisture and temperature.
    curvature_mean, curvature_sd : float
        Bend of the line [cents/°C²]. Computed: dry air -0.005, saturated +0.0055, saturated bores
        +0.002 to +0.004.
    slow_sd : float
        Slow drift with playing time [cents/hour], around zero (assumption).
    slow_growth_sd : float
        How much less the slow drift is known after an hour beyond the longest playing seen
        [cents] (assumption).
    walls_sd : float
        How much of the slow drift that readings show may be walls that still warm, rather than
        what goes on [cents/hour] (assumption: the model has one time constant of warming, and
        bores of segments have several; a number near 0 takes the model at its word). It is added
        to what is believed after the readings, as far as they have taught anything.
    quick_walls_sd : float
        How much of the rise may be walls near the lips that warm within the first minutes, which
        readings show as if the instrument had begun higher [cents] (assumption, as above). It
        concerns an instrument that is not warm yet.
    late_walls_log_sd : float
        How much later than the model says an instrument may be 95 % warm, or 95 % cooled, because
        some walls take longer than others: sd of the logarithm, upwards alone (assumption, as
        above).
    covariate_sd : float
        Effect of a covariate that changes by its own sd [cents] (assumption).
    reading_sd, day_sd, rehearsal_sd : float
        Scales of half-normal priors: one reading from the next; a player's day; a rehearsal that
        is off for everybody [cents] (assumptions).
    player_slope_sd, player_rise_sd, player_slow_sd : float
        Scales of half-normal priors of how players differ [cents/°C, cents, cents/hour]
        (assumptions).
    outlier_share, outlier_density : float
        Share of readings that are outliers, and the density of those [1/cents]: one in a hundred,
        anywhere in the 100 cents a tuner can show.
    instruments : mapping of str to InstrumentPriors
        Of kinds of instrument that differ from the catalogue.
    spreads : mapping of str to SpreadPrior
        Of those standard deviations (by the names above) of which more is believed than a scale.

    Raises
    ------
    InputError
        If a number is not a prior, or one instrument is given twice.

    Examples
    --------
    >>> Priors(player_rise_sd=3.0).player_rise_sd
    3.0
    """

    common_slope_sd: float = 0.40
    curvature_mean: float = 0.002
    curvature_sd: float = 0.003
    slow_sd: float = 2.0
    slow_growth_sd: float = 2.0
    walls_sd: float = 0.5
    quick_walls_sd: float = 0.8
    late_walls_log_sd: float = 0.12
    covariate_sd: float = 5.0
    reading_sd: float = 4.0
    day_sd: float = 2.0
    rehearsal_sd: float = 1.5
    player_slope_sd: float = 0.25
    player_rise_sd: float = 4.0
    player_slow_sd: float = 1.0
    outlier_share: float = 0.01
    outlier_density: float = 0.01
    instruments: Mapping[str, InstrumentPriors] = field(default_factory=dict)
    spreads: Mapping[str, SpreadPrior] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse what is not a prior, and spell the instruments as the catalogue does."""
        names = [one.name for one in fields(self) if one.name not in TABLES]
        _refuse(self, [name for name in names if not name.endswith("_mean")])
        if strange := sorted(set(self.spreads) - set(SDS)):
            raise InputError(
                f"no standard deviation is called {', '.join(strange)}",
                f"there are {', '.join(SDS)}",
            )
        if not self.outlier_share < 0.5:
            raise InputError(
                f"outlier_share {self.outlier_share:g} is not a share below a half",
                "give the share of readings that are outliers, such as 0.01",
            )
        for title, record in TABLES.items():
            for name, one in getattr(self, title).items():
                if not isinstance(one, record):
                    raise InputError(
                        f"{title}: what is given for {name} is a {type(one).__name__}",
                        f"give drift.regression.priors.{record.__name__}(...), or tables within "
                        "tables to drift.Priors.from_table",
                    )
        spelt: dict[str, InstrumentPriors] = {}
        for given, prior in self.instruments.items():
            name = canonical_name(given)
            if name in spelt:
                raise InputError(
                    f"the priors of a {name} are given twice, under two spellings",
                    "keep one of them",
                )
            spelt[name] = prior
        object.__setattr__(self, "instruments", spelt)

    @classmethod
    def read(cls, path: Path | str) -> Priors:
        """Read priors from a TOML file: names as above, instruments as tables.

        Parameters
        ----------
        path : path
            The file; what it does not name keeps its default.

        Raises
        ------
        InputError
            If the file cannot be read, or names something that is not a prior.
        """
        try:
            with Path(path).open("rb") as file:
                table = tomllib.load(file)
        except OSError as failure:
            raise InputError(
                f"{path} cannot be read: {failure.strerror}", "give a TOML file of priors"
            ) from failure
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as failure:
            raise InputError(f"{path}: {failure}", "give a TOML file of priors") from failure
        return cls.from_table(table, str(path))

    @classmethod
    def from_table(cls, table: Mapping[str, Any], where: str = "priors") -> Priors:
        """Make priors of nested mappings, as TOML gives them."""
        known = {one.name for one in fields(cls)}
        strange = [name for name in table if name not in known]
        inner: set[str] = set()
        for title, record in TABLES.items():
            given = table.get(title, {})
            if not isinstance(given, Mapping) or not all(
                isinstance(v, Mapping) for v in given.values()
            ):
                raise InputError(f"{where}: {title} is not a table of tables", "see Priors")
            names = {one.name for one in fields(record)}
            strange += [f"{title}.{k}.{n}" for k, v in given.items() for n in v if n not in names]
            inner |= names
        if strange:
            raise InputError(
                f"{where}: no prior is called {', '.join(strange)}",
                f"there are {', '.join(sorted(known | inner))}",
            )
        made = {
            title: {k: record(**v) for k, v in table.get(title, {}).items()}
            for title, record in TABLES.items()
        }
        return cls(**{**table, **made})

    @classmethod
    def flat(cls) -> Priors:
        """Return priors that say next to nothing of slopes, rise, bend and slow drift.

        Time constants and standard deviations keep theirs, for nothing is estimated without; and
        the model is taken at its word (`walls_sd`, `quick_walls_sd`, `late_walls_log_sd`).
        """
        return cls(
            common_slope_sd=FLAT_SD, curvature_sd=1.0, slow_sd=FLAT_SD, covariate_sd=FLAT_SD,
            walls_sd=AT_ITS_WORD_SD, quick_walls_sd=AT_ITS_WORD_SD,
            late_walls_log_sd=AT_ITS_WORD_SD,
        )  # fmt: skip

    def of(self, instrument: str, catalogue: Catalogue | None = None) -> InstrumentPriors:
        """Return the priors of a kind of instrument: as given, else as the catalogue has them.

        The slope's spread in the catalogue holds what all kinds have in common, and a played
        instrument lies off an unplayed one by an allowance of 0.3 cents/°C (breath warms the near
        end of the bore at once).
        """
        name = canonical_name(instrument)
        if name in self.instruments:
            return self.instruments[name]
        known = _catalogued(name, catalogue)
        alone = max(known.cold_sd**2 - 0.40**2, 0.0) + 0.30**2
        rise_sd = known.rise_sd if self.common_slope_sd < FLAT_SD else FLAT_SD
        return InstrumentPriors(
            known.cold_mean, math.sqrt(alone), known.rise_mean, rise_sd,
            known.warm_minutes, known.warm_log_sd, known.cool_minutes, known.cool_log_sd,
        )  # fmt: skip


def refuse_unknown(
    priors: Priors | None, catalogue: Catalogue | None = None, read: Iterable[str] = ()
) -> None:
    """Refuse priors of an instrument that nobody knows, which would be left unused.

    Parameters
    ----------
    priors : Priors, optional
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    read : iterable of str
        Instruments of the readings, which are known though the catalogue has them not.

    Raises
    ------
    InputError
        With the names that are like it.
    """
    known = {*(catalogue or Catalogue.shipped()), *read}
    for name in priors.instruments if priors else ():
        if name not in known:
            meant = near(name, known)
            raise InputError(
                f"priors are given of a {name}, which the catalogue does not have",
                f"name {' or '.join(meant)}" if meant else "leave them out",
            )


def _catalogued(name: str, catalogue: Catalogue | None) -> CataloguePriors:
    from drift.errors import InstrumentError

    try:
        return (catalogue or Catalogue.shipped()).find(name).priors
    except InstrumentError:
        return CataloguePriors()


def _refuse(record: Any, positive: list[str]) -> None:
    """Refuse a record in which a number is no number, or a spread is not positive."""
    wrong = [
        f"{one.name} {value!r}"
        for one in fields(record)
        if one.name not in TABLES
        and (value := getattr(record, one.name)) is not None
        and (
            not isinstance(value, int | float)
            or isinstance(value, bool)
            or not math.isfinite(value)
            or (one.name in positive and value <= 0.0)
        )
    ]
    if wrong:
        raise InputError(
            f"not a prior: {', '.join(wrong)}", "give finite numbers, and spreads above zero"
        )
