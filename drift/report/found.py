"""What was found: the fit in words, in numbers and in charts, and what it leaves over."""

from __future__ import annotations

from collections.abc import Mapping

from drift.charts import (
    drift_against_playing_time,
    drift_against_temperature,
    left_out_rehearsals,
    residuals_figure,
)
from drift.charts.style import figure_of
from drift.notes import shown
from drift.regression.results import Estimate
from drift.regression.warmup import TIMES_TO_95_PERCENT
from drift.report.document import Block, Items, Picture, Section, Table, Words
from drift.report.material import Material, interval, named, number, plural
from drift.words.fit import DIAGNOSTICS, DIGITS, WORDS, warning_text
from drift.words.noticed import sentences

__all__ = ["charts", "in_numbers", "in_short", "residuals", "warnings"]


def in_short(material: Material) -> Section:
    """Say what was found in a few sentences."""
    said = [" ".join(_kind_in_words(material, name)) for name in material.instruments]
    said.append(
        "The answer describes instrument and player together, as they played here: a player who "
        "pulls notes in by ear or watches a tuner makes the drift look smaller than the "
        "instrument's own."
    )
    return Section("In short", (Items(tuple(said)),))


def _kind_in_words(material: Material, name: str) -> list[str]:
    entries = material.fit.kinds[name].curve.entries()
    slope = entries.get("warm_cents_per_celsius") or entries.get("cents_per_celsius")
    said = [f"{named(name)}:"]
    if slope is not None:
        once_warm = "once it is warm, " if "warm_cents_per_celsius" in entries else ""
        said.append(
            f"{once_warm}its pitch rises {number(slope.estimate, 2)} cents for each degree "
            f"Celsius of the room (95 % interval {interval(slope, 2)})."
        )
    if (minute := entries.get("cents_per_playing_minute")) is not None:
        said.append(
            f"Each minute of playing adds {number(minute.estimate, 3)} cents "
            f"({interval(minute, 3)})."
        )
    rise, minutes = entries.get("warm_up_cents"), entries.get("warm_up_time_constant_minutes")
    if rise is not None and minutes is not None:
        warm = number(TIMES_TO_95_PERCENT * minutes.estimate, 0)
        said.append(
            f"From cold to warm it rises {number(rise.estimate)} cents at 20 °C "
            f"({interval(rise)}); after {warm} minutes of playing it is 95 % warm."
        )
    return said + [_room_in_words(material, name, celsius) for celsius in _rooms(material)]


def _rooms(material: Material) -> list[float]:
    """Return the coldest and the warmest room seen, in whole degrees, where they are not 20."""
    seen = material.fit.celsius_range or (20.0, 20.0)
    rooms = [float(round(celsius)) for celsius in seen if abs(celsius - 20.0) >= 2.0]
    return list(dict.fromkeys(rooms))


def _room_in_words(material: Material, name: str, celsius: float) -> str:
    change = material.fit.change(name, celsius=celsius)
    way = "sharp" if change.estimate > 0 else "flat"
    return (
        f"Tuned warm at 20 °C and played warm at {celsius:g} °C, it is "
        f"{number(abs(change.estimate), 0)} cents {way} "
        f"({interval(change, 0, sign=True)})."
    )


def warnings(material: Material) -> Section | None:
    """Repeat what a reader of the numbers must know; None where there is nothing."""
    spoilt = sentences(material.spoilt, material.fit.notices, material.rehearsal, material.zone)
    warned = map(warning_text, material.fit.warnings)
    said = tuple(dict.fromkeys([*spoilt, *warned]))
    return Section("Warnings", (Items(said),)) if said else None


def in_numbers(material: Material) -> Section:
    """Give the fit in numbers with intervals, and what came from data and what from acoustics."""
    fit = material.fit
    blocks: list[Block] = _players(material)
    for name in material.instruments:
        entries = fit.kinds[name].curve.entries()
        used = plural(fit.kinds[name].readings, "reading")
        blocks.append(
            Table(
                f"{named(name)}: {used}, method {fit.method}",
                _header(entries),
                tuple(_entry(key, entry) for key, entry in entries.items()),
            )
        )
    if fit.method == "bayesian":
        blocks.append(
            Words(
                "“From data” is how much of an answer came from the readings: at 0 % it rests "
                "wholly on acoustics, towards 100 % wholly on what was read here. It is one minus "
                "the width of the interval after the readings over its width before."
            )
        )
        blocks += _sensitivity(material)
    blocks += [_as_a_whole(material), _quality(material)]
    return Section("The fit in numbers", tuple(blocks))


PLAYERS_DIFFER_IN = ("warm_cents_per_celsius", "warm_up_cents", "slow_cents_per_hour")


def _players(material: Material) -> list[Block]:
    """Return what is known of each player, the mean of all and a new one; a table an instrument."""
    if material.fit.method != "bayesian":
        return []
    tables: list[Block] = []
    for name in material.instruments:
        kind = material.fit.kinds[name]
        of = [*kind.players.items(), ("all players, mean", kind.population)]
        if material.player is None:
            of.append(("a player not read yet", kind.new_player))
        rows = [(who, *_cells(curve.entries())) for who, curve in of]
        header = ("player", *(f"{WORDS[key][0]} ({WORDS[key][1]})" for key in PLAYERS_DIFFER_IN))
        tables.append(Table(f"{named(name)}: player by player", header, tuple(rows)))
    return tables


def _cells(entries: Mapping[str, Estimate]) -> list[str]:
    """Return the quantities in which players differ, with their intervals."""
    digits = [DIGITS[WORDS[key][1]] for key in PLAYERS_DIFFER_IN]
    return [
        f"{number(entries[key].estimate, places)} ({interval(entries[key], places)})"
        for key, places in zip(PLAYERS_DIFFER_IN, digits, strict=True)
    ]


