"""What was found: the fit in words, in numbers and in charts, and what it leaves over."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from drift.charts import (
    drift_against_playing_time,
    drift_against_temperature,
    left_out_rehearsals,
    residuals_figure,
)
from drift.charts.style import figure_of, new_axes
from drift.degrees import celsius_of_fahrenheit, fahrenheit_of_celsius
from drift.notes import shown
from drift.regression.estimates import Estimate
from drift.report.document import Block, Items, Picture, Section, Table, Words
from drift.report.material import Material
from drift.words import report_fit as words
from drift.words.comparison import refusals
from drift.words.fit import DIAGNOSTICS, covariates_found, warning_text
from drift.words.fit_quantities import WORDS, slopes_at
from drift.words.letters import capital
from drift.words.noticed import sentences
from drift.words.numbers import number

__all__ = ["charts", "checks", "in_numbers", "in_short", "residuals", "warnings"]

CHART_INCHES = 3.6
"""So high that two charts with their captions leave room on a page for what comes before."""

CURVE_CELSIUS = (10, 20, 30)
"""Where the text beside a chart gives the line (°C)."""


def in_short(material: Material) -> Section:
    """Say what was found in a few sentences."""
    said = [" ".join(_of_instrument(material, name)) for name in material.instruments]
    if given := material.fit.settings.covariates:
        said.append(words.COVARIATES.format(", ".join(given)))
    return Section(words.IN_SHORT, (Items((*said, words.TOGETHER)),))


def _of_instrument(material: Material, name: str) -> list[str]:
    fit, whose, (entries, new) = material.fit, _whose(material, name), _entries(material, name)
    found = words.of_instrument(name, whose, entries, new, material.fahrenheit)
    for there in _rooms(material):
        change, of_new = fit.change(name, celsius=there), None
        if new:
            change, of_new = fit.change(name, celsius=there, player=None), change
        found.append(words.room(change, there, of_new, material.fahrenheit))
    return found


def _entries(material: Material, name: str) -> tuple[dict[str, Estimate], dict[str, Estimate]]:
    """Return what is known of the only player, or of the mean of all and beside it of a new one."""
    kind = material.fit.kinds[name]
    if len(kind.players) > 1:
        return kind.population.entries(), kind.new_player.entries()
    return kind.curve.entries(), {}


def _whose(material: Material, name: str, several: str = words.ALL_PLAYERS) -> str:
    """Return of whom an answer about an instrument is; as asked, where it is known of several."""
    kind = material.fit.kinds[name]
    if kind.pooled_players > 1:
        return words.ONE_LINE
    if len(kind.players) > 1:
        return f"{several}{slopes_at(kind.population)}"
    who = next(who for who, what in material.players if what == name)
    return f"{who}{slopes_at(kind.curve)}"


def _rooms(material: Material) -> list[float]:
    """Return the coldest and the warmest room seen, in whole degrees, where they are not 20 °C."""
    seen = material.fit.celsius_range or (20.0, 20.0)
    rooms = [celsius for celsius in seen if abs(celsius - 20.0) >= 2.0]
    if material.fahrenheit:
        whole = np.round(fahrenheit_of_celsius(rooms))
        return [float(celsius) for celsius in dict.fromkeys(celsius_of_fahrenheit(whole))]
    return [float(celsius) for celsius in dict.fromkeys(map(round, rooms))]


def warnings(material: Material) -> Section | None:
    """Repeat what a reader of the numbers must know; None where there is nothing."""
    spoilt = sentences(material.spoilt, material.fit.notices, material.rehearsal, material.zone)
    warned = [warning_text(one, zone=material.zone) for one in material.fit.warnings]
    said = tuple(dict.fromkeys([*spoilt, *warned]))
    return Section(words.WARNINGS, (Items(said),)) if said else None


def in_numbers(material: Material) -> Section:
    """Give the fit in numbers with intervals, and what came from data and what from acoustics."""
    fit = material.fit
    blocks: list[Block] = _players(material)
    for name in material.instruments:
        (entries, new), whose = _entries(material, name), _whose(material, name)
        blocks.append(
            Table(
                words.instrument_caption(name, whose, fit.kinds[name].readings, fit.method),
                words.quantities_header(entries, new),
                tuple(words.entry(key, found, new.get(key)) for key, found in entries.items()),
            )
        )
    for whose, lines in covariates_found(fit).items():
        blocks += [Words(f"{capital(whose)}:"), Items(tuple(lines))]
    if fit.method == "bayesian":
        blocks.append(Words(words.FROM_DATA))
    return Section(words.IN_NUMBERS, tuple(blocks))


def checks(material: Material) -> Section:
    """Give what tells how far the numbers can be relied on, for those who want to check."""
    sensitive = _sensitivity(material) if material.fit.method == "bayesian" else []
    return Section(words.CHECKS, (*sensitive, _as_a_whole(material), _quality(material)))


def _players(material: Material) -> list[Block]:
    """Return what is known of each player, the mean of all and a new one; a table an instrument."""
    if material.fit.method != "bayesian":
        return []
    tables: list[Block] = []
    for name in material.instruments:
        kind = material.fit.kinds[name]
        of = [*kind.players.items(), (words.ALL_PLAYERS, kind.population)]
        if material.player is None:
            of.append((words.NEW_PLAYER, kind.new_player))
        rows = tuple(words.of_player(f"{who}{slopes_at(curve)}", curve) for who, curve in of)
        tables.append(Table(words.players_caption(name), words.players_header(), rows))
    return tables


def _sensitivity(material: Material) -> list[Block]:
    """Return how far answers move when the assumptions, or the readings, count double."""
    shifts = material.fit.sensitivity()
    if shifts.empty:
        return []
    rows = tuple(
        (
            words.shifted(str(row["instrument"]), str(row["quantity"])),
            number(float(row["prior"]), 2, sign=True),
            number(float(row["likelihood"]), 2, sign=True),
        )
        for row in shifts.to_dict("records")
        if row["quantity"] in WORDS and row["instrument"] in material.instruments
    )
    return [Table(words.SENSITIVITY, words.SENSITIVITY_HEADER, rows)]


def _as_a_whole(material: Material) -> Table:
    fit = material.fit
    low, high = fit.celsius_range or (float("nan"), float("nan"))
    return Table(
        words.AS_A_WHOLE,
        words.AS_A_WHOLE_HEADER,
        (
            (words.CELSIUS_SEEN, words.celsius_span(low, high)),
            *(
                (text, number(fit.sds[name].estimate))
                for name, text in words.DAYS.items()
                if name in fit.sds
            ),
            (words.READING_SD, number(fit.reading_sd_cents)),
        ),
    )


def _quality(material: Material) -> Table:
    """Return how well each instrument is fitted, with the usual diagnostics where there are any."""
    found = {name: _diagnostics(material, name) for name in material.instruments}
    names = [key for key in DIAGNOSTICS if any(key in each for each in found.values())]
    rows = []
    for name in material.instruments:
        kind = material.fit.kinds[name]
        rows.append(
            (
                shown(name),
                number(kind.r_squared, 2),
                number(kind.regressor_correlation, 2),
                *(words.diagnostic(found[name].get(key, float("nan"))) for key in names),
            )
        )
    caption = words.quality("pareto_k" in names, bayesian=material.fit.method == "bayesian")
    return Table(caption, words.quality_header(names), tuple(rows))


def _diagnostics(material: Material, name: str) -> dict[str, float]:
    """Return the diagnostics of one instrument that are numbers."""
    given = material.fit.diagnostics.get(name, material.fit.diagnostics)
    return {key: float(value) for key, value in given.items() if isinstance(value, int | float)}


def charts(material: Material) -> Section:
    """Show drift against temperature and against playing time for each instrument."""
    blocks: list[Block] = []
    for name in material.instruments:
        line = material.fit.predict([float(at) for at in CURVE_CELSIUS], 30.0, name)["cents"]
        there = dict(zip(CURVE_CELSIUS, line, strict=True))
        blocks.append(
            Picture(
                figure_of(drift_against_temperature(material.fit, _low_axes(), instrument=name)),
                words.against_temperature(_whose(material, name, words.NEW_PLAYER)),
                words.against_temperature_alternative(name, there),
            )
        )
        blocks.append(
            Picture(
                figure_of(drift_against_playing_time(material.fit, _low_axes(), instrument=name)),
                words.AGAINST_TIME,
                words.against_time_alternative(name),
            )
        )
    return Section(words.CHARTS, tuple(blocks))


def _low_axes() -> Axes:
    return new_axes(height=CHART_INCHES)


def residuals(material: Material) -> Section:
    """Show the residuals, and how methods do on rehearsals they have not seen."""
    spread = float(material.fit.rows["residual"].std())
    blocks: list[Block] = [
        Words(words.NO_PATTERN),
        Picture(
            residuals_figure(material.fit),
            words.RESIDUAL_CHARTS,
            words.residuals_alternative(spread),
        ),
    ]
    compared = material.comparison
    if compared is not None:
        rms = compared.to_frame().set_index("method")["rms_cents"].dropna()
        blocks.append(
            Picture(
                figure_of(left_out_rehearsals(compared.errors)),
                words.COMPARED,
                words.errors_alternative({str(name): float(of) for name, of in rms.items()}),
            )
        )
        blocks += map(Words, refusals(compared))
    return Section(words.RESIDUALS, tuple(blocks))
