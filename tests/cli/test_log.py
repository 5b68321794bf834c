"""drift log: a real serial thermometer behind, typed entries in front, each durable first."""

import os
import re
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest

from drift.capture.desk import Desk
from drift.logbook.book import Logbook
from drift.logbook.records import Event

pty = pytest.importorskip("pty", reason="pseudo-terminals exist on POSIX systems only")


class FakeThermometer:
    """Writes lines to one end of a pseudo-terminal pair; the program reads the other."""

    def __init__(self, lines, every=0.05):
        self.lines, self.every = lines, every

    def __enter__(self):
        self.master, self.slave = pty.openpty()
        self.port = os.ttyname(self.slave)
        self.stop = threading.Event()
        self.thread = threading.Thread(target=self._write)
        self.thread.start()
        return self

    def _write(self):
        number = 0
        while not self.stop.wait(self.every):
            os.write(self.master, self.lines(number).encode("ascii"))
            number += 1

    def __exit__(self, *_):
        self.stop.set()
        self.thread.join()
        os.close(self.master)
        os.close(self.slave)


@contextmanager
def logging(book, *options):
    log = subprocess.Popen(
        [sys.executable, "-m", "drift", "log", str(book), "--rehearsal", "tonight", *options],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        encoding="utf-8", env={**os.environ, "PYTHONUTF8": "1"},
    )  # fmt: skip
    with log:
        try:
            yield log
        finally:
            log.kill()


def say(log, line):
    log.stdin.write(line + "\n")
    log.stdin.flush()
    return log.stdout.readline().rstrip("\n")


def rows(book, table):
    with Logbook(book) as opened:
        return list(opened.rows(table))


def wait_for(condition, seconds=30.0):
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "it did not happen in time"
        time.sleep(0.05)


@pytest.mark.parametrize(
    "line", [lambda n: f"{20 + n / 100:.2f}\r\n", lambda n: f"temp={20 + n / 100:.2f}\n"]
)
def test_a_serial_thermometer_is_logged_while_readings_are_typed(tmp_path, line):
    book = tmp_path / "band.logbook"
    who = ("--player", "Rowan", "--instrument", "double horn")
    with (
        FakeThermometer(line) as thermometer,
        logging(book, *who, "--thermometer", f"serial:{thermometer.port}") as log,
    ):
        assert say(log, "play") == "saved play"
        said = say(log, "F4 +6 F")
        assert said.startswith("saved F4 +6.0 cents on the F side (in the first 30 s of playing")
        assert [row["cents"] for row in rows(book, "readings")] == [6.0]  # durable already
        wait_for(lambda: len(rows(book, "temperatures")) >= 5)
        assert say(log, "end") == "saved end of tonight"
        assert log.wait(timeout=30) == 0
    samples = [row["celsius"] for row in rows(book, "temperatures")]
    assert samples == sorted(samples)
    assert 20.0 <= samples[0] < 30.0  # how many lines a busy machine misses at the start is open
    with Logbook(book) as opened:
        assert opened.interrupted() == []


def test_each_entry_is_answered_by_one_line(tmp_path):
    book = tmp_path / "band.logbook"
    talk = [
        ("F4 +6", "not saved: no player was named; type player and a name first"),
        ("player Rowan", "saved player Rowan"),
        ("instrument B♭ trumpet", "saved instrument B♭ trumpet"),
        ("F4 351.2Hz", "saved F4 +9.7 cents"),  # 1200 log2(351.2/349.228) = 9.75
        ("temp 70F", "saved temp 21.1 °C"),
        ("slide main 14", "saved slide main 14 mm"),
        ("slide F 14", "not saved: "),
        ("J4 +6", "not saved: "),
        ("F4 +900", "not saved: 900 cents is outside -200 to 200"),
        ("remark the doors were open", "saved remark the doors were open"),
        ("undo", "saved undo of remark the doors were open"),
        ("undo", "saved undo of slide main 14 mm"),
        ("rest", "saved rest"),
        ("end", "saved end of tonight"),
    ]
    with logging(book) as log:
        for line, answer in talk:
            assert say(log, line).startswith(answer), line
        assert log.wait(timeout=30) == 0
    assert [row["event"] for row in rows(book, "events")] == ["start", "rest", "end"]
    with Logbook(book) as opened:
        undone = list(opened.rows("events", undone=True))
    assert [row["event"] for row in undone] == ["slide", "remark"]


