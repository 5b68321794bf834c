"""What must not get in: other sites, other names, other devices, too much, too slow."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import httpx
import pytest

from drift.errors import InputError
from drift.page import Room
from drift.page.connections import STRANGERS, STRANGERS_EACH, Limits
from drift.page.devices import COOKIE, Devices
from drift.page.security import BODY_BYTES, hosts_of
from drift.page.serving import listening
from tests.page.visits import ORIGIN, SetClock, Visitor, entry, served
from tests.running_log import PATIENCE_SECONDS


def readings(room: Room) -> list[dict[str, object]]:
    return list(room.book.rows("readings"))


def test_page_on_its_own_name_is_answered(visitor: Visitor) -> None:
    answer = visitor.get("/")
    assert answer.status_code == 200
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["x-frame-options"] == "DENY"


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8040", "127.0.0.1", "127.0.0.1:9999", "localhost.evil:8040", ""],
)
def test_name_of_another_server_is_refused(visitor: Visitor, host: str) -> None:
    # DNS rebinding: the domain points to this machine, but the name in Host is still theirs.
    assert visitor.get("/", headers={"Host": host}).status_code == 421
    assert visitor.post("/entries", json=entry("F4 +6"), headers={"Host": host}).status_code == 421


@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", "null", "http://127.0.0.1:3000", "https://127.0.0.1:8040", None],
)
def test_post_from_another_site_is_refused(
    visitor: Visitor, room: Room, origin: str | None
) -> None:
    for path in ("/entries", "/begin", "/open"):
        answer = visitor.post(path, json=entry("F4 +6"), headers={"Origin": origin})
        assert answer.status_code == 403
    assert readings(room) == []


def test_reading_by_a_script_of_another_site_is_refused(visitor: Visitor) -> None:
    for headers in (
        {"Origin": "http://evil.example"},
        {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"},
        {"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"},  # another port of localhost
    ):
        assert visitor.get("/events", headers=headers).status_code == 403


def test_link_from_another_site_may_be_followed(visitor: Visitor) -> None:
    headers = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    assert visitor.get("/slides", headers=headers).status_code == 200


def test_form_of_another_site_cannot_pass_for_an_entry(visitor: Visitor, room: Room) -> None:
    # text/plain needs no preflight; only JSON is taken.
    answer = visitor.post(
        "/entries", content=b'{"line": "F4 +6"}', headers={"Content-Type": "text/plain"}
    )
    assert answer.status_code == 415
    assert readings(room) == []


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(visitor: Visitor, method: str) -> None:
    assert visitor.ask(method, "/entries", headers={"Origin": ORIGIN}).status_code == 405


def test_ten_megabytes_are_refused_unread(room: Room) -> None:
    with served(room) as address:
        host = address.removeprefix("http://")
        where, port = host.split(":")
        with socket.create_connection((where, int(port)), timeout=PATIENCE_SECONDS) as line:
            head = f"POST /entries HTTP/1.1\r\nHost: {host}\r\nOrigin: {address}\r\n"
            line.sendall(f"{head}Content-Length: {10 * 2**20}\r\n\r\n".encode())
            assert b" 413 " in line.recv(4096).split(b"\r\n", 1)[0]
            for _ in range(200):  # the server hangs up instead of reading on
                try:
                    line.sendall(b"x" * 65536)
                except OSError:
                    break
            else:
                pytest.fail("ten megabytes were read")
    assert readings(room) == []


def test_body_without_a_length_is_cut_off(visitor: Visitor, room: Room) -> None:
    async def endless():  # type: ignore[no-untyped-def]
        for _ in range(1000):
            yield b"x" * BODY_BYTES

    answer = visitor.post("/entries", content=endless())
    assert answer.status_code == 413


@pytest.mark.parametrize("length", ["-1", "1e9", "9" * 400, "٣"])
def test_strange_lengths_are_refused(visitor: Visitor, length: str) -> None:
    headers = {"Content-Length": length.encode()}
    assert visitor.post("/entries", content=b"{}", headers=headers).status_code == 413  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "sent",
    [
        b"", b"{", b"[]", b"null", b'"F4 +6"', b"[" * 10_000, b"\xff\xfe",
        b'{"line": "F4 +6"}', b'{"line": 6, "once": "0123456789abcdef"}',
        b'{"line": "F4 +6", "once": "0123456789abcdef", "time": "2020-01-01T00:00:00Z"}',
        b'{"line": "F4 +6", "once": "../../etc/passwd00", "rehearsal": "hall"}',
        b'{"line": "F4 +6", "once": "0123456789abcdef", "waited_seconds": 1e300}',
        b'{"line": "F4 +6", "once": "0123456789abcdef", "waited_seconds": NaN}',
        b'{"line": "undo", "once": "0123456789abcdef", "entry": true}',
        b'{"line": "undo", "once": "0123456789abcdef", "entry": 1e3}',
        b'{"line": "remark \\ud800", "once": "0123456789abcdef", "rehearsal": "hall"}',
        b'{"line": "F4 +6", "once": "0123456789abcdef", "rehearsal": "hall\\ud800"}',
        b'{"line": "F4 +6", "once": "0123456789abcdef", "rehearsal": "hall", "player": "\\udcff"}',
        b'{"line": "F4 +6", "once": "0123456789abcdef", "rehearsal": "hall", "player": "R\\u202e"}',
        b'{"line": "F4 +6", "once": "\\ud800123456789abcdef", "rehearsal": "hall"}',
    ],
)  # fmt: skip
def test_what_is_no_entry_is_not_kept(visitor: Visitor, room: Room, sent: bytes) -> None:
    before = room.book.last_entry
    answer = visitor.post("/entries", content=sent, headers={"Content-Type": "application/json"})
    assert answer.status_code == 200
    assert answer.json()["saved"] is False
    assert answer.json()["text"].startswith("not saved: ")
    assert room.book.last_entry == before


SCRIPT = "<script>alert(1)</script><img src=x onerror=alert(1)>\"'"


def test_script_in_a_name_is_shown_as_text(visitor: Visitor, room: Room) -> None:
    for line in ("slide main 12", "F4 +6 F", f"remark {SCRIPT}", f"rest {SCRIPT}"):
        assert visitor.post("/entries", json=entry(line, player=SCRIPT)).json()["saved"], line
    for path in (
        "/",
        "/rehearsals",
        "/rehearsals/1",
        f"/slides?instrument=double+horn&player={SCRIPT}",
    ):
        text = visitor.get(path).text
        assert "<script>alert" not in text
        assert "<img src=x" not in text
        assert 'onerror=alert(1)>"' not in text
    assert "&lt;script&gt;alert(1)" in visitor.get("/").text


@pytest.mark.parametrize(
    "path",
    [
        "/../../../../etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/static/../app.py",
        "/page.css/../app.py",
        "/charts/..%2f..%2fetc%2fpasswd.svg",
        "/charts/time.svg.svg",
        "/rehearsals/../../etc",
        "/rehearsals/1/report.exe",
        "/rehearsals/1/report.html%00.pdf",
        "/rehearsals/99999999999999999999",
        f"/rehearsals/{'9' * 5000}",
        f"/rehearsals/{'9' * 5000}/folder.zip",
        "/rehearsals/٣",
        "/rehearsals/-1",
        "/rehearsals/0",
        "/rehearsals/hall",
        "/rehearsals/%2fetc%2fpasswd/folder.zip",
    ],
)
def test_no_address_reaches_a_file(visitor: Visitor, path: str) -> None:
    answer = visitor.get(path)
    assert answer.status_code == 404
    assert "root:" not in answer.text


def test_slow_connections_keep_nobody_waiting(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("drift.page.connections.PATIENCE_SECONDS", PATIENCE_SECONDS)
    with served(room) as address, _slow_connections(address):
        answer = httpx.post(
            f"{address}/entries",
            json=entry("F4 +6 F"),
            headers={"Origin": address},
            timeout=PATIENCE_SECONDS / 2,  # long before any of them is closed
        )
        assert answer.json()["saved"]


def test_slow_connections_are_closed_in_the_end(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drift.page.connections.PATIENCE_SECONDS", 1.0)
    with served(room) as address, _slow_connections(address) as slow:
        until = time.monotonic() + PATIENCE_SECONDS
        while closed := [_is_closed(line, half=n % 2 == 0) for n, line in enumerate(slow)]:
            if all(closed):
                break
            assert time.monotonic() < until, f"{closed.count(False)} are open"
            time.sleep(0.2)


@contextmanager
def _slow_connections(address: str) -> Iterator[list[socket.socket]]:
    """Open 200 connections; half of them begin to ask, the others say nothing at all."""
    where, port = address.removeprefix("http://").split(":")
    with ExitStack() as stack:
        slow = [
            stack.enter_context(
                socket.create_connection((where, int(port)), timeout=PATIENCE_SECONDS)
            )
            for _ in range(200)
        ]
        for line in slow[::2]:
            line.sendall(b"GET / HTTP/1.1\r\nHost: ")
        yield slow


def _is_closed(line: socket.socket, *, half: bool) -> bool:
    line.settimeout(0.001)
    try:
        if half:
            line.sendall(b"a")
        return line.recv(1) == b""
    except TimeoutError:
        return False
    except OSError:
        return True


def test_strangers_who_say_nothing_do_not_shut_out_a_device(
    room: Room, book: Path, clock: SetClock
) -> None:
    secrets: list[str] = []
    devices = Devices(book.with_name("band.devices"), clock.now, secrets.append)
    with served(room, devices) as address:
        where, port = address.removeprefix("http://").split(":")
        let_in = httpx.post(
            f"{address}/open", data={"secret": secrets[-1]}, headers={"Origin": address}
        )
        token = let_in.headers["set-cookie"].split(";")[0]
        with httpx.Client(headers={"Cookie": token, "Origin": address}) as device:
            assert device.get(f"{address}/").status_code == 200  # and stays connected
            strangers = [
                socket.create_connection((where, int(port)), timeout=PATIENCE_SECONDS)
                for _ in range(450)
            ]
            try:
                assert device.post(f"{address}/entries", json=entry("F4 +6 F")).json()["saved"]
                # Another connection of the device comes in as well, from the same address.
                again = httpx.get(
                    f"{address}/", headers={"Cookie": token}, timeout=PATIENCE_SECONDS
                )
                assert again.status_code == 200
                still_open = [line for line in strangers if not _is_closed(line, half=False)]
                assert 0 < len(still_open) <= STRANGERS_EACH
            finally:
                for line in strangers:
                    line.close()
    assert len(readings(room)) == 1


class Counted:
    """A connection as the limits see it."""

    def __init__(self, limits: Limits, address: str) -> None:
        self.is_answered = self.closed = False
        limits.came(self, address)  # type: ignore[arg-type]

    def close(self) -> None:
        self.closed = True


def test_strangers_of_many_addresses_leave_room_for_devices() -> None:
    limits = Limits()
    device = Counted(limits, "192.0.2.1")
    limits.is_known(device)  # type: ignore[arg-type]
    strangers = [Counted(limits, f"198.51.100.{number}") for number in range(450)]
    assert not device.closed
    closed = [one.closed for one in strangers]
    assert closed == [True] * (450 - STRANGERS) + [False] * STRANGERS, "the longest waiting first"
    assert len(limits) == STRANGERS + 1


def test_stranger_who_is_being_answered_is_not_hung_up_on() -> None:
    limits = Limits()
    first = Counted(limits, "192.0.2.1")
    first.is_answered = True
    others = [Counted(limits, "192.0.2.1") for _ in range(STRANGERS_EACH)]
    assert not first.closed
    assert others[0].closed
    limits.left(first)  # type: ignore[arg-type]
    assert len(limits) == STRANGERS_EACH - 1


def test_slow_body_is_given_up(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("drift.page.security.BODY_SECONDS", 0.3)
    with served(room) as address:
        host = address.removeprefix("http://")
        where, port = host.split(":")
        with socket.create_connection((where, int(port)), timeout=PATIENCE_SECONDS) as line:
            head = f"POST /entries HTTP/1.1\r\nHost: {host}\r\nOrigin: {address}\r\n"
            line.sendall(f"{head}Content-Length: 20\r\n\r\n{{".encode())
            assert b" 408 " in line.recv(4096).split(b"\r\n", 1)[0]


def test_only_this_machine_can_connect_by_default() -> None:
    with listening(0) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"


def test_taken_port_is_told() -> None:
    with listening(0) as listener:
        port = listener.getsockname()[1]
        with pytest.raises(InputError, match=f"port {port} is not available"):
            listening(port)


# -- open to the network ------------------------------------------------------------------------


@pytest.fixture
def secrets() -> list[str]:
    return []


@pytest.fixture
def devices(book: Path, clock: SetClock, secrets: list[str]) -> Devices:
    return Devices(book.with_name("band.devices"), clock.now, secrets.append)


@pytest.fixture
def guarded(room: Room, devices: Devices) -> Visitor:
    return Visitor.of(room, devices)


@pytest.mark.parametrize(
    "path", ["/", "/events", "/rehearsals", "/slides", "/page.js", "/charts/time.svg"]
)
def test_unknown_device_sees_nothing(guarded: Visitor, path: str) -> None:
    assert guarded.get(path).status_code == 403
    assert guarded.get(path, headers={"Cookie": f"{COOKIE}=guess"}).status_code == 403
    assert guarded.post("/entries", json=entry("F4 +6")).status_code == 403


def test_secret_lets_one_device_in(guarded: Visitor, secrets: list[str]) -> None:
    first = secrets[-1]
    asked = guarded.get(f"/open?secret={first}")
    assert asked.status_code == 200
    assert len(secrets) == 1, "looking at the address must not use it up"
    let_in = guarded.post("/open", data={"secret": first})
    assert let_in.status_code == 303
    cookie = let_in.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    token = cookie.split(";")[0]
    assert guarded.get("/", headers={"Cookie": token}).status_code == 200
    assert guarded.post("/open", data={"secret": first}).status_code == 403
    assert len(secrets) == 2
    assert secrets[-1] != first


def test_devices_survive_a_restart_and_not_a_day(
    guarded: Visitor, book: Path, clock: SetClock, secrets: list[str]
) -> None:
    cookie = guarded.post("/open", data={"secret": secrets[-1]}).headers["set-cookie"]
    token = cookie.split(";")[0].split("=")[1]
    path = book.with_name("band.devices")
    assert token not in path.read_text()
    assert Devices(path, clock.now, secrets.append).knows(token)
    clock.pass_by(hours=17)
    assert not Devices(path, clock.now, secrets.append).knows(token)


@pytest.mark.skipif(not hasattr(__import__("os"), "getuid"), reason="modes are of POSIX")
def test_devices_are_for_their_owner_only(guarded: Visitor, book: Path, secrets: list[str]) -> None:
    guarded.post("/open", data={"secret": secrets[-1]})
    assert book.with_name("band.devices").stat().st_mode & 0o077 == 0


def test_damaged_list_of_devices_lets_nobody_in(book: Path, clock: SetClock) -> None:
    path = book.with_name("band.devices")
    path.write_bytes(b"\xff\x00 not a list\n" + b"0" * 64 + b" yesterday\n")
    assert not Devices(path, clock.now, lambda secret: None).knows("")


def test_hosts_at_the_usual_port_need_no_number() -> None:
    assert hosts_of(["Stage.local"], 80) == {"stage.local", "stage.local:80"}
