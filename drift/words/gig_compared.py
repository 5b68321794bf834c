"""An evening beside its plan, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from drift.words.cents import deviation, signed
from drift.words.gig_clock import clock, told_with
from drift.words.gig_phrases import range_of, table
from drift.words.lists import joined

if TYPE_CHECKING:
    from drift.gig.compared import Compared, SectionError
    from drift.gig.judged import NotJudged

__all__ = ["NO_A4", "NO_SLIDES", "left_out_text", "summary_of"]

HEADER = ("when", "section", "readings", "planned", "read", "error", "spread", "off pitch",
          "in brackets")  # fmt: skip
NO_A4 = "  - the readings name no A4: taken as read on tuners set to the pitch of the plan"
NO_SLIDES = (
    "  - no slide was logged that evening, though the sheets move some: such readings spoil the "
    "next plan; log where slides were set, or keep the evening out of the band's logbook"
)
#: What a plan does not aim at, by what the band does.
NOT_AIMED_AT = {
    "stands": "in the stands",
    "rest": "at rest",
    "warm": "while warm air was blown",
    "before_tune": "in playing before the first tune",
    "no_target": "at a tune that has no target for them",
}
#: What is left out whatever the band does.
LEFT_OUT = {
    "flagged": "flagged",
    "not_on_roster": "of nobody on the roster",
    "not_planned": "of sections that are not planned",
}
#: Before or after the schedule.
OUTSIDE = "outside"
#: A tuner set this near to the pitch of the plan is set to it [cents].
TUNER_CENTS = 0.5
#: Sections this near their plan need no word [cents].
NEAR_CENTS = 5.0


def summary_of(found: Compared, fahrenheit: bool = False) -> str:
    """Return what was read beside what was planned, as text for a terminal.

    Parameters
    ----------
    found : Compared
        The evening.
    fahrenheit : bool
        Whether temperatures are shown in °F.
    """
    with told_with(found.half_days):
        return "\n".join(_lines(found, fahrenheit))


def _lines(found: Compared, fahrenheit: bool) -> list[str]:
    lines = [f"Read beside planned, means in cents from A4 = {found.a4_hz:.1f} Hz"]
    rows: list[tuple[str, ...]] = [HEADER]
    for occasion in found.occasions:
        when = f"{clock(occasion.start)} {occasion.activity}"
        rows += [(when, *_row(section, occasion.activity)) for section in occasion.sections]
    rows += _together(found)
    lines += table(rows)
    far = [
        f"  - {clock(occasion.start)}, {section.section}: {_away(section.error_cents)} than planned"
        for occasion in found.occasions
        for section in occasion.sections
        if abs(round(section.error_cents)) > NEAR_CENTS  # as the table shows it
    ]
    lines.append(
        f"  error: read minus planned. off pitch: how far from A4 = {found.a4_hz:.1f} Hz on "
        "average while playing"
    )
    lines.append(
        "  in brackets: as the sheets print them for a tune; where a slide ends short, around what "
        "they say it shows there"
    )
    lines += [*_brackets(found), *far, *_tuners(found)]
    if not far:
        lines.append(f"  - every section that was read is within {NEAR_CENTS:g} cents of its plan")
    lines += _not_judged(found)
    if found.not_read:
        lines.append(f"  - not read: {', '.join(found.not_read)}")
    lines.append(f"  - {_weather(found, fahrenheit)}")
    lines.append(f"  - {_lag(found)}")
    return lines


def _away(cents: float) -> str:
    """Return how far a section was from its plan."""
    return f"{abs(cents):.0f} cents {'sharper' if cents > 0 else 'flatter'}"


def left_out_text(source: Path | str, rehearsals: Sequence[str]) -> str:
    """Return which rehearsals of a source the plan was not made from, empty where it has none.

    Examples
    --------
    >>> left_out_text("b.logbook", ["game"])
    '  - planned from what was known before that evening; left out of b.logbook: 1 rehearsal, game'
    """
    if not rehearsals:
        return ""
    noun = "rehearsal" if len(rehearsals) == 1 else "rehearsals"
    return (
        "  - planned from what was known before that evening; left out of "
        f"{Path(source).name}: {len(rehearsals)} {noun}, {joined(list(rehearsals))}"
    )


def _tuners(found: Compared) -> Iterator[str]:
    """Yield that tuners were set to another pitch than that of the plan, and what that makes."""
    for a4 in found.read_a4_hz:
        cents = 1200.0 * math.log2(a4 / found.a4_hz)
        if abs(cents) >= TUNER_CENTS:
            yield (
                f"  - readings taken at A4 = {a4:.1f} Hz are counted {deviation(cents)} of what "
                f"the tuner showed, because the plan is at {found.a4_hz:.1f} Hz"
            )


def _together(found: Compared) -> Iterator[tuple[str, ...]]:
    """Yield the rows of all tunes, and of all playing, where there is more than one row of each."""
    for activity, when in (("tune", "all tunes"), ("play", "all playing")):
        together = found.together(activity)
        times = sum(occasion.activity == activity for occasion in found.occasions)
        own = together if times > 1 else together[-1:] if len(together) > 2 else ()
        yield from ((when, *_row(section, activity)) for section in own)


def _brackets(found: Compared) -> Iterator[str]:
    """Yield how many readings at the tunes lay where the sheets had them."""
    tunes = found.together("tune")
    if tunes and tunes[-1].inside is not None:
        band = tunes[-1]
        yield (
            f"  - at the tunes {band.inside} of {band.bracketed} readings lay in the brackets of "
            "the sheets"
        )


def _not_judged(found: Compared) -> Iterator[str]:
    """Yield which readings are not judged, by why."""
    for words, why in (
        (NOT_AIMED_AT, "; the plan aims at tuning and playing"),
        (LEFT_OUT, ""),
    ):
        if those := [one for one in found.not_judged if one.kind in words]:
            yield f"  - not judged: {', '.join(map(_count, those))}{why}"
    for one in found.not_judged:
        if one.kind == OUTSIDE:
            cents = range_of(one.lowest_cents, one.highest_cents)
            yield (
                f"  - not judged: {one.readings} outside the timetable ({cents} cents): "
                f"{'; '.join(one.written)}; correct the time where it is a slip (AM for PM)"
            )


def _count(one: NotJudged) -> str:
    said = {**NOT_AIMED_AT, **LEFT_OUT}[one.kind]
    return f"{one.readings} {said} ({range_of(one.lowest_cents, one.highest_cents)} cents)"


def _row(section: SectionError, activity: str) -> tuple[str, ...]:
    spread = section.error_sd_cents
    inside = "–" if section.inside is None else f"{section.inside} of {section.bracketed}"
    return (
        section.section,
        str(section.readings),
        signed(section.planned_cents),
        signed(section.read_cents),
        signed(section.error_cents),
        "–" if math.isnan(spread) else f"{spread:.0f}",
        # A tune may aim elsewhere than at the pitch of the playing.
        f"{section.absolute_cents:.0f}" if activity == "play" else "–",
        inside,
    )


def _lag(found: Compared) -> str:
    lag = found.lag
    if lag is None:
        return (
            "how late instruments follow the air is not known: read more as playing begins and "
            "after each change of place"
        )
    if lag.low <= 0.0 <= lag.high:
        within = max(-lag.low, lag.high, 1.0)
        return f"instruments followed the air as planned, within {within:.0f} minutes"
    way = "later" if lag.estimate > 0 else "earlier"
    ends = sorted((abs(lag.low), abs(lag.high)))
    return (
        f"pitch moved {abs(lag.estimate):.0f} minutes {way} than planned ({ends[0]:.0f} to "
        f"{ends[1]:.0f}); plan the next evening with --lag {lag.estimate:.0f}"
    )


def _weather(found: Compared, fahrenheit: bool) -> str:
    error, spread = found.celsius_error, found.celsius_error_sd
    if math.isnan(error):
        return "no temperature was measured outdoors: how right the forecast was is not known"
    scale, unit = (1.8, "°F") if fahrenheit else (1.0, "°C")
    way = "warmer" if error > 0 else "colder"
    least = max(abs(error) + 2 * spread, 0.1) * scale
    off = f"{abs(error) * scale:.1f}"
    held, needed = f"{found.forecast_error_celsius * scale:.1f}", f"{least:.1f}"
    option = f"--forecast-error {needed}{unit[-1]}"
    told = f"{option} would have held it"
    if float(needed) <= float(held):  # as they are shown
        smaller = f", and so would {option}" if needed != held else ""
        told = f"the plan's ±{held} {unit} held it{smaller}"
    return (
        f"the air was {'as' if float(off) == 0.0 else f'{off} {unit} {way} than'} forecast; {told}"
    )
