"""Thermometers by the names people know, and what happened to them, in words."""

from __future__ import annotations

import re
from collections.abc import Iterable

from drift.words.letters import capital

__all__ = ["called", "called_apart", "happened"]

NAMELESS = "thermometer"
CLOCK = "clock"

HAPPENED = {
    "away": "{name} did not answer, or was unplugged",
    "back": "{name} answered again",
    "refused": "{name} sent a line that is not a temperature",
    "garbage": "{name} sent characters that are not text",
    "lost": "{name} sent more than could be saved, and samples were lost",
    "step": "the computer's clock was changed, or was behind the last entry",
}
"""What a notice of the logbook means, by its kind; of other kinds no reader has any use."""
CLOCK_HAPPENED = {"away": "changes of the computer's clock could not be watched for"}


def called(source: str) -> str:
    """Return the name of a thermometer as people know it: the path of a device is not a name.

    Examples
    --------
    >>> called("stage"), called("/dev/ttyUSB0"), called("COM3")
    ('stage', 'thermometer', 'thermometer')
    """
    is_device = "/" in source or "\\" in source or re.fullmatch(r"COM\d+|simulated", source)
    return NAMELESS if is_device or not source else source


def called_apart(sources: Iterable[str]) -> dict[str, str]:
    """Return the names of several thermometers, numbered where more than one has none.

    Examples
    --------
    >>> called_apart(["COM3", "stage", "COM4"])
    {'COM3': 'thermometer 1', 'stage': 'stage', 'COM4': 'thermometer 2'}
    """
    names = {source: called(source) for source in dict.fromkeys(sources)}
    nameless = [source for source, name in names.items() if name == NAMELESS]
    if len(nameless) > 1:
        names |= {source: f"{NAMELESS} {n}" for n, source in enumerate(nameless, 1)}
    return names


def happened(source: str, name: str, kind: str, count: int) -> str:
    """Return what happened to a thermometer or to the clock, and how often; empty if it is usual.

    Parameters
    ----------
    source, name : str
        As the logbook has it, and what it is called.
    kind : str
        Which kind of notice.
    count : int
        How many there are.

    Examples
    --------
    >>> happened("COM3", "thermometer", "away", 3)
    'The thermometer did not answer, or was unplugged: 3 times.'
    >>> happened("COM3", "thermometer", "dialect", 3)
    ''
    """
    told = (CLOCK_HAPPENED if source == CLOCK else {}).get(kind) or HAPPENED.get(kind)
    if told is None:
        return ""
    of = f"the {name}" if name.startswith(NAMELESS) else name
    often = "once" if count == 1 else f"{count} times"
    return f"{capital(told.format(name=of))}: {often}."
