"""Rehearsal folders for the tests: small ones to write by hand, and any valid one."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from hypothesis import strategies as st

from drift.instruments import Catalogue
from drift.logbook.folders import Folder
from drift.logbook.records import (
    EVENTS,
    STATES,
    Calibration,
    Event,
    Notice,
    Reading,
    Record,
    Temperature,
    checked,
)
from drift.texts import unfit

READINGS = """\
time,rehearsal,player,instrument,side,note,cents,a4_hz,remark
2026-10-03T19:05:00+02:00,hall,Rowan,double horn,F,F4,4.0,,
2026-10-03T19:15:00+02:00,hall,Rowan,double horn,F,F4,6.0,440,
"""
TEMPERATURES = """\
time,rehearsal,celsius,humidity_percent,pressure_hpa,source
2026-10-03T19:00:00+02:00,hall,18.0,,,stage
2026-10-03T19:08:00+02:00,hall,19.6,45,1013,stage
2026-10-03T19:16:00+02:00,hall,21.2,,,stage
"""
EVENTS_CSV = """\
time,rehearsal,player,event,slide,position_mm,remark
2026-10-03T19:00:00+02:00,hall,,play,,,
"""


def write(path: Path, **tables: str) -> Path:
    """Write a small valid folder, with tables of one's own in place of its own."""
    texts = {"readings": READINGS, "temperatures": TEMPERATURES, "events": EVENTS_CSV} | tables
    path.mkdir(exist_ok=True)
    for name, text in texts.items():
        (path / f"{name}.csv").write_text(text, encoding="utf-8", newline="")
    return path


START = datetime(2026, 1, 1, tzinfo=UTC)
TEXT = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), max_size=12).filter(
    lambda text: text == "" or (text.strip() and not unfit(text))
)
NAMES = TEXT.filter(lambda text: text.strip() and text == text.strip())
NOTES = st.builds(
    lambda letter, sign, octave: f"{letter}{sign}{octave}",
    st.sampled_from("CDEFGAB"),
    st.sampled_from(["", "b", "#", "♭", "♯"]),
    st.integers(1, 6),
)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Return any float within limits."""
    return st.floats(low, high, allow_nan=False)


@st.composite
def folders(draw: st.DrawFn) -> Folder:
    """Return any valid folder: several rehearsals, one after the other."""
    names = draw(st.lists(NAMES, min_size=1, max_size=3, unique=True))
    players = draw(st.lists(NAMES, min_size=1, max_size=3, unique=True))
    tables: dict[type[Record], list[Record]] = {Reading: [], Temperature: [], Event: [], Notice: []}
    undone: list[tuple[Record, datetime]] = []
    for number, name in enumerate(names):
        for kind, found in tables.items():
            offsets = draw(st.lists(st.integers(0, 7_200_000_000), max_size=4))
            for offset in sorted(offsets):
                time = START + timedelta(days=number, microseconds=offset)
                found.append(draw(records(kind, time, name, players)))
        if draw(st.booleans()):
            time = START + timedelta(days=number, hours=3)
            record = draw(records(draw(st.sampled_from(list(tables))), time, name, players))
            undone.append((record, time + timedelta(seconds=draw(st.integers(0, 99)))))
    calibrations = draw(st.lists(records(Calibration, START, "", players), max_size=2))
    kept = [*tables[Reading], *tables[Temperature], *tables[Event], *calibrations, *tables[Notice]]
    return Folder(tuple(kept), tuple(undone))


@st.composite
def records(
    draw: st.DrawFn, kind: type[Record], time: datetime, rehearsal: str, players: list[str]
) -> Record:
    """Return any valid record of a kind."""
    instrument = draw(st.sampled_from(list(Catalogue.shipped().values())))
    player = draw(st.sampled_from(players))
    if kind is Reading:
        side = draw(st.sampled_from(["", *(side.name for side in instrument.sides)]))
        record: Record = Reading(
            time, rehearsal, player, instrument.name, side, draw(NOTES), draw(numbers(-200, 200)),
            draw(numbers(380, 500)), draw(TEXT), draw(st.none() | numbers(0.001, 200)),
            draw(st.none() | numbers(0, 1)), draw(st.booleans()),
        )  # fmt: skip
    elif kind is Temperature:
        record = Temperature(
            time, rehearsal, draw(numbers(-40, 60)), draw(st.none() | numbers(0, 100)),
            draw(st.none() | numbers(500, 1100)), draw(TEXT),
        )  # fmt: skip
    elif kind is Notice:
        record = Notice(time, rehearsal, draw(TEXT), draw(NAMES), draw(TEXT))
    elif kind is Calibration:
        slides = [slide.name for slide in instrument.slides]
        if not slides:
            instrument = Catalogue.shipped()["double horn"]
            slides = ["main"]
        record = Calibration(
            time, player, instrument.name, draw(st.sampled_from(slides)),
            draw(st.sampled_from([side.name for side in instrument.sides])),
            draw(numbers(-20, -0.01)), draw(st.none() | numbers(-20, 20)),
            draw(st.none() | numbers(-20, 20)), draw(st.none() | st.integers(2, 99)), draw(TEXT),
        )  # fmt: skip
    else:
        record = draw(_events(time, rehearsal, player, instrument))
    return checked(record)


@st.composite
def _events(draw: st.DrawFn, time: datetime, rehearsal: str, player: str, instrument) -> Record:
    event = draw(st.sampled_from(EVENTS))
    if event == "slide" and not instrument.slides:
        event = "remark"
    slide, position_mm, tuned = "", None, event == "tuned"
    if event == "slide" or (tuned and instrument.slides and draw(st.booleans())):
        slide = draw(st.sampled_from([slide.name for slide in instrument.slides]))
        position_mm = draw(numbers(0, 1000))
    named = draw(st.sampled_from(["", instrument.name]))
    return Event(
        time, rehearsal, draw(st.sampled_from(["", player])), event, slide, position_mm,
        draw(TEXT), named,
        draw(st.sampled_from([s.name for s in instrument.sides])) if tuned and named else "",
        draw(st.sampled_from(["", *STATES])) if tuned else "",
        event in ("start", "play") and draw(st.booleans()),
    )  # fmt: skip


HEADER_ONLY = {
    "readings": READINGS.splitlines()[0] + "\n",
    "temperatures": TEMPERATURES.splitlines()[0] + "\n",
    "events": EVENTS_CSV.splitlines()[0] + "\n",
}
