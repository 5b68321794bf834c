"""The desk where entries are made, and the listener behind it."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drift.capture.desk import Desk, Listener
from drift.errors import InputError, InstrumentError, LogbookError
from drift.logbook.book import Logbook
from drift.logbook.records import TYPED
from sensors.clock_steps import ClockSteps
from sensors.clocks import SteadyClock
from sensors.errors import SourceUnavailable
from sensors.reading import Notice, Temperature
from tests.capture.test_entries import BYTES, WORDS
from tests.running_log import wait_for

START = datetime(2026, 10, 3, 17, 0, tzinfo=UTC)


def at(minute: float) -> datetime:
    return START + timedelta(minutes=minute)


class FakeClock:
    """Stands still until it is set or told to go on."""

    def __init__(self):
        self.time_of_day, self.seconds = START, 0.0

    def now(self):
        return self.time_of_day

    def monotonic(self):
        return self.seconds

    def go_on(self, seconds):
        self.time_of_day += timedelta(seconds=seconds)
        self.seconds += seconds


class Said:
    """A thermometer that says what it is given, and then nothing for as long as it is asked."""

    def __init__(self, *items, name="stage", failure=None):
        self.items, self.name, self.failure = list(items), name, failure
        self.open = False
        self.emptied = threading.Event()

    def __enter__(self):
        self.open = True
        return self

    def __exit__(self, *_):
        self.open = False

    def __iter__(self):
        yield from self.items
        self.emptied.set()
        if self.failure:
            raise self.failure
        while True:
            time.sleep(0.005)
            yield None


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "band.logbook", writer="the test") as opened:
        yield opened


@pytest.fixture
def desk(book):
    found = Desk(book, "hall")
    found.start(at(0), player="Rowan", instrument="double horn")
    return found


def kept(book, table):
    return list(book.rows(table))


# -- the desk ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("F4 +6 F", "kept F4 +6.0 cents on the F side"),
        ("F4 +5", "kept F4 +5.0 cents (side not stated: F or B♭?)"),
        (
            "F4 +90 F",
            "kept F4 +90.0 cents on the F side (that is nearer to F♯4: undo if it was misread)",
        ),
        (
            "F4 -60 F",
            "kept F4 -60.0 cents on the F side (that is nearer to E4: undo if it was misread)",
        ),
        ("F4 +50 F", "kept F4 +50.0 cents on the F side"),
        ("Bb3 -2.5 Bb", "kept B♭3 -2.5 cents on the B♭ side"),
        ("F4 +6 F ! mute in", "kept F4 +6.0 cents on the F side, flagged"),
        ("temp 70F", "kept temp 21.1 °C"),
        ("slide main 14", "kept slide main 14 mm"),
        ("play", "kept play"),
        ("play Maren", "kept play Maren"),
        ("play warm", "kept play already warm"),
        ("rest", "kept rest"),
        ("player Maren", "kept player Maren (no instrument yet: type instrument and its name)"),
        ("instrument b♭ trumpet", "kept instrument B♭ trumpet"),
        ("remark the doors", "kept remark the doors"),
        ("end", "kept end of hall"),
    ],
)
def test_an_entry_is_kept_and_said(desk, book, line, answer):
    before = book.last_entry
    assert desk.enter(line, at(1)).text == answer
    assert book.last_entry == before + 1


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("F4 +900", "900 cents is outside -200 to 200"),
        ("F4 2000Hz", "is outside -200 to 200"),
        ("temp 99", "99 °C is outside -40 to 60"),
        ("slide main 1001", "1001 mm is outside 0 to 1000"),
        ("slide bell 3", "bell"),
        ("F4 +6 A", "double horn has no side 'A'"),
        ("instrument kazoo", "kazoo"),
        ("what", "is not an entry"),
    ],
)
def test_what_is_refused_is_not_half_kept(desk, book, line, reason):
    before = book.last_entry
    answer = desk.enter(line, at(1))
    assert not answer.kept
    assert answer.text.startswith("not kept: ")
    assert reason in answer.text
    assert "\n" not in answer.text
    assert book.last_entry == before


def test_now_and_help_keep_nothing(desk, book):
    before = book.last_entry
    assert [desk.enter(word, at(1)).asks for word in ("now", "help")] == ["now", "help"]
    assert book.last_entry == before
    assert desk.enter("end", at(2)).asks == "end"


def test_a_reading_needs_a_player_and_an_instrument(book):
    desk = Desk(book, "hall")
    desk.start(at(0))
    assert "no player was named" in desk.enter("F4 +6", at(1)).text
    desk.enter("player Rowan", at(1))
    assert "no instrument was named" in desk.enter("F4 +6", at(1)).text
    assert desk.enter("F4 +6", at(1), instrument="double horn").kept  # a seat of one's own


def test_several_people_enter_at_one_desk(desk, book):
    desk.enter("F4 +1", at(1))
    desk.enter("F4 +2", at(1), player="Maren", instrument="Bb trumpet")
    desk.enter("slide main 3", at(1), player="Maren", instrument="Bb trumpet")
    rows = [(row["player"], row["instrument"]) for row in kept(book, "readings")]
    assert rows == [("Rowan", "double horn"), ("Maren", "Bb trumpet")]
    assert kept(book, "events")[-1]["player"] == "Maren"


def test_a_player_comes_back_with_the_instrument_that_player_had(desk, book):
    desk.enter("player Kim", at(1))
    assert "no instrument was named" in desk.enter("C5 +1", at(1)).text
    desk.enter("instrument Bb trumpet", at(2))
    desk.enter("C5 +1", at(2))
    assert desk.enter("player Rowan", at(3)).text == "kept player Rowan (double horn)"
    desk.enter("F4 +5 F", at(4))
    assert [(r["player"], r["instrument"]) for r in kept(book, "readings")] == [
        ("Kim", "Bb trumpet"),
        ("Rowan", "double horn"),
    ]
    desk.enter("undo", at(5))
    desk.enter("undo", at(5))
    assert (desk.player, desk.instrument) == ("Kim", "Bb trumpet")


def test_a_player_comes_back_with_the_instrument_of_an_earlier_rehearsal(desk, book):
    desk.enter("F4 +5 F", at(1))
    desk.enter("Bb4 +5", at(2), player="Kim", instrument="Bb trumpet")
    later = Desk(book, "hall again")
    later.start(at(60), player="Kim")
    assert (later.player, later.instrument) == ("Kim", "Bb trumpet")
    assert later.enter("player Rowan", at(61)).text == "kept player Rowan (double horn)"
    assert later.chosen({"player": "Kim"}) == ("Kim", "Bb trumpet")  # at a page of many


def test_a_name_in_other_letters_makes_no_second_person(desk, book):
    desk.enter("F4 +5 F", at(1))
    answer = desk.enter("player ro WAN", at(2)).text
    assert answer == "kept player Rowan (double horn); 'ro WAN' is taken for the same player"
    desk.enter("rest ROWAN", at(3))
    assert (desk.player, kept(book, "events")[-1]["player"]) == ("Rowan", "Rowan")
    desk.enter("player kim", at(4))
    desk.enter("undo", at(5))
    assert desk.enter("player Kim", at(6)).text.startswith("kept player Kim (")  # as typed


def test_written_notes_sound_as_the_instrument_does(book):
    desk = Desk(book, "hall", written=True, a4_hz=442.0)
    desk.start(at(0), player="Rowan", instrument="double horn")
    assert desk.enter("C5 +3 F", at(1)).text == "kept F4 +3.0 cents on the F side"  # a horn in F
    desk.enter("C5 351.2Hz", at(2))
    assert [row["note"] for row in kept(book, "readings")] == ["F4", "F4"]
    # 1200 log2(351.2 / (349.228 * 442/440)) = 1.90
    assert kept(book, "readings")[1]["cents"] == pytest.approx(1.90, abs=0.01)


def test_a_rehearsal_needs_a_name_that_can_be_written_down(book):
    with pytest.raises(InputError, match="has no name"):
        Desk(book, "  ")
    with pytest.raises(InputError, match="cannot be printed"):
        Desk(book, "h\udce4ll")
    with pytest.raises(InstrumentError, match="kazoo"):
        Desk(book, "hall").start(at(0), instrument="kazoo")
    assert book.last_entry == 0


def test_a_rehearsal_goes_on_where_it_was_and_undo_means_what_was_typed(desk, book):
    desk.enter("F4 +6", at(1))
    again = Desk(book, "hall")
    assert again.resumed
    again.start(at(5), player="Rowan", instrument="B♭ trumpet")
    assert (again.player, again.instrument) == ("Rowan", "Bb trumpet")
    assert again.enter("undo", at(6)).text == "kept undo: instrument Bb trumpet is taken back"
    third = Desk(book, "hall")
    third.start(at(7), player="Rowan", instrument="double horn")  # nothing new is chosen
    assert third.enter("undo", at(8)).text == "kept undo: F4 6.0 is taken back"


def test_going_on_before_the_last_entry_is_recorded_as_a_wrong_clock(desk, book):
    """A computer without a battery in its clock: its date is wrong until the network sets it."""
    desk.enter("F4 +6", at(10))
    Desk(book, "hall").start(at(12))
    assert kept(book, "notices") == []
    Desk(book, "hall").start(at(2))
    (notice,) = kept(book, "notices")
    assert (notice["kind"], notice["source"]) == ("step", "clock")
    assert notice["text"] == (
        "the computer's clock is 600 s behind the last entry of hall, 2026-10-03T17:12:00Z"
    )


def test_an_entry_sent_twice_with_its_key_is_kept_once(desk, book):
    for line in ("F4 +6", "temp 21", "player Maren", "undo", "remark x"):
        before = book.last_entry
        first = desk.enter(line, at(1), once=f"k {line}")
        assert first.kept
        assert desk.enter(line, at(2), once=f"k {line}") == first
        assert book.last_entry == before + 1


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.lists(WORDS | st.text(max_size=5), max_size=6).map(" ".join) | st.text(max_size=40) | BYTES
)
def test_any_line_is_kept_whole_or_not_at_all(desk, book, line):
    """Whatever is typed: one line of answer, and one entry more in the book, or none."""
    before = book.last_entry
    answer = desk.enter(line, at(1))
    assert len(answer.text.splitlines()) <= 1
    assert book.last_entry - before == (1 if answer.kept else 0)
    assert answer.text.startswith("kept" if answer.kept else "not kept: ") or (
        answer.asks in ("now", "help") and not answer.text
    )
    for table in ("readings", "temperatures", "events"):
        assert len(list(book.rows(table, after=before))) <= 1


# -- the listener --------------------------------------------------------------------------------


def sample(minute, celsius=20.0, **more):
    return Temperature(at(minute), celsius, **more)


def listening(book, source, clock=None, told=None):
    return Listener(source, book, "hall", clock or FakeClock(), told or (lambda text: None))


def test_samples_and_notices_are_kept_under_the_name_of_their_thermometer(book):
    said = Said(
        sample(0, 20.5, humidity_percent=40.0, pressure_hpa=1001.0, raw="20.5"),
        Notice(at(1), "away", "unplugged?"),
        Notice(at(2), "refused", "no temperature", raw="2x\x00.5"),
        name="case",
    )
    told = []
    with listening(book, said, told=told.append) as listener:
        assert said.open
        said.emptied.wait()
        assert listener.latest.celsius == 20.5
    assert not said.open
    (row,) = kept(book, "temperatures")
    assert (row["source"], row["celsius"], row["humidity_percent"]) == ("case", 20.5, 40.0)
    notices = [(row["kind"], row["source"], row["text"]) for row in kept(book, "notices")]
    assert notices == [
        ("away", "case", "unplugged?"),
        ("refused", "case", "no temperature (2x\\x00.5)"),
    ]
    assert told == ["unplugged?", "no temperature"]


def test_a_sample_is_in_the_book_without_waiting_for_the_next(book):
    with listening(book, Said(sample(0))):
        wait_for(lambda: kept(book, "temperatures"), "the sample")


def test_a_value_that_no_air_has_is_refused_with_its_line(book):
    with listening(book, said := Said(sample(0, 85.0, raw="85.0"), sample(1, 21.0))):
        said.emptied.wait()
    assert [row["celsius"] for row in kept(book, "temperatures")] == [21.0]
    (notice,) = kept(book, "notices")
    assert notice["kind"] == "refused"
    assert "(85.0)" in notice["text"]


@pytest.mark.parametrize("name", [TYPED, "a\nb", "st\udce4ge"])
def test_some_names_are_not_for_thermometers(book, name):
    with pytest.raises(InputError, match="a thermometer cannot be called"):
        listening(book, Said(name=name))


@pytest.mark.parametrize(
    "failure", [SourceUnavailable("the probe is gone", "plug it in"), RuntimeError("a mistake")]
)
def test_a_thermometer_that_fails_is_told_and_recorded(book, failure):
    told = []
    with listening(book, Said(sample(0), failure=failure), told=told.append) as listener:
        wait_for(lambda: listener.failure, "the failure")
        wait_for(lambda: kept(book, "notices"), "the notice")
    words = str(failure).splitlines()[0]
    assert told == [f"stage: {words}"]
    (notice,) = kept(book, "notices")
    assert (notice["kind"], notice["text"]) == ("away", words)
    assert len(kept(book, "temperatures")) == 1


def test_closing_twice_keeps_nothing_twice(book):
    listener = listening(book, said := Said(*(sample(n) for n in range(500))))
    listener.__enter__()
    said.emptied.wait()
    listener.__exit__(None, None, None)
    listener.__exit__(None, None, None)
    assert len(kept(book, "temperatures")) == 500


class Refusing:
    """A logbook whose disk is full until it is told otherwise."""

    def __init__(self, book):
        self.book, self.full, self.refusals = book, True, 0

    def keep_all(self, batch):
        if self.full:
            self.refusals += 1
            raise LogbookError("the disk is full", "make space")
        return self.book.keep_all(batch)

    def keep(self, record):
        return self.book.keep(record)


def test_while_the_logbook_refuses_samples_wait_and_it_is_told_once(book):
    refusing, told = Refusing(book), []
    said = Said(*(sample(n / 60, 20 + n / 1000) for n in range(3000)))
    with listening(refusing, said, told=told.append):
        said.emptied.wait()
        wait_for(lambda: refusing.refusals >= 3, "three refusals")
        assert kept(book, "temperatures") == []
        refusing.full = False
        wait_for(lambda: len(kept(book, "temperatures")) == 3000, "the samples")
    assert [row["celsius"] for row in kept(book, "temperatures")] == [
        20 + n / 1000 for n in range(3000)
    ]
    assert told == [
        "the disk is full; samples wait until it can be written",
        "the logbook is written again; the samples that waited are kept",
    ]


def test_lines_are_heard_while_the_disk_is_busy(book):
    """The thermometer is read to its end although the logbook has not answered once."""
    busy, asked = threading.Event(), threading.Event()

    class Slow(Refusing):
        def keep_all(self, batch):
            asked.set()
            busy.wait()
            return self.book.keep_all(batch)

    said = Said(sample(0), *(sample(n / 60) for n in range(1, 5000)))
    with listening(Slow(book), said):
        try:
            asked.wait()
            said.emptied.wait()
            assert kept(book, "temperatures") == []
        finally:
            busy.set()
    assert len(kept(book, "temperatures")) == 5000


def test_when_too_many_wait_the_loss_is_recorded(book, monkeypatch):
    monkeypatch.setattr(Listener, "WAITING", 100)
    refusing = Refusing(book)
    said = Said(*(sample(n / 60) for n in range(150)))
    with listening(refusing, said):
        said.emptied.wait()
        refusing.full = False
        wait_for(lambda: kept(book, "notices"), "the notice")
    assert len(kept(book, "temperatures")) == 100
    (notice,) = kept(book, "notices")
    assert (notice["kind"], notice["source"]) == ("lost", "stage")
    assert notice["text"] == "50 samples were lost: too many waited for the logbook"


def test_samples_that_could_never_be_kept_are_told_at_the_end(book):
    refusing, told = Refusing(book), []
    with listening(refusing, said := Said(sample(0), sample(1)), told=told.append):
        said.emptied.wait()
    assert told[-1] == "2 samples of stage were not kept"


# -- the clock -----------------------------------------------------------------------------------


def test_a_clock_that_is_set_is_recorded_and_the_order_is_kept(book):
    """Set back by an hour in mid-rehearsal: the log goes on evenly and says so."""
    computer = FakeClock()
    steady = SteadyClock(computer)
    looked, go_on, over = threading.Semaphore(0), threading.Semaphore(0), threading.Event()

    def sleep(seconds):
        looked.release()
        while not over.is_set():
            if go_on.acquire(timeout=0.01):
                computer.go_on(seconds)
                return

    desk = Desk(book, "hall")
    desk.start(steady.now(), player="Rowan", instrument="double horn")
    told = []
    steps = ClockSteps(computer, steady, sleep=sleep)
    with listening(book, steps, steady, told.append):
        looked.acquire()
        computer.go_on(600.0)
        desk.enter("F4 +1", steady.now())
        computer.time_of_day -= timedelta(hours=1)
        computer.go_on(60.0)
        desk.enter("F4 +2", steady.now())
        go_on.release()
        looked.acquire()
        over.set()
    times = [row["time"] for row in kept(book, "readings")]
    assert times == [at(10), at(11)]
    (notice,) = kept(book, "notices")
    assert (notice["kind"], notice["source"]) == ("step", "clock")
    assert notice["time"] == at(11) + timedelta(seconds=0.5)
    assert "set back by 3600.0 s" in notice["text"]
    assert told == [f"clock: {notice['text']}"]


def test_cents_alone_repeat_the_note_read_last(tmp_path):
    with Logbook(tmp_path / "b.logbook", writer="test") as book:
        desk = Desk(book, "hall")
        desk.start(START, player="Rowan", instrument="double horn")
        assert "has not read a note yet" in desk.enter("+4", START).text
        desk.enter("F4 +6 Bb", START)
        assert desk.enter("-3", START).text == "kept F4 -3.0 cents on the B♭ side"
        assert desk.enter("5 flat F", START).text == "kept F4 -5.0 cents on the F side"
