"""Slides in the page: the same moves as from Python, and fields that are checked."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlencode

import pytest

import drift
from drift.logbook.records import Event, Reading, Temperature
from drift.page import Room
from drift.page.slide_view import question_of
from drift.quantities import Units
from drift.regression.fits import physics
from drift.study import Study
from drift.tonight import round_mm
from tests.page.visits import SetClock, Visitor, entry

HORN = drift.instruments.find("double horn")


def ask(visitor: Visitor, **fields: object) -> str:
    answer = visitor.get(f"/slides?{urlencode(fields)}")
    assert answer.status_code == 200
    return answer.text.replace("\N{NO-BREAK SPACE}", " ")


def test_moves_are_those_of_the_library(visitor: Visitor) -> None:
    fields = {"instrument": "double horn", "source": "physics", "celsius": 33, "at-main": 12}
    text = ask(visitor, **fields)
    expected = drift.correct(physics(), "double horn", 33.0, at={"main": 12.0})
    main = expected.moves[0]
    assert main.slide == "main"
    assert f"Pull the main slide out {round_mm(main.move_mm):g} mm" in text
    assert f"to {round_mm(main.to_mm):g} mm" in text
    assert "Answer" in text


def test_positions_that_were_logged_are_filled_in(visitor: Visitor, room: Room) -> None:
    visitor.post("/entries", json=entry("slide main 13.5"))
    visitor.post("/entries", json=entry("F4 +1 F"))
    text = ask(visitor, instrument="double horn", player="Rowan", celsius=33)
    assert 'name="at-main" aria-label="Position of the main slide, mm"' in text
    assert 'value="13.5"' in text


def test_the_slides_are_asked_in_the_units_of_a_player_who_has_not_read_a_note(
    visitor: Visitor,
) -> None:
    assert visitor.post("/entries", json=entry("units F inch")).json()["saved"]
    text = ask(visitor, instrument="double horn", player="Rowan")
    assert "Going to (°F)" in text
    (units,) = re.findall(r'name="units" value="(.*?)"', text)
    answered = ask(visitor, instrument="double horn", player="", units=units, celsius=92)
    assert "double horn at 92.0 °F" in answered


def test_stuck_slide_is_left_alone(visitor: Visitor) -> None:
    text = ask(visitor, instrument="double horn", celsius=33, **{"stuck-main": "1"})
    assert "Leave the main slide where it is: it is stuck." in text


def test_without_a_temperature_only_the_table_is_shown(visitor: Visitor) -> None:
    text = ask(visitor, instrument="Bb trumpet")
    assert "positions at each temperature" in text
    assert "<ol" not in text


def test_on_a_narrow_screen_each_figure_of_the_table_has_its_name(visitor: Visitor) -> None:
    """Below 40 rem the table is blocks (class stacked): no figure is cut off at the edge."""
    fields = {"instrument": "double horn", "at-main": 4, "at-F": 3, "at-Bb": 2}
    text = ask(visitor, source="physics", **fields)
    table = text[text.index("positions at each temperature") :]
    assert 'class="scroll stacked"' in table
    row = table[table.index('<th scope="row"') :].partition("</tr>")[0]
    names = [part.partition('"')[0] for part in row.split('data-is="')[1:]]
    assert names == ["°C", "°F", "main", "F", "B♭", "Remaining (cents)"]
    assert row.count("<td") + 1 == len(names)


def test_where_it_was_tuned_is_said_once(visitor: Visitor) -> None:
    fields = {"instrument": "double horn", "at-main": 4, "at-F": 3, "at-Bb": 2}
    assert ask(visitor, source="physics", **fields).lower().count("tuned at 20") == 1
    both = ask(visitor, source="physics", celsius=5, **fields)
    assert both.count("positions at each temperature") == 1
    assert both.lower().count("tuned at 20") == 1


def test_instrument_with_nothing_to_move(visitor: Visitor) -> None:
    assert "Nothing" in ask(visitor, instrument="glockenspiel", celsius=33)


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"celsius": "hot"}, "temperature there: &#39;hot&#39; is not a temperature"),
        ({"celsius": "1e9"}, "is outside −60 to 70 °C"),
        ({"celsius": "nan"}, "is not a temperature"),
        ({"celsius": "F"}, "is not a temperature"),
        ({"celsius": "200F"}, "is outside −60 to 70 °C"),
        ({"minutes": "-1"}, "minutes there"),
        ({"at-main": "12 cents"}, "position of the main slide: &#39;12 cents&#39; is not a length"),
        ({"travel-main": "5", "at-main": "50"}, "main"),
        ({"instrument": "kazoo"}, "kazoo"),
        ({"instrument": "x" * 5000}, "xxx"),
    ],
)
def test_field_that_is_wrong_is_named(visitor: Visitor, fields: dict[str, str], told: str) -> None:
    answer = visitor.get(f"/slides?{urlencode({'instrument': 'double horn', **fields})}")
    assert answer.status_code == 422
    assert told.replace("−", "-") in answer.text.replace("−", "-")


def test_comma_minus_sign_and_fahrenheit_are_understood(book: Path, clock: SetClock) -> None:
    with Room(book, clock) as room:
        room.begin("hall")
        asked = question_of({"celsius": "−3,5"}, HORN, Study.open(room.path))
        assert asked.celsius == -3.5
        for text in ("91.4F", "91.4 °F", "33 °C", "33"):
            asked = question_of({"celsius": text}, HORN, Study.open(room.path))
            assert asked.celsius == pytest.approx(33.0, abs=1e-9)


def test_units_follow_the_player(book: Path, clock: SetClock) -> None:
    with Room(book, clock) as room:
        room.begin("hall", units=Units(fahrenheit=True, inches=True))
        asked = {
            "instrument": "double horn",
            "celsius": "86",
            "at-main": "1/2",
            "source": "physics",
        }
        text = Visitor.of(room).get(f"/slides?{urlencode(asked)}").text
    assert "Going to (°F)" in text
    assert 'name="celsius" inputmode="decimal" maxlength="10" value="86"' in text
    assert 'value="68"' in text  # where it was tuned, when nothing is said
    assert 'value="1/2"' in text
    assert "at 86.0 °F" in text
    assert "Tuned at 68.0 °F after 30 minutes" in text
    assert "inch" in text


def test_a_tuning_fills_in_where_it_was_tuned_and_says_so(visitor: Visitor, room: Room) -> None:
    tune_in(room)
    text = ask(visitor, instrument="Bb trumpet", player="Ada", celsius=5)
    assert 'name="tuned_celsius" inputmode="decimal" maxlength="10" value="24"' in text
    assert 'maxlength="10" value="" placeholder="warm"' in text  # no minutes that nobody logged
    assert "Tuned at 24.0 °C for when it is warm (as it was tuned in hall)." in text


def test_a_slide_moved_since_the_tuning_is_ordered_from_where_it_is_now(
    visitor: Visitor, room: Room
) -> None:
    tune_in(room)
    later = room.clock.now() + timedelta(minutes=20)
    moved = Event(later, "hall", "Ada", "slide", "main", 31.0, instrument="Bb trumpet")
    room.book.keep(moved)
    text = ask(visitor, instrument="Bb trumpet", player="Ada", celsius=5)
    order = re.search(r"Push the main slide in (\S+) mm, to (\S+) mm", text)
    assert order is not None
    assert sum(map(float, order.groups())) == 31.0
    assert "and is logged at 31 mm now: its move is counted from where it is now." in text
    assert "In brackets: 95 % likely, if it was in tune where it was tuned." in text


def test_fields_as_they_were_filled_in_are_not_typed(visitor: Visitor, room: Room) -> None:
    tune_in(room)
    same = {
        "instrument": "Bb trumpet", "was_instrument": "Bb trumpet", "tuned_celsius": "24",
        "tuned_minutes": "", "at-main": "27", "was_player": "Ada", "celsius": "5",
    }  # fmt: skip
    assert "(as it was tuned in hall)" in ask(visitor, player="Ada", **same)
    other = ask(visitor, player="Bo", **same)  # another player was chosen in the same form
    assert "Tuned at 20.0 °C after 30 minutes of playing (assumed)." in other
    assert 'value="27"' not in other
    typed = ask(visitor, player="Ada", **{**same, "tuned_celsius": "18"})
    assert "Tuned at 18.0 °C (as given) for when it is warm (as it was tuned in hall)." in typed


def test_a_position_that_was_emptied_is_none(visitor: Visitor, room: Room) -> None:
    tune_in(room)
    fields = {"instrument": "Bb trumpet", "was_instrument": "Bb trumpet", "was_player": "Ada"}
    text = ask(visitor, player="Ada", celsius=5, **fields, **{"at-main": ""})
    assert "the position of the main slide is not known" in text


def tune_in(room: Room) -> None:
    """Let Ada tune a trumpet at 24 °C, the main slide at 27 mm, and Bo read a note."""
    when, trumpet = room.clock.now(), {"instrument": "Bb trumpet"}
    room.book.keep_all(
        [
            Temperature(when, "hall", 24.0, source="typed"),
            Event(when, "hall", "Ada", "slide", "main", 27.0, **trumpet),
            Event(when, "hall", "Ada", "tuned", "main", 27.0, state="warm", **trumpet),
            Reading(when, "hall", "Ada", "Bb trumpet", "", "Bb4", 1.0),
            Reading(when, "hall", "Bo", "Bb trumpet", "", "Bb4", 1.0),
        ]
    )
