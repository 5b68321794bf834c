"""Records in the words of the one who made them."""

from __future__ import annotations

from collections.abc import Mapping

from drift.capture.entries import Choose
from drift.logbook import records
from drift.notes import shown

__all__ = ["chosen_in_words", "said", "told"]


def chosen_in_words(entry: Choose, name: str, instrument: str) -> str:
    """Return who or what was chosen; with a player, what that player has in hand.

    A player who was known by another spelling than the one typed is called by the known one, and
    it is said.
    """
    if entry.what == "instrument":
        return f"instrument {shown(name)}"
    has = shown(instrument) or "no instrument yet: type instrument and its name"
    known = "" if name == entry.name else f"; {entry.name!r} is taken for the same player"
    return f"player {name} ({has}){known}"


def told(record: records.Record) -> str:
    """Return a record that was kept."""
    if isinstance(record, records.Reading):
        side = f" on the {shown(record.side)} side" if record.side else ""
        flag = ", flagged" if record.remark.startswith("!") else ""
        return f"{shown(record.note)} {record.cents:+z.1f} cents{side}{flag}"
    if isinstance(record, records.Temperature):
        return f"temp {record.celsius:.1f} °C"
    assert isinstance(record, records.Event)
    if record.event == "slide":
        return f"slide {shown(record.slide)} {record.millimetres:g} mm"
    if record.event == "remark":
        return f"remark {record.remark}"
    return " ".join(filter(None, [record.event, record.player, record.remark]))


def said(row: Mapping[str, object]) -> str:
    """Return a row that is taken back."""
    if row["kind"] == "choice":
        return f"{row['what']} {row['name']}"
    names = ("note", "cents", "celsius", "event", "slide", "millimetres", "remark")
    return " ".join(str(row[name]) for name in names if row.get(name) not in (None, ""))
