"""From a data set to a fit, on an engine: survey, pair by rehearsal, deal by player, fit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drift.cluster.bayesian import Elsewhere
from drift.cluster.dataset import READINGS_A_PART, Dataset, Part, dataset_of, parts_of
from drift.cluster.dealing import READINGS_A_HAND, Numbering, dealt, hand_of, numbering_of
from drift.cluster.engines import Engine, engine_of
from drift.cluster.gathered import Gathered, no_rows
from drift.cluster.least_squares import Seen, lines_of, seen_in
from drift.cluster.pairs import (
    Asked,
    Summary,
    calibrations_of,
    checked_together,
    compared,
    left_out_together,
    paired_part,
    summary_of,
    surveyed,
)
from drift.errors import InputError
from drift.instruments import Catalogue
from drift.logbook.records import TYPED
from drift.logbook.rehearsals import nothing_logged
from drift.pairing.paired import nothing_left
from drift.pairing.scatter import even_of
from drift.pairing.thermometers import Chosen, chosen_among
from drift.regression.bayesian import posterior
from drift.regression.classical import sds_of
from drift.regression.estimates import Settings
from drift.regression.fits import what_is_told
from drift.regression.layout import Layout
from drift.regression.priors import Priors
from drift.regression.warned import with_warnings

__all__ = ["fit_on_engine"]

METHODS = ("bayesian", "least-squares")


def fit_on_engine(
    source: Any,
    method: str,
    settings: Settings,
    engine: Any,
    *,
    scheduler: Any = None,
    thermometer: Chosen = None,
    flagged: bool = True,
    catalogue: Catalogue | None = None,
    progress: Callable[[int, int], None] | None = None,
    sizes: tuple[int, int] = (READINGS_A_PART, READINGS_A_HAND),
) -> Gathered:
    """Fit a data set of Parquet files on an engine; the answer is that of one machine.

    Parameters
    ----------
    source : Path or str
        The data set, see `drift.cluster.dataset.dataset_of`.
    method : str
        ``bayesian`` or ``least-squares``.
    settings : Settings
        With the start and the priors.
    engine, scheduler
        See `drift.cluster.engines.engine_of`.
    thermometer, flagged
        As in `drift.pair`.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.
    progress : callable, optional
        Called with the number of parts that are paired and of all.
    sizes : tuple of int
        About how many readings are paired, and how many are held, at a time.

    Raises
    ------
    InputError
        If it cannot be read or paired, or the method or an option is not for an engine.
    TooLittleData
        If the readings cannot answer; says what is missing.
    """
    if not isinstance(source, str | Path):
        raise InputError(
            f"an engine reads a data set, not a {type(source).__name__}",
            "give the path of a folder of Parquet tables, or leave the engine out",
        )
    if method not in METHODS:
        raise InputError(f"{method} is not fitted on an engine", f"choose {' or '.join(METHODS)}")
    if settings.covariates or settings.formula is not None:
        raise InputError(
            "covariates and formulas are not fitted on an engine",
            "leave them out, or fit without an engine",
        )
    dataset = dataset_of(source)
    with engine_of(engine, scheduler) as opened:
        parts = parts_of(dataset, sizes[0])
        past = method == "bayesian"
        asked = _asked(opened, dataset, parts, thermometer, flagged, past, catalogue)
        pieces, summaries = _paired(opened, parts, asked, progress)
        checked_together(summaries, dataset)
        left_out = left_out_together(summaries)
        if not any(len(one.days) for one in summaries):
            raise nothing_left(left_out)
        numbering = numbering_of(summaries, sizes[1])
        hands = _hands(opened, pieces, numbering, past)
        del pieces
        seen = _seen(opened, hands, numbering)
        fitted = _bayesian if past else _least_squares
        fields = fitted(opened, hands, seen, numbering, catalogue, settings)
        celsius = [one.celsius for one in summaries]
        found = Gathered(
            rows=no_rows(),
            left_out=left_out,
            celsius_range=(min(low for low, _ in celsius), max(high for _, high in celsius)),
            thermometers=tuple(
                name for name in asked.chosen if any(name in one.thermometers for one in summaries)
            ),
            scatter={name: one.celsius for name, one in asked.even.items()},
            counted=(len(numbering.player_names), len(numbering.names.rehearsals)),
            **fields,
        )
        warned = with_warnings(found, _layout(seen, numbering, summaries))
        return replace(found, warnings=warned.warnings)


def _asked(
    engine: Engine,
    dataset: Dataset,
    parts: Sequence[Part],
    thermometer: Chosen,
    flagged: bool,
    past: bool,
    catalogue: Catalogue | None,
) -> Asked:
    """Return what is asked of all parts: one thermometer, and where the slides were before."""
    if dataset.paired:
        return Asked(dataset, past=past, catalogue=catalogue)
    surveys = engine.gather([engine.submit(surveyed, dataset, one, catalogue) for one in parts])
    samples = pd.concat([one.samples for one in surveys], ignore_index=True)
    difference = partial(_difference, engine, dataset, parts, catalogue, {})
    slides = pd.concat([nothing_logged().events, *(one.slides for one in surveys)])
    chosen = chosen_among(samples, difference, thermometer)
    uneven = {of: one for survey in surveys for of, one in survey.unevenness.items()}
    return Asked(
        dataset,
        chosen,
        even_of({of: one for of, one in uneven.items() if of[0] in (*chosen, TYPED)}),
        flagged,
        past,
        slides.reset_index(drop=True),
        calibrations_of(dataset, catalogue),
        catalogue,
    )


def _difference(
    engine: Engine,
    dataset: Dataset,
    parts: Sequence[Part],
    catalogue: Catalogue | None,
    known: dict[str, list[Any]],
    first: str,
    other: str,
) -> float:
    """Return how far a thermometer lies above another [°C]; all others are compared at once."""
    if not known:
        known[first] = []
        given = (catalogue, first)
        handles = [engine.submit(compared, dataset, part, *given) for part in parts]
        for found in engine.gather(handles):
            for name, values in found.items():
                known.setdefault(name, []).append(values)
    together = np.concatenate([*known.get(other, ()), np.empty(0)])
    return float(np.median(together)) if len(together) else float("nan")


def _paired(
    engine: Engine,
    parts: Sequence[Part],
    asked: Asked,
    progress: Callable[[int, int], None] | None,
) -> tuple[list[Any], list[Summary]]:
    """Return handles of the pieces, and their summaries."""
    shared = engine.submit(_same, asked)
    pieces = [engine.submit(paired_part, part, shared) for part in parts]
    handles = [engine.submit(summary_of, piece) for piece in pieces]
    summaries = []
    for done, handle in enumerate(handles, 1):
        summaries += engine.gather([handle])
        if progress:
            progress(done, len(handles))
    return pieces, summaries


def _hands(engine: Engine, pieces: Sequence[Any], numbering: Numbering, past: bool) -> list[Any]:
    """Return handles of the hands."""
    shared = engine.submit(_same, numbering)
    # Piece by piece, so that each can be forgotten before the next is dealt.
    dealing = [
        [engine.submit(dealt, piece, shared, hand) for hand in range(numbering.hands)]
        for piece in pieces
    ]
    hands = zip(*dealing, strict=True)
    return [engine.submit(hand_of, list(rows), shared, past) for rows in hands]


def _same(value: Any) -> Any:
    """Return a value: a piece of work that a lost worker's value is made again by."""
    return value


