"""What the page says, in words and tables."""

from __future__ import annotations

import re
import time
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from drift import shipped
from drift.charts.style import figure_of
from drift.logbook.records import Notice, Temperature
from drift.page import Room, State, faults
from drift.page.outlook import standings
from drift.page.pictures import STAND_CHARTS, Asked
from drift.page.rendering import render, signed
from drift.page.stand import Stand, entries, playing, temperature, thermometers, to_tell
from drift.page.typed import Typed
from drift.study import Study
from drift.words.now import basis
from tests.page.visits import SetClock, Visitor, entry
from tests.running_log import PATIENCE_SECONDS


def enter(room: Room, line: str, **more: object) -> None:
    assert room.enter(Typed.of(entry(line, **more))).answer.saved, line


def test_temperature_says_how_it_came_there(room: Room, clock: SetClock) -> None:
    assert room.live_entries is not None
    assert temperature(room.live_entries, clock.now()) is None
    for celsius in (18.0, 18.1, 19.5):
        enter(room, f"temp {celsius}")
        clock.pass_by(minutes=15)
    air = temperature(room.live_entries, clock.now())
    assert air is not None
    assert (air.celsius, air.change, air.old) == (19.5, "1.5 °C warmer than 45 min ago", False)
    assert air.change_fahrenheit == "2.7 °F warmer than 45 min ago"
    clock.pass_by(minutes=16)
    late = temperature(room.live_entries, clock.now())
    assert late is not None
    assert late.old, "a typed temperature holds for half an hour"


def test_small_change_is_no_change(room: Room, clock: SetClock) -> None:
    assert room.live_entries is not None
    enter(room, "temp 18.0")
    clock.pass_by(minutes=20)
    enter(room, "temp 18.1")
    air = temperature(room.live_entries, clock.now())
    assert air is not None
    assert air.change == "the same as 20 min ago"


def test_a_typed_temperature_is_listed_in_the_units_of_each_player(room: Room) -> None:
    enter(room, "units F inch", player="Ann")
    enter(room, "temp 68", player="Ann")
    listed = Stand(room).regions()["entries"]
    assert '<span data-in="C">20.0 °C</span><span data-in="F">68.0 °F</span>, typed' in listed


def test_playing_and_resting_in_words(room: Room, clock: SetClock) -> None:
    assert room.live_entries is not None
    assert playing(room.live_entries, clock.now()).startswith("Playing has not been logged yet.")
    enter(room, "play warm")
    clock.pass_by(minutes=12)
    assert "12 min (already warm)" in playing(room.live_entries, clock.now())
    enter(room, "rest Rowan")  # one player's rest is not everyone's
    assert playing(room.live_entries, clock.now()).startswith("Playing")
    enter(room, "rest")
    assert playing(room.live_entries, clock.now()).startswith("Resting")
    enter(room, "end")
    assert playing(room.live_entries, clock.now()).startswith("The rehearsal ended at")


def test_who_plays_alone_is_said(room: Room, clock: SetClock) -> None:
    assert room.live_entries is not None
    enter(room, "play Rowan")
    clock.pass_by(minutes=12)
    told = playing(room.live_entries, clock.now())
    assert told.startswith("Rowan plays since ")
    assert "12 min" in told
    enter(room, "rest Rowan")
    assert playing(room.live_entries, clock.now()).startswith("Rowan rests since ")
    enter(room, "play")
    assert playing(room.live_entries, clock.now()).startswith("Playing since ")


def test_entries_newest_first_with_the_air_they_met(room: Room, clock: SetClock) -> None:
    assert room.live_entries is not None
    enter(room, "temp 18.2")
    clock.pass_by(minutes=5)
    enter(room, "F4 -6 Bb")
    clock.pass_by(minutes=6)
    enter(room, "F4 +1 ! mute in")
    lines = entries(room.live_entries)
    assert [line.words for line in lines] == [
        "F4 +1.0 cents (mute in)",
        "F4 −6.0 cents, B♭ side",
        "18.2 °C, typed",
    ]
    assert [line.celsius for line in lines] == [None, 18.2, None]
    assert [line.flagged for line in lines] == [True, False, False]
    enter(room, "F4 +1 !")  # its row says that it is flagged, once
    assert entries(room.live_entries)[0].words == "F4 +1.0 cents"


