"""What a summary of a band holds and keeps back, and what many of them teach, in words."""

from __future__ import annotations

import pandas as pd

from drift.bands.band_file import BandSummary
from drift.bands.combining import Combination, Rejected, RejectedReason

__all__ = [
    "ABOUT_THE_FILE",
    "FOREST_TITLE",
    "FOREST_WEIGHT",
    "MEAN_BESIDE",
    "QUANTITIES",
    "about_priors",
    "combination_in_words",
    "number_in_words",
    "rejected_in_words",
    "summary_in_words",
]

ABOUT_THE_FILE = (
    "This file says how your instruments drift with temperature and playing, section by section.",
    "It holds no names, readings, dates, or places: only totals for sections of three or more "
    "players, the year, and rough counts.",
    "A random number stands for your band, so that it is not counted twice.",
    "Someone holding two versions from one season could work out what a new player added, so the "
    "program writes one a season.",
    "Nothing is sent: you decide who gets it, and you can open it and read it first.",
)

QUANTITIES = {
    "cold_cents_per_celsius": "cold slope (cents/°C)",
    "rise_cents": "rise when warmed (cents)",
    "slow_cents_per_hour": "slow drift (cents/hour)",
    "curvature_cents_per_celsius2": "bend (cents/°C²)",
    "warm_minutes": "warming time (min)",
    "cool_minutes": "cooling time (min)",
}
"""The quantities as people read them, by their names in an answer."""

FOREST_TITLE = "Each band, the mean of all, and a new band"
FOREST_WEIGHT = (
    "weight: 1 or more where a band's numbers, all in all, lie as others expect; else less"
)

MEAN_BESIDE = (
    "the mean lies beside all bands, for it begins at the catalogue\n"
    "and weighs six quantities together"
)

_REASONS = {
    RejectedReason.OTHER_MODEL: "written by another version of the model; ask for a new summary",
    RejectedReason.OLDER_VERSION: "another file of this band and season has more readings",
    RejectedReason.SAME_NUMBERS: "the same numbers are in another file; they are counted once",
    RejectedReason.IMPOSSIBLE: "so many readings cannot give these numbers",
    RejectedReason.UNKNOWN_INSTRUMENT: "the shipped catalogue does not have this instrument",
}

MOSTLY_DIFFERENCE = 0.5


def summary_in_words(summary: BandSummary) -> str:
    """Return what a summary holds, a line a section, and what to know before handing it on."""
    lines = [f"season {summary.season}"]
    for name, one in summary.sections.items():
        low, high = one.celsius
        each = "1 rehearsal" if one.rehearsals == "1" else f"{one.rehearsals} rehearsals"
        lines.append(
            f"  {name}: {one.players} players, {each} each, about {one.readings} readings, "
            f"{low} to {high} °C"
        )
    if summary.withheld:
        kinds = "instrument is" if summary.withheld == 1 else "instruments are"
        lines.append(
            f"  {summary.withheld} {kinds} left out: fewer than three players, one with most of "
            "the readings, or not in the shipped catalogue"
        )
    return "\n".join([*lines, "", *ABOUT_THE_FILE])


def number_in_words(record: str) -> str:
    """Return that a band got a number of its own, since no record of it was there.

    Examples
    --------
    >>> number_in_words("s1.bands").partition(":")[0]
    'Your band has a new number, for there was no s1.bands'
    """
    return (
        f"Your band has a new number, for there was no {record}: if you wrote this season before, "
        "from a logbook or another copy, hand on that file alone, as two numbers are two bands."
    )


def rejected_in_words(one: Rejected) -> str:
    """Return why a file, or a section of one, does not count.

    Examples
    --------
    >>> rejected_in_words(Rejected(RejectedReason.OTHER_MODEL, "0f3a", "2026"))
    'band 0f3a of 2026: written by another version of the model; ask for a new summary'
    """
    section = f", {one.instrument[:40]}" if one.instrument else ""
    return f"band {one.band[:8]} of {one.season}{section}: {_REASONS[one.reason]}"


def combination_in_words(found: Combination, table: pd.DataFrame) -> str:
    """Return what a new band can expect, then how bands differ.

    Parameters
    ----------
    found : Combination
    table : DataFrame
        From `drift.bands.new_priors.heterogeneity`.
    """
    lines = [f"expectations from {_counted(found)}"]
    for kind, part in table.groupby("instrument", sort=False):
        count = int(part["bands"].iloc[0])
        lines.append(f"{kind} ({count} band{'s' if count > 1 else ''}), expected of a new band:")
        lines += [f"  {_quantity(row)}" for _, row in part.iterrows()]
    lines += [rejected_in_words(one) for one in found.rejected]
    if far := _far_off(found):
        lines.append(f"counted less, because the other bands expect something else: {far}")
    return "\n".join([
        *lines,
        "The intervals are wider than these files alone say, because with many bands the means of "
        "simulated collections were off by more than expected.",
        "What all bands do alike, such as watching the tuner, counts as the instrument's own.",
    ])  # fmt: skip


def about_priors(found: Combination) -> tuple[str, ...]:
    """Return the head of a file of priors: from where it is, and what to do with it."""
    return (
        f"What to expect of a new band, from {_counted(found)}; written by drift combine.",
        "Use it with: drift fit SOURCE --priors THIS-FILE",
        f"Instruments that bands have: {', '.join(found.kinds)}. The others are expected to be",
        "like them, and keep most of their width.",
    )


def _counted(found: Combination) -> str:
    bands = "1 band" if found.bands == 1 else f"{found.bands} bands"
    return f"{bands} ({found.files} file{'s' if found.files > 1 else ''})"


def _quantity(row: pd.Series) -> str:
    digits = 4 if row["quantity"].startswith("curvature") else 2
    text = (
        f"{QUANTITIES[row['quantity']]:26} {row['new_band']:.{digits}f} "
        f"({row['new_band_low']:.{digits}f} to {row['new_band_high']:.{digits}f})"
    )
    if row["i_squared"] > MOSTLY_DIFFERENCE:
        text += f"; bands differ (I² {100 * row['i_squared']:.0f} %)"
    return text


def _far_off(found: Combination) -> str:
    """Return the bands that count less than half, each with its instrument."""
    pairs = zip(found.instruments.items, found.instruments.student, strict=True)
    return ", ".join(f"{one.band[:8]} ({one.kind})" for one, weight in pairs if weight < 0.5)