def _seen(engine: Engine, hands: Sequence[Any], numbering: Numbering) -> dict[int, Seen]:
    """Return what the readings of each kind are like."""
    count = len(numbering.names.rehearsals)
    whole: dict[int, Seen] = {}
    for part in engine.gather([engine.submit(seen_in, hand, count) for hand in hands]):
        for kind, one in part.items():
            whole[kind] = whole[kind] + one if kind in whole else one
    return whole


def _layout(seen: dict[int, Seen], numbering: Numbering, summaries: Sequence[Summary]) -> Layout:
    kinds = numbering.names.kinds
    return Layout(
        {name: seen[kinds.index(name)].lie for name in numbering.in_order},
        sum(one.alone for one in seen.values()),
        len(numbering.day_keys),
        sum(one.doubled for one in summaries),
        sum(one.warming for one in summaries),
    )


def _least_squares(
    engine: Engine,
    hands: Sequence[Any],
    seen: dict[int, Seen],
    numbering: Numbering,
    catalogue: Catalogue | None,
    settings: Settings,
) -> dict[str, Any]:
    """Return the fields of a fit by least squares."""
    settled = lines_of(engine, hands, seen, numbering)
    names = numbering.names.kinds
    figures = {names[kind]: one for kind, one in settled.figures.items()}
    return {
        "method": "least-squares",
        "kinds": {names[kind]: one for kind, one in settled.kinds.items()},
        "sds": sds_of(settled.lines),
        "warnings": settled.warnings,
        "settings": Settings(settings.start),
        "diagnostics": next(iter(figures.values())) if len(figures) == 1 else figures,
    }


def _bayesian(
    engine: Engine,
    hands: Sequence[Any],
    seen: dict[int, Seen],
    numbering: Numbering,
    catalogue: Catalogue | None,
    settings: Settings,
) -> dict[str, Any]:
    """Return the fields of a fit by the Bayesian method."""
    priors = settings.priors or Priors()
    known = tuple(priors.of(name, catalogue) for name in numbering.names.kinds)
    elsewhere = Elsewhere(engine, hands, numbering)
    found = elsewhere.found(posterior(elsewhere, priors, known, settings.start == "estimated"))
    told = what_is_told(found, elsewhere.shares(), numbering.in_order, catalogue, settings)
    return told | {"listed": elsewhere.outliers()}
