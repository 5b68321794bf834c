"""The rehearsal as it goes on: its page, its stream, its entries, its charts."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any
from urllib.parse import parse_qs

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
    StreamingResponse,
)

from drift.capture.entries import LISTED
from drift.errors import InputError
from drift.instruments import canonical_name
from drift.instruments.anatomy import Instrument
from drift.notes import written_of
from drift.page.devices import COOKIE, LASTS
from drift.page.pictures import STAND_CHARTS
from drift.page.rendering import render
from drift.page.room import Room
from drift.page.state import State
from drift.page.typed import LONGEST_NAME, Typed
from drift.words.due import due_in_words
from drift.words.instruments import notes_named

__all__ = [
    "chart",
    "due",
    "enter",
    "events",
    "form_of",
    "notes",
    "open_door",
    "open_form",
    "page",
    "stand",
    "state_of",
    "tune",
]

MOST_LISTENERS = 300
SVG_HEADERS = {
    # A drawing carries its own styles; as a picture it can load and run nothing.
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'",
}


def state_of(request: Request) -> State:
    """Return what this run of the page holds."""
    state: State = request.app.state.page
    return state


def page(template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """Return a page."""
    return HTMLResponse(render(template, **values), status)


def of_book(room: Room) -> dict[str, Any]:
    """Return what every page of a logbook holds: its name, and how each player reads numbers."""
    own = {"units": room.units_by_player, "typed": room.notes_by_player}
    return {"key": room.key, "book": room.path.name, "own": own}


async def stand(request: Request) -> Response:
    """Show the rehearsal in progress, or ask for one."""
    state = state_of(request)
    room = state.room
    if room.desk is None or room.live_entries is None:
        return RedirectResponse("/begin", 303)
    desk, live_entries = room.desk, room.live_entries
    return page(
        "rehearsal.html",
        here="/",
        room=room,
        regions=await run_in_threadpool(state.stand.regions),
        seat={"player": desk.player, "instrument": desk.instrument},
        players=sorted({row["player"] for row in live_entries.readings}),
        key=room.key,
        catalogue=list(room.catalogue.values()),
        tuning_notes=tuning_notes,
        help=LISTED,
    )


def tuning_notes(instrument: Instrument, *, written: bool = False) -> Sequence[str]:
    """Return the notes an instrument is tuned on, each once, as they are typed."""
    notes = dict.fromkeys(note for side in instrument.sides for note in side.tuning_notes)
    semitones = instrument.written_semitones if written else 0
    return [written_of(note, semitones) if semitones else note for note in notes]


async def events(request: Request) -> Response:
    """Stream what happens to one browser."""
    state = state_of(request)
    if state.broadcast.listeners >= MOST_LISTENERS:
        return PlainTextResponse("Too many listen already.\n", 503)
    stream = state.broadcast.follow(request.headers.get("last-event-id"), state.everything)
    return StreamingResponse(
        stream, media_type="text/event-stream", headers={"Cache-Control": "no-store"}
    )


async def enter(request: Request) -> Response:
    """Save one entry; the answer is sent after it is on the disk."""
    if not _is_json(request):
        return PlainTextResponse("An entry is JSON.\n", 415)
    try:
        typed = Typed.of(json.loads(await request.body()))
    except (ValueError, RecursionError) as error:
        refusal = error if isinstance(error, InputError) else None
        problem = refusal.problem if refusal else "the page sent something that is no entry"
        text = f"not saved: {problem}; load the page again"
        return JSONResponse({"saved": False, "kept": False, "text": text})
    reply = await state_of(request).enter(typed)
    return JSONResponse(
        {
            "saved": reply.answer.saved,
            "kept": reply.answer.saved,  # a page of version 0.1 that was open before
            "text": reply.text,
            "asks": reply.answer.asks,
            "player": reply.player,
            "instrument": reply.instrument,
            "side": reply.side,
        }
    )


def _is_json(request: Request) -> bool:
    return request.headers.get("content-type", "").partition(";")[0] == "application/json"


async def form_of(request: Request) -> dict[str, str]:
    """Return the texts of a posted form."""
    form: FormData = await request.form(max_files=0, max_fields=20)
    return {name: value for name, value in form.items() if isinstance(value, str)}


async def tune(request: Request) -> Response:
    """Begin to tune, or take the answer to a step."""
    state = state_of(request)
    if not _is_json(request):
        return PlainTextResponse("A step is JSON.\n", 415)
    try:
        sent = json.loads(await request.body())
        player, instrument = (str(sent[of])[:LONGEST_NAME] for of in ("player", "instrument"))
        if "step" in sent:
            line = str(sent["line"])[:LONGEST_NAME]
            told = await state.go_on_tuning(player, instrument, int(sent["step"]), line)
        else:
            note = str(sent.get("class_note", "")).strip()[:8]
            valves = bool(sent.get("valves", True))
            more = {"class_note": note or None, "valves": valves}
            told = await state.begin_tuning(player, instrument, **more)
    except (ValueError, KeyError, TypeError, RecursionError):
        return PlainTextResponse("That is not a step of a tuning.\n", 400)
    return JSONResponse({"told": told})


async def chart(request: Request) -> Response:
    """Draw one chart of the rehearsal that goes on."""
    state = state_of(request)
    name = request.path_params["name"]
    if name not in STAND_CHARTS:
        return PlainTextResponse("There is no such chart.\n", 404)
    narrow = request.query_params.get("narrow") == "1"
    drawing = await state.draw(name, *_seat_of(request), narrow=narrow)
    if not drawing:
        return Response(status_code=204, headers=SVG_HEADERS)
    return Response(drawing, media_type="image/svg+xml", headers=SVG_HEADERS)


async def notes(request: Request) -> Response:
    """Return the table of a player's notes, each against the others of its side."""
    state = state_of(request)
    player, instrument = _seat_of(request)
    found = await state.notes(player, instrument)
    text = render(
        "_notes.html",
        notes=found,
        semitones=state.room.semitones(instrument, player),
        kind=state.room.catalogue.get(instrument),
        named=notes_named,
        written=written_of,
    )
    return HTMLResponse(text, headers={"Cache-Control": "no-store"})


