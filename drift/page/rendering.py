"""Templates filled in: every text escaped, times as the wall clock shows them."""

from __future__ import annotations

import re
from datetime import datetime
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from drift.instruments.anatomy import Instrument
from drift.notes import shown, written_of
from drift.quantities import Units, in_inches
from drift.words.cents import THIRTY_SECONDS, degrees
from drift.words.letters import capital

__all__ = ["render", "signed"]


def render(template: str, **values: Any) -> str:
    """Return a template filled in."""
    return _environment().get_template(template).render(**values)


def signed(value: float, decimals: int = 1) -> str:
    """Return a number with its sign, a true minus, and no sign before zero.

    Examples
    --------
    >>> signed(6), signed(-3.25, 2), signed(-0.01)
    ('+6.0', '−3.25', '0.0')
    """
    text = f"{value:+.{decimals}f}"
    return text.replace("-", "−") if float(text) else text[1:]


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("drift.page"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        shown=shown,
        signed=signed,
        number=lambda value, decimals=1: f"{value:z.{decimals}f}".replace("-", "−"),
        clock=lambda time: _time(time, "%H:%M"),
        seconds=lambda time: _time(time, "%H:%M:%S"),
        day=lambda time: _time(time, "%Y-%m-%d"),
        zone=lambda time: time.astimezone().tzname(),
        whole=_whole,
        both_degrees=_both_degrees,
        both_lengths=_both_lengths,
        both_notes=_both_notes,
        sentence=capital,
        minus=lambda text: text.replace(" -", " −").replace("(-", "(−"),
    )
    return environment


def _both_degrees(celsius: float) -> Markup:
    """Return a temperature in both units; the page shows those of its player."""
    return Markup('<span data-in="C">{}</span><span data-in="F">{}</span>').format(
        degrees(celsius), degrees(celsius, Units(fahrenheit=True))
    )


def _both_lengths(length_mm: float) -> Markup:
    """Return where a slide is in both units; the page shows those of its player."""
    return Markup('<span data-in="mm">{}</span><span data-in="inch">{}</span>').format(
        f"{length_mm:g}", in_inches(length_mm, THIRTY_SECONDS)
    )


def _both_notes(note: str, instrument: Instrument | None) -> Markup:
    """Return a sounding note under both its names; the page shows those of its player."""
    semitones = instrument.written_semitones if instrument else 0
    return Markup('<span data-in="sounding">{}</span><span data-in="written">{}</span>').format(
        shown(note), shown(written_of(note, semitones) if semitones else note)
    )


def _whole(text: str) -> str:
    """Return words that are broken neither within an interval nor before a unit.

    Examples
    --------
    >>> _whole("Out 4 mm, to 16 (6 to 12).").replace(chr(160), "_")
    'Out 4_mm, to_16 (6_to_12).'
    """
    text = re.sub(r"\([^()]{1,12}\)", lambda found: found[0].replace(" ", "\u00a0"), text)
    text = re.sub(r"(\d) (\d+/\d)", "\\1\u00a0\\2", text)  # 1 3/16
    text = text.replace(" mm", "\u00a0mm").replace(" inch", "\u00a0inch")
    return text.replace(" to ", " to\u00a0")


def _time(time: datetime, pattern: str) -> Markup:
    exact = f"{time:%Y-%m-%dT%H:%M:%S}Z"
    return Markup('<time datetime="{}">{}</time>').format(exact, f"{time.astimezone():{pattern}}")
