"""What the tables show to be spoilt, in words: what was seen, and what to look at."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, tzinfo

from drift.degrees import celsius_of_fahrenheit
from drift.notes import shown
from drift.pairing.spoilt import NEAR_SECONDS, Spoilt, SpoiltKind
from drift.words.numbers import some
from drift.words.zones import clock_here, day_of

__all__ = ["WARNED", "all_in_words", "beginning_assumed", "spoilt_in_words"]

WARNED = (SpoiltKind.FAHRENHEIT, SpoiltKind.DUPLICATES)
"""What is named by itself, when tables are read and by a fit."""


def beginning_assumed(rehearsals: Sequence[str]) -> str:
    """Return that nobody logged when playing began, and what was taken instead.

    Examples
    --------
    >>> beginning_assumed(["7 May"]).partition(": ")[0]
    'no event says when playing began on 7 May'
    """
    return (
        f"no event says when playing began on {some(rehearsals)}: taken as a minute before each "
        "first reading"
    )


def all_in_words(found: Iterable[Spoilt], zone: tzinfo | None = UTC) -> list[tuple[str, str]]:
    """Return kind and text of findings, one for what is the same in several rehearsals.

    Examples
    --------
    >>> off = [Spoilt(SpoiltKind.CLOCK, day, size=0.5, other="+1") for day in ("7 May", "9 May")]
    >>> all_in_words(off)[0][1].partition(";")[0]
    '50 % of the readings of 7 May, 9 May lie outside the time that was logged'
    """
    together: dict[object, list[Spoilt]] = {}
    for number, one in enumerate(found):
        key = (one.kind, one.source, one.other) if one.kind in _SAME_THROUGHOUT else number
        together.setdefault(key, []).append(one)
    return [
        (
            group[0].kind.value,
            spoilt_in_words(group[0], zone)
            if len(group) == 1
            else _SAME_THROUGHOUT[group[0].kind](group),
        )
        for group in together.values()
    ]


def spoilt_in_words(found: Spoilt, zone: tzinfo | None = UTC) -> str:
    """Return one finding as a sentence or two.

    Parameters
    ----------
    found : Spoilt
        What the tables show.
    zone : tzinfo or None
        Where times of day are told; None: where this computer is.

    Examples
    --------
    >>> spoilt_in_words(Spoilt(SpoiltKind.DUPLICATES, "7 May", size=12))
    '12 readings of 7 May are there twice. Remove the copies.'
    """
    if found.kind in _SAME_THROUGHOUT:
        return _SAME_THROUGHOUT[found.kind]([found])
    return _SENTENCES[found.kind](found, zone)


def _of(found: Sequence[Spoilt]) -> str:
    """Return the rehearsals of findings that are alike."""
    return some([one.rehearsal for one in found])


def _span(found: Sequence[Spoilt], decimals: int = 0, times: float = 1.0) -> str:
    """Return the sizes of findings that are alike: one, or from where to where."""
    sizes = sorted(times * one.size for one in found)
    ends = (f"{size:.{decimals}f}" for size in (sizes[0], sizes[-1]))
    return " to ".join(dict.fromkeys(ends))


def _fahrenheit(found: Spoilt, zone: tzinfo | None) -> str:
    celsius = float(celsius_of_fahrenheit(found.size))
    return (
        f"The temperatures of {found.rehearsal} look like °F under celsius: {found.size:.0f} "
        f"would be {celsius:.0f} °C. Name the column fahrenheit."
    )


def _two_thermometers(found: Sequence[Spoilt]) -> str:
    one = found[0]
    return (
        f"{one.source} and {one.other} differ by {_span(found, 1)} °C on {_of(found)}. "
        "Compare them side by side."
    )


def _two_rooms(found: Spoilt, zone: tzinfo | None) -> str:
    which = f"thermometer {found.source}" if found.source else "the thermometer"
    return (
        f"{found.rehearsal}: samples of {which} jump to and fro by {found.size:.1f} °C, like two "
        "thermometers of one name. One rehearsal is one room: give each room a rehearsal of its "
        "own, or the thermometers two names."
    )


def _slow_probe(found: Spoilt, zone: tzinfo | None) -> str:
    name = found.source or "The thermometer"
    settled = clock_here(found.until, zone)
    day = day_of(found.rehearsal, found.until, zone)
    return f"{name} was still settling until {settled} on {day}. Place it 30 minutes earlier."


def _clock(found: Sequence[Spoilt]) -> str:
    share = f"{_span(found, times=100.0)} % of the readings of {_of(found)} lie outside the time "
    if not found[0].other:
        return f"{share}that was logged. Check clock and time zone."
    return f"{share}that was logged; {_hours(found[0])} fits. Check clock and time zone."


def _thermometer_clock(found: Sequence[Spoilt]) -> str:
    return (
        f"{_span(found, times=100.0)} % of the readings of {_of(found)} have no temperature "
        f"beside them; temperatures {_hours(found[0])} fit. Check clock and time zone of the "
        "thermometer."
    )


def _hours(found: Spoilt) -> str:
    hours = float(found.other)
    plural = "" if abs(hours) == 1 else "s"
    return f"{abs(hours):g} hour{plural} {'later' if hours > 0 else 'earlier'}"


def _duplicates(found: Spoilt, zone: tzinfo | None) -> str:
    if found.size == 1:
        return f"1 reading of {found.rehearsal} is there twice. Remove the copy."
    return f"{found.size:.0f} readings of {found.rehearsal} are there twice. Remove the copies."


def _near_copies(found: Spoilt, zone: tzinfo | None) -> str:
    what = "1 reading repeats" if found.size == 1 else f"{found.size:.0f} readings repeat"
    return (
        f"On {found.rehearsal} {what} note and cents of one at most {NEAR_SECONDS:.0f} seconds "
        "before. If they are copies, remove them."
    )


def _written(found: Spoilt, zone: tzinfo | None) -> str:
    return (
        f"{shown(found.source)} of {found.player} on {found.rehearsal} looks written, sounding "
        f"{shown(found.other)}. Enter sounding notes or use --written."
    )


_SENTENCES = {
    SpoiltKind.FAHRENHEIT: _fahrenheit,
    SpoiltKind.TWO_ROOMS: _two_rooms,
    SpoiltKind.SLOW_PROBE: _slow_probe,
    SpoiltKind.DUPLICATES: _duplicates,
    SpoiltKind.NEAR_COPIES: _near_copies,
    SpoiltKind.WRITTEN: _written,
}

_SAME_THROUGHOUT: dict[SpoiltKind, Callable[[Sequence[Spoilt]], str]] = {
    SpoiltKind.TWO_THERMOMETERS: _two_thermometers,
    SpoiltKind.CLOCK: _clock,
    SpoiltKind.THERMOMETER_CLOCK: _thermometer_clock,
}
"""What is off by as much in one rehearsal as in the next: named once."""
