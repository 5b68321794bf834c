"""A fit in plain words: its summary and its warnings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, tzinfo
from typing import TYPE_CHECKING, Any

from drift.degrees import shown_degrees, shown_span, shown_tenths
from drift.findings import Finding
from drift.notes import shown
from drift.words import left_out
from drift.words.confounding import alike, confounded, follow_air, like_air
from drift.words.fit_quantities import covariates_of, players_of
from drift.words.notices import notice_in_words, to_look_at
from drift.words.numbers import plural
from drift.words.zones import zone_named

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = ["DIAGNOSTICS", "SCATTER", "covariates_found", "summary_of", "warning_text"]

SCATTER = {
    "reading_sd": ("from reading to reading", "cents"),
    "day_sd": ("from day to day of a player", "cents"),
    "rehearsal_sd": ("from rehearsal to rehearsal, for everybody", "cents"),
    "player_slope_sd": ("between players, slope", "cents/°C"),
    "player_rise_sd": ("between players, rise", "cents"),
    "player_slow_sd": ("between players, slow drift", "cents/hour"),
}
"""What the standard deviations are of, and their units."""

OF_ALL_INSTRUMENTS = "covariates, for all instruments together"

DIAGNOSTICS = {
    "condition_number": "condition number of temperature and playing time",
    "durbin_watson": "Durbin-Watson",
    "breusch_pagan_p": "Breusch-Pagan p",
    "pareto_k": "Pareto k of the draws",
    "effective_draws": "effective draws",
}
"""What the usual figures of a regression are called."""

COVARIANCES = {
    "clustered": "clustered by rehearsal",
    "not_clustered": "not clustered (one rehearsal)",
    "hac": "HAC with {lags} lags (one rehearsal)",
    "reml": "REML",
    "clustered_both": "clustered by rehearsal and by player",
    "by_player": "clustered by player (one rehearsal)",
    "reml_clustered_both": "REML, standard errors clustered by rehearsal and by player",
}
"""How standard errors are reckoned."""


def warning_text(found: Finding, fahrenheit: bool = False, zone: tzinfo | None = UTC) -> str:
    """Return one warning of a fit in words.

    Parameters
    ----------
    found : Finding
        One of `Fit.warnings`, or what `Fit.extrapolation` returns.
    fahrenheit : bool
        Whether temperatures are shown in °F.
    zone : tzinfo or None
        Where times of day are told; None: where this computer is.

    Examples
    --------
    >>> warning_text(Finding("one_rehearsal_assumed"))
    'only one rehearsal: day-to-day variation is assumed, not measured'
    """
    value = found.values
    return {
        "rehearsals_follow_air": lambda: follow_air(value),
        "confounded": lambda: confounded(value, fahrenheit),
        "covariates_like_air": lambda: like_air(value),
        "covariates_alike": lambda: alike(value),
        "looks_like_fahrenheit": lambda: _looks_like_fahrenheit(value),
        "autocorrelated": lambda: _autocorrelated(value),
        "narrow_temperatures": lambda: _narrow(value, fahrenheit),
        "outliers": lambda: _outliers(value, zone),
        "notes_read_once": lambda: _alone(value, zone),
        "extrapolated": lambda: _extrapolated(value, fahrenheit),
        "few_rehearsals": lambda: _few_rehearsals(value),
        "one_value_a_player": lambda: _one_value(value["covariates"]),
        "another_start": lambda: _another_start(value),
        "few_players": lambda: _few_players(value),
        "no_players_to_spare": lambda: _no_players_to_spare(value),
        "fitted_apart": lambda: _apart(value),
        "same_everywhere": lambda: _same_everywhere(value),
        "players_pooled": lambda: _pooled(value),
        "calculated_slides": lambda: _calculated(value["instruments"]),
    }.get(found.kind, lambda: PLAIN[found.kind].format(**value))()


PLAIN = {
    "doubled_readings": "readings that are there twice: {count}, which makes the intervals too "
    "narrow: leave the doubles out",
    "read_while_warming": "{count} of {readings} readings were made while warming up: the slope "
    "lies between that of a cold and of a warm instrument, which bayesian separates",
    "one_rehearsal_assumed": "only one rehearsal: day-to-day variation is assumed, not measured",
    "one_rehearsal": "only one rehearsal: the standard errors allow for how its readings scatter "
    "and not for how rehearsals differ, so they are too small for another one",
    "one_playing_time": "every note was read after one playing time only: the effect of time is "
    "not estimated",
    "not_converged": "the mixed model did not converge: do not use its numbers ({reason})",
    "one_reading_a_day": "every player was read once a rehearsal, so scatter and day-to-day "
    "variation cannot be separated: read two or three notes each time",
    "bad_draws": "the draws follow the posterior badly (Pareto k {pareto_k:.2f}): intervals may be "
    "too short. Fit each instrument by itself, and take the wider interval of the two",
    "faults_not_searched": "slides moved and not logged, exchanged names and other faults were not "
    "searched for: {readings} readings are more than {most}; fit fewer rehearsals to have them "
    "named",
}
"""Warnings of one sentence each, by kind."""


def _autocorrelated(value: Mapping[str, Any]) -> str:
    """Return the warning for residuals that follow each other, of which instruments."""
    least = "down to " * (len(value["instruments"]) > 1)
    of = " of " * bool(value["instruments"]) + ", ".join(map(shown, value["instruments"]))
    return (
        f"Durbin-Watson{of} is {least}{value['durbin_watson']:.2f} (2: readings are independent): "
        "the residuals follow the playing time, so the p-values mean little"
    )


def _looks_like_fahrenheit(value: Mapping[str, Any]) -> str:
    """Return the warning for °F under the name of °C."""
    names = value["rehearsals"]
    of = f" of {', '.join(names[:5])}{' and others' if len(names) > 5 else ''}" if names else ""
    return (
        f"the temperatures{of} ({value['low']:.1f} to {value['high']:.1f}) look like °F: give them "
        "in °C, which is (°F - 32)/1.8, or name their column fahrenheit"
    )


def _narrow(value: Mapping[str, Any], fahrenheit: bool) -> str:
    low, high = value["low_celsius"], value["high_celsius"]
    return (
        f"the temperatures seen span only {shown_span(high - low, fahrenheit)} "
        f"({shown_tenths(low, high, fahrenheit)}): beyond them the answer is extrapolated"
    )


def _extrapolated(value: Mapping[str, Any], fahrenheit: bool) -> str:
    seen = shown_tenths(value["low_celsius"], value["high_celsius"], fahrenheit)
    there = (
        shown_degrees(value["celsius"], True)
        if fahrenheit
        else f"{round(value['celsius'], 1):g} °C"
    )
    return (
        f"{there} is outside the temperatures measured so far ({seen}): the answer there is "
        "extrapolated"
    )


def _few_rehearsals(value: Mapping[str, Any]) -> str:
    clustered = "its standard errors are clustered by rehearsal, and with fewer than {} they are"
    uncertain = "their spread is itself uncertain, and with fewer than {} standard errors are"
    because = (clustered if value["clustered"] else uncertain).format(value["enough"])
    return f"only {value['count']} rehearsals: {because} too small"


def _one_value(covariates: Sequence[str]) -> str:
    return (
        f"{', '.join(covariates)} cannot be separated from how high each player is: it is the same "
        "in all readings of a note, and its effect is what was assumed. To ask what it does to the "
        "slope, make a column of its product with celsius a covariate (or, of warm readings alone, "
        f'--method mixed --formula "cents ~ drift + celsius:{covariates[0]}")'
    )


def _another_start(value: Mapping[str, Any]) -> str:
    """Return the warning that a covariate does otherwise in the first minutes, and what to do."""
    cents, minutes = value["cents"], value["minutes"]
    more = "more" if cents > 0.0 else "less"
    return (
        f"{value['label']} does otherwise in the first {minutes:g} minutes ({abs(cents):.1f} cents "
        f"{more} than later): another start, another speed of warming or another rise, and not a "
        "shift of the whole rehearsal; it bends rise, slopes and cooling. If all began cold, fit "
        "each group alone. If some began warm, log a play event of their own for them, or leave "
        'their initial_warmth empty, with 0 for cold, and fit with start="estimated" '
        "(how to: Compare two ways of beginning)"
    )


def _few_players(value: Mapping[str, Any]) -> str:
    return (
        f"{', '.join(value['terms'])}: one value a player, of only {value['players']} players: "
        "standard errors are clustered by rehearsal and by player, and with fewer than "
        f"{value['enough']} players they are too small"
    )


def _no_players_to_spare(value: Mapping[str, Any]) -> str:
    return (
        f"{', '.join(value['terms'])}: one value a player, and {value['players']} players are too "
        "few to see how players differ otherwise: standard errors allow for how rehearsals differ "
        "and not for that, so they are far too small for other players"
    )


def _same_everywhere(value: Mapping[str, Any]) -> str:
    """Return the warning that terms are left out where nothing tells what they do."""
    instruments = ", ".join(map(shown, value["instruments"]))
    return (
        f"{', '.join(value['terms'])}: the same in all readings of {instruments}, and left out "
        "there"
    )


def _apart(value: Mapping[str, Any]) -> str:
    players, rehearsals = (", ".join(value[name]) for name in ("players", "rehearsals"))
    return (
        f"fitted apart, as notes of their own, for what was noticed: {value['count']} readings of "
        f"{players} from {rehearsals}"
    )


def _pooled(value: Mapping[str, Any]) -> str:
    each = zip(value["instruments"], value["players"], strict=True)
    instruments = ", ".join(f"{shown(name)} ({count} players)" for name, count in each)
    return (
        f"{instruments}: {value['method']} has one line for all who play it, and does not know how "
        "they differ; bayesian answers for each"
    )


def _calculated(instruments: Sequence[str]) -> str:
    return (
        f"a plan is for whole sections and uses the calculated slides of {', '.join(instruments)};"
        " a player's measured slide counts in drift slides SOURCE --player"
    )


def _outliers(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    """Return the list of readings that look like outliers."""
    count = value["count"]
    subject = (
        "1 reading looks like an outlier and is"
        if count == 1
        else f"{count} readings look like outliers and are"
    )
    return f"{subject} given little weight: {_named(value, zone)}"


def _named(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    """Return readings in words, and how many more there are."""
    listed, texts, told = value.get("readings", ()), [], ""  # a zone is named where it changes
    for row in listed:
        off = f" ({row['residual']:+.0f} cents off)" if "residual" in row else ""
        side = f" on the {shown(row['side'])} side" if row.get("side") else ""
        when, named = _when(row, zone)
        when += f"{named} " if named != told else ""
        texts.append(f"{when}{row['player']} {shown(row['note'])}{side}{off}")
        told = named
    more = value["count"] - len(listed)
    return "; ".join(texts) + (f" and {more} more" if more else "")


def _when(row: Mapping[str, Any], zone: tzinfo | None) -> tuple[str, str]:
    """Return day and time of a reading, where it has them, and the zone they are in."""
    if not row.get("time"):
        return "", ""
    time = datetime.fromisoformat(row["time"])
    return f"{time.astimezone(zone):%Y-%m-%d %H:%M} ", zone_named(time, zone)


def _alone(value: Mapping[str, Any], zone: tzinfo | None) -> str:
    """Return the warning for readings that have nothing to be compared with."""
    count = value["count"]
    subject = "1 reading is" if count == 1 else f"{count} readings are"
    listed = value.get("readings", ())
    which = f" ({_named(value, zone)})" if listed else ""
    what = "note on that side" if any(row.get("side") for row in listed) else "note"
    return (
        f"{subject} the only one of that {what} by that player, and nothing can be learnt from it: "
        f"read the same few notes each time{which}"
    )


def summary_of(fit: Fit, zone: tzinfo | None = UTC) -> str:
    """Return the answer in words, a line each.

    Parameters
    ----------
    fit : Fit
        Any fit.
    zone : tzinfo or None
        Where times of day are told; None: where this computer is.
    """
    lines = [_headline(fit)]
    shared = _shared(fit)
    for name, kind in fit.kinds.items():
        lines.append(f"{shown(name)} ({kind.readings} readings)")
        lines += players_of(kind)
        if not shared:
            lines += [f"  {line}" for line in covariates_of(kind)]
        other = "warmth" if fit.method == "bayesian" else "playing time"
        lines.append(f"  {_explained(kind.r_squared, kind.regressor_correlation, other)}")
        figures = fit.diagnostics.get(name, {} if fit.method == "bayesian" else fit.diagnostics)
        lines += [f"  {_label(key)}: {value}" for key, value in _shown_figures(figures)]
    if shared:
        for whose, found in covariates_found(fit).items():
            lines += [f"{whose}:", *(f"  {line}" for line in found)]
    if fit.kinds:
        lines += ["scatter (standard deviations):", *_scatter(fit)]
        lines.append("The answer describes instrument and player together.")
    lines += [f"warning: {warning_text(found, zone=zone)}" for found in fit.warnings]
    lines += [to_look_at(notice_in_words(found, zone)) for found in fit.notices]
    return "\n".join(lines)


def covariates_found(fit: Fit) -> dict[str, list[str]]:
    """Return the effects of covariates, a line each, by whose they are; nothing without any."""
    if _shared(fit):
        found = {OF_ALL_INSTRUMENTS: covariates_of(next(iter(fit.kinds.values())))}
    else:
        found = {f"covariates, {shown(name)}": covariates_of(k) for name, k in fit.kinds.items()}
    return {whose: lines for whose, lines in found.items() if lines}


def _shared(fit: Fit) -> bool:
    """Return whether a covariate has one effect for several instruments."""
    return fit.method == "bayesian" and len(fit.kinds) > 1 and bool(fit.settings.covariates)


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


def _explained(r_squared: float, correlation: float, other: str) -> str:
    """Return how much is explained, and whether the two effects can be told apart."""
    if math.isnan(r_squared):
        return "too few readings of a note to say how much is explained"
    share = f"R² within the notes {r_squared:.2f}"
    if math.isnan(correlation):
        return f"{share}; all at one temperature, or one {other}: too little to tell them apart"
    return f"{share}, correlation of temperature and {other} {correlation:.2f}"


def _headline(fit: Fit) -> str:
    """Return what the fit rests on."""
    if not fit.kinds:
        return "acoustics alone, no readings"
    low, high = fit.celsius_range or (float("nan"), float("nan"))
    out = "; ".join(f"{item.count} {left_out.why(item)}" for item in fit.left_out)
    return (
        f"{fit.method}: {plural(_readings(fit), 'reading')}, {plural(fit.players, 'player')}, "
        f"{plural(fit.rehearsals, 'rehearsal')}, {low:.1f} to {high:.1f} °C"
        + (f" (left out: {out})" if out else "")
    )


def _readings(fit: Fit) -> int:
    return sum(kind.readings for kind in fit.kinds.values())


def _shown_figures(figures: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Return the figures of a methods section that fit in a line."""
    shown_as = {"covariance": covariance_text}
    return [
        (key, f"{value:.3g}" if isinstance(value, float) else shown_as.get(key, str)(value))
        for key, value in figures.items()
        if isinstance(value, float | str | bool) or key in shown_as
    ]


def covariance_text(how: Mapping[str, Any]) -> str:
    """Return how the standard errors of a regression were reckoned.

    Examples
    --------
    >>> covariance_text({"kind": "clustered", "freedom": 5.0})
    'clustered by rehearsal, t with 5 degrees of freedom'
    """
    what = COVARIANCES[how["kind"]].format(**how)
    absorbed = ", intercepts absorbed" if how.get("absorbed") else ""
    freedom = plural(round(how["freedom"]), "degree")
    return f"{what}, t with {freedom} of freedom{absorbed}"


def _label(key: str) -> str:
    """Return a figure's name for people."""
    return DIAGNOSTICS.get(key, key.replace("_", " "))
