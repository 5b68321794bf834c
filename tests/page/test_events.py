"""Each message once and in order, and everything anew for who missed too much."""

from __future__ import annotations

import asyncio
import json
import re
import sqlite3
import threading
import time
from collections.abc import AsyncIterator
from datetime import datetime

import httpx
import pytest

from drift.logbook.records import Temperature
from drift.page import Room, State
from drift.page.events import KEPT, Broadcast, frame
from drift.page.typed import Typed
from tests.page.visits import SetClock, entry, served
from tests.running_log import PATIENCE_SECONDS

WORKING = '<em class="working">Working it out …</em>'
Message = tuple[str, dict[str, object]]


async def everything() -> dict[str, object]:
    return {"everything": True}


async def told(stream: AsyncIterator[bytes], count: int) -> list[Message]:
    """Return the next messages: their ids and their data."""
    found: list[Message] = []
    async for part in stream:
        if match := re.fullmatch(rb"id: (\S+)\nevent: told\ndata: (.*)\n\n", part):
            found.append((match[1].decode(), json.loads(match[2])))
        if len(found) == count:
            break
    return found


def numbers(messages: list[Message]) -> list[object]:
    return [data.get("n", "everything") for _, data in messages]


def test_newcomer_gets_everything_and_then_the_news() -> None:
    async def scene() -> list[object]:
        room = Broadcast("run")
        room.publish({"n": 1})
        stream = room.follow(None, everything)
        first = await told(stream, 1)
        room.publish({"n": 2})
        room.publish({"n": 3})
        return numbers(first + await told(stream, 2))

    assert asyncio.run(scene()) == ["everything", 2, 3]


def test_who_comes_back_gets_what_was_missed() -> None:
    async def scene() -> list[object]:
        room = Broadcast("run")
        for n in range(1, 6):
            room.publish({"n": n})
        return numbers(await told(room.follow("run-3", everything), 2))

    assert asyncio.run(scene()) == [4, 5]


def test_id_of_a_message_is_where_to_go_on() -> None:
    async def scene() -> list[object]:
        room = Broadcast("run")
        stream = room.follow(None, everything)
        await told(stream, 1)
        for n in range(1, 6):
            room.publish({"n": n})
        (seen, _), *_ = (await told(stream, 3))[::-1]
        return numbers(await told(room.follow(seen, everything), 2))

    assert asyncio.run(scene()) == [4, 5]


@pytest.mark.parametrize(
    "last", ["older-3", "run-999", "run-", "run-3\n", "run--1", "", "run-٣", "x" * 10_000]
)
def test_strange_ids_get_everything(last: str) -> None:
    async def scene() -> list[object]:
        room = Broadcast("run")
        for n in range(1, 6):
            room.publish({"n": n})
        return numbers(await told(room.follow(last, everything), 1))

    assert asyncio.run(scene()) == ["everything"]


def test_who_missed_too_much_gets_everything() -> None:
    async def scene() -> list[object]:
        room = Broadcast("run")
        for n in range(1, KEPT + 10):
            room.publish({"n": n})
        late = numbers(await told(room.follow("run-3", everything), 1))
        in_time = numbers(await told(room.follow("run-9", everything), 1))
        return late + in_time

    assert asyncio.run(scene()) == ["everything", 10]


def test_listener_that_stops_reading_costs_nothing_and_loses_nothing() -> None:
    async def scene() -> tuple[list[object], int]:
        room = Broadcast("run")
        stream = room.follow(None, everything)
        await told(stream, 1)
        for n in range(1, 5 * KEPT):
            room.publish({"n": n})
        kept = len(room._frames)
        return numbers(await told(stream, 1)), kept

    assert asyncio.run(scene()) == (["everything"], KEPT)


def test_silent_stream_says_that_it_is_there() -> None:
    async def scene() -> bytes:
        room = Broadcast("run", beat_seconds=0.01)
        stream = room.follow("run-0", everything)
        await anext(stream)  # how soon to try again
        return await anext(stream)

    assert asyncio.run(scene()) == b"event: beat\ndata: {}\n\n"


def test_listeners_are_counted_out_when_they_leave() -> None:
    async def scene() -> list[int]:
        room = Broadcast("run")
        stream = room.follow(None, everything)
        await anext(stream)
        here = room.listeners
        await stream.aclose()  # type: ignore[attr-defined]
        return [here, room.listeners]

    assert asyncio.run(scene()) == [1, 0]


def test_text_cannot_break_out_of_a_message() -> None:
    text = frame("told", {"said": "a\n\nevent: told\ndata: {}\r\n\u2028"}, "run-1").decode()
    assert text.count("\n") == 4
    assert text.count("\r") == 0


