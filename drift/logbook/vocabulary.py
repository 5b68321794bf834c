"""Whether the names in a record mean something: the instrument, its sides, its slides."""

from __future__ import annotations

from drift.errors import InputError
from drift.instruments import Catalogue, find
from drift.logbook.records import Calibration, Event, Reading, Record

__all__ = ["check_names"]


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
    sides = [known.name for known in instrument.sides]
    if side and side not in sides:
        has = " and ".join(sides) if any(sides) else "one side, left empty"
        raise InputError(f"{instrument.name} has no side {side!r}", f"it has {has}")
