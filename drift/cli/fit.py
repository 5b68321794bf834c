"""Fit the drift of pitch to temperature and playing time.

for example:
  drift fit datasets/cold-hall-season
  drift fit band.logbook --advise 33
  drift fit tuner-tables --wide --zone Europe/Berlin
  drift fit bands.parquet --engine dask

Good to know:
  The default method starts from acoustics and relies more on your readings as they accumulate.
  least-squares and mixed use the readings alone.
  --engine dask reads a folder of Parquet tables with several processes, or machines, so that it
  need not fit into memory; the answer is the same.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drift.cli.named_player import ANYBODY, settle_player_of
from drift.cli.options import (
    SHOWN_AND_READ,
    add_covariates,
    add_instruments,
    add_json,
    add_priors,
    add_source,
    add_start,
    add_tables,
    add_without,
    catalogue_of,
    print_json,
)
from drift.cli.progress import shown_progress
from drift.cli.read_source import read_source
from drift.cli.table_check import mention

if TYPE_CHECKING:
    from drift.regression.advice import Advice
    from drift.regression.results import Fit
    from drift.study import Study

__all__ = ["add_arguments", "run"]

WARM_SLOPE = "warm slope"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``drift fit``."""
    add_source(parser, acoustics=True)
    fitted = parser.add_argument_group("what is fitted")
    fitted.add_argument(
        "--method",
        choices=["bayesian", "anchored", "least-squares", "mixed"],
        metavar="{bayesian,least-squares,mixed}",
        default="bayesian",
        help="the regression (default: bayesian)",
    )
    fitted.add_argument(
        "--without-flagged",
        action="store_true",
        help="leave out flagged readings",
    )
    add_without(fitted)
    fitted.add_argument("--thermometer", metavar="NAME", help="the thermometer to use")
    add_start(fitted)
    add_covariates(fitted)
    fitted.add_argument(
        "--formula",
        metavar="F",
        help='for least-squares and mixed: "cents ~ drift + humidity + C(mute)"',
    )
    fitted.add_argument(
        "--apart",
        action="store_true",
        help="let readings after a slide that seems to have moved, or on what seems another "
        "instrument, count as other notes",
    )
    add_priors(fitted)
    add_instruments(fitted)
    answer = parser.add_argument_group("the answer")
    answer.add_argument(
        "--player", metavar="P", help="answer for this player, from everybody's readings"
    )
    answer.add_argument(
        "--compare",
        action="store_true",
        help="predict each rehearsal from the others: errors of each method and time term (takes "
        "longer)",
    )
    answer.add_argument(
        "--advise",
        metavar="T",
        nargs="?",
        const=WARM_SLOPE,
        help="suggest what to measure next: for the warm slope, or for the drift at T",
    )
    answer.add_argument(
        "--plot", metavar="FILE", type=Path, help="draw drift against temperature (.svg or .png)"
    )
    answer.add_argument(
        "--plot-priors",
        metavar="FILE",
        type=Path,
        help="draw what is expected before any reading, and the readings over it",
    )
    add_json(answer)
    add_tables(parser.add_argument_group("tables as they are"), SHOWN_AND_READ)
    many = parser.add_argument_group("millions of readings")
    many.add_argument(
        "--engine", choices=["dask"], help="fit a folder of Parquet tables with several processes"
    )
    many.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="the cluster to use, such as tcp://192.168.1.20:8786 (default: this computer)",
    )


def run(options: argparse.Namespace) -> int:
    """Fit, and print the answer."""
    from drift.study import Study
    from drift.tables.checking import conventions
    from drift.words.noticed import beside
    from drift.words.notices import to_look_at

    _refuse(options)
    if options.engine:
        return _elsewhere(options)
    catalogue = catalogue_of(options)
    study = Study.open(
        read_source(options, catalogue, zone=options.zone),
        catalogue=catalogue,
        thermometer=options.thermometer,
        flagged=not options.without_flagged,
        without=options.without_rehearsal,
        method=options.method,
        start=options.start,
        covariates=tuple(options.covariate),
        formula=options.formula,
        beside=options.beside,
        priors=options.priors,
        progress=shown_progress(f"{options.source}: fitting", "steps"),
    )
    mention(study.rehearsals.understood)
    settle_player_of(options, study.rehearsals, ANYBODY)
    found = _found(options, study)
    answer = _as_asked(found, options, study.paired.thermometers)
    looked = study.fit if options.apart else found
    zone = conventions(zone=options.zone).zone or study.rehearsals.zone
    texts = found.summary(zone).splitlines()  # it holds what was noticed in these readings
    told = map(to_look_at, beside(study, looked, zone=zone))
    texts += [line for line in told if line not in texts]
    if options.compare:
        methods, shapes = study.comparison, study.shapes
        answer["comparison"] = methods.to_frame().to_dict("records")
        answer["shapes"] = shapes.to_frame().to_dict("records")
        texts += [methods.summary(), "shapes of the time term: " + shapes.summary()]
    if options.advise is not None:
        advice = _advice(options, study)
        answer["advice"] = {
            "text": advice.summary(),
            "options": advice.to_frame().to_dict("records"),
        }
        texts.append(advice.summary())
    if options.plot is not None:
        from drift.charts.fitted import drift_figure
        from drift.charts.style import save

        save(drift_figure(found), options.plot)
        texts.append(f"drawn: {options.plot}")
    if options.plot_priors is not None:
        texts.append(_drawn_priors(options, study, found))
    if options.json:
        print_json(answer)
    else:
        print("\n".join(texts))
    return 0