def test_what_is_entered_later_stands_at_its_time_and_in_sight(room: Room, clock: SetClock) -> None:
    assert room.live_entries is not None
    begun = clock.now().astimezone()
    for _ in range(20):
        clock.pass_by(minutes=1)
        enter(room, "F4 +1 F")
    assert "slide" not in " ".join(line.words for line in entries(room.live_entries))
    enter(room, f"at {begun + timedelta(minutes=3):%H:%M} slide main 14")
    lines = entries(room.live_entries)
    assert lines[-1].words == "main slide at 14 mm"
    assert [line.time for line in lines] == sorted((line.time for line in lines), reverse=True)
    assert max(line.entry for line in lines) == lines[-1].entry  # what undo offers
    assert [row["time"] for row in room.live_entries.events] == sorted(
        row["time"] for row in room.live_entries.events
    )
    refused = room.enter(Typed.of(entry("at 12:00 slide main 14"))).answer
    assert "is not between the beginning of the rehearsal" in refused.text
    seat = room.enter(Typed.of(entry("player Kim at 19:00")))
    assert (seat.player, seat.answer.saved) == ("Rowan", False)


def test_notes_are_shown_as_the_player_reads_them(book: Path, clock: SetClock) -> None:
    with Room(book, clock, written=True) as room:
        room.begin("hall")
        enter(room, "C5 +6 F")
        assert "C5 +6.0 cents" in Stand(room).regions()["entries"]


def test_each_player_reads_notes_in_their_own_way(room: Room) -> None:
    enter(room, "F4 +6 F", player="Ann")
    enter(room, "F4 +6 F", player="Ben")
    enter(room, "notes written", player="Ben")
    assert room.live_entries is not None
    desk = room.desk
    assert desk is not None
    words = {
        line.player: line.words
        for line in entries(
            room.live_entries, lambda row: desk.semitones(row["instrument"], row["player"])
        )
    }
    assert words == {"Ann": "F4 +6.0 cents, F side", "Ben": "C5 +6.0 cents, F side"}
    assert room.notes_by_player == {"": "sounding", "Ben": "written"}


def test_only_what_changed_is_told(room: Room, clock: SetClock) -> None:
    stand = Stand(room)
    assert set(stand.changed()) == {
        "temperature", "thermometers", "playing", "heard", "standing", "notices", "entries",
        "typing", "tuning", "trace",
    }  # fmt: skip
    assert stand.changed() == {}
    enter(room, "F4 +6 F")
    assert set(stand.changed()) == {"entries"}
    enter(room, "temp 20")
    assert set(stand.changed()) == {"entries", "temperature"}


def test_pitch_and_units_that_are_typed_are_shown_at_once(room: Room) -> None:
    stand = Stand(room)
    assert "A4 = 440 Hz; " in stand.changed()["typing"]
    enter(room, "A4 442")
    assert "A4 = 442 Hz; " in stand.changed()["typing"]
    enter(room, "temp 20")
    enter(room, "slide main 12.7")
    enter(room, "units F inch")
    assert room.units_by_player == {"": "C mm", "Rowan": "F inch"}
    changed = stand.changed()
    assert "main slide at 1/2 inch" in changed["entries"]
    shown = stand.regions()["temperature"]  # in both: each browser shows those of its player
    assert '<span data-in="C">20.0 °C</span><span data-in="F">68.0 °F</span>' in shown


def test_thermometer_that_nobody_hears_is_said(book: Path, clock: SetClock) -> None:
    address = "simulated:?seed=1&celsius=18&every=0.05&name=stage"
    with Room(book, clock, thermometers=[address]) as room:
        room.begin("hall")
        assert room.live_entries is not None
        until = time.monotonic() + PATIENCE_SECONDS
        while not room.listeners[0].latest:
            assert time.monotonic() < until
            clock.pass_by(seconds=1)
            time.sleep(0.05)
        assert thermometers(room.listeners, room.live_entries, clock.now()) == [], (
            "shown large already"
        )
        late = clock.now() + timedelta(minutes=5)
        ((name, state),) = thermometers(room.listeners, room.live_entries, late)
        assert (name, state[:12]) == ("stage", "silent since")
        enter(room, "end")
        assert room.listeners == []


