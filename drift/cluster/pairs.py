"""The rehearsals of a part: checked and paired by a worker, and what all parts must agree on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from drift.cluster.dataset import Dataset, Part, table_of
from drift.errors import DriftError
from drift.instruments import Catalogue
from drift.logbook.records import RECORDS
from drift.logbook.rehearsals import Rehearsals
from drift.pairing import pair
from drift.pairing.paired import LeftOut, Reason
from drift.pairing.scatter import Even, Unevenness, evened, unevenness_in
from drift.pairing.thermometers import differences, samples_in
from drift.regression.fits import complete_rows
from drift.regression.grouping import numbered
from drift.regression.layout import doubled_in, warming_in
from drift.tables.checking import Conventions
from drift.tables.columns import Place, Texts
from drift.tables.loading import load_tables
from drift.tables.problems import Problem, Problems, TablesRefused
from drift.tables.rules import ROW_RULES, Checked

__all__ = [
    "Asked",
    "Piece",
    "Summary",
    "Survey",
    "calibrations_of",
    "checked_together",
    "compared",
    "left_out_together",
    "paired_part",
    "summary_of",
    "surveyed",
]

NAMES = ("instrument", "player", "rehearsal", "side", "note")
LINE = ("reference_cents", "celsius", "playing_minutes")
PAST = ("spells", "minutes_into_spell", "initial_warmth", "course", "cents_sd", "pair_probability")
SHOWN = ("cents",)
"""What is told of readings that look like outliers."""


@dataclass(frozen=True)
class Asked:
    """What is asked of every part.

    Parameters
    ----------
    dataset : Dataset
    chosen : tuple of str
        The thermometers, one choice for all parts.
    even : mapping of str to Even
        Those that scatter, and about what course.
    flagged : bool
        Whether flagged readings stay in.
    past : bool
        Whether the method asks how warm the instruments were.
    slides : DataFrame
        The slide events of all parts: positions carry over from one rehearsal to the next.
    calibrations : DataFrame
    catalogue : Catalogue, optional
    """

    dataset: Dataset
    chosen: tuple[str, ...] = ()
    even: Mapping[str, Even] = field(default_factory=dict)
    flagged: bool = True
    past: bool = True
    slides: pd.DataFrame = field(default_factory=pd.DataFrame)
    calibrations: pd.DataFrame = field(default_factory=pd.DataFrame)
    catalogue: Catalogue | None = None


@dataclass(frozen=True)
class Survey:
    """What other parts need to know of one: samples of each thermometer, and moves of slides.

    Parameters
    ----------
    samples : DataFrame
        From `drift.pairing.thermometers.samples_in`.
    slides : DataFrame
    unevenness : mapping
        From `drift.pairing.scatter.unevenness_in`.
    """

    samples: pd.DataFrame
    slides: pd.DataFrame
    unevenness: Mapping[tuple[str, str], Unevenness]


@dataclass(frozen=True)
class Summary:
    """What all parts together must be asked of one: its size does not grow with the readings.

    Parameters
    ----------
    problems : tuple of Problem
        What cannot be taken; nothing else is known then.
    left_out : tuple of LeftOut
        Readings that are not used, and why.
    thermometers : tuple of str
        Those that the temperatures are from.
    days : DataFrame
        ``instrument, player, rehearsal, readings``, in order of their first reading.
    notes : tuple of (side, note)
    hours : mapping of str to float
        The longest playing time by instrument [h].
    carried : bool
        Whether the course of the temperature matters to any reading.
    doubled : int
        Readings that equal an earlier one in everything.
    warming : int
        Readings made while an instrument was warming up.
    celsius : tuple of float
        Lowest and highest temperature [°C].
    spans : DataFrame
        ``player, rehearsal, first, last``: when each was read, in microseconds since 1970.
    """

    problems: tuple[Problem, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    thermometers: tuple[str, ...] = ()
    days: pd.DataFrame = field(default_factory=pd.DataFrame)
    notes: tuple[tuple[str, str], ...] = ()
    hours: Mapping[str, float] = field(default_factory=dict)
    carried: bool = False
    doubled: int = 0
    warming: int = 0
    celsius: tuple[float, float] = (np.inf, -np.inf)
    spans: pd.DataFrame = field(default_factory=pd.DataFrame)


@dataclass(frozen=True)
class Piece:
    """The rows of a part that a fit can use, and its summary."""

    rows: pd.DataFrame
    summary: Summary


def calibrations_of(dataset: Dataset, catalogue: Catalogue | None) -> pd.DataFrame:
    """Return the measured slides, which belong to no rehearsal.

    Raises
    ------
    TablesRefused
        If they cannot be taken.
    """
    tables = {}
    if "calibrations" in dataset.tables:
        tables["calibrations"] = table_of(dataset, "calibrations", None)
    return load_tables(tables, Conventions(catalogue)).frames["calibrations"]


def surveyed(dataset: Dataset, part: Part, catalogue: Catalogue | None) -> Survey:
    """Return what other parts need to know of one; nothing where its tables are refused later."""
    frames = _frames(dataset, part, catalogue)
    temperatures, events = frames["temperatures"], frames["events"]
    readings = pd.Series(dict(part.readings), dtype="int64")
    moves = events[events["slide"] != ""]
    return Survey(samples_in(temperatures, readings), moves, unevenness_in(temperatures))


def compared(
    dataset: Dataset, part: Part, catalogue: Catalogue | None, first: str
) -> dict[str, npt.NDArray[np.float64]]:
    """Return how far a thermometer lies above each other one where both were there [°C]."""
    temperatures = _frames(dataset, part, catalogue)["temperatures"]
    others = temperatures["source"].unique()
    found = {name: differences(temperatures, first, name) for name in others if name != first}
    return {str(name): values for name, values in found.items() if len(values)}


def _frames(
    dataset: Dataset, part: Part, catalogue: Catalogue | None
) -> Mapping[str, pd.DataFrame]:
    """Return the small tables of a part; empty ones where they will be refused."""
    tables: dict[str, pd.DataFrame] = {
        name: table_of(dataset, name, part.rehearsals)
        for name in ("temperatures", "events")
        if name in dataset.tables
    }
    try:
        return load_tables(tables, Conventions(catalogue)).frames
    except TablesRefused:
        return load_tables({}, Conventions(catalogue)).frames


def paired_part(part: Part, asked: Asked) -> Piece:
    """Return the complete rows of a part, paired, and its summary."""
    dataset = asked.dataset
    tables = {
        name: table_of(dataset, name, part.rehearsals)
        for name in dataset.tables
        if name != "calibrations"
    }
    if dataset.paired:
        try:
            found = complete_rows(tables["readings"], asked.catalogue)
        except DriftError as refusal:
            place = _place(dataset, part, "readings")
            problem = Problem(place, "", "", refusal.problem, refusal.remedy)
            return Piece(pd.DataFrame(), Summary(problems=(problem,)))
        return _piece(*found, Summary(), part, asked)
    try:
        loaded = load_tables(tables, Conventions(asked.catalogue))
    except TablesRefused as refusal:
        problems = tuple(_at_home(problem, dataset, part) for problem in refusal.problems)
        return Piece(pd.DataFrame(), Summary(problems=problems))
    frames: dict[str, Any] = {name: loaded.frames[name] for name in RECORDS}
    readings = frames["readings"]
    spans = _spans(readings)
    if not len(readings):
        return Piece(pd.DataFrame(), Summary(spans=spans))
    others = asked.slides[~asked.slides["rehearsal"].isin(frames["events"]["rehearsal"])]
    frames["events"] = pd.concat([others, frames["events"]], ignore_index=True)
    frames["calibrations"] = asked.calibrations
    here = set(frames["temperatures"]["source"])
    frames["temperatures"] = evened(frames["temperatures"], asked.even)
    paired = pair(
        Rehearsals(**frames),
        thermometer=[name for name in asked.chosen if name in here],
        flagged=asked.flagged,
        as_read=True,
        catalogue=asked.catalogue,
    )
    rows, left_out = complete_rows(paired, asked.catalogue)
    summary = Summary(thermometers=paired.thermometers, spans=spans)
    return _piece(rows, left_out, summary, part, asked)


def summary_of(piece: Piece) -> Summary:
    """Return the summary of a piece."""
    return piece.summary


def checked_together(summaries: Sequence[Summary], dataset: Dataset) -> None:
    """Refuse what a part, or all parts together, cannot be taken for.

    Raises
    ------
    TablesRefused
        With all that is wrong in any part, or with the players who are in two rehearsals at once.
    """
    problems = Problems()
    for one in summaries:
        for problem in one.problems:
            problems.add_one(problem)
    problems.check()
    spans = pd.concat([one.spans for one in summaries], ignore_index=True)
    if not len(spans):
        return
    ends = pd.concat(
        [spans[["player", "rehearsal"]].assign(time=spans[end]) for end in ("first", "last")]
    )
    texts = {}
    for name in ("player", "rehearsal"):
        codes, known = pd.factorize(ends[name])
        texts[name] = Texts(codes, [str(text) for text in known])
    usable = np.ones(len(ends), dtype=bool)
    table = Checked("readings", texts | {"time": ends["time"].to_numpy()}, usable, False, None)
    place = Place(str(dataset.tables["readings"]))
    rule = next(rule for rule in ROW_RULES if rule.code == "one place")
    for rows, say in rule.broken(table):
        for row in rows:
            problems.add_one(Problem(place, "", *say(int(row))))
    problems.check()


def left_out_together(summaries: Sequence[Summary]) -> tuple[LeftOut, ...]:
    """Return how many readings all parts left out, by reason."""
    counts: dict[Reason, Counter[str]] = {reason: Counter() for reason in Reason}
    columns: dict[Reason, dict[str, None]] = {reason: {} for reason in Reason}
    for one in summaries:
        for item in one.left_out:
            counts[item.reason].update(item.by_player)
            columns[item.reason] |= dict.fromkeys(item.columns)
    return tuple(
        LeftOut(why, whose.total(), (*columns[why],), by_player=dict(whose))
        for why, whose in counts.items()
        if whose
    )


def _piece(
    rows: pd.DataFrame,
    left_out: tuple[LeftOut, ...],
    summary: Summary,
    part: Part,
    asked: Asked,
) -> Piece:
    summary = replace(summary, left_out=left_out)
    if not len(rows):
        return Piece(pd.DataFrame(), summary)
    codes, keys = numbered(rows, ["instrument", "player", "rehearsal"])
    days = keys.to_frame(index=False).assign(readings=np.bincount(codes))
    notes = numbered(rows, ["side", "note"])[1]
    hours = (rows.groupby("instrument")["playing_minutes"].max() / 60.0).to_dict()
    celsius = rows["celsius"]
    carried = asked.past and "course" in rows and any(len(one) for one in rows["course"])
    summary = replace(
        summary,
        days=days,
        notes=tuple((str(side), str(note)) for side, note in notes),
        hours={str(name): float(most) for name, most in hours.items()},
        carried=carried,
        doubled=doubled_in(rows),
        warming=warming_in(rows),
        celsius=(float(celsius.min()), float(celsius.max())),
    )
    kept = [*LINE, *((*PAST, *SHOWN) if asked.past else ()), "time"]
    slim: dict[str, Any] = {
        name: pd.Categorical.from_codes(*numbered(rows, [name])) for name in NAMES
    }
    slim |= {name: rows[name].array for name in kept if name in rows}
    slim["at"] = np.arange(len(rows)) + (part.number << 32)
    return Piece(pd.DataFrame(slim), summary)


def _spans(readings: pd.DataFrame) -> pd.DataFrame:
    times = readings["time"].dt.tz_localize(None).to_numpy(dtype="datetime64[us]").astype(np.int64)
    codes, keys = numbered(readings, ["player", "rehearsal"])
    found = pd.Series(times).groupby(codes).agg(["min", "max"])
    table = keys.to_frame(index=False).astype(str)
    return table.assign(first=found["min"].to_numpy(), last=found["max"].to_numpy())


def _at_home(problem: Problem, dataset: Dataset, part: Part) -> Problem:
    """Return a problem with the file it is in; rows are counted within the part's rehearsals."""
    place = _place(dataset, part, problem.place.source)
    return problem._replace(place=place._replace(word="row", number=problem.place.number))


def _place(dataset: Dataset, part: Part, table: str) -> Place:
    first, last = part.rehearsals[0], part.rehearsals[-1]
    which = repr(first) if first == last else f"{first!r} to {last!r}"
    return Place(f"{dataset.tables[table]} (of {which})")
