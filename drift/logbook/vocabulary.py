"""Whether the names in a record mean something: the instrument, its sides, its slides."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drift.errors import InputError
from drift.instruments import Catalogue, find
from drift.logbook.records import Calibration, Event, Reading, Record

if TYPE_CHECKING:
    from drift.instruments import Instrument

__all__ = ["check_names", "known_side"]


def check_names(record: Record, catalogue: Catalogue | None = None) -> None:
    """Check the instrument, the side and the slide that a record names.

    Parameters
    ----------
    record : Record
        A reading, an event or a calibration; other records name no instrument.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Raises
    ------
    InstrumentError
        When the catalogue has no such instrument or slide.
    InputError
        When the instrument has no such side.
    """
    if not isinstance(record, Reading | Event | Calibration) or not record.instrument:
        return
    instrument = find(record.instrument, catalogue)
    if not isinstance(record, Reading) and record.slide:
        instrument.slide(record.slide)
    side = getattr(record, "side", "")
    if side and side not in [known.name for known in instrument.sides]:
        raise _no_side(instrument, side)


def known_side(instrument: str, name: str, catalogue: Catalogue | None = None) -> str:
    """Return a side of an instrument as the catalogue spells it, however it was typed.

    Parameters
    ----------
    instrument : str
        A name that the catalogue knows.
    name : str
        The side, in any case.
    catalogue : Catalogue, optional
        The instruments that are known; by default the shipped ones.

    Raises
    ------
    InputError
        When the instrument has no such side.

    Examples
    --------
    >>> known_side("double horn", "bb")
    'Bb'
    """
    known = find(instrument, catalogue)
    sides = {side.name.casefold(): side.name for side in known.sides if side.name}
    if name.casefold() in sides:
        return sides[name.casefold()]
    raise _no_side(known, name)


def _no_side(instrument: Instrument, side: str) -> InputError:
    names = [known.name for known in instrument.sides]
    has = " and ".join(names) if any(names) else "one side, left empty"
    return InputError(f"{instrument.name} has no side {side!r}", f"it has {has}")
