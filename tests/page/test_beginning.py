"""The form that begins a rehearsal: what it asks for, and what it proposes."""

from __future__ import annotations

from pathlib import Path

import pytest

from drift.page import Room
from sensors.ports import Port
from tests.page.visits import SetClock, Visitor

FORM = {"rehearsal": "hall", "player": "Rowan", "instrument": "Bb trumpet", "begins": "1"}


@pytest.fixture
def ports(monkeypatch: pytest.MonkeyPatch) -> list[Port]:
    found = [Port("/dev/ttyUSB0", "USB thermometer"), Port("/dev/ttyS0", "n/a")]
    monkeypatch.setattr("drift.page.room.serial_ports", lambda: found)
    return found


def test_form_proposes_what_was_used_last(book: Path, clock: SetClock) -> None:
    with Room(book, clock) as room:
        visitor = Visitor.of(room)
        empty = visitor.get("/begin").text
        assert '<option value="C mm" selected>' in empty
        sent = FORM | {"a4": "442", "written": "1", "units": "F inch"}
        assert visitor.post("/begin", data=sent).status_code == 303
        assert room.desk is not None
        assert (room.desk.a4_hz, room.desk.written) == (442.0, True)
        assert room.units.spelling == "F inch"
        visitor.post("/entries", json=_entry("C5 +3"))
        visitor.post("/entries", json=_entry("end"))
    with Room(book, clock) as room:
        form = Visitor.of(room).get("/begin").text
    assert 'value="Rowan"' in form
    assert '<option value="Bb trumpet" selected>' in form
    assert 'value="442"' in form
    assert 'name="written" value="1" checked' in form
    assert '<option value="F inch" selected>' in form


def _entry(line: str) -> dict[str, object]:
    from tests.page.visits import entry

    return entry(line, instrument="Bb trumpet")


def test_thermometers_that_are_connected_are_offered_by_name(
    book: Path, clock: SetClock, ports: list[Port]
) -> None:
    with Room(book, clock) as room:
        form = Visitor.of(room).get("/begin").text
    assert '<option value="/dev/ttyUSB0">USB thermometer</option>' in form
    assert '<option value="/dev/ttyS0">/dev/ttyS0</option>' in form


@pytest.mark.parametrize("asked", ["replay:/etc/passwd.csv", "/dev/ttyUSB7", "simulated:"])
def test_browser_opens_no_port_that_was_not_found(
    book: Path, clock: SetClock, ports: list[Port], asked: str
) -> None:
    with Room(book, clock) as room:
        answer = Visitor.of(room).post("/begin", data=FORM | {"thermometer": asked}).text
        assert "no thermometer is connected at" in answer
        assert room.rehearsal == ""


def test_thermometer_that_is_chosen_is_listened_to(
    book: Path, clock: SetClock, ports: list[Port]
) -> None:
    with Room(book, clock) as room:
        answer = Visitor.of(room).post("/begin", data=FORM | {"thermometer": "/dev/ttyUSB0"})
        # It is opened as any other; here nothing is plugged in, and nothing begins.
        assert "/dev/ttyUSB0" in answer.text
        assert room.rehearsal == ""


def test_one_that_was_given_leaves_no_choice(
    book: Path, clock: SetClock, ports: list[Port]
) -> None:
    with Room(book, clock, thermometers=["simulated:?name=stage"]) as room:
        form = Visitor.of(room).get("/begin").text
    assert "Thermometer: stage." in form
    assert "USB thermometer" not in form
