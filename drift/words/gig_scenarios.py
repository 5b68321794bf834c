"""Several scenarios side by side, as a table for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from drift.words.cents import deviation, signed
from drift.words.gig import show_briefly, shown_cents
from drift.words.gig_clock import as_timetable, clock, hours_of
from drift.words.gig_moves import REMAINS_CENTS, move_range
from drift.words.gig_phrases import table, weather_of

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.retuning import Setting
    from drift.gig.roster import Section
    from drift.gig.scenarios import Scenarios
    from drift.gig.timetable import Block
    from drift.regression.results import Estimate

__all__ = ["summary_of"]

WIDTH = 100


def summary_of(scenarios: Scenarios, fahrenheit: bool = False) -> str:
    """Return one table: targets and moves by section, tune and scenario, pitch and cautions.

    Parameters
    ----------
    scenarios : Scenarios
        The plans by name.
    fahrenheit : bool
        Whether temperatures are in °F.
    """
    return _summary(scenarios.first, scenarios, fahrenheit)


@as_timetable
def _summary(_first: Plan, scenarios: Scenarios, fahrenheit: bool) -> str:
    plans = scenarios.plans.values()
    rows: list[tuple[str, ...]] = [
        ("", *scenarios.plans),
        ("at the instruments", *(weather_of(plan, fahrenheit) for plan in plans)),
        ("against the first", *(_warmer(scenarios, plan, fahrenheit) for plan in plans)),
        ("planned for A4", *(f"{plan.aim_a4_hz:.1f} Hz" for plan in plans)),
        ("recommended A4", *(f"{plan.pitch.recommended_a4_hz:.1f} Hz" for plan in plans)),
    ]
    for number, tunes in enumerate(_tunes(scenarios)):
        times = (clock(tunes[name].tune_at) if name in tunes else "" for name in scenarios.plans)
        rows.append((f"tune {number + 1}", *times))
        for section in scenarios.first.sections:
            rows += _section_rows(scenarios, section, tunes)
    lines = [line for few in _fitting(rows) for line in (*table(few), "")]
    lines += [
        "  first what the tuner should show, in cents (± with 95 %); then the slide, in mm from",
        "  where it was: in = push in, out = pull out; the tuner decides",
    ]
    for name, plan in scenarios.plans.items():
        if plan.schedule != scenarios.first.schedule and (added := _added(plan)):
            lines += _wrapped(f"added, {name}: {added}")
    for name, plan in scenarios.plans.items():
        lines += _wrapped(f"take care, {name}: {_kinds(plan)}")
    return "\n".join(lines)


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")


def _added(plan: Plan) -> str:
    """Return the warm air and the tunes that a plan put into a timetable of its own."""
    kinds = {"warm": "warm air", "tune": "a tune"}
    return ", ".join(
        f"{kinds[entry.activity]} {hours_of(entry.start, entry.end)}"
        for entry in plan.schedule.entries
        if entry.added
    )


def _tunes(scenarios: Scenarios) -> list[dict[str, Block]]:
    """Return the tunes of all scenarios in order of time, those that are one side by side."""
    first, *others = scenarios.plans
    tunes = {block: {first: block} for block, _ in scenarios.first.blocks()}
    more: dict[datetime, dict[str, Block]] = {}
    for name in others:
        same = scenarios.same_tunes(name)
        for mine, then in same.items():
            tunes[mine][name] = then
        for block, _ in scenarios.plans[name].blocks():
            if block not in same.values():
                more.setdefault(block.tune_at, {})[name] = block
    together = [*tunes.values(), *more.values()]
    return sorted(together, key=lambda those: min(block.tune_at for block in those.values()))


def _warmer(scenarios: Scenarios, plan: Plan, fahrenheit: bool) -> str:
    """Return how much warmer a scenario is at most, empty where its times are others."""
    if plan is scenarios.first or not plan.times.equals(scenarios.first.times):
        return ""
    differences = plan.celsius - scenarios.first.celsius
    largest = float(differences[np.argmax(np.abs(differences))])
    return f"{signed(largest * (1.8 if fahrenheit else 1.0))} {'°F' if fahrenheit else '°C'}"


def _section_rows(
    scenarios: Scenarios, section: Section, tunes: Mapping[str, Block]
) -> Iterator[tuple[str, ...]]:
    settings = (scenarios.setting(name, section, tunes.get(name)) for name in scenarios.plans)
    cells = [list(_cells(setting)) for setting in settings]
    for row in range(max(map(len, cells))):
        slide = section.slides[row] if section.slides else ""
        label = f"  {section.name if row == 0 else ''} {slide}".rstrip()
        yield label, *(column[row] if row < len(column) else "" for column in cells)


def _cells(setting: Setting | None) -> Iterator[str]:
    if setting is None:
        return
    target = _target(None if setting.waits else setting.show_cents)
    worst = max(setting.remaining_cents.values(), key=abs)
    far = abs(worst) >= REMAINS_CENTS and not setting.waits  # the tune it waits for takes it away
    left = f", {deviation(worst)} remains" if far else ""
    if not setting.moves:
        yield f"–{left}"
    for move in setting.moves:
        way = move_range(setting, move)
        # Where the way is not sure, what the tuner shows is all there is to do.
        parts = (target, "" if target and way == "by the tuner" else way)
        yield f"{', '.join(filter(None, parts))}{left}"
        left, target = "", ""


def _target(show: Estimate | None) -> str:
    """Return what the tuner should show, with half its interval where it is not zero."""
    if show is None or not shown_cents(show):
        return show_briefly(show)
    return f"{show_briefly(show)} ±{(show.high - show.low) / 2.0:.0f}"


def _fitting(rows: Sequence[tuple[str, ...]]) -> Iterator[list[tuple[str, ...]]]:
    """Yield the rows with as many of the columns at a time as a terminal is wide."""
    label, *columns = [max(map(len, column)) + 2 for column in zip(*rows, strict=True)]
    first, used = 1, label
    for number, width in enumerate(columns, start=1):
        if used + width > WIDTH and number > first:
            yield [(row[0], *row[first:number]) for row in rows]
            first, used = number, label
        used += width
    yield [(row[0], *row[first:]) for row in rows]


def _kinds(plan: Plan) -> str:
    kinds = dict.fromkeys(caution.kind for caution in plan.cautions)
    return ", ".join(kinds) or "none listed (this does not mean none apply)"
