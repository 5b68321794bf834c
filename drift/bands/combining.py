"""Many bands' files: which count, and what they teach together."""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from drift.bands.band_file import BandSummary, Section
from drift.bands.likelihood import NOT_NEGATIVE, Likelihood, proper
from drift.bands.pooling import OF_SPREADS, Item, Pooled, pool
from drift.bands.reference import MODEL, REFERENCE, kinds, reference_of
from drift.errors import InputError

__all__ = ["Combination", "Rejected", "RejectedReason", "combine", "combine_files"]

SPREADS = "spreads"

FEWEST_PLAYERS_OF = {"3-5": 3, "6-11": 6, "12+": 12}
SHARPEST_READING = 64.0 * 2.25 / 0.25**2
"""What a reading can say at most of one quantity, in reference sds: of a rise, over a reference sd
of 8 cents squared, at a change of the column of 1.5, with the least scatter that a reading has."""


class RejectedReason(enum.Enum):
    """Why a file, or a section of one, does not count; the value is its name in an answer."""

    OTHER_MODEL = "other_model"
    OLDER_VERSION = "older_version"
    SAME_NUMBERS = "same_numbers"
    IMPOSSIBLE = "impossible"
    UNKNOWN_INSTRUMENT = "unknown_instrument"


@dataclass(frozen=True)
class Rejected:
    """What does not count.

    Parameters
    ----------
    reason : RejectedReason
    band, season : str
        Of the file.
    instrument : str
        The section; empty for a whole file.
    """

    reason: RejectedReason
    band: str
    season: str
    instrument: str = ""


@dataclass(frozen=True)
class Combination:
    """What many bands teach.

    Parameters
    ----------
    instruments : Pooled
        Of phi by kind of instrument, for all kinds of the shipped catalogue.
    spreads : Pooled
        Of the scores of the standard deviations.
    files, bands : int
        How many counted.
    rejected : tuple of Rejected
        What did not.
    """

    instruments: Pooled
    spreads: Pooled
    files: int
    bands: int
    rejected: tuple[Rejected, ...]

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds that some band has, in the order of the catalogue."""
        there = {one.kind for one in self.instruments.items}
        return tuple(name for name in self.instruments.kinds if name in there)

    def bands_of(self, kind: str) -> int:
        """Return how many bands say something of a kind."""
        return sum(one.kind == kind for one in self.instruments.items)


def combine_files(paths: Sequence[Path | str]) -> Combination:
    """Read the files of many bands, and combine them.

    Raises
    ------
    InputError
        If one cannot be read, or none counts.
    """
    return combine([BandSummary.read(path) for path in paths])


def combine(files: Sequence[BandSummary], *, robust: bool = True) -> Combination:
    """Combine what many bands know.

    Parameters
    ----------
    files : sequence of BandSummary
        In any order.
    robust : bool
        Whether a band that lies far off counts less.

    Raises
    ------
    InputError
        If none counts.

    Notes
    -----
    Of several files of one band and season the one of most readings counts; other seasons of a band
    are added, for it is one band that deviates.
    """
    counted, rejected = admitted(files)
    sections = [(one, name, part) for one in counted for name, part in one.sections.items()]
    if not sections:
        raise InputError(
            f"none of {len(files)} files counts" if files else "there are no files",
            "ask the bands for files written by this version of drift summary",
        )
    items = _added([(one.band, name, part.likelihood) for one, name, part in sections])
    spreads = _added([(one.band, SPREADS, one.spreads) for one in counted if one.sections])
    known = kinds()
    return Combination(
        pool(items, known, {name: reference_of(name).family for name in known}, robust=robust),
        pool(spreads, (SPREADS,), {SPREADS: ""}, OF_SPREADS, robust=robust),
        files=sum(bool(one.sections) for one in counted),
        bands=len({one.band for one, _, _ in sections}),
        rejected=tuple(rejected),
    )


def admitted(files: Sequence[BandSummary]) -> tuple[list[BandSummary], list[Rejected]]:
    """Return the files that count, without the sections that do not, and what was rejected."""
    rejected: list[Rejected] = []
    newest: dict[tuple[str, str], BandSummary] = {}
    for one in sorted(files, key=lambda file: (file.band, file.season, -_readings(file))):
        if (one.model, one.reference) != (MODEL, REFERENCE):
            rejected.append(Rejected(RejectedReason.OTHER_MODEL, one.band, one.season))
        elif (one.band, one.season) in newest:
            rejected.append(Rejected(RejectedReason.OLDER_VERSION, one.band, one.season))
        else:
            newest[one.band, one.season] = one
    seen: set[tuple[object, ...]] = set()
    return [_admitted(one, seen, rejected) for one in newest.values()], rejected


def _admitted(
    file: BandSummary, seen: set[tuple[object, ...]], rejected: list[Rejected]
) -> BandSummary:
    """Return a file without the sections that do not count; without any, it says nothing."""
    known, kept = kinds(), {}
    for name, section in file.sections.items():
        numbers = (name, *section.likelihood.information.ravel(), *section.likelihood.pull)
        reason = None
        if name not in known:
            reason = RejectedReason.UNKNOWN_INSTRUMENT
        elif not _is_possible(section):
            reason = RejectedReason.IMPOSSIBLE
        elif numbers in seen:
            reason = RejectedReason.SAME_NUMBERS
        if reason is None:
            kept[name] = section
            seen.add(numbers)
        else:
            rejected.append(Rejected(reason, file.band, file.season, name))
    return BandSummary(file.band, file.season, kept, file.spreads, file.withheld)


def _is_possible(section: Section) -> bool:
    """Say whether so many readings can say so much: not more than sharp ones, and not less."""
    A = section.likelihood.information
    values = np.linalg.eigvalsh(A)
    enough = section.readings >= FEWEST_PLAYERS_OF[section.players]
    positive = values[0] > -0.01 * (1.0 + np.trace(A))
    return bool(
        enough and positive and np.diag(A).max() <= 2.0 * section.readings * SHARPEST_READING
    )


def _readings(file: BandSummary) -> int:
    return sum(one.readings for one in file.sections.values())


def _added(parts: Sequence[tuple[str, str, Likelihood]]) -> list[Item]:
    """Add the seasons of a band, and make positive what rounding broke."""
    sums: dict[tuple[str, str], Likelihood] = {}
    for band, kind, likelihood in parts:
        before = sums.get((band, kind), Likelihood.nothing())
        sums[band, kind] = before + likelihood
    return [Item(*key, proper(value, NOT_NEGATIVE)) for key, value in sums.items()]
