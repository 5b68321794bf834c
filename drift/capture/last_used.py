"""What was used at the last rehearsal, to be proposed at the next."""

from __future__ import annotations

from drift.logbook.book import Logbook

__all__ = ["last_used"]


def last_used(book: Logbook) -> dict[str, str]:
    """Return player, instrument and A4 of the latest rehearsal; empty where none was used.

    Parameters
    ----------
    book : Logbook
        Open.
    """
    rehearsals = book.rehearsals()
    if not rehearsals:
        return {"player": "", "instrument": "", "a4": ""}
    chosen = book.choices(rehearsals[-1])
    readings = list(book.rows("readings", rehearsal=rehearsals[-1]))
    last = readings[-1] if readings else {}
    player = chosen.get("player") or str(last.get("player", ""))
    a4 = chosen.get("a4") or (f"{last['a4_hz']:g}" if last else "")
    instrument = book.instrument_of(player, rehearsals[-1]) if player else ""
    return {"player": player, "instrument": instrument, "a4": a4}