def _sensitivity(material: Material) -> list[Block]:
    """Return how far answers move when the assumptions, or the readings, count double."""
    shifts = material.fit.sensitivity()
    if shifts.empty:
        return []
    rows = tuple(
        (
            f"{shown(str(row['instrument']))}: {WORDS[str(row['quantity'])][0]}",
            number(float(row["prior"]), 2, sign=True),
            number(float(row["likelihood"]), 2, sign=True),
        )
        for row in shifts.to_dict("records")
        if row["quantity"] in WORDS and row["instrument"] in material.instruments
    )
    caption = (
        "Shift of the mean of all players, in posterior standard deviations, if the assumptions "
        "(priors) or the readings counted double: a large shift for the assumptions and a small "
        "one for the readings is an answer that rests on assumption"
    )
    return [Table(caption, ("quantity", "priors doubled", "readings doubled"), rows)]


def _header(entries: Mapping[str, Estimate]) -> tuple[str, ...]:
    header: tuple[str, ...] = ("quantity", "estimate", "95 % interval")
    if any(entry.from_data is not None for entry in entries.values()):
        header += ("from data",)
    if any(entry.p_value is not None for entry in entries.values()):
        header += ("standard error", "p")
    return header


def _entry(key: str, entry: Estimate) -> tuple[str, ...]:
    words, unit = WORDS[key]
    times = TIMES_TO_95_PERCENT if key.endswith("time_constant_minutes") else 1.0
    shown_as = Estimate(times * entry.estimate, times * entry.low, times * entry.high)
    digits = DIGITS[unit]
    row: tuple[str, ...] = (
        f"{words} ({unit})" if unit else words,
        number(shown_as.estimate, digits),
        interval(shown_as, digits),
    )
    if entry.from_data is not None:
        row += (f"{100 * entry.from_data:.0f} %",)
    if entry.p_value is not None and entry.standard_error is not None:
        row += (
            number(entry.standard_error, 3),
            "< 0.001" if entry.p_value < 0.001 else f"{entry.p_value:.3f}",
        )
    return row


def _as_a_whole(material: Material) -> Table:
    fit = material.fit
    low, high = fit.celsius_range or (float("nan"), float("nan"))
    return Table(
        "The readings as a whole",
        ("figure", "value"),
        (
            ("temperatures seen (°C)", f"{number(low)} to {number(high)}"),
            ("from day to day, standard deviation (cents)", number(fit.rehearsal_sd_cents)),
            ("from reading to reading, standard deviation (cents)", number(fit.reading_sd_cents)),
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
                *(number(found[name].get(key, float("nan")), 3) for key in names),
            )
        )
    header = ("instrument", "R² within notes", "correlation", *(DIAGNOSTICS[n] for n in names))
    return Table(
        "Quality of fit. The correlation is that of temperature with playing time as the method "
        "sees them: near −1 or 1, their effects cannot be separated",
        header,
        tuple(rows),
    )


def _diagnostics(material: Material, name: str) -> dict[str, float]:
    """Return the diagnostics of one instrument that are numbers."""
    given = material.fit.diagnostics.get(name, material.fit.diagnostics)
    return {key: float(value) for key, value in given.items() if isinstance(value, int | float)}


def charts(material: Material) -> Section:
    """Show drift against temperature and against playing time for each instrument."""
    blocks: list[Block] = []
    for name in material.instruments:
        line = material.fit.predict([10.0, 20.0, 30.0], 30.0, name)["cents"]
        there = ", ".join(
            f"{number(cents, 0, sign=True)} cents at {celsius} °C"
            for celsius, cents in zip((10, 20, 30), line, strict=True)
        )
        blocks.append(
            Picture(
                figure_of(drift_against_temperature(material.fit, instrument=name)),
                "The line is the instrument after 30 minutes of playing, with the 95 % band of "
                "where the line may lie; the grey band is where 95 % of single readings on a new "
                "day are expected. Dashed: cold, from the case.",
                f"{named(name)}, drift against temperature after 30 minutes of playing: {there}.",
            )
        )
        blocks.append(
            Picture(
                figure_of(drift_against_playing_time(material.fit, instrument=name)),
                "All readings brought to 20 °C. After a rest the instrument has cooled, so those "
                "readings may lie below the line of unbroken playing.",
                f"{named(name)}, drift against minutes of playing, brought to 20 °C.",
            )
        )
    return Section("Drift against temperature and playing time", tuple(blocks))


def residuals(material: Material) -> Section:
    """Show the residuals, and how methods do on rehearsals they have not seen."""
    spread = material.fit.rows["residual"].std()
    blocks: list[Block] = [
        Words(
            "If the model fits, the residuals show no pattern: the running mean stays near zero, "
            "and the points of the last chart follow the line except at its ends, where single "
            "outliers lie."
        ),
        Picture(
            residuals_figure(material.fit),
            "Residuals against the expected drift, against temperature, in order of time "
            "(rehearsals shaded in turn) and against a normal distribution.",
            f"Four charts of the residuals; standard deviation {number(spread)} cents.",
        ),
    ]
    compared = material.comparison
    if compared is not None:
        errors = ", ".join(
            f"{row['method']} {number(row['rms_cents'])}"
            for row in compared.to_frame().to_dict("records")
        )
        blocks.append(
            Picture(
                figure_of(left_out_rehearsals(compared.errors)),
                "Each rehearsal was left out in turn and predicted from the others; the bar is "
                "the root mean square over all readings, a circle one rehearsal. “no drift” "
                "predicts that pitch never changes.",
                f"Errors on rehearsals not seen before, in cents: {errors}.",
            )
        )
    return Section("What the fit leaves over", tuple(blocks))
