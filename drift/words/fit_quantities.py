"""The quantities of a fit in plain words, a line each."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from drift.regression.warmup import TIMES_TO_95_PERCENT
from drift.words.numbers import plural

if TYPE_CHECKING:
    from drift.regression.estimates import Curve, Estimate, Kind

__all__ = ["ALL_PLAYERS", "DIGITS", "NEW_PLAYER", "WORDS", "covariates_of", "players_of",
           "slopes_at"]  # fmt: skip

WORDS = {
    "cold_cents_per_celsius": ("slope of a cold instrument", "cents/°C"),
    "warm_cents_per_celsius": ("slope of a warm instrument", "cents/°C"),
    "warm_up_cents": ("rise from cold to warm at 20 °C", "cents"),
    "warm_up_time_constant_minutes": ("95 % warm after playing", "minutes"),
    "cool_down_time_constant_minutes": ("95 % cooled after resting", "minutes"),
    "slow_cents_per_hour": ("slow drift with playing time", "cents/hour"),
    "warmth_at_start": ("warmth at the start (0 cold, 1 warm)", ""),
    "cents_per_celsius": ("slope", "cents/°C"),
    "cents_per_playing_minute": ("drift with playing", "cents/minute"),
}

DIGITS = {
    "minutes": 0, "cents": 1, "cents/°C": 2, "cents/hour": 1, "cents/minute": 3, "": 2,
}  # fmt: skip
"""So many decimals are shown, by unit."""

IN_A_LINE = {
    "cold_cents_per_celsius": "cold slope",
    "warm_cents_per_celsius": "warm slope",
    "warm_up_cents": "rise",
    "slow_cents_per_hour": "slow drift",
}

EACH_DEGREE = ("cold_cents_per_celsius", "warm_cents_per_celsius")
"""Slopes that covariates change by how much they are for each °C."""

STRAIGHT = ("cents_per_celsius", "cents_per_playing_minute")
"""Slopes that covariates change by what they are."""

PER = {"humidity": "%", "pressure": "hPa", "celsius": "°C", "playing_minutes": "minute"}
"""Units of columns that may be covariates, by the beginning of the name."""

MOST_PLAYERS = 40

ALL_PLAYERS, NEW_PLAYER = "the mean of all players", "a player who was not read yet"
"""Whose an answer is, where several players were read."""


def players_of(kind: Kind) -> list[str]:
    """Return the players first, a line each, then in full the one that an answer is for."""
    lines: list[str] = []
    if len(kind.players) > 1:
        lines = [
            _in_a_line(name, curve) for name, curve in list(kind.players.items())[:MOST_PLAYERS]
        ]
        if (more := len(kind.players) - MOST_PLAYERS) > 0:
            lines.append(f"  and {plural(more, 'player')} more (--json has all)")
        lines.append(_in_a_line(ALL_PLAYERS, kind.population))
        lines.append(f"  {NEW_PLAYER}:")
    elif kind.players:
        lines = [f"  {next(iter(kind.players))}:"]
    held = kind.curve.held()
    return lines + [_entry(key, value, held) for key, value in kind.curve.entries().items()]


def slopes_at(curve: Curve) -> str:
    """Return in brackets the values of covariates that slopes are given at, if they depend on any.

    Parameters
    ----------
    curve : Curve
        What is known of a player, or of all.
    """
    if not (held := curve.held()):
        return ""
    return f" ({_at(held, EACH_DEGREE[0] in curve.entries())})"


def _at(held: Mapping[str, Any], each_degree: bool) -> str:
    each = " for each °C" if each_degree else ""
    return "at " + ", ".join(f"{name} {_short(one)}{each}" for name, one in held.items())


def _in_a_line(name: str, curve: Curve) -> str:
    """Return the quantities in which players differ."""
    entries = curve.entries()
    parts = []
    for key, words in IN_A_LINE.items():
        value, unit = entries[key], WORDS[key][1]
        digits = DIGITS[unit]
        parts.append(
            f"{words} {value.estimate:.{digits}f} {unit} "
            f"({value.low:.{digits}f} to {value.high:.{digits}f})"
        )
    return f"  {name}{slopes_at(curve)}: {', '.join(parts)}"


def covariates_of(kind: Kind) -> list[str]:
    """Return the effect of each covariate, for one of its units where that is known."""
    found, entries = [], kind.curve.covariate_entries()
    for label, value in entries.items():
        share = f", {100 * value.from_data:.0f} % from the readings" if value.from_data else ""
        digits = _digits(value)
        numbers = [f"{one:.{digits}f}" for one in (value.estimate, value.low, value.high)]
        numbers = ["0" if float(one) == 0.0 else one for one in numbers]
        found.append(
            f"{label}: {numbers[0]} ({numbers[1]} to {numbers[2]}) cents{_per(label)}"
            f"{_where(label, entries)}{share}"
        )
    return found


def _where(label: str, labels: Iterable[str]) -> str:
    """Return where an effect is that of its products with numbers as well.

    Examples
    --------
    >>> _where("C(mute)[T.open]", ["C(mute)[T.open]", "celsius:C(mute)[T.open]"])
    ' where celsius is 0'
    """
    own = label.split(":")
    longer = [parts for one in labels if set(parts := one.split(":")) > set(own)]
    beside = [part for parts in longer for part in parts if part not in own and "[" not in part]
    return f" where {' and '.join(dict.fromkeys(beside))} is 0" if beside else ""


def _digits(value: Estimate) -> int:
    """Return decimals that show an interval to two digits, and two at least."""
    width = value.high - value.low
    return max(2, 1 - math.floor(math.log10(width))) if width > 0.0 else 2


def _per(label: str) -> str:
    """Return what an effect is for one of: nothing where it is that of a word."""
    parts = [part for part in label.split(":") if "[" not in part]
    units = [
        next((unit for start, unit in PER.items() if part.startswith(start)), f"unit of {part}")
        for part in parts
    ]
    if len(parts) == 1 and units[0].startswith("unit of"):
        units = ["unit"]
    return f" per {' and '.join(units)}" if units else ""


def _short(value: Any) -> str:
    """Return a value of a column, a number to three digits."""
    return value if isinstance(value, str) else f"{value:.3g}"


def _entry(key: str, value: Estimate, held: Mapping[str, Any]) -> str:
    """Return one quantity; time constants as the time to be 95 % there, three of them."""
    words, unit = WORDS[key]
    if held and key in (*EACH_DEGREE, *STRAIGHT):
        words += f" {_at(held, key in EACH_DEGREE)}"
    times = TIMES_TO_95_PERCENT if key.endswith("time_constant_minutes") else 1.0
    numbers = [
        f"{times * number:.{DIGITS[unit]}f}" for number in (value.estimate, value.low, value.high)
    ]
    line = f"  {words}: {f'{numbers[0]} {unit}'.strip()} ({numbers[1]} to {numbers[2]})"
    if value.from_data is not None:
        line += f", {100 * value.from_data:.0f} % from the readings"
    if value.p_value is not None:
        line += f", standard error {value.standard_error:.3f}, p = {value.p_value:.3g}"
    return line
