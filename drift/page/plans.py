"""The plan of an outdoor performance on the page: the file that was written for telephones."""

from __future__ import annotations

import base64
import hashlib
import html
import re
from functools import cache
from importlib.resources import files
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from drift.page.rendering import render
from drift.page.views import page, state_of

__all__ = ["plan", "plans"]

NAME = "plan.html"


async def plans(request: Request) -> Response:
    """Show the plan; where there are two, of two pitches, ask which."""
    folder = state_of(request).room.plan
    written = await run_in_threadpool(_written, folder)
    if len(written) == 1:
        return RedirectResponse("/plan/1", 303)
    listed = await run_in_threadpool(lambda: [_title(path) for path in written])
    return page("plan.html", here="/plan", plans=listed, folder="" if folder is None else folder)


async def plan(request: Request) -> Response:
    """Show one plan as it is written now."""
    number = request.path_params["number"]
    written = await run_in_threadpool(_written, state_of(request).room.plan)
    if not number.isascii() or not number.isdigit() or len(number) > 3:
        raise HTTPException(404)
    if not 1 <= int(number) <= len(written):
        raise HTTPException(404)
    text = await run_in_threadpool(written[int(number) - 1].read_text, encoding="utf-8")
    pages = render("pages.html", here="/plan")  # the file itself, on a telephone, has no others
    text = text.replace("<body>", f"<body>\n{pages}", 1)
    return Response(text, media_type="text/html", headers={"Content-Security-Policy": _policy()})


def _written(folder: Path | None) -> list[Path]:
    """Return the plans in a folder, and in those within it: a folder for each pitch."""
    if folder is None:
        return []
    return [path for path in (folder / NAME, *sorted(folder.glob(f"*/{NAME}"))) if path.is_file()]


def _title(path: Path) -> str:
    found = re.search(r"<title>(.*?)</title>", path.read_text(encoding="utf-8")[:4000], re.S)
    return html.unescape(found[1]) if found else path.parent.name


@cache
def _policy() -> str:
    """Return what the plan may do: run the script that our own plans have, and no other."""
    template = files("drift.sheets").joinpath("templates", NAME).read_text(encoding="utf-8")
    script = template.partition("<script>")[2].partition("</script>")[0]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'"
