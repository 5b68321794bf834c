"""Looking back: the rehearsals of the book, one with its charts and tables, export, report."""

from __future__ import annotations

import io
import re
import tempfile
import zipfile
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any

import pandas as pd
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from drift.logbook.data_package import write_folder
from drift.logbook.exchange import export_folder, players_of, with_pseudonyms
from drift.page.pictures import of_rehearsal
from drift.page.room import Room
from drift.page.views import SVG_HEADERS, of_book, page, state_of
from drift.study import Study
from drift.words.left_out import text
from drift.words.noticed import sentences
from drift.words.now import basis

__all__ = ["chart", "folder", "rehearsal", "rehearsals", "report_of"]

#: A report carries its own style; it can load and run nothing.
REPORT_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


@dataclass(frozen=True)
class Summary:
    """One rehearsal in a line of the list."""

    number: int
    name: str
    first: datetime | None
    last: datetime | None
    readings: int
    players: tuple[str, ...]
    lowest: float | None
    highest: float | None
    state: str


async def rehearsals(request: Request) -> Response:
    """List the rehearsals of the book, the latest first."""
    state = state_of(request)
    study = await state.look_up()
    names = await run_in_threadpool(state.room.book.rehearsals)
    interrupted = await run_in_threadpool(state.room.book.interrupted)
    listed = [
        _summary(study, number, name, _state(state.room, name, interrupted, study))
        for number, name in enumerate(names, 1)
    ]
    listed.sort(key=lambda one: (one.first is not None, one.first), reverse=True)
    return page(
        "rehearsals.html",
        here="/rehearsals",
        **of_book(state.room),
        listed=listed,
    )


async def rehearsal(request: Request) -> Response:
    """Show one rehearsal: charts, what the readings say, tables."""
    state = state_of(request)
    number, name = await _named(request)
    study = await state.look_up()
    interrupted = await run_in_threadpool(state.room.book.interrupted)
    paired = study.paired.frame[study.paired.frame["rehearsal"] == name]
    events = study.rehearsals.events
    return page(
        "one.html",
        here="/rehearsals",
        **of_book(state.room),
        catalogue=study.catalogue,
        not_used=await run_in_threadpool(_not_used, study, name),
        number=number,
        name=name,
        summary=_summary(study, number, name, _state(state.room, name, interrupted, study)),
        rows=_with_all_readings(study, name, paired),
        events=_rows(events[events["rehearsal"] == name]),
        notices=sentences(study.spoilt, study.notices, name, _zone(state.room)),
        fitted=len(study.known.rows) > 0,
        basis=basis(study.known),
    )


async def chart(request: Request) -> Response:
    """Draw one rehearsal against the time of day."""
    state = state_of(request)
    _, name = await _named(request)
    study = await state.look_up()
    drawing = await state.slowly(of_rehearsal, study, name)
    return Response(drawing, media_type="image/svg+xml", headers=SVG_HEADERS)


async def folder(request: Request) -> Response:
    """Hand one rehearsal out as a folder, packed."""
    number, name = await _named(request)
    hidden = request.query_params.get("players") == "pseudonyms"
    packed = await run_in_threadpool(_packed, state_of(request).room, name, hidden)
    return Response(
        packed,
        media_type="application/zip",
        headers={"Content-Disposition": f'attachment; filename="rehearsal-{number}.zip"'},
    )


async def report_of(request: Request) -> Response:
    """Write the report of one rehearsal, as HTML or as PDF."""
    form = request.path_params["form"]
    if form not in ("html", "pdf"):
        raise HTTPException(404)
    state = state_of(request)
    number, name = await _named(request)
    study = await state.look_up()
    written = await run_in_threadpool(_report, state.room, study, name, form)
    if form == "pdf":
        disposition = {"Content-Disposition": f'inline; filename="report-{number}.pdf"'}
        return Response(written, media_type="application/pdf", headers=disposition)
    return Response(
        written, media_type="text/html", headers={"Content-Security-Policy": REPORT_POLICY}
    )


async def _named(request: Request) -> tuple[int, str]:
    """Return number and name of the rehearsal that an address asks for.

    An address holds a number, never a name: no text from outside chooses a file.
    """
    digits = request.path_params["number"]
    if not re.fullmatch(r"[0-9]{1,9}", digits):
        raise HTTPException(404)
    number = int(digits)
    names = await run_in_threadpool(state_of(request).room.book.rehearsals)
    if not 1 <= number <= len(names):
        raise HTTPException(404)
    return number, names[number - 1]


def _summary(study: Study, number: int, name: str, state: str) -> Summary:
    season = study.rehearsals
    readings, temperatures, events = (
        table[table["rehearsal"] == name]
        for table in (season.readings, season.temperatures, season.events)
    )
    times = pd.concat([readings["time"], temperatures["time"], events["time"]])
    celsius = temperatures["celsius"]
    return Summary(
        number,
        name,
        times.min().to_pydatetime() if len(times) else None,
        times.max().to_pydatetime() if len(times) else None,
        len(readings),
        tuple(sorted(readings["player"].unique())),
        float(celsius.min()) if len(celsius) else None,
        float(celsius.max()) if len(celsius) else None,
        state,
    )


def _state(room: Room, name: str, interrupted: list[str], study: Study) -> str:
    if room.going_on and room.rehearsal == name:
        return "goes on"
    if name in interrupted:
        return "interrupted"
    events = study.rehearsals.events
    ended = ((events["rehearsal"] == name) & (events["event"] == "end")).any()
    return "ended" if ended else "imported, no end"


def _rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a table in order of time, for a template."""
    rows = table.sort_values("time", kind="stable").to_dict("records")
    return [{**row, "time": row["time"].to_pydatetime()} for row in rows]  # type: ignore[dict-item]


def _with_all_readings(study: Study, name: str, paired: pd.DataFrame) -> list[dict[str, Any]]:
    """Return every reading of a rehearsal, with what pairing found where it found something."""
    readings = study.rehearsals.readings
    mine = readings[readings["rehearsal"] == name]
    keys = ["time", "player", "instrument", "side", "note", "cents"]
    found = paired[[*keys, "celsius", "playing_minutes"]].drop_duplicates(keys)
    return _rows(mine.merge(found, on=keys, how="left"))


def _not_used(study: Study, name: str) -> str:
    """Return how many readings of a rehearsal were not used, and why."""
    alone = Study(study.rehearsals.only(rehearsals=[name]), study.catalogue)
    return "; ".join(f"{one.count}: {text(one.reason)}" for one in alone.paired.left_out)


def _packed(room: Room, name: str, hidden: bool) -> bytes:
    contents = export_folder(room.book, rehearsal=name)
    title = name
    if hidden:
        contents = with_pseudonyms(contents, room.book.pseudonyms(players_of(contents)))
        title = "a rehearsal"
    packed = io.BytesIO()
    with tempfile.TemporaryDirectory() as place, zipfile.ZipFile(packed, "w") as archive:
        written = write_folder(Path(place) / "rehearsal", contents, title=title)
        for file in sorted(written.iterdir()):
            archive.write(file, f"rehearsal/{file.name}", zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def _zone(room: Room) -> tzinfo:
    return room.clock.now().astimezone().tzinfo or UTC


def _report(room: Room, study: Study, name: str, form: str) -> bytes:
    from drift.report import Made, compose, to_html, versions

    zone = _zone(room)
    document = compose(
        study.report(rehearsal=name),
        zone=zone,
        made=Made(f"drift page {room.path.name}", versions()),
    )
    if form == "html":
        return to_html(document).encode()
    from drift.report.pdf import to_pdf

    return to_pdf(document)