def test_a_slow_thermometer_is_not_silent_but_has_a_reading_of_an_age(
    room: Room, clock: SetClock
) -> None:
    assert room.live_entries is not None
    for _ in range(4):
        clock.pass_by(seconds=100)
        room.book.keep(Temperature(clock.now(), "hall", 18.04, source="stage"))
    enter(room, "temp 25")
    room.live_entries.read_on()
    listener: Any = SimpleNamespace(
        name="stage", failure=None, latest=SimpleNamespace(time=clock.now(), celsius=18.04)
    )
    said = {1: "18.0 °C", 2: "18.0 °C, 2 min ago", 5: "18.0 °C, 5 min ago", 6: "silent since "}
    for minutes, state in said.items():
        later = clock.now() + timedelta(minutes=minutes)
        (_, words), _ = thermometers([listener, listener], room.live_entries, later)
        assert re.sub(r"\d\d:\d\d", "", words) == state
        air = temperature(room.live_entries, later)
        assert air is not None
        silent = minutes == 6
        assert air.source == ("typed" if silent else "stage")
        assert bool(thermometers([listener], room.live_entries, later)) is silent


def test_what_to_move_is_said_for_each_player(room: Room, clock: SetClock) -> None:
    enter(room, "temp 18")
    for player, instrument in (("Ann", "double horn"), ("Ben", "Bb trumpet")):
        enter(room, "slide main 12", player=player, instrument=instrument)
    enter(room, "play")
    clock.pass_by(minutes=20)
    enter(room, "temp 26")
    stand = Stand(room)
    study = Study.open(room.path)
    stand.standings = standings(study, "hall", clock.now())
    assert basis(study.known) == "acoustics alone: too few readings yet"
    text = stand.regions()["standing"]
    assert text.count("<article") == 2
    told = [to_tell(one).do for one in stand.standings]
    assert all(one.startswith("Take a reading first: nothing was read tonight.") for one in told)
    enter(room, "Bb4 +25", player="Ben", instrument="Bb trumpet")
    clock.pass_by(minutes=1)
    for _ in range(2):
        enter(room, "Bb4 +26", player="Ben", instrument="Bb trumpet")
        clock.pass_by(minutes=1)
    stand.standings = standings(study.refreshed(), "hall", clock.now())
    ann, ben = (to_tell(one) for one in stand.standings)
    assert ben.do.startswith("Pull the main slide out ")
    assert ann.do.startswith("Take a reading first")


def test_slides_of_an_earlier_rehearsal_are_said_until_they_are_placed(
    room: Room, clock: SetClock
) -> None:
    enter(room, "slide main 35.5")
    enter(room, "end")
    clock.pass_by(days=2)
    room.begin("second", player="Rowan", instrument="double horn")
    for line in ("temp 20", "play warm", "F4 +6 F"):
        enter(room, line, rehearsal="second")
    clock.pass_by(minutes=5)
    state = State(room)
    state._work_out(clock.now())
    said = "Slide main 35.5 mm as in hall; slide main MM if it is elsewhere."
    assert said in state.stand.regions()["standing"]
    enter(room, "slide main 30", rehearsal="second")
    state._work_out(clock.now())
    assert "as in hall" not in state.stand.regions()["standing"]


def test_player_without_a_temperature_is_told_what_to_do(room: Room, clock: SetClock) -> None:
    enter(room, "F4 +6 F")
    stand = Stand(room)
    study = Study.open(room.path)
    stand.standings = standings(study, "hall", clock.now())
    assert "No temperature is known" in stand.regions()["standing"]


@pytest.mark.parametrize(
    ("value", "text"), [(6.0, "+6.0"), (-2.04, "−2.0"), (0.04, "0.0"), (-0.04, "0.0")]
)
def test_signed_numbers(value: float, text: str) -> None:
    assert signed(value) == text