def test_two_browsers_hear_each_other_over_the_network(room: Room) -> None:
    heard: dict[int, list[str]] = {0: [], 1: []}
    ready = [threading.Event(), threading.Event()]

    def listen(address: str, who: int) -> None:
        with httpx.stream("GET", f"{address}/events", timeout=PATIENCE_SECONDS) as stream:
            for line in stream.iter_lines():
                if line.startswith("data: {") and '"regions"' in line:
                    ready[who].set()
                    message = json.loads(line[6:])
                    if message.get("said"):
                        heard[who].append(message["said"])
                        if len(heard[who]) == 2:
                            return

    with served(room) as address:
        threads = [threading.Thread(target=listen, args=(address, who)) for who in (0, 1)]
        for thread, event in zip(threads, ready, strict=True):
            thread.start()
            assert event.wait(10)
        for line in ("F4 +6 F", "F4 -2 Bb"):
            httpx.post(f"{address}/entries", json=entry(line), headers={"Origin": address})
        for thread in threads:
            thread.join(20)
    assert (
        heard[0]
        == heard[1]
        == ["saved F4 +6.0 cents on the F side", "saved F4 -2.0 cents on the B♭ side"]
    )


def test_refused_entry_is_told_to_nobody_else(room: Room, clock: SetClock) -> None:
    with (
        served(room) as address,
        httpx.stream("GET", f"{address}/events", timeout=PATIENCE_SECONDS) as stream,
    ):
        lines = stream.iter_lines()
        while not next(lines).startswith("data: {"):
            pass
        headers = {"Origin": address}
        refused = httpx.post(f"{address}/entries", json=entry("F4 +300 F"), headers=headers)
        kept = httpx.post(f"{address}/entries", json=entry("F4 +3 F"), headers=headers)
        assert (refused.json()["saved"], kept.json()["saved"]) == (False, True)
        said = next(
            message["said"]
            for line in lines
            if line.startswith("data: {") and "said" in (message := json.loads(line[6:]))
        )
        assert said == "saved F4 +3.0 cents on the F side"


@pytest.mark.slow
def test_who_entered_something_is_told_until_the_answer_rests_on_it(
    room: Room, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    for line in ("temp 20", "play warm", "F4 +6 F"):
        room.enter(Typed.of(entry(line)))
    clock.pass_by(minutes=5)
    go_on, work_out = threading.Event(), State._work_out
    go_on.set()

    def waits(state: State, now: datetime) -> None:
        assert go_on.wait(PATIENCE_SECONDS)
        work_out(state, now)

    monkeypatch.setattr(State, "_work_out", waits)
    with (
        served(room) as address,
        httpx.stream("GET", f"{address}/events", timeout=PATIENCE_SECONDS) as stream,
    ):
        answers = (
            message["regions"]["standing"]
            for line in stream.iter_lines()
            if line.startswith("data: {")
            and "standing" in (message := json.loads(line[6:])).get("regions", {})
        )
        assert next(text for text in answers if "Expected from 1 reading of tonight" in text)
        go_on.clear()
        httpx.post(f"{address}/entries", json=entry("F4 +7 F"), headers={"Origin": address})
        old = next(answers)
        assert WORKING in old
        assert "Expected from 1 reading of tonight" in old
        go_on.set()
        new = next(text for text in answers if WORKING not in text)
        assert "Expected from 2 readings of tonight" in new


def test_browser_that_leaves_makes_room_for_another(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drift.page.views.MOST_LISTENERS", 1)
    with served(room) as address:
        with httpx.stream("GET", f"{address}/events", timeout=PATIENCE_SECONDS) as first:
            lines = first.iter_lines()
            assert next(lines).startswith("retry:")
            assert httpx.get(f"{address}/events", timeout=PATIENCE_SECONDS).status_code == 503
        until = time.monotonic() + PATIENCE_SECONDS
        status = 503
        while status == 503 and time.monotonic() < until:
            time.sleep(0.05)
            with httpx.stream("GET", f"{address}/events", timeout=PATIENCE_SECONDS) as again:
                status = again.status_code
        assert status == 200


def test_page_goes_on_after_a_trouble_with_the_book(
    room: Room, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    assert room.live_entries is not None
    troubles = [sqlite3.OperationalError("disk I/O error")]
    read_on = room.live_entries.read_on

    def read_with_trouble() -> None:
        if troubles:
            raise troubles.pop()
        read_on()

    monkeypatch.setattr("drift.page.state.LOOK_SECONDS", 0.05)
    monkeypatch.setattr(room.live_entries, "read_on", read_with_trouble)
    with (
        served(room) as address,
        httpx.stream("GET", f"{address}/events", timeout=PATIENCE_SECONDS) as stream,
    ):
        lines = stream.iter_lines()
        while troubles:
            time.sleep(0.02)
        room.book.keep(Temperature(room.clock.now(), "hall", 21.25, source="stage"))
        assert next(line for line in lines if "21.2 °C" in line)
    assert "could not be brought up to date" in caplog.text
