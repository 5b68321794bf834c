"""What is believed before any reading: one record of all priors of the Bayesian method."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from drift.errors import InputError
from drift.instruments import Catalogue, canonical_name
from drift.instruments.anatomy import Priors as CataloguePriors

__all__ = ["InstrumentPriors", "Priors"]

FLAT_SD = 1000.0
"""A prior this wide says nothing that readings could not overrule."""


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
    """

    cold_mean: float = 2.95
    cold_sd: float = 0.30
    rise_mean: float = 14.0
    rise_sd: float = 8.0
    warm_minutes: float = 6.0
    warm_log_sd: float = 0.6
    cool_minutes: float = 12.0
    cool_log_sd: float = 0.6

    def __post_init__(self) -> None:
        """Refuse what is not a prior."""
        _refuse(self, [one.name for one in fields(self) if not one.name.endswith("_mean")])


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

    def __post_init__(self) -> None:
        """Refuse what is not a prior, and spell the instruments as the catalogue does."""
        names = [one.name for one in fields(self) if one.name != "instruments"]
        _refuse(self, [name for name in names if not name.endswith("_mean")])
        if not self.outlier_share < 0.5:
            raise InputError(
                f"outlier_share {self.outlier_share:g} is not a share below a half",
                "give the share of readings that are outliers, such as 0.01",
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
        except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as failure:
            raise InputError(f"{path}: {failure}", "give a TOML file of priors") from failure
        return cls.from_table(table, str(path))

    @classmethod
    def from_table(cls, table: Mapping[str, Any], where: str = "priors") -> Priors:
        """Make priors of nested mappings, as TOML gives them."""
        known = {one.name for one in fields(cls)}
        inner = {one.name for one in fields(InstrumentPriors)}
        given = table.get("instruments", {})
        if not isinstance(given, Mapping) or not all(
            isinstance(v, Mapping) for v in given.values()
        ):
            raise InputError(f"{where}: instruments is not a table of tables", "see Priors")
        strange = [name for name in table if name not in known]
        strange += [
            f"instruments.{k}.{name}" for k, v in given.items() for name in v if name not in inner
        ]
        if strange:
            raise InputError(
                f"{where}: no prior is called {', '.join(strange)}",
                f"there are {', '.join(sorted(known | inner))}",
            )
        plain = {name: value for name, value in table.items() if name != "instruments"}
        return cls(**plain, instruments={k: InstrumentPriors(**v) for k, v in given.items()})

    @classmethod
    def flat(cls) -> Priors:
        """Return priors that say next to nothing of slopes, rise, bend and slow drift.

        Time constants and standard deviations keep theirs, for nothing is estimated without.
        """
        return cls(common_slope_sd=FLAT_SD, curvature_sd=1.0, slow_sd=FLAT_SD, covariate_sd=FLAT_SD)

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
        if one.name != "instruments"
        and (
            not isinstance(value := getattr(record, one.name), int | float)
            or isinstance(value, bool)
            or not math.isfinite(value)
            or (one.name in positive and value <= 0.0)
        )
    ]
    if wrong:
        raise InputError(
            f"not a prior: {', '.join(wrong)}", "give finite numbers, and spreads above zero"
        )