def test_a_rehearsal_without_an_end_is_interrupted_and_goes_on(tmp_path):
    book = tmp_path / "band.logbook"
    with logging(book, "--player", "Rowan", "--instrument", "Bb trumpet") as log:
        say(log, "F4 +1")
        _, err = log.communicate("", timeout=30)
    assert log.returncode == 0
    assert "has no end yet" in err
    with Logbook(book) as opened:
        assert opened.interrupted() == ["tonight"]
    with logging(book) as log:  # neither player nor instrument: both are known from before
        assert say(log, "F4 +2") == "saved F4 +2.0 cents"
        _, err = log.communicate("end\n", timeout=30)
    assert "tonight resumed: Rowan on Bb trumpet" in err
    assert [row["cents"] for row in rows(book, "readings")] == [1.0, 2.0]


def test_a_name_of_another_day_is_told_at_once_and_no_thermometer_is_logged_into_it(tmp_path):
    book = tmp_path / "band.logbook"
    with Logbook(book, writer="the test") as opened:
        opened.keep(Event(datetime(2026, 10, 3, 17, tzinfo=UTC), "tonight", "", "play"))
    with logging(book) as log:
        out, err = log.communicate("now\nend\n", timeout=30)
    told = "tonight is a rehearsal of 2026-10-0"
    assert out.startswith(f"not saved: {told}")
    assert told in err
    with logging(book, "--thermometer", "simulated:") as log:
        out, err = log.communicate("end\n", timeout=30)
    assert (log.returncode, out) == (1, "")
    assert err.startswith(f"drift log: {told}")
    assert not rows(book, "temperatures")


def test_a_second_writer_is_told_who_writes(tmp_path):
    book = tmp_path / "band.logbook"
    with logging(book) as log:
        assert say(log, "play") == "saved play"
        with logging(book) as second:
            out, err = second.communicate("play\n", timeout=30)
        assert (second.returncode, out) == (1, "")
        assert f"is being written by drift log, process {log.pid}" in err
        assert len(err.splitlines()) == 2


def test_written_notes_are_understood_as_the_player_reads_them(tmp_path):
    book = tmp_path / "band.logbook"
    with logging(book, "--written", "--player", "Rowan", "--instrument", "double horn") as log:
        assert say(log, "C5 +3 F").startswith("saved")
        log.communicate("end\n", timeout=30)
    assert [row["note"] for row in rows(book, "readings")] == ["F4"]  # a horn in F


def test_now_and_target_are_answered_where_they_were_asked(tmp_path):
    book = tmp_path / "band.logbook"
    with logging(book, "--player", "Kim", "--instrument", "Bb trumpet") as log:
        for line in ("temp 21", "play warm", "A4 442"):
            assert say(log, line).startswith("saved ")
        ahead = datetime.now().astimezone() + timedelta(hours=1)
        first = say(log, f"target {ahead:%H:%M} 4")
        assert first.startswith("In this room let the tuner show ")
        assert first.endswith(f"little known yet: tune again from {ahead:%H:%M} on at 4 °C.")
        assert " on every note, " in first
        assert say(log, "end") == "saved end of tonight"


@pytest.mark.slow
def test_what_was_forgotten_is_entered_with_its_time_and_taken_in_at_once(tmp_path):
    book = tmp_path / "band.logbook"
    begun = datetime.now(UTC) - timedelta(minutes=50)
    with Logbook(book, writer="the test") as before:
        desk = Desk(before, "tonight")
        desk.start(begun, player="Kim", instrument="Bb trumpet")
        lines = ["temp 21", "play warm", "slide main 10", *["Bb4 +2", "F4 +2"] * 3]
        for minute, line in enumerate(lines):
            desk.enter(line, begun + timedelta(minutes=minute))
        for minute, line in enumerate(["temp 21", *["Bb4 -12"] * 3], 39):
            desk.enter(line, begun + timedelta(minutes=minute))
    jumped = f"{(begun + timedelta(minutes=40)).astimezone():%H:%M}"
    with logging(book) as log:
        told = log.communicate("temp 21\nnow\nslide main 18\nnow\n", timeout=60)[0]
    asked, late = told.split("saved slide main 18 mm\n")
    assert f"“at {jumped} slide main” and its millimetres." in asked
    assert not re.search(r"main slide (in|out) .*, to ", asked)  # nobody knows from where
    typed = f"at {jumped} slide main 18"
    assert late.count("jumped") == 1
    assert f"If it was there by then, type “{typed}”." in late
    with logging(book) as log:
        after = log.communicate(f"{typed}\nnow\nend\n", timeout=60)[0]
    assert after.startswith(f"saved slide main 18 mm at {jumped}\n")
    slides = [row["position_mm"] for row in rows(book, "events") if row["slide"]]
    assert slides == [10.0, 18.0, 18.0]
    assert not re.search("jumped|shifted", after)
