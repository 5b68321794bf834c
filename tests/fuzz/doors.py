"""The doors through which something comes in: valid inputs to change, and a way to try one.

A door is opened once in a folder of its own and hands out a call ``attempt(rng) -> str``, which
makes an input, puts it through public functions and returns what happened: ``answered`` or
``refused``. Any exception but a refusal is a finding.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import json
import os
import random
import shutil
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import numpy as np

from drift import cli, load, shipped
from drift.capture.desk import Desk
from drift.capture.heard import Wanted
from drift.capture.listening import listen
from drift.errors import DriftError
from drift.gig.roster import read_roster
from drift.gig.timetable import read_schedule
from drift.gig.weather import read_forecast
from drift.instruments import Catalogue
from drift.logbook.book import Logbook
from drift.logbook.records import Reading, Temperature
from drift.logbook.salvage import salvage
from drift.page import Room, State, create_app
from drift.page.security import hosts_of
from drift.tables.problems import TablesRefused
from sensors.clocks import SystemClock
from sensors.detection import Auto, choose
from sensors.errors import LineRefused, SensorError
from sensors.lines import LineBuffer, readable
from tests.entered import more_entries
from tests.folders import EVENTS_CSV, READINGS, TEMPERATURES
from tests.fuzz.mutations import ODD, changed_bytes, changed_text

Attempt = Callable[[random.Random], str]
START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def outcome(call: Callable[[], object]) -> str:
    """Return whether a call answered or refused, in words that can be shown."""
    try:
        call()
    except (DriftError, SensorError) as refusal:
        many = isinstance(refusal, TablesRefused)  # everything that is wrong, a line each
        if not (refusal.problem and refusal.remedy) or ("\n" in refusal.problem and not many):
            raise AssertionError(f"a refusal that is not two lines: {refusal!r}") from None
        return "refused"
    return "answered"


def write_text(path: Path, text: str) -> None:
    """Write a text, also one that is not quite text."""
    path.write_bytes(text.encode("utf-8", "surrogatepass"))


@contextmanager
def book(folder: Path) -> Iterator[Attempt]:
    """Damage a logbook, load it, salvage it and open it for writing."""
    whole = folder / "whole.logbook"
    with Logbook(whole, writer="fuzz") as opened:
        opened.start("hall", START)
        for minute in range(60):
            time = START + timedelta(minutes=minute)
            opened.keep(Temperature(time, "hall", 20 + minute / 10, source="stage"))
            opened.keep(Reading(time, "hall", "Rowan", "double horn", "F", "F4", minute / 4))
    content = whole.read_bytes()

    def attempt(rng: random.Random) -> str:
        for old in folder.glob("damaged.logbook*"):
            old.unlink()
        damaged = folder / "damaged.logbook"
        damaged.write_bytes(changed_bytes(rng, content))
        read = outcome(lambda: load(damaged))
        outcome(lambda: salvage(damaged))

        def write() -> None:
            with Logbook(damaged, writer="fuzz") as opened:
                opened.keep(Temperature(START + timedelta(hours=2), "hall", 20.0))

        outcome(write)
        return read

    yield attempt


@contextmanager
def rehearsals(folder: Path) -> Iterator[Attempt]:
    """Change one table of a rehearsal folder, or two, and load it."""
    tables = {"readings": READINGS, "temperatures": TEMPERATURES, "events": EVENTS_CSV}
    season = shipped.folder("datasets/cold-hall-season")
    lines = {
        file.stem: "".join(file.read_text("utf-8").splitlines(keepends=True)[:40])
        for file in season.glob("*.csv")
    }

    def attempt(rng: random.Random) -> str:
        place = folder / "rehearsals"
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir()
        chosen = dict(rng.choice([tables, lines]))
        for name in rng.sample(sorted(chosen), rng.choice([1, 1, 2])):
            chosen[name] = changed_text(rng, chosen[name])
        for name, text in chosen.items():
            write_text(place / f"{name}.csv", text)
        return outcome(lambda: load(place))

    yield attempt


@contextmanager
def toml(folder: Path) -> Iterator[Attempt]:
    """Change entries of a catalogue of one's own, and read it."""
    known = Catalogue.shipped()
    entries = [known.entry_text(name) for name in ("double horn", "Bb trumpet", "BBb tuba")]

    def attempt(rng: random.Random) -> str:
        path = folder / "own.toml"
        write_text(path, changed_text(rng, "\n".join(rng.sample(entries, 2))))
        return outcome(lambda: Catalogue.read(path))

    yield attempt