def test_templates_escape_what_they_are_given() -> None:
    text = render("_thermometers.html", thermometers=[("<b>", "a & b")], ended=False)
    assert "&lt;b&gt;" in text
    assert "a &amp; b" in text


@pytest.mark.parametrize(
    ("latest", "failure", "said", "state"),
    [
        (None, None, [], "no reading yet"),
        (None, "no such device", [], "stopped: no such device"),
        (20.04, None, [], "20.0 °C"),
        (20.04, None, ["away"], "offline since "),
        (20.04, None, ["away", "back"], "20.0 °C"),
        (20.04, None, ["refused"], "20.0 °C"),
    ],
)
def test_state_of_a_thermometer_in_words(
    room: Room,
    clock: SetClock,
    latest: float | None,
    failure: str | None,
    said: list[str],
    state: str,
) -> None:
    assert room.live_entries is not None
    for kind in said:
        room.book.keep(Notice(clock.now(), "hall", "stage", kind, "unplugged"))
    room.live_entries.read_on()
    sample = None if latest is None else SimpleNamespace(time=clock.now(), celsius=latest)
    listener: Any = SimpleNamespace(name="stage", failure=failure, latest=sample)
    (name, words), _ = thermometers([listener, listener], room.live_entries, clock.now())
    assert (name, words[: len(state)]) == ("stage 1", state)
    alone = thermometers([listener], room.live_entries, clock.now())
    assert [name for name, _ in alone] == ([] if state.endswith("°C") else ["stage"])


def test_what_looks_spoilt_is_shown_while_the_rehearsal_runs(room: Room) -> None:
    stand = Stand(room)
    assert stand.regions()["notices"].strip() == ""
    stand.notices = ("12 readings of hall are there twice. Remove the copies.",)
    assert (
        "<li>12 readings of hall are there twice. Remove the copies.</li>"
        in (stand.regions()["notices"])
    )


def test_what_was_typed_hides_no_thermometer_that_goes_on(room: Room, clock: SetClock) -> None:
    assert room.live_entries is not None
    room.book.keep(Temperature(clock.now(), "hall", 21.0, source="/dev/ttyUSB0"))
    clock.pass_by(seconds=10)
    enter(room, "temp 19")
    air = temperature(room.live_entries, clock.now())
    assert air is not None
    assert (air.celsius, air.source) == (21.0, "thermometer"), "no path of a device"
    clock.pass_by(minutes=2)
    late = temperature(room.live_entries, clock.now())
    assert late is not None
    assert (late.celsius, late.source) == (19.0, "typed"), "the thermometer has fallen silent"


def test_notes_are_compared_when_they_were_read_often_enough(book: Path, clock: SetClock) -> None:
    with Room(book, clock) as room:
        room.begin("hall", player="Rowan", instrument="double horn")
        visitor = Visitor.of(room)
        asked = "/parts/notes?player=Rowan&instrument=double+horn"
        assert "Not known yet" in visitor.get(asked).text
        assert "Not known yet" in visitor.get("/parts/notes?player=&instrument=kazoo").text


@pytest.mark.slow
def test_table_and_chart_of_the_notes_name_them_alike(book: Path, clock: SetClock) -> None:
    asked = "player=Rowan&instrument=double+horn"
    tables, drawings = [], []
    with Room(book, clock) as room:
        room.begin("hall", player="Rowan", instrument="double horn")
        visitor = Visitor.of(room)
        for line in ("temp 20", "play warm", *["F4 +2 F", "C4 -8 F"] * 4, "temp 20"):
            clock.pass_by(minutes=2)
            enter(room, line)
        visitor.post("/entries", json=entry("now"))
        for line in ("notes sounding", "notes written"):
            enter(room, line)
            tables.append(visitor.get(f"/parts/notes?{asked}").text)
            drawings.append(visitor.get(f"/charts/notes.svg?{asked}").text)
        study = Study.open(book)
    assert drawings[0] != drawings[1]
    for table, semitones, named in zip(tables, (0, 7), ("sounding", "written"), strict=True):
        seat = Asked("hall", "Rowan", "double horn", clock.now(), semitones=semitones)
        chart = STAND_CHARTS["notes"](study, seat)
        assert chart is not None
        assert chart.get_title("left") == f"Rowan, double horn\n{named} notes"
        assert f'<th scope="col">{named.capitalize()} notes</th>' in table
        rows = re.findall(r'<th scope="row">(.*?)</th><td>(.*?)</td>', table)
        labels = [label.get_text() for label in chart.get_yticklabels()]
        assert [f"{note} ({side})" for note, side in rows] == labels
        assert labels[0] == {"sounding": "C4 (F)", "written": "G4 (F)"}[named]


