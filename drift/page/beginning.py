"""The form that begins a rehearsal, with what was used last already filled in."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from drift.capture.last_used import last_used
from drift.errors import DriftError
from drift.page.room import Room
from drift.page.state import State
from drift.page.views import form_of, page, state_of
from drift.quantities import HERTZ, Units, parse_quantity, parse_units
from sensors.errors import SensorError

__all__ = ["begin", "begin_form"]

UNITS = {
    Units(): "°C and mm",
    Units(fahrenheit=True, inches=True): "°F and inches",
    Units(fahrenheit=True): "°F and mm",
    Units(inches=True): "°C and inches",
}
EMPTY = dict.fromkeys(
    ("rehearsal", "player", "instrument", "a4", "written", "units", "thermometer", "begins"), ""
)


async def begin_form(request: Request) -> Response:
    """Ask for what a rehearsal needs."""
    state = state_of(request)
    if state.room.going_on:
        return RedirectResponse("/", 303)
    return await _page(state)


async def begin(request: Request) -> Response:
    """Begin a rehearsal, or resume an interrupted one."""
    state = state_of(request)
    form = EMPTY | await form_of(request)
    try:
        await state.begin(
            form["rehearsal"],
            player=form["player"],
            instrument=form["instrument"],
            a4_hz=_a4(form["a4"].strip()),
            written=bool(form["written"]) if form["begins"] else None,
            units=parse_units(form["units"]),
            thermometer=form["thermometer"],
        )
    except (DriftError, SensorError) as refusal:
        return await _page(state, form, refusal)
    return RedirectResponse("/", 303)


def _a4(text: str) -> float | None:
    """Return the pitch of A4 that was typed [Hz]; None where the field was left empty."""
    if not text:
        return None
    return parse_quantity(text, HERTZ, what="A4:", lowest=380.0, highest=500.0)


async def _page(
    state: State,
    form: dict[str, str] | None = None,
    refusal: DriftError | SensorError | None = None,
) -> Response:
    room = state.room
    return page(
        "begin.html",
        here="/",
        book=room.path.name,
        key=room.key,
        seat=form or EMPTY | await run_in_threadpool(_proposed, room),
        players=await run_in_threadpool(room.book.players),
        catalogue=list(room.catalogue.values()),
        interrupted=await run_in_threadpool(room.book.interrupted),
        thermometers=room.thermometer_names,
        found=await run_in_threadpool(lambda: room.thermometers_found),
        units=[(units.spelling, words) for units, words in UNITS.items()],
        problem=refusal.problem if refusal else "",
        remedy=refusal.remedy if refusal else "",
    )


def _proposed(room: Room) -> dict[str, str]:
    """Return what was used last, in the fields of the form."""
    last = last_used(room.book)
    return {
        "rehearsal": f"{room.clock.now().astimezone():%Y-%m-%d}",
        "player": last.player,
        "instrument": last.instrument,
        "a4": "" if last.a4_hz is None else f"{last.a4_hz:g}",
        "written": "1" if last.written or room.written else "",
        "units": room.units.spelling,
        "thermometer": last.thermometer,
    }
