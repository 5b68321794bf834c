"""Who may ask the page for what: host, origin, device, size and time of every request."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from drift.page.connections import Connection
from drift.page.devices import COOKIE, Devices

__all__ = ["BODY_BYTES", "Guard", "hosts_of"]

#: An entry is a line; nothing that is posted here is larger than this.
BODY_BYTES = 16 * 1024
#: How long a body may take to arrive [s].
BODY_SECONDS = 10.0
#: What a device that was not let in may see: the door, and the style of the door.
OPEN_PATHS = frozenset({"/open", "/page.css", "/icon.svg"})

#: Scripts, styles, pictures and streams only from this server; nothing inline, no frames, no
#: other host, no form that posts elsewhere.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # Not "no-referrer": with it, browsers hide the origin of the page's own forms.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Guard:
    """Refuses what does not come from the page itself, before anything else sees it.

    Parameters
    ----------
    app : ASGI application
        What is guarded.
    hosts : frozenset of str
        The values of ``Host`` that are this server. Any other name means that somebody's
        domain was made to point here (DNS rebinding).
    devices : Devices or None
        The devices let in; None where only this machine can connect at all.
    """

    def __init__(
        self, app: ASGIApp, *, hosts: frozenset[str], devices: Devices | None = None
    ) -> None:
        self.app, self._hosts, self._devices = app, hosts, devices

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        connection: Connection | None = scope.get("state", {}).get("connection")
        if connection is not None:
            connection.request_begins(known=self._lets_in(Headers(scope=scope)))
        try:
            await self._answer(scope, receive, send)
        finally:
            if connection is not None:
                connection.request_ends()

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            refusal = self._refusal(scope)
            if refusal is None and scope["method"] == "POST":
                receive = await _whole_body(receive, Headers(scope=scope))
        except _TooMuch as problem:
            refusal = PlainTextResponse(str(problem), problem.status, {"Connection": "close"})
        await (refusal or self.app)(scope, receive, _with_headers(send))

    def _refusal(self, scope: Scope) -> PlainTextResponse | None:
        headers = Headers(scope=scope)
        method = scope["method"]
        if method not in ("GET", "HEAD", "POST"):
            return PlainTextResponse("Only GET and POST are answered.\n", 405)
        if [host for host in headers.getlist("host") if host.lower() not in self._hosts] or (
            len(headers.getlist("host")) != 1
        ):
            return PlainTextResponse("Wrong host name for this server.\n", 421)
        if not _comes_from_here(headers, method, scope["scheme"]):
            return PlainTextResponse("Another site may not ask this.\n", 403)
        if scope["path"] not in OPEN_PATHS and not self._lets_in(headers):
            return PlainTextResponse(
                "This device was not let in. Open the address that the program shows.\n", 403
            )
        return None

    def _lets_in(self, headers: Headers) -> bool:
        return self._devices is None or _known(self._devices, headers)


def hosts_of(names: list[str], port: int) -> frozenset[str]:
    """Return the values of ``Host`` under which a server is asked for.

    Examples
    --------
    >>> sorted(hosts_of(["localhost", "127.0.0.1"], 8040))
    ['127.0.0.1:8040', 'localhost:8040']
    """
    bare = names if port == 80 else []
    return frozenset([f"{name.lower()}:{port}" for name in names] + [n.lower() for n in bare])


def _known(devices: Devices, headers: Headers) -> bool:
    """Return whether a request comes from a device that was let in."""
    try:
        morsel = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return False
    return morsel is not None and devices.knows(morsel.value)


def _comes_from_here(headers: Headers, method: str, scheme: str) -> bool:
    """Return whether a request was made by this page, or by a person typing its address.

    A post must say where it comes from. Anything that says it comes from elsewhere is refused;
    only following a link (a navigation) may start at another site, since it can change nothing.
    """
    here = f"{scheme}://{headers['host']}".lower()
    origin = headers.get("origin")
    if method == "POST" and origin is None:
        return False
    if origin is not None and origin.lower() != here:
        return False
    site = headers.get("sec-fetch-site", "none")
    followed = method != "POST" and headers.get("sec-fetch-mode") == "navigate"
    return site in ("none", "same-origin") or followed


class _TooMuch(Exception):
    def __init__(self, problem: str, status: int) -> None:
        super().__init__(problem)
        self.status = status


async def _whole_body(receive: Receive, headers: Headers) -> Receive:
    """Read a body that is small and quick enough, and hand it on in one piece."""
    declared = headers.get("content-length", "0")
    if not declared.isdecimal() or int(declared[:12]) > BODY_BYTES:
        raise _TooMuch("This is too large to be an entry.\n", 413)
    body = b""
    try:
        async with asyncio.timeout(BODY_SECONDS):
            more = True
            while more:
                message = await receive()
                if message["type"] == "http.disconnect":
                    break
                body += message.get("body", b"")
                if len(body) > BODY_BYTES:
                    raise _TooMuch("This is too large to be an entry.\n", 413)
                more = message.get("more_body", False)
    except TimeoutError:
        raise _TooMuch("This took too long to arrive.\n", 408) from None
    first = [True]

    async def again() -> Message:
        if first.pop() if first else False:
            return {"type": "http.request", "body": body, "more_body": False}
        return await receive()

    return again


def _with_headers(send: Send) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("Cache-Control", "no-store")
        await send(message)

    return with_headers
