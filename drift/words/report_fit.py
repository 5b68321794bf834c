"""What a fit found, in the sentences, captions and headers of a report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from drift.degrees import shown_degrees
from drift.notes import shown
from drift.regression.estimates import Curve, Estimate
from drift.regression.warmup import TIMES_TO_95_PERCENT
from drift.words.fit import DIAGNOSTICS, SCATTER
from drift.words.fit_quantities import ALL_PLAYERS, DIGITS, NEW_PLAYER, WORDS
from drift.words.numbers import interval, named, number, plural
from drift.words.warming import rests_on_readings

__all__ = [
    "ALL_PLAYERS",
    "NEW_PLAYER",
    "ONE_LINE",
    "against_temperature",
    "against_temperature_alternative",
    "against_time_alternative",
    "entry",
    "errors_alternative",
    "of_instrument",
    "of_player",
    "players_header",
    "quality_header",
    "quantities_header",
    "residuals_alternative",
    "room",
]

IN_SHORT = "In short"
TOGETHER = (
    "The answer describes instrument and player together, as they played here: a player who "
    "pulls notes in by ear or watches a tuner makes the drift look smaller than the "
    "instrument's own."
)
WARNINGS = "Warnings"
COVARIATES = "The fit allows for {}: what each does is shown under “The fit in numbers”."

IN_NUMBERS = "The fit in numbers"
FROM_DATA = (
    "“From data” is how much of an answer came from the readings: at 0 % it rests "
    "wholly on acoustics, towards 100 % wholly on what was read here. It is one minus "
    "the width of the interval after the readings over its width before."
)
ONE_LINE = "one line for all players"
CHECKS = "Appendix: how far the numbers can be relied on"
SENSITIVITY = (
    "What each number rests on: how far it would move if the assumptions (priors), or the "
    "readings, counted double, in its own standard deviations. If the assumptions move it more "
    "than the readings do, more readings are needed. Mean of all players"
)
SENSITIVITY_HEADER = ("quantity", "priors doubled", "readings doubled")
AS_A_WHOLE = (
    "The readings as a whole: the temperatures they cover, and how far days and single readings "
    "lie apart by chance"
)
AS_A_WHOLE_HEADER = ("figure", "value")
CELSIUS_SEEN = "temperatures seen (°C)"
_SDS = {name: f"{text}, standard deviation ({unit})" for name, (text, unit) in SCATTER.items()}
DAYS = {name: _SDS[name] for name in ("day_sd", "rehearsal_sd")}
READING_SD = _SDS["reading_sd"]
QUALITY = (
    "Quality of fit. R² is how much of the ups and downs of a note the fit explains: 1 is all. "
    "The correlation is that of temperature with {other}: near −1 or 1, their effects cannot be "
    "separated"
)
OTHERS = {
    True: "warmth (how far playing has warmed the instrument, most of it in the first minutes)",
    False: "playing time",
}
"""What temperature is correlated with, in a Bayesian fit and in a straight line."""
OF_DRAWS = (
    ". With a Pareto k below 0.7 the draws stand for the answer well, the better the more of them "
    "are effective"
)


CHARTS = "Drift against temperature and playing time"
AGAINST_TEMPERATURE = (
    "The line is the instrument after 30 minutes of playing, with the 95 % band of "
    "where {line} may lie; the grey band is where 95 % of {readings} on a new "
    "day are expected. Dashed: cold, from the case."
)
AGAINST_TIME = (
    "All readings brought to 20 °C, with the bands of the chart before. After a rest the "
    "instrument has cooled, so those readings may lie below the line of unbroken playing."
)

RESIDUALS = "What the fit leaves over"
NO_PATTERN = (
    "If the model fits, the residuals show no pattern: the running mean stays near zero, and the "
    "points against normal quantiles follow the line except at its ends, where single outliers lie."
)
RESIDUAL_CHARTS = (
    "Residuals against the expected drift, against temperature, against minutes of playing, "
    "against a normal distribution and in order of time (rehearsals shaded in turn)."
)
COMPARED = (
    "Each rehearsal was left out in turn and predicted from the others; the bar is "
    "the root mean square over all readings, a circle one rehearsal. “no drift” "
    "predicts that pitch never changes."
)

LARGEST_RATIO = 10.0
"""A diagnostic above this is a count."""

SLOPES = ("warm_cents_per_celsius", "cents_per_celsius")
"""What the pitch does for each degree: by the method that knows the warm-up, and by the others."""

PLAYERS_DIFFER_IN = ("warm_cents_per_celsius", "warm_up_cents", "slow_cents_per_hour")


def of_instrument(
    name: str,
    whose: str,
    entries: Mapping[str, Estimate],
    new: Mapping[str, Estimate],
    fahrenheit: bool = False,
) -> list[str]:
    """Return what was found for an instrument, in a few sentences.

    Parameters
    ----------
    name : str
        The instrument.
    whose : str
        Whose answer this is: a player, the mean of all or one line for them.
    entries : mapping of str to Estimate
        As `drift.regression.estimates.Curve.entries` gives them.
    new : mapping of str to Estimate
        Those of a player who was not read yet, where several were; else empty.
    fahrenheit : bool
        Whether temperatures are in °F.
    """
    key = next(key for key in SLOPES if key in entries)
    rises = _for_each(entries[key], fahrenheit)
    of_new = _for_each(new[key], fahrenheit) if key in new else None
    once_warm = "once it is warm, " if key == SLOPES[0] else ""
    said = [
        f"{named(name)}, {whose}:",
        f"{once_warm}its pitch rises {number(rises.estimate, 2)} cents for each degree "
        f"{'Fahrenheit' if fahrenheit else 'Celsius'} of the room (95 % interval "
        f"{interval(rises, 2)}{_beside(of_new, 2, NEW_PLAYER)}).",
    ]
    if (minute := entries.get("cents_per_playing_minute")) is not None:
        said.append(
            f"Each minute of playing adds {number(minute.estimate, 3)} cents "
            f"({interval(minute, 3)})."
        )
    rise, minutes = entries.get("warm_up_cents"), entries.get("warm_up_time_constant_minutes")
    if rise is not None and minutes is not None:
        said.append(
            f"From cold to warm it rises {number(rise.estimate)} cents at "
            f"{_room(20.0, fahrenheit)} ({interval(rise)}{_beside(new.get('warm_up_cents'))}). "
            f"{_warm_after(minutes)}"
        )
    return said


def _for_each(per_celsius: Estimate, fahrenheit: bool) -> Estimate:
    """Return what is for each degree Celsius for each degree Fahrenheit, where that is asked."""
    if not fahrenheit:
        return per_celsius
    scaled = {name: getattr(per_celsius, name) / 1.8 for name in ("estimate", "low", "high")}
    return replace(per_celsius, **scaled)


def _room(celsius: float, fahrenheit: bool) -> str:
    return shown_degrees(celsius, fahrenheit) if fahrenheit else f"{celsius:g} °C"


def _beside(
    new: Estimate | None, decimals: int = 1, who: str = "not read yet", *, sign: bool = False
) -> str:
    """Return the interval of a player who was not read, to stand behind that of all players."""
    return "" if new is None else f"; {who}: {interval(new, decimals, sign=sign)}"


def _warm_after(time_constant: Estimate) -> str:
    """Return after how many minutes it is 95 % warm, and where that is little known."""
    middle, low, high = (
        number(TIMES_TO_95_PERCENT * minutes, 0)
        for minutes in (time_constant.estimate, time_constant.low, time_constant.high)
    )
    if rests_on_readings(time_constant):
        return f"After {middle} minutes of playing ({low} to {high}) it is 95 % warm."
    return f"When it is 95 % warm is little known yet: after {low} to {high} minutes of playing."


def room(
    change: Estimate, celsius: float, new: Estimate | None = None, fahrenheit: bool = False
) -> str:
    """Return what becomes of an instrument that was tuned at 20 °C [cents, °C]; of a new player."""
    way = "sharp" if change.estimate > 0 else "flat"
    return (
        f"Tuned warm at {_room(20.0, fahrenheit)} and played warm at "
        f"{_room(celsius, fahrenheit)}, it is "
        f"{number(abs(change.estimate), 0)} cents {way} "
        f"({interval(change, 0, sign=True)}{_beside(new, 0, sign=True)})."
    )


def instrument_caption(name: str, whose: str, readings: int, method: str) -> str:
    """Return what a table of quantities is of."""
    return f"{named(name)}, {whose}: {plural(readings, 'reading')}, method {method}"


def against_temperature(whose: str) -> str:
    """Return how to read the chart against temperature: whose line may lie in its band.

    Parameters
    ----------
    whose : str
        A player, `NEW_PLAYER`, or `ONE_LINE`, which knows no players.
    """
    if whose == ONE_LINE:
        return AGAINST_TEMPERATURE.format(line=f"the {ONE_LINE}", readings="single readings")
    line, readings = f"the line of {whose}", f"single readings of {whose}"
    return AGAINST_TEMPERATURE.format(line=line, readings=readings)


def players_caption(name: str) -> str:
    """Return what a table of players is of."""
    return f"{named(name)}: player by player"


def players_header() -> tuple[str, ...]:
    """Return the header of the quantities in which players differ."""
    return ("player", *(f"{WORDS[key][0]} ({WORDS[key][1]})" for key in PLAYERS_DIFFER_IN))


def of_player(who: str, curve: Curve) -> tuple[str, ...]:
    """Return the quantities in which players differ, with their intervals."""
    entries = curve.entries()
    digits = [DIGITS[WORDS[key][1]] for key in PLAYERS_DIFFER_IN]
    return (
        who,
        *(
            f"{number(entries[key].estimate, places)} ({interval(entries[key], places)})"
            for key, places in zip(PLAYERS_DIFFER_IN, digits, strict=True)
        ),
    )


def shifted(instrument: str, quantity: str) -> str:
    """Return which quantity of which instrument shifts."""
    return f"{shown(instrument)}: {WORDS[quantity][0]}"


def quantities_header(
    entries: Mapping[str, Estimate], new: Mapping[str, Estimate]
) -> tuple[str, ...]:
    """Return the header of a table of quantities, with the columns that its method fills."""
    header: tuple[str, ...] = ("quantity", "estimate", "95 % interval")
    if new:
        header += ("95 %, not read yet",)
    if any(one.from_data is not None for one in entries.values()):
        header += ("from data",)
    if any(one.p_value is not None for one in entries.values()):
        header += ("standard error", "p")
    return header


def entry(key: str, found: Estimate, new: Estimate | None = None) -> tuple[str, ...]:
    """Return one quantity, and beside it the interval of a new player where there is one."""
    words, unit = WORDS[key]
    shown_as = _in_time(key, found)
    digits = DIGITS[unit]
    row: tuple[str, ...] = (
        f"{words} ({unit})" if unit else words,
        number(shown_as.estimate, digits),
        interval(shown_as, digits),
    )
    if new is not None:
        row += (interval(_in_time(key, new), digits),)
    if found.from_data is not None:
        row += (f"{100 * found.from_data:.0f} %",)
    if found.p_value is not None and found.standard_error is not None:
        row += (
            number(found.standard_error, 3),
            "< 0.001" if found.p_value < 0.001 else f"{found.p_value:.3f}",
        )
    return row


def _in_time(key: str, found: Estimate) -> Estimate:
    """Return a quantity as it is shown: a time constant as the time to be 95 % there."""
    times = TIMES_TO_95_PERCENT if key.endswith("time_constant_minutes") else 1.0
    return Estimate(times * found.estimate, times * found.low, times * found.high)


def celsius_span(low: float, high: float) -> str:
    """Return from where to where temperatures were seen [°C]."""
    return f"{number(low)} to {number(high)}"


def quality_header(names: Iterable[str]) -> tuple[str, ...]:
    """Return the header of the quality of a fit, with the diagnostics that there are."""
    return ("instrument", "R² within notes", "correlation", *(DIAGNOSTICS[n] for n in names))


def quality(draws: bool, *, bayesian: bool) -> str:
    """Return how to read the table of quality, and of the draws where there are any."""
    return QUALITY.format(other=OTHERS[bayesian]) + (OF_DRAWS if draws else "")


def diagnostic(value: float) -> str:
    """Return a diagnostic as far as its digits matter; counts are whole.

    Examples
    --------
    >>> diagnostic(541.728), diagnostic(0.2419)
    ('542', '0.242')
    """
    return number(value, 0 if value > LARGEST_RATIO else 3)


def against_temperature_alternative(name: str, cents_at: Mapping[int, float]) -> str:
    """Return what the chart against temperature shows [cents by °C]."""
    there = ", ".join(
        f"{number(cents, 0, sign=True)} cents at {celsius} °C"
        for celsius, cents in cents_at.items()
    )
    return f"{named(name)}, drift against temperature after 30 minutes of playing: {there}."


def against_time_alternative(name: str) -> str:
    """Return what the chart against playing time shows."""
    return f"{named(name)}, drift against minutes of playing, brought to 20 °C."


def residuals_alternative(spread_cents: float) -> str:
    """Return what the charts of the residuals show [cents]."""
    return f"Five charts of the residuals; standard deviation {number(spread_cents)} cents."


def errors_alternative(rms_cents: Mapping[str, float]) -> str:
    """Return what the chart of the methods shows [cents by method]."""
    errors = ", ".join(f"{method} {number(rms)}" for method, rms in rms_cents.items())
    return f"Errors on rehearsals not seen before, in cents: {errors}."
