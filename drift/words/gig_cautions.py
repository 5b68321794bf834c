"""What to watch for at an outdoor performance, in words, each with its source.

These are reminders for adults in charge. They never say that conditions are harmless, and they
never decide: local policy and licensed staff (athletic trainers, nurses, physicians) do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from drift.degrees import fahrenheit_of_celsius
from drift.gig.cautions import MEASURED_WBGT, Caution
from drift.words.gig_clock import hours_of

if TYPE_CHECKING:
    from drift.gig.plan import Plan
    from drift.gig.roster import Section

__all__ = [
    "DEFER",
    "brief_cautions",
    "caution_text",
    "cautions_beside",
    "kinds_beside",
    "reached",
    "shown_value",
    "source_of",
    "wood_of",
]

DEFER = "Local policy and licensed staff decide."
SLOWLY = "warm air goes into wood slowly, if at all, as its maker says"
#: A shorter pause between two stretches is not told: nobody goes home for it.
SHORT_PAUSE = timedelta(minutes=30)
PRACTICE = "common practice; no published threshold"
COLD_SOURCE = "wind chill 2001 (Environment Canada, NWS); bands: Environment Canada (second-hand)"
HEAT_SOURCE = (
    "heat index: Rothfusz 1990 (NWS SR 90-23) with the NWS adjustments; bands 80, 90, 103, 125 °F: "
    "NWS heat index chart (second-hand)"
)
_SOURCES = {
    "heat index": HEAT_SOURCE,
    "heat index in full sun": HEAT_SOURCE,
    "warm air": "heat index chart of the NWS starts at 80 °F",
    MEASURED_WBGT: "measured on the spot, as typed; never estimated here",
    "wind chill": COLD_SOURCE,
    "cold air": f"{COLD_SOURCE}, read as calm",
    "stuck slide": "common practice",
}
#: Whether a value is the highest or the lowest of the time it stands beside.
_ENDS = {
    **dict.fromkeys(("heat index", "heat index in full sun", "warm air", "hot metal"), "up to"),
    **dict.fromkeys(("wind chill", "cold air", "cold metal", "wood"), "down to"),
}
_HEAT = (
    ("caution band", "fatigue possible with long exposure or activity"),
    ("extreme caution band", "heat cramps, heat exhaustion or heat stroke possible"),
    ("danger band", "heat cramps or heat exhaustion likely, heat stroke possible"),
    ("extreme danger band", "heat stroke highly likely"),
)
_COLD = (
    "discomfort; watch hands and faces",
    "hypothermia possible when outside for long without enough protection",
    "exposed skin can freeze in 10 to 30 minutes",
    "exposed skin can freeze in 5 to 10 minutes",
    "exposed skin can freeze in 2 to 5 minutes",
    "exposed skin can freeze in less than 2 minutes",
)
IMPLAUSIBLE_WBGT = (
    "this can hardly be: it lies more than 10 °C (18 °F) above the air then, which even full sun "
    "does not do (common practice). Check the value, its unit and its time. Otherwise: "
)


def source_of(caution: Caution) -> str:
    """Return where formula, bands or advice of a caution come from."""
    return _SOURCES.get(caution.kind, PRACTICE)


def caution_text(caution: Caution) -> str:
    """Return what a caution means, without numbers in units of temperature of its own value.

    Parameters
    ----------
    caution : Caution
        What to watch for.
    """
    who = ", ".join(caution.sections)
    match caution.kind:
        case "heat index" | "heat index in full sun":
            return _heat(caution)
        case "warm air":
            return f"no humidity in the forecast, so no heat index: get one. {DEFER}"
        case "wind chill" | "cold air":
            effect = _COLD[caution.band - 1]
            return f"{effect}. Layers, gloves, somewhere warm to wait. {DEFER}"
        case "cold metal":
            frozen = caution.value is not None and caution.value <= 0
            ice = " Below freezing, lips can freeze to metal and valves freeze up."
            advice = "mouthpieces in a warm pocket until you blow; ask about plastic ones."
            return advice + ice * frozen
        case "hot metal":
            return (
                "metal in the sun is hotter than the air and can hurt skin: keep instruments "
                "shaded."
            )
        case "wood":
            return (
                f"{who}: a wooden instrument can crack in the cold or when blown warm in haste: "
                f"use one of plastic, or keep it warm until it is played; {SLOWLY}."
            )
        case "sudden change":
            return (
                f"{who}: a wooden instrument takes a new temperature best in its closed case, as "
                "far as the timetable leaves time for it."
            )
        case "stuck slide":
            return (
                f"{who}: the {caution.slide} slide is stuck. Do not force it, least of all when "
                "the metal is cold: a repair technician frees it."
            )
        case _:  # measured WBGT
            return (
                f"{IMPLAUSIBLE_WBGT * caution.doubtful}thresholds differ between regions and "
                f"between policies: read this value in the table of your own policy. {DEFER}"
            )


def _heat(caution: Caution) -> str:
    name, effect = _HEAT[caution.band - 1]
    sun = "full sun can add 15 °F to the heat index. " * ("sun" in caution.kind)
    below = "Illness occurs below this band too. Water, shade, breaks."
    return f"{sun}{name}: {effect}. {below} {DEFER}"


def wood_of(plan: Plan, section: Section) -> str:
    """Return what a section with instruments of wood is to mind, empty where it is warm enough."""
    cold = any(found.kind == "wood" and section.name in found.sections for found in plan.cautions)
    return f"Wood can crack in the cold: {SLOWLY}." if cold else ""


def shown_value(caution: Caution, fahrenheit: bool = False) -> str:
    """Return the value of a caution as people read it, empty where there is none."""
    if caution.value is None:
        return ""
    value, unit = caution.value, caution.unit
    if fahrenheit:
        change = unit == "°C/h"
        value = value * 1.8 if change else float(fahrenheit_of_celsius(value))
        unit = unit.replace("C", "F")
    unit = unit.removesuffix("/h")  # within an hour, or at the door
    # A measured value as it was typed: policies switch at fixed values.
    digits = f"{value:z.4g}" if caution.kind == MEASURED_WBGT else f"{value:z.0f}"
    return f"{digits} {unit}".replace("-", "−")


def reached(caution: Caution, fahrenheit: bool = False) -> str:
    """Return how far a value goes in the time of a caution, empty where there is none.

    Examples
    --------
    >>> from datetime import UTC
    >>> noon = datetime(2026, 10, 9, 12, tzinfo=UTC)
    >>> reached(Caution(noon, noon, "wood", 4.0, "°C")), reached(
    ...     Caution(noon, noon, "heat index", 31.0, "°C"), fahrenheit=True
    ... )
    ('down to 4 °C', 'up to 88 °F')
    """
    value = shown_value(caution, fahrenheit)
    return f"{_ENDS[caution.kind]} {value}" if value and caution.kind in _ENDS else value


def brief_cautions(plan: Plan, fahrenheit: bool = False) -> list[str]:
    """Return one sentence for each kind of caution, at its most extreme, and who decides."""
    sentences = [f"{head}: {text}" for _, head, text in _by_kind(plan, fahrenheit)]
    return [*sentences, DEFER] if sentences else []


def cautions_beside(plan: Plan, other: Plan, fahrenheit: bool = False) -> list[str]:
    """Return the cautions of other weather that a plan has not, or at other times and values.

    What they mean, and who decides, is said where the plan does not say it.
    """
    heads, texts = ({one[n] for one in _by_kind(plan, fahrenheit)} for n in (1, 2))
    sentences = [
        f"{head}." if text in texts else f"{head}: {text}"
        for _, head, text in _by_kind(other, fahrenheit)
        if head not in heads
    ]
    return [*sentences, DEFER] if sentences and not heads else sentences


def kinds_beside(plan: Plan, other: Plan, fahrenheit: bool = False) -> list[str]:
    """Return kinds and values of `cautions_beside` alone, without times and what they mean."""
    heads = {head for _, head, _ in _by_kind(plan, fahrenheit)}
    return [
        f"{kind} {reached(_worst(other, kind), fahrenheit)}".rstrip()
        for kind, head, _ in _by_kind(other, fahrenheit)
        if head not in heads
    ]


def _worst(plan: Plan, kind: str) -> Caution:
    """Return the caution of a kind that is the most extreme."""
    alike = [caution for caution in plan.cautions if caution.kind == kind]
    # Bands of heat rise and bands of cold fall, away from the middle of the range of living.
    return max(alike, key=lambda caution: abs((caution.value or 0.0) - 18.0))


def _by_kind(plan: Plan, fahrenheit: bool) -> Iterator[tuple[str, str, str]]:
    """Yield each kind, when it holds with its value, and what it means, at its most extreme."""
    for kind in dict.fromkeys(caution.kind for caution in plan.cautions):
        worst = _worst(plan, kind)
        when = _hours([caution for caution in plan.cautions if caution.kind == kind])
        text = caution_text(worst).replace(DEFER, "").strip()
        value, at_worst = shown_value(worst, fahrenheit), hours_of(worst.time, worst.until)
        told = f"at worst {value} ({at_worst})" if value else ""
        if at_worst == when:
            told = reached(worst, fahrenheit)
        yield kind, f"{when} {kind} {told}".rstrip(), text


def _hours(alike: Sequence[Caution]) -> str:
    """Return when cautions of a kind hold; a pause shorter than half an hour counts with them."""
    spans: list[tuple[datetime, datetime]] = []
    for caution in sorted(alike, key=lambda caution: caution.time):
        if spans and caution.time - spans[-1][1] <= SHORT_PAUSE:
            spans[-1] = spans[-1][0], max(spans[-1][1], caution.until)
        else:
            spans.append((caution.time, caution.until))
    return ", ".join(hours_of(*span) for span in spans)
