"""What the tables show to be spoilt, in words: what was seen, and what to look at."""

from __future__ import annotations

from datetime import UTC, tzinfo

from drift.degrees import celsius_of_fahrenheit
from drift.notes import shown
from drift.pairing.spoilt import NEAR_SECONDS, Spoilt, SpoiltKind

__all__ = ["WARNED", "spoilt_in_words"]

WARNED = (SpoiltKind.FAHRENHEIT, SpoiltKind.DUPLICATES)
"""What is named by itself, when tables are read and by a fit."""


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
    return _SENTENCES[found.kind](found, zone)


def _fahrenheit(found: Spoilt, zone: tzinfo | None) -> str:
    celsius = float(celsius_of_fahrenheit(found.size))
    return (
        f"The temperatures of {found.rehearsal} look like °F under celsius: {found.size:.0f} "
        f"would be {celsius:.0f} °C. Name the column fahrenheit."
    )


def _two_thermometers(found: Spoilt, zone: tzinfo | None) -> str:
    return (
        f"{found.source} and {found.other} differ by {found.size:.1f} °C on {found.rehearsal}. "
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
    settled = found.until.astimezone(zone)
    return (
        f"{name} was still settling until {settled:%H:%M} on {found.rehearsal}. Place it 30 "
        "minutes earlier."
    )


def _clock(found: Spoilt, zone: tzinfo | None) -> str:
    share = f"{100.0 * found.size:.0f} % of the readings of {found.rehearsal} lie outside the time "
    if not found.other:
        return f"{share}that was logged. Check clock and time zone."
    return f"{share}that was logged; {_hours(found)} fits. Check clock and time zone."


def _thermometer_clock(found: Spoilt, zone: tzinfo | None) -> str:
    return (
        f"{100.0 * found.size:.0f} % of the readings of {found.rehearsal} have no temperature "
        f"beside them; temperatures {_hours(found)} fit. Check clock and time zone of the "
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
    SpoiltKind.TWO_THERMOMETERS: _two_thermometers,
    SpoiltKind.TWO_ROOMS: _two_rooms,
    SpoiltKind.SLOW_PROBE: _slow_probe,
    SpoiltKind.CLOCK: _clock,
    SpoiltKind.THERMOMETER_CLOCK: _thermometer_clock,
    SpoiltKind.DUPLICATES: _duplicates,
    SpoiltKind.NEAR_COPIES: _near_copies,
    SpoiltKind.WRITTEN: _written,
}