def _found(options: argparse.Namespace, study: Study) -> Fit:
    """Return the fit that is asked for: of all or one player, what was noticed apart or not."""
    if not options.apart:
        return study.fit if options.player is None else study.only(options.player).fit
    from drift.errors import InputError
    from drift.regression.notices.apart import fitted_apart

    if study.fit.method != "bayesian":
        raise InputError(
            f"the method {study.fit.method} notices nothing that could be fitted apart",
            "use the method bayesian with readings, or leave out --apart",
        )
    found = fitted_apart(study.fit, catalogue_of(options))
    if options.player is None:
        return found
    said = (one for one in found.warnings if one.kind == "fitted_apart")
    alone = found.only(options.player)
    return replace(alone, warnings=(*said, *alone.warnings))


def _drawn_priors(options: argparse.Namespace, study: Study, found: Fit) -> str:
    """Draw what was expected of each instrument before any reading, and return that it is drawn."""
    from drift.charts.expected import expected_figure
    from drift.charts.style import save
    from drift.errors import InputError

    if found.method != "bayesian":
        raise InputError(
            f"the method {found.method} expects nothing of readings before there are any",
            "use the method bayesian with readings, or leave out --plot-priors",
        )
    save(expected_figure(study.acoustics, found), options.plot_priors)
    return f"drawn: {options.plot_priors}"


#: What looks at single readings, or reads other sources than an engine does.
_AT_HOME = (
    "player",
    "beside",
    "covariate",
    "formula",
    "compare",
    "advise",
    "apart",
    "plot",
    "plot_priors",
    "without_rehearsal",
    "zone",
    "dates",
    "wide",
)


def _refuse(options: argparse.Namespace) -> None:
    """Refuse options that do not go with an engine, or only with one."""
    from drift.errors import InputError

    if options.scheduler and not options.engine:
        raise InputError("--scheduler has no use without --engine", "add --engine dask")
    used = [name for name in _AT_HOME if getattr(options, name) not in (None, False, [])]
    given = [f"--{name.replace('_', '-')}" for name in used]
    if options.engine and given:
        raise InputError(
            f"{', '.join(given)} cannot be combined with --engine",
            "leave it out, or fit without --engine",
        )


def _elsewhere(options: argparse.Namespace) -> int:
    """Fit a data set on an engine, and print the answer."""
    from drift.cluster.fitting import fit_on_engine
    from drift.regression.estimates import Settings
    from drift.regression.fits import method_named
    from drift.regression.priors import Priors
    from drift.words.noticed import scattering, several_thermometers
    from drift.words.notices import to_look_at

    priors = None if options.priors is None else Priors.read(options.priors)
    found = fit_on_engine(
        options.source,
        method_named(options.method),
        Settings(options.start, priors=priors),
        options.engine,
        catalogue=catalogue_of(options),
        scheduler=options.scheduler,
        thermometer=options.thermometer,
        flagged=not options.without_flagged,
        progress=shown_progress(f"{options.source}: pairing", "parts"),
    )
    if options.json:
        print_json(_as_asked(found, options, found.thermometers))
    else:
        told = several_thermometers(found.thermometers) + scattering(found.scatter)
        print("\n".join([found.summary(), *map(to_look_at, told)]))
    return 0


def _as_asked(
    found: Fit, options: argparse.Namespace, thermometers: tuple[str, ...]
) -> dict[str, Any]:
    """Return the answer in JSON, with what was asked for beside the settings of the regression."""
    answer = found.to_json()
    asked = ("player", "thermometer", "without_flagged", "without_rehearsal")
    beside = ", ".join(map(str, options.beside)) or None
    given = {name: getattr(options, name) for name in asked}
    answer["settings"] |= {"source": str(options.source), "beside": beside, **given}
    answer["settings"]["thermometers_used"] = list(thermometers)
    return answer


def _advice(options: argparse.Namespace, study: Study) -> Advice:
    """Return what to measure next, for the warm slope or for a temperature."""
    from drift.degrees import parse_degrees

    return study.advice(None if options.advise == WARM_SLOPE else parse_degrees(options.advise))
