"""What readings cannot tell apart, temperature from playing time, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drift.degrees import shown_degrees
from drift.notes import shown
from drift.words.lists import joined
from drift.words.numbers import some

__all__ = ["alike", "confounded", "follow_air", "like_air"]

ONE_ANSWER = " (what narrows one answer most is another question: drift fit --advise)"
"""Beside where two effects are separated best; only the Bayesian method ranks for one answer."""


def follow_air(value: Mapping[str, Any]) -> str:
    """Return the warning that the slope within rehearsals contradicts that between them."""
    names, size = value["instruments"], value["cents_per_celsius"]
    most, way = "up to " * (len(names) > 1), "less" if size < 0.0 else "more"
    slides, then = "", "Fit"
    if rehearsals := value["slides_unlogged"]:
        slides = f"slides were set and not logged ({some(rehearsals)}), or "
        then = "Log those slides, or fit"
    return (
        f"{shown(', '.join(names))}: do not use the slopes. Rehearsals in other air differ by "
        f"{most}{abs(size):.1f} cents/°C {way} than the fit says: {slides}rooms warmed along with "
        "instruments that do not warm as this method assumes, and the effects of rehearsals make "
        f"up for it (days may seem too warm or too cold). {then} the readings of warm instruments "
        "alone, a quarter of an hour after the playing began or later"
    )


def like_air(value: Mapping[str, Any]) -> str:
    """Return the warning that covariates go with the temperature."""
    names, together = [*value["covariates"]], value["covariates"].values()
    goes = "goes" if len(names) == 1 else "go"
    return (
        f"{joined(names)} {goes} with the temperature (correlation "
        f"{', '.join(f'{one:.2f}' for one in together)}): these readings cannot show what each of "
        "them does, only what they do together. Leave the covariate out, or measure "
        "where it and the temperature differ"
    )


def alike(value: Mapping[str, Any]) -> str:
    """Return the warning that covariates go with each other."""
    pairs = [f"{one} and {other} (correlation {cor:.2f})" for one, other, cor in value["pairs"]]
    return (
        f"{'; '.join(pairs)} go with each other: these readings cannot show what each of them "
        "does, only what they do together. Leave one of them out"
    )


def confounded(value: Mapping[str, Any], fahrenheit: bool) -> str:
    """Return the warning that two effects cannot be separated, with the way out of it."""
    so = (
        "the answer rests on acoustics there"
        if value["acoustics"]
        else "the slope can come out far too large, or with the wrong sign"
    )
    return (
        f"{shown(', '.join(value['instruments']))}: temperature and playing time rose together "
        f"(correlation of temperature and playing time {value['correlation']:.2f}), so these "
        f"readings cannot separate their effects: {so}. To separate them, take the same notes at "
        f"about {shown_degrees(value['measure_celsius'], fahrenheit)} after "
        f"{value['measure_minutes']:.0f} minutes of playing"
        + (ONE_ANSWER if value["acoustics"] else "")
    )
