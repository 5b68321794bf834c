"""drift log: bytes that are no text, thermometers that cannot be had, clocks and their zones."""

from __future__ import annotations

import io
import re
import sys
from datetime import UTC, datetime, timedelta

import pytest

from drift.errors import LogbookError
from drift.logbook.book import Logbook
from drift.logbook.rehearsals import load
from drift.pairing import pair
from drift.pairing.examination import suspicious
from drift.study import Study
from tests.running_log import PATIENCE_SECONDS, rows, say, start_log, wait_for
from tests.sensors.terminal import FakeThermometer


def test_bytes_that_are_no_text_are_refused_one_line_at_a_time(tmp_path):
    book = tmp_path / "band.logbook"
    typed = (
        b"\xef\xbb\xbfremark with a mark of UTF-8\r\nplayer Row\xe1n\n\x00\xff\n\n  \nrest\nend\n"
    )
    with start_log(book) as log:
        out, err = log.communicate(typed, timeout=PATIENCE_SECONDS)
    assert log.returncode == 0
    answers = out.decode().splitlines()
    assert [answer.split(":")[0] for answer in answers] == [
        "saved remark with a mark of UTF-8",
        "not saved",
        "not saved",
        "saved rest",
        "saved end of tonight",
    ]
    assert "player Row\\udce1n" in answers[1]
    assert b"Traceback" not in err
    events = [(row["event"], row["remark"]) for row in rows(book, "events")]
    assert events[1:] == [("remark", "with a mark of UTF-8"), ("rest", ""), ("end", "")]


@pytest.mark.parametrize(
    ("options", "problem"),
    [
        (("--thermometer", "serial:/dev/no-such-port"), "/dev/no-such-port"),
        (("--thermometer", "telepathy:"), "no thermometer address"),
        (("--thermometer", "simulated:?name=typed"), "a thermometer cannot be called 'typed'"),
        (("--thermometer", "simulated:", "--thermometer", "simulated:?seed=2"),
         "two thermometers are called 'simulated'"),
        (("--instrument", "kazoo"), "kazoo"),
    ],
)  # fmt: skip
def test_what_cannot_begin_leaves_nothing_begun(drift, tmp_path, monkeypatch, options, problem):
    book = tmp_path / "band.logbook"
    status, out, err = drift("log", book, "--rehearsal", "tonight", *options)
    assert (status, out) == (1, "")
    assert problem in err
    assert len(err.splitlines()) == 2
    if book.exists():
        with Logbook(book) as opened:
            assert opened.interrupted() == []
            assert list(opened.rows("events")) == []


def test_two_thermometers_are_kept_by_name(tmp_path):
    book = tmp_path / "band.logbook"
    with start_log(
        book,
        *("--thermometer", "simulated:?every=0.02&name=stage"),
        *("--thermometer", "simulated:?every=0.02&name=outdoors&celsius=5"),
    ) as log:
        wait_for(lambda: book.exists() and len(_sources(book)) == 2, "samples of both")
        log.communicate(b"end\n", timeout=PATIENCE_SECONDS)
    celsius = {row["source"]: row["celsius"] for row in rows(book, "temperatures")}
    assert celsius["stage"] == pytest.approx(20.0, abs=1.0)
    assert celsius["outdoors"] == pytest.approx(5.0, abs=1.0)


def _sources(book):
    try:
        return {row["source"] for row in rows(book, "temperatures")}
    except LogbookError:  # the file is there before its tables are
        return set()


@pytest.mark.parametrize("zone", ["UTC", "Pacific/Kiritimati", "America/St_Johns"])
def test_times_are_in_utc_wherever_the_computer_is(tmp_path, monkeypatch, zone):
    """So daylight saving, which moves local time only, is no step."""
    monkeypatch.setenv("TZ", zone)
    book = tmp_path / "band.logbook"
    before = datetime.now(UTC)
    with start_log(book) as log:
        log.communicate(b"rest\nend\n", timeout=PATIENCE_SECONDS)
    times = [row["time"] for row in rows(book, "events")]
    assert len(times) == 3
    slack = timedelta(seconds=1)
    assert before - slack <= times[0] <= times[1] <= times[2] <= datetime.now(UTC) + slack
    assert rows(book, "notices") == []


def test_a_thermometer_is_unplugged_and_plugged_in_again(tmp_path):
    """The book says when it was away; a typed temperature holds meanwhile."""
    pytest.importorskip("tty", reason="pseudo-terminals need a POSIX system")
    book, thermometer = tmp_path / "band.logbook", FakeThermometer(tmp_path / "ttyFAKE0")
    thermometer.plug_in()
    address = f"serial:{thermometer.port}?dialect=plain&name=stage"
    who = ("--player", "Rowan", "--instrument", "Bb trumpet")
    try:
        with start_log(book, *who, "--thermometer", address) as log:
            assert say(log, "play") == "saved play"

            def heard(celsius):
                thermometer.say(f"{celsius:.2f}\r\n")
                return any(row["celsius"] == celsius for row in rows(book, "temperatures"))

            wait_for(lambda: heard(20.0), "a sample")
            thermometer.unplug()
            wait_for(lambda: "away" in _kinds(book), "the notice that it is away")
            assert say(log, "temp 25") == "saved temp 25.0 °C"
            assert say(log, "F4 +6").startswith("saved F4 +6.0 cents")
            thermometer.plug_in()
            wait_for(lambda: heard(21.0), "a sample after it is back")
            wait_for(lambda: "back" in _kinds(book), "the notice that it is back")
            assert say(log, "F4 +7").startswith("saved F4 +7.0 cents")
            assert say(log, "end") == "saved end of tonight"
            _, err = log.communicate(timeout=PATIENCE_SECONDS)
    finally:
        thermometer.unplug()
    assert b"unplugged?" in err
    table = pair(load(book), settle_seconds=0.0).frame
    assert table["celsius"].tolist() == [25.0, 21.0]
    assert {finding.kind for finding in suspicious(load(book))} == {"offline", "all at once"}


def _kinds(book):
    return [row["kind"] for row in rows(book, "notices")]


def broken(*asked, **more):
    return 1.0 / 0.0


@pytest.mark.parametrize("question", ["now", "target 18:30 4"])
def test_a_fault_in_an_answer_is_told_and_the_log_goes_on(drift, tmp_path, monkeypatch, question):
    monkeypatch.setattr(Study, "now", broken)
    monkeypatch.setattr(Study, "target", broken)
    typed = f"temp 20\nplay warm\nBb4 +2\n{question}\nBb4 +3\nend\n"
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    status, out, err = drift(
        "log", tmp_path / "band.logbook", "--rehearsal", "tonight", "--player", "Kim",
        "--instrument", "Bb trumpet",
    )  # fmt: skip
    *before, answer, after, ended = out.splitlines()
    assert (status, len(before)) == (0, 3)
    assert re.fullmatch(
        r"no answer, by a fault of the program: ZeroDivisionError: .*\(.*\.py, line \d+\); "
        "what was entered is saved; go on, and report this line",
        answer,
    )
    assert after == "saved B♭4 +3.0 cents"
    assert ended == "saved end of tonight"
    assert "Traceback" not in err
    assert [row["cents"] for row in rows(tmp_path / "band.logbook", "readings")] == [2.0, 3.0]