@contextmanager
def recordings(folder: Path) -> Iterator[Attempt]:
    """Change a recording's header or samples, and listen to it."""
    import soundfile

    rate = 8000
    times = np.arange(int(1.5 * rate)) / rate
    tone = 0.3 * np.sin(2 * np.pi * 349.2 * times) + 0.1 * np.sin(2 * np.pi * 698.4 * times)
    kinds = [("wav", "PCM_16"), ("wav", "PCM_24"), ("wav", "FLOAT"), ("flac", "PCM_16")]
    contents = {}
    for ending, kind in kinds:
        path = folder / f"tone.{ending}"
        soundfile.write(path, tone, rate, subtype=kind)
        contents[ending, kind] = path.read_bytes()

    def attempt(rng: random.Random) -> str:
        (ending, _), content = rng.choice(sorted(contents.items()))
        head = rng.choice([64, 64, len(content)])
        content = changed_bytes(rng, content[:head]) + content[head:]
        path = folder / f"changed.{rng.choice([ending, ending, ending, 'wav', 'mp3'])}"
        path.write_bytes(content)
        return outcome(lambda: listen(path, Wanted()))

    yield attempt


FORECAST = """\
time,celsius,humidity_percent,wind_m_s,pressure_hpa
2026-10-09T18:00-04:00,14.5,60,3.2,1013
2026-10-09T19:00-04:00,12.1,66,2.8,1013.5
2026-10-09T21:00-04:00,9.0,,,
"""
SCHEDULE = """\
start,end,activity
2026-10-09T18:30-04:00,2026-10-09T18:40-04:00,tune
18:40,19:30,play
19:30,20:10,rest
20:10,21:00,play
"""
ROSTER = """\
section,instrument,players,slide,position_mm,travel_mm,stuck,built_a4_hz
horns,double horn,4,main,12,45,,
horns,double horn,,F,8,30,yes,
trumpets,Bb trumpet,6,main,10,40,no,
bells,glockenspiel,2,,,,,442
"""


@contextmanager
def gig(folder: Path) -> Iterator[Attempt]:
    """Change a forecast, a schedule or a roster, and read it."""
    readers = {
        "forecast": (FORECAST, read_forecast),
        "schedule": (SCHEDULE, read_schedule),
        "roster": (ROSTER, read_roster),
    }

    def attempt(rng: random.Random) -> str:
        name, (text, reader) = rng.choice(sorted(readers.items()))
        path = folder / f"{name}.csv"
        write_text(path, changed_text(rng, text))
        return outcome(lambda: reader(path))

    yield attempt


@contextmanager
def serial(folder: Path) -> Iterator[Attempt]:
    """Change what a thermometer sends, cut it anywhere, and read it in every dialect."""
    seeds = [path.read_bytes() for path in sorted((Path(__file__).parent / "seeds").iterdir())]

    def attempt(rng: random.Random) -> str:
        data = changed_bytes(rng, rng.choice(seeds)) + b"\n"
        if rng.random() < 0.3:
            data += rng.choice(ODD)[:2000].encode("utf-8", "surrogatepass") + b"\r\n"
        buffer, cut = LineBuffer(), rng.randrange(len(data))
        lines = buffer.feed(data[:cut]) + buffer.feed(data[cut:])
        heard = "refused"
        for dialect in (*map(choose, ("plain", "key=value", "json", "nmea")), Auto()):
            for line in lines:
                if (text := readable(line)) is None:
                    continue
                with contextlib.suppress(LineRefused):
                    found = dialect(text)
                    if found is not None:
                        heard = "answered"
                        if not -40.0 <= found.celsius <= 60.0:
                            raise AssertionError(f"{found.celsius} °C from {text!r}")
        return heard

    yield attempt


TYPED = [
    *("F4 +6", "F4 +6 Bb ! mute in", "F4 351.2Hz F", "temp 21.5", "temp 70F", "slide main 14"),
    *("play", "rest Rowan", "play warm", "player Rowan Oak", "instrument double horn", "undo"),
    *("remark doors open", "k 3 Bb", "d", "now", "help", "F4-12", "+6ct", "F4 12 flat"),
]


@contextmanager
def typed(folder: Path) -> Iterator[Attempt]:
    """Type changed entries into a logbook; what is answered is in it, what is refused is not."""
    with Logbook(folder / "typed.logbook", writer="fuzz") as opened:
        desk = Desk(opened, "hall")
        desk.start(START, player="Rowan", instrument="double horn")

        def attempt(rng: random.Random) -> str:
            line = changed_text(rng, rng.choice(TYPED)).replace("\n", " ")
            before = opened.last_entry
            answer = desk.enter(line, START)
            if opened.last_entry - before != more_entries(answer):
                raise AssertionError(
                    f"{answer.text!r} and {opened.last_entry - before} more entries"
                )
            answer.text.encode("utf-8")
            return "answered" if answer.saved or answer.asks else "refused"

        yield attempt


