"""drift log --microphone: tones of a sounddevice that plays a prepared sound."""

import subprocess
import sys
from contextlib import contextmanager

import pytest

from drift.logbook.book import Logbook
from tests.microphones import played, sounddevice

HORN = ("--player", "Rowan", "--instrument", "double horn")


@contextmanager
def log(tmp_path, environment, *options):
    words = ["drift", "log", str(tmp_path / "band.logbook"), "--rehearsal", "tonight", *options]
    with subprocess.Popen(
        [sys.executable, "-m", *words], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, encoding="utf-8", env=environment,
    ) as running:  # fmt: skip
        try:
            yield running
        finally:
            running.kill()


def say(running, line):
    running.stdin.write(line + "\n")
    running.stdin.flush()
    return running.stdout.readline().rstrip("\n")


def rows(tmp_path):
    with Logbook(tmp_path / "band.logbook") as book:
        return [(r["note"], r["side"], round(r["cents"])) for r in book.rows("readings")]


@pytest.mark.slow
def test_what_is_heard_is_listed_and_kept_or_dropped(tmp_path):
    environment = sounddevice(tmp_path, played(("F4", 5), ("Bb3", -3), ("C4", 2), ("C5", 0)))
    options = (*HORN, "--microphone", "--side", "Bb,F4=F", "--notes", "F4,Bb3,C4")
    with log(tmp_path, environment, *options) as running:
        heard = [running.stderr.readline().rstrip("\n") for _ in range(4)]
        assert heard[0].startswith("tonight begins: Rowan on double horn")
        assert heard[1:] == [
            "heard 1: F4 +5.0 cents on the F side ±0.04, spread 0.0 (2.0 s)",
            "heard 2: B♭3 -3.0 cents on the B♭ side ±0.04, spread 0.0 (1.9 s)",
            "heard 3: C4 +2.0 cents on the B♭ side ±0.04, spread 0.0 (2.0 s)",
        ]
        assert rows(tmp_path) == [], "nothing is kept by itself"
        told = [say(running, "heard")]
        while not told[-1].startswith("Level"):
            told.append(running.stdout.readline().rstrip("\n"))
        assert "*" in "".join(told[3:6]), "the line of pitch, near 0"
        assert any(line.endswith("taken: F4 +5.0 cents on the F side") for line in told)
        assert told[-1] == "Level: good."
        assert say(running, "k 3") == "saved C4 +2.0 cents on the B♭ side"
        assert rows(tmp_path) == [("C4", "Bb", 2)], "durable before it is answered"
        assert say(running, "d") == "dropped F4 +5.0 cents on the F side"
        assert say(running, "k") == "saved B♭3 -3.0 cents on the B♭ side"
        assert say(running, "k").startswith("not saved: no proposed reading waits; ")
        out, err = running.communicate("end\n", timeout=30)
    assert out == "saved end of tonight\n"
    assert err == ""
    assert running.returncode == 0
    # In the order of time: the Bb3 sounded before the C4.
    assert rows(tmp_path) == [("Bb3", "Bb", -3), ("C4", "Bb", 2)]


@pytest.mark.parametrize(
    ("options", "problem", "remedy"),
    [
        (
            ("--microphone",),
            "listening to a microphone needs the package sounddevice",
            "pip install 'rehearsal-drift[microphone]'",
        ),
        (("--notes", "F4"), "--notes has no use without --microphone", "give both, or leave"),
        (("--microphone", "--side", "Bb"), "--side says nothing without --instrument", "name the"),
        (("--microphone", *HORN, "--side", "A"), "has no side", ""),
        (("--microphone", "--notes", "H4"), "H4", ""),
    ],
)
@pytest.mark.slow
def test_what_cannot_be_listened_to_leaves_nothing_begun(tmp_path, options, problem, remedy):
    with log(tmp_path, sounddevice(tmp_path, None), *options) as running:
        out, err = running.communicate("play\n", timeout=30)
    assert (running.returncode, out) == (1, "")
    first, second = err.splitlines()
    assert problem in first
    assert remedy in second
    if (tmp_path / "band.logbook").exists():
        with Logbook(tmp_path / "band.logbook") as book:
            assert book.rehearsals() == []


def test_without_the_option_nothing_listens(tmp_path):
    with log(tmp_path, sounddevice(tmp_path, None), *HORN) as running:
        assert say(running, "k").startswith("not saved: no microphone is listening; ")
        running.communicate("end\n", timeout=30)


@pytest.mark.slow
def test_heard_without_a_microphone_says_how_to_have_one(tmp_path):
    with log(tmp_path, sounddevice(tmp_path, played(("F4", 5))), *HORN) as running:
        assert say(running, "heard") == "no microphone is listening; start with --microphone"
