"""What the microphone proposes, on the page: listed for everyone, kept once by one of them."""

from __future__ import annotations

import itertools
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from drift.logbook.book import Logbook
from drift.page import Room
from drift.page.stand import Stand
from drift.page.typed import Typed
from sensors.errors import SensorError, SourceUnavailable
from tests.microphones import FedMicrophone, played, sounddevice
from tests.page.test_browser import ROOM, Watched, window  # noqa: F401 (a fixture)
from tests.page.visits import Program, SetClock, Visitor, entry

pytestmark = pytest.mark.timeout(120)

SOUND = (("F4", 5), ("Bb3", -3), ("C4", 2))


@dataclass
class Ears:
    """A room with a microphone that has given all its blocks."""

    room: Room
    microphone: FedMicrophone

    def list(self) -> str:
        return Stand(self.room).regions()["heard"]


@pytest.fixture
def ears(book: Path, clock: SetClock) -> Iterator[Ears]:
    microphone = FedMicrophone(played(*SOUND))
    with Room(book, clock, microphone=lambda: microphone) as room:
        room.begin("hall", player="Rowan", instrument="double horn")
        assert microphone.given.wait(30)
        clock.pass_by(seconds=20)
        yield Ears(room, microphone)


def say(room: Room, line: str, **more: object) -> str:
    return room.enter(Typed.of(entry(line, **more))).answer.text


def test_proposals_are_listed_oldest_first(ears: Ears) -> None:
    text = ears.list()
    places = [text.index(words) for words in ("F4 +5.0 cents", "B♭3 −3.0 cents", "C4 +2.0 cents")]
    assert places == sorted(places)
    assert 'data-heard="1"' in text
    assert list(ears.room.book.rows("readings")) == [], "nothing is kept by itself"
    assert "Heard by the microphone" in Visitor.of(ears.room).get("/").text


def test_a_proposal_is_kept_once_for_who_keeps_it(ears: Ears) -> None:
    assert say(ears.room, "k 2", player="Ash", instrument="Bb trumpet") == "saved B♭3 -3.0 cents"
    assert say(ears.room, "k 2 F", player="Birch").startswith("not saved: no proposed reading")
    assert 'data-heard="2"' not in ears.list()
    (row,) = ears.room.book.rows("readings")
    assert (row["player"], row["instrument"], row["side"]) == ("Ash", "Bb trumpet", "")


def test_answer_that_was_lost_keeps_no_second_reading(ears: Ears) -> None:
    sent = Typed.of(entry("k 1 F"))
    assert ears.room.enter(sent).answer.text == "saved F4 +5.0 cents on the F side"
    assert ears.room.enter(sent).answer.text == "saved already"
    assert len(list(ears.room.book.rows("readings"))) == 1


def test_dropped_proposals_leave_the_list(ears: Ears) -> None:
    assert say(ears.room, "d 1") == "dropped F4 +5.0 cents"
    assert 'data-heard="1"' not in ears.list()


def test_entry_that_waited_for_another_run_takes_nothing_of_this_list(ears: Ears) -> None:
    answer = say(ears.room, "k 1 F", waited_seconds=3600)
    assert answer.startswith("not saved: the list has changed since")
    assert 'data-heard="1"' in ears.list()


