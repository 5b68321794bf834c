"""What still holds on an evening whose air is not as forecast: one line for a director's sheet."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from drift.words.gig import shown_cents
from drift.words.gig_clock import clock
from drift.words.gig_moves import left_after
from drift.words.gig_phrases import joined
from drift.words.letters import capital

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.retuning import Setting
    from drift.gig.scenarios import Scenarios
    from drift.regression.results import Estimate

__all__ = ["other_weather"]

#: Two A4 nearer than this are one [Hz].
HERTZ_ALIKE = 0.05
#: Targets that differ by no more than this hold [cents].
HOLD_CENTS = 5


def other_weather(
    plan: Plan, scenarios: Scenarios | None = None, fahrenheit: bool = False
) -> list[str]:
    """Return how far the targets of a plan hold in other weather, a sentence each.

    Parameters
    ----------
    plan : Plan
        The plan of one pitch.
    scenarios : Scenarios, optional
        Other weather beside it, a line each; without it, the error of the forecast is taken.
    fahrenheit : bool
        Whether differences of temperature are in °F.

    Returns
    -------
    list of str
        Empty where nothing is tuned in the air of the forecast.
    """
    if scenarios is None:
        return list(_as_forecast(plan, fahrenheit))
    others = [name for name, other in scenarios.plans.items() if other is not scenarios.first]
    return [_scenario(scenarios, name, fahrenheit) for name in others]


def _degrees(celsius: float, fahrenheit: bool) -> str:
    return f"{abs(celsius) * (1.8 if fahrenheit else 1.0):.2g} {'°F' if fahrenheit else '°C'}"


def _as_forecast(plan: Plan, fahrenheit: bool) -> Iterator[str]:
    """Yield how wide the targets are that are tuned to in the air of the forecast."""
    outdoors = {e.start for e in plan.schedule.entries if e.celsius is None}
    tunes = [
        (setting, show)
        for setting in plan.settings
        if (show := setting.show_cents) and setting.block.plays and not setting.waits
        and setting.block.tune_at in outdoors
    ]  # fmt: skip
    if not tunes:
        return
    when = joined(list(dict.fromkeys(clock(one.block.tune_at) for one, _ in tunes)))
    within = max((show.high - show.low) / 2.0 for _, show in tunes)
    error = _degrees(plan.assumptions.forecast_error_celsius, fahrenheit)
    yield (
        f"If the air is not as forecast, tune to the same targets at {when}: as far as ±{error} "
        f"they hold within {within:.0f} cents."
    )


def _scenario(scenarios: Scenarios, name: str, fahrenheit: bool) -> str:
    """Return which targets hold in a scenario, which do not, and who cannot reach them."""
    other = scenarios.plans[name]
    parts = [*_targets(scenarios, name), *_beyond(other), *_pitch(scenarios.first, other)]
    return f"{capital(name)}{_warmer(scenarios, other, fahrenheit)}: {'; '.join(parts)}."


def _warmer(scenarios: Scenarios, other: Plan, fahrenheit: bool) -> str:
    if not other.times.equals(scenarios.first.times):
        return ""
    differences = other.celsius - scenarios.first.celsius
    largest = float(differences[np.argmax(np.abs(differences))])
    way = "colder" if largest < 0 else "warmer"
    return f" (up to {_degrees(largest, fahrenheit)} {way})" if largest else ""


def _targets(scenarios: Scenarios, name: str) -> Iterator[str]:
    """Yield how far the targets of each tune are from those of the plan, where both tune then."""
    for number, (block, settings) in enumerate(scenarios.first.blocks()):
        pairs = [(mine, scenarios.setting(name, mine.section, number)) for mine in settings]
        away = [
            shown_cents(show) - shown_cents(planned)
            for mine, other in pairs
            if other is not None and other.block.tune_at == block.tune_at
            and (planned := _target(mine)) and (show := _target(other))
        ]  # fmt: skip
        if not away:
            continue
        furthest = max(away, key=abs)
        if abs(furthest) <= HOLD_CENTS:
            text = f"hold within {_cents(furthest)}"
        else:
            way = "sharper" if furthest > 0 else "flatter"
            text = f"would be up to {_cents(furthest)} {way}"
        yield f"the targets at {clock(block.tune_at)} {text}"


def _cents(cents: int) -> str:
    whole = max(abs(cents), 1)
    return f"{whole} cent{'s' if whole > 1 else ''}"


def _target(setting: Setting) -> Estimate | None:
    return None if setting.waits else setting.show_cents


def _pitch(first: Plan, other: Plan) -> Iterator[str]:
    """Yield the pitch for all in other weather, where that is another than the one planned."""
    planned, then = first.pitch.recommended_a4_hz, other.pitch.recommended_a4_hz
    if abs(first.aim_a4_hz - planned) < HERTZ_ALIKE <= abs(then - planned):
        yield f"the pitch for all would be A4 = {then:.1f} Hz"


def _beyond(plan: Plan) -> Iterator[str]:
    """Yield which sections cannot reach their target, and what stays."""
    ends: dict[str, str] = {}
    for setting in plan.settings:
        if setting.block.plays and (left := left_after(setting)):
            ends.setdefault(setting.section.name, left)
    yield from (f"{capital(name)}: {left}, the slide is at its end" for name, left in ends.items())