PATHS = [
    *("/", "/events", "/rehearsals", "/rehearsals/1", "/rehearsals/1/chart.svg", "/slides"),
    *("/rehearsals/1/folder.zip?players=pseudonyms", "/charts/time.svg?instrument=double+horn"),
    *("/slides?instrument=double+horn&celsius=33&at-main=12&player=Rowan", "/begin", "/open"),
]


@contextmanager
def http(folder: Path) -> Iterator[Attempt]:
    """Post changed entries to the page, and ask for changed addresses."""
    host = "127.0.0.1:8040"
    loop = asyncio.new_event_loop()
    with Room(folder / "page.logbook", SystemClock()) as room:
        room.begin("hall", player="Rowan", instrument="double horn")
        app = create_app(State(room), hosts=hosts_of(["127.0.0.1"], 8040))
        transport = httpx.ASGITransport(app, raise_app_exceptions=True)

        async def ask(method: str, path: str, **more: object) -> httpx.Response:
            headers = {"Host": host, "Origin": f"http://{host}", "Content-Type": "application/json"}
            async with httpx.AsyncClient(
                transport=transport, base_url=f"http://{host}", headers=headers
            ) as client:
                return await client.request(method, path, **more)

        def attempt(rng: random.Random) -> str:
            if rng.random() < 0.8:
                names = {"rehearsal": "hall", "player": "Rowan", "instrument": "double horn"}
                once = rng.randbytes(16).hex()
                sent = {"line": rng.choice(TYPED), "once": once, **names, "waited_seconds": 1.5}
                if rng.random() < 0.6:
                    field = rng.choice(sorted(sent))
                    sent[field] = rng.choice(
                        [rng.choice(ODD), 1e308, -1, None, [], {}, True, 2**70]
                    )
                text = json.dumps(sent)
                text = changed_text(rng, text) if rng.random() < 0.5 else text
                content = text.encode("utf-8", "surrogatepass")
                answer = loop.run_until_complete(ask("POST", "/entries", content=content))
                if answer.status_code == 413:
                    return "refused"
                return "answered" if answer.json()["saved"] else "refused"
            path = changed_text(rng, rng.choice([p for p in PATHS if p != "/events"]))
            path = "/" + path.lstrip("/").encode("utf-8", "replace").decode()[:8000]
            try:
                httpx.URL(f"http://{host}{path}")
            except httpx.InvalidURL:
                return "refused"
            if path.startswith("/events"):
                return "refused"  # a stream has no end
            answer = loop.run_until_complete(ask("GET", path))
            return "answered" if answer.status_code < 400 else "refused"

        yield attempt
    loop.close()


COMMANDS = [
    "slides physics --instrument|double horn|--celsius|33|--at|main=12,F=8|--travel|main=45|--json",
    "slides physics --instrument|Bb trumpet|--celsius|4|--minutes|20|--tuned-celsius|68F",
    "instruments double horn",
    "instruments Bb trumpet|--toml",
    "thermometers --seconds|0.02|simulated:?seed=1&every=0.01",
]


@contextmanager
def command_line(folder: Path) -> Iterator[Attempt]:
    """Change the words of a command; what is printed drives no terminal."""
    os.chdir(folder)

    def attempt(rng: random.Random) -> str:
        command, _, rest = rng.choice(COMMANDS).replace("physics ", "physics|").partition(" ")
        words = [command, *rest.split("|")]
        at = rng.choice([n for n in range(1, len(words)) if words[n] != "0.02"])  # it would wait
        words[at] = rng.choice([rng.choice(ODD), changed_text(rng, words[at])])[:5000]
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                status = cli.main(words)
            except SystemExit as end:
                status = end.code
        printed = out.getvalue() + err.getvalue()
        if set("\x1b\x07\x00\u202e\u200b\ud800") & set(printed):
            raise AssertionError(f"it prints {printed!a}")
        return "answered" if status == 0 else "refused"

    yield attempt


DOORS: dict[str, Callable[[Path], contextlib.AbstractContextManager[Attempt]]] = {
    "book": book,
    "folder": rehearsals,
    "toml": toml,
    "recordings": recordings,
    "gig": gig,
    "serial": serial,
    "typed": typed,
    "http": http,
    "command-line": command_line,
}

warnings.simplefilter("error")