@pytest.mark.parametrize("player", ["Rowan", ""])
@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.slow
def test_all_words_of_a_legend_are_on_the_picture(player: str, narrow: bool) -> None:
    study = Study.open(shipped.folder("datasets/cold-hall-season"))
    rehearsal = study.rehearsals.names[-1]
    now = study.rehearsals.readings["time"].max().to_pydatetime()
    asked = Asked(rehearsal, player, "double horn", now, narrow=narrow)
    for name in ("temperature", "playing", "time"):
        chart = STAND_CHARTS[name](study, asked)
        assert chart is not None
        figure = figure_of(chart)
        figure.draw_without_rendering()
        legend = chart.get_legend()
        assert legend is not None or name == "time"
        for text in legend.get_texts() if legend else ():
            box = text.get_window_extent()
            assert box.y0 >= 0.0, (name, text.get_text())
            assert box.x1 <= figure.bbox.x1, (name, text.get_text())


def test_a_page_says_how_far_a_long_book_is_read(room: Room) -> None:
    enter(room, "temp 18")
    read: list[tuple[int, int]] = []
    State(room, watched={"reading": lambda *one: read.append(one)})._look_up()
    assert read
    assert read[-1][0] == read[-1][1]


def broken(*asked: object, **more: object) -> None:
    raise ZeroDivisionError("float division by zero")


FAULT = "by a fault of the program: ZeroDivisionError: float division by zero ("


def test_a_fault_in_an_answer_is_told_and_the_page_goes_on(
    room: Room, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    visitor = Visitor.of(room)
    for line in ("temp 20", "play warm", "F4 +6 F"):
        enter(room, line)
    clock.pass_by(minutes=5)
    monkeypatch.setattr(Study, "now", broken)
    assert FAULT in visitor.post("/entries", json=entry("now")).json()["text"]
    state = State(room)
    state._work_out(clock.now())
    standing = state.stand.regions()["standing"]
    assert f"No answer, {FAULT}" in standing
    assert "Rowan, double horn" in standing
    assert visitor.post("/entries", json=entry("F4 +5 F")).json()["saved"]
    for name in ("refreshed", "open", "present"):
        monkeypatch.setattr(Study, name, broken)
    state._work_out(clock.now())
    assert f"No answer, {FAULT}" in state.stand.regions()["standing"]
    for address in ("/slides", "/rehearsals/1"):
        answer = visitor.get(address)
        assert answer.status_code == 500
        assert FAULT in answer.text


def test_a_fault_of_the_program_is_written_to_the_terminal_once(
    room: Room, clock: SetClock, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    enter(room, "F4 +6 F")
    monkeypatch.setattr(Study, "now", broken)
    monkeypatch.setattr(faults, "_told", set())
    state = State(room)
    for _ in range(3):
        state._work_out(clock.now())
    assert len([one for one in caplog.records if one.exc_info]) == 1


def test_how_it_stands_after_the_end_says_that_it_ended(room: Room, clock: SetClock) -> None:
    visitor = Visitor.of(room)
    for line in ("temp 20", "play", "F4 +6 F"):
        enter(room, line)
    clock.pass_by(minutes=5)
    before = visitor.post("/entries", json=entry("now")).json()["text"]
    assert before.startswith("Rowan, double horn: ")
    enter(room, "end")
    clock.pass_by(minutes=5)
    first, *answer = visitor.post("/entries", json=entry("now")).json()["text"].splitlines()
    assert first.startswith("The rehearsal ended at ")
    assert answer[0].startswith("Rowan, double horn: ")
