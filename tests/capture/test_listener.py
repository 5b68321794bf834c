"""A thermometer in the background: its samples and notices into the logbook."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta

import pytest

from drift.capture.desk import Desk
from drift.capture.listener import Listener
from drift.errors import InputError, LogbookError
from drift.logbook.book import Logbook
from drift.logbook.records import TYPED
from sensors.clock_steps import ClockSteps
from sensors.clocks import SteadyClock
from sensors.errors import SourceUnavailable
from sensors.reading import Notice, Sample
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


def kept(book, table):
    return list(book.rows(table))


def sample(minute, celsius=20.0, **more):
    return Sample(at(minute), celsius, **more)


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


def test_lines_refused_for_the_same_are_told_once_and_counted_at_the_end(book):
    wrong = ["unreadable bytes in a line", "no number: 'x'", "unreadable bytes in a line"]
    wrong += ["no number: 'y'", "unreadable bytes in a line (and 2 lines before it)", "85 °C"]
    said = Said(*(Notice(at(n), "refused", text, "stage") for n, text in enumerate(wrong)))
    told = []
    with listening(book, said, told=told.append):
        said.emptied.wait()
    first = ["unreadable bytes in a line", "no number: 'x'", "85 °C"]
    total = ["unreadable bytes in a line, 3 times in all", "no number, 2 times in all"]
    assert told == [f"stage: {text}" for text in [*first, *total]]
    assert [row["text"] for row in kept(book, "notices")] == wrong


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
