"""An instrument in words: sides, slides, valves, and where each number comes from."""

from __future__ import annotations

from collections.abc import Mapping

from drift.instruments.anatomy import Instrument, Side, Slide
from drift.instruments.effects import SlideEffect
from drift.notes import shown
from drift.regression.warmup import TIMES_TO_95_PERCENT
from drift.slides.valves import equal_tempered_cents, loop_length_m
from drift.words.tuning_notes import read_as

__all__ = ["METRES_OF_AIR", "NO_AIR_PATH", "air_path", "described", "listed", "notes_named"]

METRES_OF_AIR = "metres of air from the mouthpiece (lengths to scale, places of the slides not)"
NO_AIR_PATH = "No air path, and nothing to move."


def air_path(name: str) -> str:
    """Return what a drawing of an instrument shows."""
    return f"{shown(name)}: the way of the air"


def notes_named(instrument: Instrument, semitones: int) -> str:
    """Return which names notes have, where there are two.

    Parameters
    ----------
    instrument : Instrument
        On which they are played.
    semitones : int
        How much higher than they sound they are named.

    Examples
    --------
    >>> from drift.instruments import find
    >>> notes_named(find("double horn"), 7), notes_named(find("double horn"), 0)
    ('written notes', 'sounding notes')
    >>> notes_named(find("flute"), 0)
    ''
    """
    if not instrument.written_semitones:
        return ""
    return "written notes" if semitones else "sounding notes"


def listed(catalogue: Mapping[str, Instrument]) -> str:
    """Return the names of a catalogue by family, one line each with what can be moved."""
    lines: list[str] = []
    for family in dict.fromkeys(entry.family for entry in catalogue.values()):
        lines.append(f"{family}:")
        for name, entry in catalogue.items():
            if entry.family == family:
                lines.append(f"  {shown(name):<20} {_in_brief(entry)}".rstrip())
    return "\n".join(lines)


def _in_brief(instrument: Instrument) -> str:
    if instrument.fixed_pitch is not None:
        return f"{instrument.fixed_pitch.cents_per_celsius:+.2f} cents/°C"
    slides = ", ".join(shown(slide.name) for slide in instrument.slides)
    sides = " and ".join(f"{side.length_m:.2f} m" for side in instrument.sides)
    return f"{sides}; {slides}"


def described(instrument: Instrument) -> str:
    """Return all that the catalogue knows of an instrument."""
    lines = [f"{shown(instrument.name)} ({instrument.family})"]
    low, high = instrument.compass
    lines.append(f"sounding {shown(low)} to {shown(high)}, {_transposition(instrument)}")
    if instrument.fixed_pitch is not None:
        return "\n".join(filter(None, [*lines, *_bars(instrument), *_remarks(instrument)]))
    for side in instrument.sides:
        lines += _side(instrument, side)
    lines += [line for slide in instrument.slides for line in _slide(instrument, slide)]
    lines += _valves(instrument)
    lines += _expectation(instrument)
    return "\n".join(filter(None, lines + _remarks(instrument)))


def _transposition(instrument: Instrument) -> str:
    note = instrument.sides[0].tuning_notes[0] if instrument.sides[0].tuning_notes else "C4"
    read = read_as(instrument, [note])
    if instrument.written_semitones:
        return f"sounding {shown(note)} is {read}"
    return f"written as it sounds{f', or {shown(note)} as {read}' if read else ''}"


def _source(text: str) -> str:
    return f"    source: {text}" if text else ""


def _side(instrument: Instrument, side: Side) -> list[str]:
    name = f"{shown(side.name)} side" if side.name else "air column"
    quarter = ", a quarter wave" if side.quarter_wave else ""
    notes = ", ".join(shown(note) for note in side.tuning_notes)
    openly = " (open)" if instrument.family == "brass" else ""
    return [
        f"{name}: {side.length_m:.3f} m at 20 °C, "
        f"fundamental {side.fundamental_hz:.3f} Hz{quarter}",
        f"    tune on {notes}{openly}",
        _source(side.source),
    ]


def _slide(instrument: Instrument, slide: Slide) -> list[str]:
    effects = []
    for side in slide.sides:
        slope = instrument.cents_per_mm(side, slide.name)
        on = f" on the {shown(side)} side" if side else ""
        effects.append(f"{slope:.2f} cents/mm{on} (10 cents take {abs(10 / slope):.1f} mm)")
    return [
        f"{shown(slide.name)}: {', '.join(effects)}; {slide.path_factor:g} mm of air for each mm",
        _source(slide.source),
        *_usual_travel(slide),
        *_effect(slide.effect),
    ]


def _usual_travel(slide: Slide) -> list[str]:
    if slide.usual_travel_mm is None:
        return []
    return [f"    comes out about {slide.usual_travel_mm:g} mm on most models (from memory)"]


def _effect(effect: SlideEffect) -> list[str]:
    notes = ", ".join(f"{shown(n)} {mean:g} ± {sd:g}" for n, mean, sd in effect.notes)
    return [
        f"    on real bores a millimetre does {effect.mean:g} ± {effect.sd:g} times as much"
        + (f" ({notes})" if notes else ""),
        _source(effect.source),
    ]


def _valves(instrument: Instrument) -> list[str]:
    if not instrument.valves:
        return []
    loops = [
        f"{valve.name}: "
        + " / ".join(f"{100 * loop_length_m(side, valve):.1f} cm" for side in instrument.sides)
        for valve in instrument.valves
    ]
    sharp = [
        f"{combination} {cents:+.1f}"
        for combination, cents in equal_tempered_cents(instrument).items()
        if "+" in combination
    ]
    lines = [f"valve loops: {', '.join(loops)}", _source(instrument.valves[0].source)]
    return (
        [*lines, f"    together, by length alone [cents]: {', '.join(sharp)}"] if sharp else lines
    )


def _expectation(instrument: Instrument) -> list[str]:
    p = instrument.priors
    return [
        f"expected before any reading: {p.cold_mean:g} ± {p.cold_sd:g} cents/°C cold, "
        f"{p.rise_mean:g} ± {p.rise_sd:g} cents from cold to warm, warm after about "
        f"{TIMES_TO_95_PERCENT * p.warm_minutes:.0f} minutes",
        _source(p.source),
    ]


def _bars(instrument: Instrument) -> list[str]:
    bars = instrument.fixed_pitch
    if bars is None:
        return []
    return [
        f"bars: {bars.cents_per_celsius:+.2f} cents/°C ({bars.low:+.2f} to {bars.high:+.2f}); "
        "nothing to move",
        _source(bars.source),
    ]


def _remarks(instrument: Instrument) -> list[str]:
    lines = [
        f"{text[0].upper()}{text[1:]}" for text in (instrument.habit, instrument.remark) if text
    ]
    if instrument.wooden:
        lines.append("Wood: cold and sudden changes can crack it; follow the maker and a repairer.")
    return [*lines, f"transposition, compass and names: {instrument.source}"]
