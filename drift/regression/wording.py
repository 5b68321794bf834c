"""A fit in plain words: its summary and its warnings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from drift.errors import TooLittleData
from drift.notes import shown
from drift.pairing.paired import LeftOut
from drift.regression.layout import Layout, layout_of
from drift.regression.notices.faults import MOST_READINGS
from drift.regression.untangling import where_to_measure
from drift.regression.warmup import TIMES_TO_95_PERCENT

if TYPE_CHECKING:
    from drift.regression.estimates import Curve, Estimate, Kind
    from drift.regression.results import Fit

__all__ = ["DIAGNOSTICS", "DIGITS", "WORDS", "nothing_left", "summary_of", "with_warnings"]

TRAPPED = 0.7
"""Beyond this correlation of temperature and playing time the readings cannot separate the two."""

NARROW_CELSIUS = 3.0

WORST_PARETO_K = 0.7

LOW_DURBIN_WATSON = 1.3
"""Below this, neighbouring readings are alike by more than a third (it is about 2 - 2 rho)."""

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
    "warm_cents_per_celsius": "warm slope",
    "warm_up_cents": "rise",
    "slow_cents_per_hour": "slow drift",
}

SCATTER = {
    "reading_sd": ("from reading to reading", "cents"),
    "day_sd": ("from day to day of a player", "cents"),
    "rehearsal_sd": ("from rehearsal to rehearsal, for everybody", "cents"),
    "player_slope_sd": ("between players, slope", "cents/°C"),
    "player_rise_sd": ("between players, rise", "cents"),
    "player_slow_sd": ("between players, slow drift", "cents/hour"),
}
"""What the standard deviations are of, and their units."""

MOST_PLAYERS = 40

DIAGNOSTICS = {
    "condition_number": "condition number",
    "durbin_watson": "Durbin-Watson",
    "breusch_pagan_p": "Breusch-Pagan p",
    "pareto_k": "Pareto k of the draws",
    "effective_draws": "effective draws",
}
"""What the usual figures of a regression are called."""


def with_warnings(fit: Fit, layout: Layout | None = None) -> Fit:
    """Return the fit with the warnings that its numbers call for, the gravest first.

    Parameters
    ----------
    fit : Fit
    layout : Layout, optional
        How its readings lie; by default it is looked up in its rows.
    """
    layout = layout or layout_of(fit.rows)
    found = [
        _trap(fit, layout),
        _narrow(fit),
        _assumed(fit),
        *fit.warnings,
        _suspected(fit),
        _alone(layout.alone),
        _ridge(fit, layout.days),
        _unsettled(fit),
        _autocorrelated(fit),
        _too_many_to_search(fit),
    ]
    return replace(fit, warnings=tuple(dict.fromkeys(text for text in found if text)))


def _trap(fit: Fit, layout: Layout) -> str | None:
    """Return the warning that two effects cannot be separated, with the way out of it."""
    if fit.method == "bayesian":  # its entanglement is that of two other columns
        together_of = {name: lie.correlation for name, lie in layout.kinds.items()}
    else:
        together_of = {name: kind.entanglement for name, kind in fit.kinds.items()}
    names = [name for name, value in together_of.items() if abs(value) > TRAPPED]
    if not names:
        return None
    lie = layout.of(names)
    together = lie.correlation
    celsius, minutes = where_to_measure(lie)
    so = (
        "the answer rests on acoustics there"
        if fit.method == "bayesian"
        else "the slope can come out far too large, or with the wrong sign"
    )
    return (
        f"{shown(', '.join(names))}: temperature and playing time rose together (correlation "
        f"{together:.2f}), so these readings cannot separate their effects: {so}. To separate "
        f"them, take the same notes at about {celsius:.0f} °C after {minutes:.0f} minutes of "
        "playing"
    )


def _narrow(fit: Fit) -> str | None:
    """Return the warning for temperatures that hardly differ."""
    if fit.celsius_range is None:
        return None
    low, high = fit.celsius_range
    if high - low >= NARROW_CELSIUS:
        return None
    return (
        f"the temperatures seen span only {high - low:.1f} °C ({low:.1f} to {high:.1f} °C): "
        "beyond them the answer is extrapolated"
    )


def _assumed(fit: Fit) -> str | None:
    """Return the warning for a single rehearsal, whose day can not be told from the rest."""
    if fit.method != "bayesian" or fit.rehearsals > 1:
        return None
    return "only one rehearsal: day-to-day variation is assumed, not measured"


def _suspected(fit: Fit) -> str | None:
    """Return the list of readings that look like outliers."""
    rows = fit.suspected
    if rows.empty:
        return None
    listed = "; ".join(_reading(row) for row in rows.head(10).to_dict("records"))
    more = f" and {len(rows) - 10} more" if len(rows) > 10 else ""
    subject = (
        "1 reading looks like an outlier and is"
        if len(rows) == 1
        else f"{len(rows)} readings look like outliers and are"
    )
    return f"{subject} given little weight: {listed}{more}"


def _reading(row: Mapping[Any, Any]) -> str:
    """Return one reading in words."""
    when = f"{row['time']:%Y-%m-%d %H:%M} " if pd.notna(row.get("time")) else ""
    return f"{when}{row['player']} {shown(row['note'])} ({row['residual']:+.0f} cents off)"


def _alone(count: int) -> str | None:
    """Return the warning for readings that have nothing to be compared with."""
    if not count:
        return None
    subject = "1 reading is" if count == 1 else f"{count} readings are"
    return (
        f"{subject} the only one of that note by that player, and nothing can be learnt from it: "
        "read the same few notes each time"
    )


def _ridge(fit: Fit, days: int) -> str | None:
    """Return the warning for days of one reading each."""
    if fit.method != "bayesian" or fit.rehearsals < 2:
        return None
    if _readings(fit) > days:
        return None
    return (
        "every player was read once a rehearsal, so scatter and day-to-day variation cannot be "
        "separated: read two or three notes each time"
    )


def _unsettled(fit: Fit) -> str | None:
    """Return the warning for draws that do not follow the posterior."""
    if not fit.diagnostics.get("pareto_k", 0.0) > WORST_PARETO_K:
        return None
    return (
        f"the draws follow the posterior badly (Pareto k {fit.diagnostics['pareto_k']:.2f}): "
        "intervals may be too short"
    )


def _autocorrelated(fit: Fit) -> str | None:
    """Return the warning for readings that are not independent, which p-values rest on."""
    if fit.method not in ("least-squares", "mixed"):
        return None
    figures = [fit.diagnostics.get(name, fit.diagnostics) for name in fit.kinds]
    worst = min((one.get("durbin_watson", 2.0) for one in figures), default=2.0)
    if not worst < LOW_DURBIN_WATSON:
        return None
    return (
        f"Durbin-Watson is {worst:.2f} (2: readings are independent): the residuals follow the "
        "playing time, so the p-values mean little"
    )


def _too_many_to_search(fit: Fit) -> str | None:
    """Return the warning that nothing was searched for what looks spoilt."""
    readings = _readings(fit)
    if fit.method != "bayesian" or readings <= MOST_READINGS:
        return None
    return (
        f"slides moved and not logged, exchanged names and other faults were not searched for: "
        f"{readings} readings are more than {MOST_READINGS}; fit fewer rehearsals to have them "
        "named"
    )


def nothing_left(left_out: Sequence[LeftOut]) -> TooLittleData:
    """Return the refusal to fit no readings, with the reasons and what helps against the first.

    Parameters
    ----------
    left_out : sequence of LeftOut
        Why the readings were left out.
    """
    commonest = sorted(left_out, key=lambda item: -item.count)
    if not commonest:
        return TooLittleData(
            "no reading is left to fit: there are none",
            "log readings of a few notes with a temperature, or ask physics for acoustics alone",
        )
    total = sum(item.count for item in commonest)
    return TooLittleData(
        f"no reading is left to fit: of {_count(total, 'reading')}, "
        + ", ".join(f"{item.count} {item.reason.text}" for item in commonest),
        commonest[0].reason.remedy,
    )


def summary_of(fit: Fit) -> str:
    """Return the answer in words, a line each.

    Parameters
    ----------
    fit : Fit
        Any fit.
    """
    lines = [_headline(fit)]
    for name, kind in fit.kinds.items():
        lines.append(f"{shown(name)} ({kind.readings} readings)")
        lines += _players(kind)
        lines += [
            f"  {label}: {value} cents" for label, value in kind.curve.covariate_entries().items()
        ]
        other = "warmth" if fit.method == "bayesian" else "playing time"
        lines.append(
            f"  R² within the notes {kind.r_squared:.2f}, correlation of temperature and {other} "
            f"{kind.entanglement:.2f}"
        )
        figures = fit.diagnostics.get(name, {} if fit.method == "bayesian" else fit.diagnostics)
        lines += [f"  {_label(key)}: {value}" for key, value in _shown_figures(figures)]
    if fit.kinds:
        lines += ["scatter (standard deviations):", *_scatter(fit)]
        lines.append("The answer describes instrument and player together.")
    lines += [f"warning: {text}" for text in fit.warnings]
    return "\n".join(lines)


def _scatter(fit: Fit) -> list[str]:
    """Return the standard deviations, with their intervals where the method has them."""
    lines = []
    for name, (words, unit) in SCATTER.items():
        if name not in fit.sds or math.isnan(fit.sds[name].estimate):
            continue
        value = fit.sds[name]
        known = math.isfinite(value.low) and math.isfinite(value.high)
        interval = f" ({value.low:.2f} to {value.high:.2f})" if known else ""
        lines.append(f"  {words}: {value.estimate:.2f} {unit}{interval}")
    return lines


def _players(kind: Kind) -> list[str]:
    """Return the players first, a line each, then in full the one that an answer is for."""
    lines: list[str] = []
    if len(kind.players) > 1:
        lines = [
            _in_a_line(name, curve) for name, curve in list(kind.players.items())[:MOST_PLAYERS]
        ]
        if (more := len(kind.players) - MOST_PLAYERS) > 0:
            lines.append(f"  and {_count(more, 'player')} more (--json has all)")
        lines.append("  a player who was not read yet:")
    elif kind.players:
        lines = [f"  {next(iter(kind.players))}:"]
    return lines + [_entry(key, value) for key, value in kind.curve.entries().items()]


def _in_a_line(name: str, curve: Curve) -> str:
    """Return the three quantities in which players differ."""
    entries = curve.entries()
    parts = []
    for key, words in IN_A_LINE.items():
        value, unit = entries[key], WORDS[key][1]
        digits = DIGITS[unit]
        parts.append(
            f"{words} {value.estimate:.{digits}f} {unit} "
            f"({value.low:.{digits}f} to {value.high:.{digits}f})"
        )
    return f"  {name}: {', '.join(parts)}"


def _headline(fit: Fit) -> str:
    """Return what the fit rests on."""
    if not fit.kinds:
        return "acoustics alone, no readings"
    low, high = fit.celsius_range or (float("nan"), float("nan"))
    out = "; ".join(f"{item.count} {item.reason.text}" for item in fit.left_out)
    return (
        f"{fit.method}: {_count(_readings(fit), 'reading')}, {_count(fit.players, 'player')}, "
        f"{_count(fit.rehearsals, 'rehearsal')}, {low:.1f} to {high:.1f} °C"
        + (f" (left out: {out})" if out else "")
    )


def _readings(fit: Fit) -> int:
    return sum(kind.readings for kind in fit.kinds.values())


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")


def _entry(key: str, value: Estimate) -> str:
    """Return one quantity; time constants as the time to be 95 % there, three of them."""
    words, unit = WORDS[key]
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


def _shown_figures(figures: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Return the figures of a methods section that fit in a line."""
    return [
        (key, f"{value:.3g}" if isinstance(value, float) else value)
        for key, value in figures.items()
        if isinstance(value, float | str | bool)
    ]


def _label(key: str) -> str:
    """Return a figure's name for people."""
    return DIAGNOSTICS.get(key, key.replace("_", " "))