def test_the_pitch_of_the_last_minutes_is_a_plain_line(ears: Ears) -> None:
    text = Stand(ears.room).regions()["trace"]
    assert text.count("<polyline") >= 3
    assert ">F4<" in text
    assert "taken: B♭3 −3.0 cents" in text
    assert "Level: good." in text
    first = text.split('points="')[1].split('"')[0].split()
    heights = [float(point.split(",")[1]) for point in first]
    assert sorted(heights)[len(heights) // 2] == pytest.approx(52 - 5, abs=0.2), "5 cents sharp"


def test_words_of_tones_that_follow_each_other_do_not_overlap(ears: Ears) -> None:
    text = Stand(ears.room).regions()["trace"]
    places = re.findall(r'<text x="([\d.]+)" y="([\d.]+)" class="taken">', text)
    words = [(float(x), float(y)) for x, y in places]
    assert len(words) == 3
    for (left, high), (right, other) in itertools.combinations(words, 2):
        assert abs(left - right) >= 24.0 or abs(high - other) >= 12.0
    assert max(x for x, _ in words) <= 306.0  # clear of the numbers of the axis


def test_the_end_of_the_rehearsal_ends_listening(ears: Ears) -> None:
    say(ears.room, "end")
    assert ears.microphone.closed
    assert "The microphone is off" in ears.list()
    assert say(ears.room, "k 1 F").startswith("not saved: no microphone is listening")


def test_microphone_that_goes_is_told_on_the_page(book: Path, clock: SetClock) -> None:
    gone = SourceUnavailable("the microphone has gone", "plug it in again and start over")
    microphone = FedMicrophone(played(), gone)
    with Room(book, clock, microphone=lambda: microphone) as room:
        room.begin("hall")
        assert room.desk is not None
        assert room.desk.hearing is not None
        room.desk.hearing._live._thread.join(30)
        assert "the microphone has gone; plug it in again" in Stand(room).regions()["heard"]


def test_microphone_that_is_missing_leaves_nothing_begun(book: Path, clock: SetClock) -> None:
    class Missing(FedMicrophone):
        def __enter__(self) -> Any:
            raise SourceUnavailable("there is no microphone", "plug one in")

    with Room(book, clock, microphone=lambda: Missing(played())) as room:
        with pytest.raises(SensorError, match="there is no microphone"):
            room.begin("hall")
        assert room.book.rehearsals() == []


@pytest.mark.slow
def test_program_without_sounddevice_says_what_to_install(book: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "drift", "page", str(book), "--port", "0", "--microphone"]
    done = subprocess.run(
        [*command, "--rehearsal", "hall"],
        capture_output=True,
        text=True,
        timeout=60,
        env=sounddevice(tmp_path, None),
    )
    assert done.returncode == 1
    problem, remedy = done.stderr.splitlines()
    assert problem == "drift page: listening to a microphone needs the package sounddevice"
    assert "pip install 'rehearsal-drift[microphone]'" in remedy


def test_thermometer_that_cannot_be_opened_closes_the_microphone_again(
    book: Path, clock: SetClock
) -> None:
    microphone = FedMicrophone(played())
    away = ["onewire:/nowhere/w1_slave"]
    with Room(book, clock, microphone=lambda: microphone, thermometers=away) as room:
        with pytest.raises(SensorError, match="nowhere"):
            room.begin("hall")
        assert (microphone.opened, microphone.closed) == (True, True)


def test_without_a_microphone_the_page_has_no_such_list(room: Room) -> None:
    assert "Heard by the microphone" not in Visitor.of(room).get("/").text
    assert say(room, "k 1").startswith("not saved: no microphone is listening")


@pytest.mark.slow
def test_proposals_are_kept_and_dropped_by_keys_and_taps(
    program: Callable[..., Program],
    window: Callable[..., Watched],  # noqa: F811
    book: Path,
    tmp_path: Path,
) -> None:
    sound = played(*SOUND, ("F3", -6), ("G4", 1))
    at = program(*ROOM, "--microphone", environment=sounddevice(tmp_path, sound)).address
    stand, other = window(at), window(at, 320)
    page = stand.open()
    other.open()
    stand.counts("[data-heard]", 5)
    other.counts("[data-heard]", 5)
    page.keyboard.type("k")  # in the field for the note it is a letter
    assert page.get_by_label("Note").input_value() == "k"
    page.get_by_label("Note").fill("")
    page.keyboard.press("Escape")
    page.keyboard.press("k")
    stand.sees("#answer", "Choose the side")
    page.get_by_label("B♭ side").check()
    page.keyboard.press("k")
    stand.sees("#answer", "saved F4 +5.0 cents on the B♭ side")
    page.keyboard.press("d")
    stand.sees("#answer", "dropped B♭3")
    other.counts("[data-heard]", 3)
    tablet = other.page
    tablet.get_by_label("Player").fill("Ash")
    tablet.get_by_label("Player").press("Tab")
    tablet.get_by_label("Instrument").select_option("double horn")
    tablet.get_by_label("F side", exact=True).check()
    tablet.get_by_role("button", name="Keep F3 −6.0 cents").dblclick(delay=20)
    other.sees("#answer", "saved F3 −6.0 cents on the F side")
    stand.counts("[data-heard]", 2)  # the second tap decided on nothing
    stand.sees("[data-region=entries]", "F3 −6.0 cents, F side")
    other.fits(320)
    assert tablet.get_by_label("Note").input_value() == ""
    with Logbook(book) as kept:
        found = [(r["player"], r["note"], r["side"]) for r in kept.rows("readings")]
    assert found == [("Rowan", "F4", "Bb"), ("Ash", "F3", "F")]
    assert stand.complaints + other.complaints + stand.elsewhere + other.elsewhere == []
