"""What still holds on an evening whose air is not as forecast: one line for a director's sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from drift.words.gig import show_briefly, shown_cents
from drift.words.gig_cautions import cautions_beside, kinds_beside
from drift.words.gig_clock import clock
from drift.words.gig_moves import hints, left_at_tunes
from drift.words.letters import capital
from drift.words.lists import joined

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.retuning import Setting
    from drift.gig.scenarios import Scenarios
    from drift.gig.timetable import Block
    from drift.regression.results import Estimate

__all__ = ["other_weather"]

#: Two A4 nearer than this are one [Hz].
HERTZ_ALIKE = 0.05
#: Targets that differ by no more than this hold [cents].
HOLD_CENTS = 5


def other_weather(
    plan: Plan,
    scenarios: Scenarios | None = None,
    fahrenheit: bool = False,
    *,
    in_short: bool = False,
) -> list[str]:
    """Return how far the targets of a plan hold in other weather, a sentence each.

    Parameters
    ----------
    plan : Plan
        The plan of one pitch.
    scenarios : Scenarios, optional
        Other weather beside it, a line each, and one of its cautions where they are others;
        without it, the error of the forecast is taken.
    fahrenheit : bool
        Whether differences of temperature are in °F.
    in_short : bool
        Whether to tell kinds and values of its cautions alone, for want of room.

    Returns
    -------
    list of str
        Empty where nothing is tuned in the air of the forecast.
    """
    if scenarios is None:
        return list(_as_forecast(plan, fahrenheit))
    lines = []
    for name, other in scenarios.plans.items():
        if other is not scenarios.first:
            lines.append(_scenario(scenarios, name, fahrenheit, in_short))
            care = cautions_beside(scenarios.first, other, fahrenheit)
            lines += [f"Take care then: {' '.join(care)}"] if care and not in_short else []
    return lines


def _degrees(celsius: float, fahrenheit: bool) -> str:
    return f"{abs(celsius) * (1.8 if fahrenheit else 1.0):.2g} {'°F' if fahrenheit else '°C'}"


def _as_forecast(plan: Plan, fahrenheit: bool) -> Iterator[str]:
    """Yield how wide the targets are that are tuned to in the air of the forecast."""
    outdoors = {e.start for e in plan.schedule.entries if e.celsius is None}
    within: dict[str, int] = {}
    for setting in plan.settings:
        aims = setting.block.plays and not setting.waits and setting.block.tune_at in outdoors
        if aims and (show := setting.show_cents):
            when, half = clock(setting.block.tune_at), round((show.high - show.low) / 2.0)
            within[when] = max(within.get(when, 0), half)
    if not within:
        return
    error = _degrees(plan.assumptions.forecast_error_celsius, fahrenheit)
    alike = len({*within.values()}) == 1
    each = [f"within {half} cents{'' if alike else f' at {when}'}" for when, half in within.items()]
    yield (
        f"If the air is not as forecast, tune to the same targets at {joined(list(within))}: as "
        f"far as ±{error} they hold {joined(list(dict.fromkeys(each)))}."
    )


def _scenario(scenarios: Scenarios, name: str, fahrenheit: bool, in_short: bool) -> str:
    """Return which targets hold in a scenario, which do not, and who cannot reach them."""
    other = scenarios.plans[name]
    first = scenarios.first
    parts = [
        *_targets(scenarios, name), *_millimetres(scenarios, name), *_warm_air(first, other),
        *_beyond(other), *_pitch(first, other),
    ]  # fmt: skip
    if in_short and (kinds := kinds_beside(first, other, fahrenheit)):
        parts.append(f"take care: {', '.join(kinds)}")
    return f"{capital(name)}{_warmer(scenarios, other, fahrenheit)}: {'; '.join(parts)}."


def _warmer(scenarios: Scenarios, other: Plan, fahrenheit: bool) -> str:
    if not other.times.equals(scenarios.first.times):
        return ""
    differences = other.celsius - scenarios.first.celsius
    largest = float(differences[np.argmax(np.abs(differences))])
    way = "colder" if largest < 0 else "warmer"
    return f" (up to {_degrees(largest, fahrenheit)} {way})" if largest else ""


def _targets(scenarios: Scenarios, name: str) -> Iterator[str]:
    """Yield how far targets hold, and of the tunes when they are, if then at other times."""
    first, other = scenarios.first, scenarios.plans[name]
    pairs = scenarios.same_tunes(name)
    away: dict[str, int] = {}
    changed = []
    blocks = list(first.blocks())
    for number, (block, settings) in enumerate(blocks):
        at = clock(block.tune_at)
        if block not in pairs:
            changed.append(f"no tune at {at}")
            continue
        furthest = _furthest(scenarios, name, settings, pairs[block])
        put_off = number + 1 < len(blocks) and blocks[number + 1][0] not in pairs
        if furthest is None and put_off and (targets := _targets_at(scenarios, name, pairs[block])):
            changed.append(f"tune at {at} already, which the cards put off: {targets}")
        if stay := _stay(scenarios, name, settings, pairs[block]):
            changed.append(f"{stay} at {clock(pairs[block].tune_at)}")
        if pairs[block].tune_at != block.tune_at:
            its = "" if furthest is None else f", its targets {_held(furthest)}"
            changed.append(f"the tune at {at} is at {clock(pairs[block].tune_at)}{its}")
        elif furthest is not None:
            away[at] = furthest
    for at, cents in away.items():
        if abs(cents) > HOLD_CENTS:
            yield f"the targets at {at} {_held(cents)}"
    if holding := {at: cents for at, cents in away.items() if abs(cents) <= HOLD_CENTS}:
        yield f"the targets at {joined(list(holding))} {_held(max(holding.values(), key=abs))}"
    yield from changed
    for block, _ in other.blocks():
        if block not in pairs.values():
            targets = _targets_at(scenarios, name, block)
            yield f"tune at {clock(block.tune_at)} too{f': {targets}' if targets else ''}"


def _stay(scenarios: Scenarios, name: str, settings: Sequence[Setting], then: Block) -> str:
    """Return who leaves the slides in other weather at a tune for which the cards give targets."""
    aims = [mine.section for mine in settings if _target(mine)]
    there = {section.name: scenarios.setting(name, section, then) for section in aims}
    stay = [who for who, other in there.items() if other is not None and other.waits]
    if not stay:
        return ""
    return "slides stay" if len(stay) == len(aims) else f"the slides of {joined(stay)} stay"


def _targets_at(scenarios: Scenarios, name: str, then: Block) -> str:
    """Return what the tuner should show at a tune of a scenario, of those who tune there."""
    alike: dict[str, list[str]] = {}
    for setting in scenarios.plans[name].settings:
        if setting.block == then and (show := _target(setting)):
            alike.setdefault(show_briefly(show), []).append(setting.section.name)
    return ", ".join(f"{joined(who)} {show}" for show, who in alike.items())


def _furthest(
    scenarios: Scenarios, name: str, settings: Sequence[Setting], then: Block
) -> int | None:
    """Return how far a target of a tune is from that of the plan at most, None without any."""
    away = [
        shown_cents(show) - shown_cents(planned)
        for mine in settings
        if (other := scenarios.setting(name, mine.section, then)) is not None
        and (planned := _target(mine)) and (show := _target(other))
    ]  # fmt: skip
    return max(away, key=abs, default=None)


def _held(cents: int) -> str:
    """Return whether targets hold that are so far from those of the plan at most."""
    if abs(cents) <= HOLD_CENTS:
        return f"hold within {_cents(cents)}"
    return f"would be up to {_cents(cents)} {'sharper' if cents > 0 else 'flatter'}"


def _millimetres(scenarios: Scenarios, name: str) -> Iterator[str]:
    """Yield that the millimetres of the cards are for other air, where they are."""
    pairs = scenarios.same_tunes(name)
    for mine in scenarios.first.settings:
        then = scenarios.setting(name, mine.section, pairs.get(mine.block))
        if then is not None and hints(mine) and not _within(mine, then):
            yield "the millimetres of the cards do not hold, the tuner decides"
            return


def _within(mine: Setting, then: Setting) -> bool:
    """Return whether slides go as far in other air as a card says, to a whole millimetre."""
    far = {move.slide: round(move.move_mm) for move in then.moves}
    return all(round(move.low_mm) <= far[move.slide] <= round(move.high_mm) for move in mine.moves)


def _warm_air(first: Plan, other: Plan) -> Iterator[str]:
    """Yield when to blow warm air, where that is at other times than planned."""
    planned, then = (
        [clock(entry.start) for entry in plan.schedule.entries if entry.activity == "warm"]
        for plan in (first, other)
    )
    if then and then != planned:
        yield f"warm air from {joined(then)}"


def _cents(cents: int) -> str:
    whole = max(abs(cents), 1)
    return f"{whole} cent{'s' if whole > 1 else ''}"


def _target(setting: Setting) -> Estimate | None:
    return None if setting.waits else setting.show_cents


def _pitch(first: Plan, other: Plan) -> Iterator[str]:
    """Yield the pitch for all in other weather, where that is another than the one planned."""
    planned, then = first.pitch.recommended_a4_hz, other.pitch.recommended_a4_hz
    usual = other.assumptions.tuned.a4_hz
    if abs(first.aim_a4_hz - planned) < HERTZ_ALIKE <= abs(then - planned):
        yield f"the pitch for all would be A4 = {then:.1f} Hz"
    elif (
        abs(first.aim_a4_hz - usual) >= HERTZ_ALIKE
        and first.pitch.out_of_reach(usual)
        and not other.pitch.out_of_reach(usual)
    ):
        yield f"every section would reach A4 = {usual:.1f} Hz"


def _beyond(plan: Plan) -> Iterator[str]:
    """Yield which sections cannot reach their target, what stays, and after which tunes."""
    ends: dict[str, list[str]] = {}
    for section in plan.sections:
        if left := left_at_tunes(plan, section):
            why = "stuck" if section.stuck else "slides at their end"
            ends.setdefault(why, []).append(f"{capital(section.name)} {left}")
    yield from (f"{why}: {', '.join(those)}" for why, those in ends.items())