async def due(request: Request) -> Response:
    """Return when the next reading of a player is due, in seconds and in words."""
    found = await state_of(request).due(*_seat_of(request))
    seconds = None if found is None or found.in_minutes is None else round(60.0 * found.in_minutes)
    return JSONResponse(
        {"seconds": seconds, "text": due_in_words(found)}, headers={"Cache-Control": "no-store"}
    )


def _seat_of(request: Request) -> tuple[str, str]:
    """Return the player and the instrument that a picture is asked for; empty where unknown."""
    instrument = canonical_name(request.query_params.get("instrument", "")[:LONGEST_NAME])
    if instrument not in state_of(request).room.catalogue:
        instrument = ""
    return request.query_params.get("player", "")[:LONGEST_NAME], instrument


async def open_form(request: Request) -> Response:
    """Ask on a device that is not let in yet whether it is meant to be.

    The secret is used up by a post, so that a program that only looks at the address for a
    preview does not use it up.
    """
    secret = parse_qs(request.url.query).get("secret", [""])[0]
    return page("open.html", here="/open", secret=secret[:100], refused=False)


async def open_door(request: Request) -> Response:
    """Let a device in that knows the secret."""
    devices = state_of(request).devices
    secret = (await form_of(request)).get("secret", "")
    token = devices.admit(secret) if devices else None
    if token is None:
        return page("open.html", here="/open", secret="", refused=True, status=403)
    response = RedirectResponse("/", 303)
    response.set_cookie(
        COOKIE, token, max_age=int(LASTS.total_seconds()), httponly=True, samesite="strict"
    )
    return response
