"""The page as a web application: which address shows what."""

from __future__ import annotations

from importlib.resources import files

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from drift.errors import DriftError, ProgramFault, faults_refused
from drift.page import beginning, looking_back, plans, slide_view, views
from drift.page.security import Guard
from drift.page.state import State

__all__ = ["create_app"]


def create_app(state: State, *, hosts: frozenset[str]) -> Guard:
    """Return the page.

    Parameters
    ----------
    state : State
        What this run of the page holds: an open room, and the devices let in.
    hosts : frozenset of str
        The values of ``Host`` that are this server.
    """
    app = Starlette(
        routes=[
            Route("/", views.stand),
            Route("/events", views.events),
            Route("/entries", views.enter, methods=["POST"]),
            Route("/tune", views.tune, methods=["POST"]),
            Route("/begin", beginning.begin_form),
            Route("/begin", beginning.begin, methods=["POST"]),
            Route("/open", views.open_form),
            Route("/open", views.open_door, methods=["POST"]),
            Route("/charts/{name}.svg", views.chart),
            Route("/parts/notes", views.notes),
            Route("/parts/due", views.due),
            Route("/rehearsals", looking_back.rehearsals),
            Route("/rehearsals/{number}", looking_back.rehearsal),
            Route("/rehearsals/{number}/chart.svg", looking_back.chart),
            Route("/rehearsals/{number}/folder.zip", looking_back.folder),
            Route("/rehearsals/{number}/report.{form}", looking_back.report_of),
            Route("/slides", slide_view.slides),
            Route("/plan", plans.plans),
            Route("/plan/{number}", plans.plan),
            *(_static(name, kind) for name, kind in STATIC.items()),
        ],
        exception_handlers={DriftError: _refused, HTTPException: _missing, Exception: _failed},
        lifespan=state.lifespan,
    )
    app.state.page = state
    # Outermost: nothing is answered that has not passed it.
    return Guard(app, hosts=hosts, devices=state.devices)


STATIC = {
    "page.css": "text/css",
    "page.js": "text/javascript",
    "seat.js": "text/javascript",
    "tune.js": "text/javascript",
    "remind.js": "text/javascript",
    "icon.svg": "image/svg+xml",
}


def _static(name: str, kind: str) -> Route:
    """Return the route of one file, read once: no address reaches the file system."""
    text = files("drift.page").joinpath("static", name).read_text(encoding="utf-8")

    async def static(request: Request) -> Response:
        return Response(text, media_type=kind, headers={"Cache-Control": "no-cache"})

    return Route(f"/{name}", static)


async def _refused(request: Request, refusal: Exception) -> Response:
    assert isinstance(refusal, DriftError)
    status = 500 if isinstance(refusal, ProgramFault) else 422
    return views.page(
        "refused.html", here="", problem=refusal.problem, remedy=refusal.remedy, status=status
    )


async def _failed(request: Request, error: Exception) -> Response:
    try:
        with faults_refused():
            raise error
    except ProgramFault as fault:
        return await _refused(request, fault)


async def _missing(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    problem = {
        404: "there is nothing at this address",
        405: "this address does not accept submissions",
    }
    return views.page(
        "refused.html",
        here="",
        problem=problem.get(error.status_code, str(error.detail)),
        remedy="begin at the rehearsal",
        status=error.status_code,
    )
