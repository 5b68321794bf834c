"""A whole evening at the terminal and in a browser: what is said at each moment.

A simulated player and a thermometer at a pseudo-terminal: a cold start, a rest, a slide that is
moved and logged, one that is moved and not logged, a thermometer that goes away, the end. The
truth below shares no code with the program: a trumpet that rises by 12 cents in a few minutes.
"""

import os
import re
import time
from datetime import UTC, datetime, timedelta
from math import exp

import pytest

from drift.logbook.book import Logbook
from drift.page import Room
from tests.page.visits import SetClock, served

pytest.importorskip("pty", reason="pseudo-terminals exist on POSIX systems only")
terminals = pytest.importorskip("tests.terminals")

pytestmark = pytest.mark.timeout(300)

STEP_SECONDS = 20.0
WHO = {"player": "Rowan", "instrument": "Bb trumpet"}


class Player:
    """The truth: in tune when warm, at 18 °C, with the main slide at 12 mm."""

    COLD_CENTS, WARM_MINUTES, COOL_MINUTES, CENTS_PER_MM = -12.0, 4.5, 9.0, -2.5
    SCATTER = (1.0, -0.5, 0.5, -1.0)

    def __init__(self):
        self.warmth, self.main_mm, self.playing, self.readings = 0.0, 12.0, False, 0

    def passes(self, minutes):
        if self.playing:
            self.warmth = 1.0 - (1.0 - self.warmth) * exp(-minutes / self.WARM_MINUTES)
        else:
            self.warmth *= exp(-minutes / self.COOL_MINUTES)

    def reads(self, note):
        self.readings += 1
        cents = self.COLD_CENTS * (1.0 - self.warmth) + self.CENTS_PER_MM * (self.main_mm - 12.0)
        return f"{note} {cents + self.SCATTER[self.readings % 4]:+.0f}"


class AtTheTerminal:
    """The evening typed at a terminal, on a clock that the test moves."""

    def __init__(self, folder, thermometer):
        self.ahead, self.book = folder / "ahead", folder / "band.logbook"
        self.move_to(0.0)
        self.log = terminals.Terminal(
            folder, str(self.ahead), "log", "band.logbook", "--rehearsal", "evening",
            "--player", WHO["player"], "--instrument", WHO["instrument"],
            "--thermometer", f"serial:{thermometer.port}?name=stage&silence=60",
            program=("-m", "tests.clocked"),
        )  # fmt: skip

    def __enter__(self):
        self.log.sees("evening begins")
        return self

    def __exit__(self, *error):
        self.log.__exit__(*error)

    def move_to(self, seconds):
        new = self.ahead.with_suffix(".new")
        new.write_text(str(seconds), encoding="ascii")
        os.replace(new, self.ahead)
        self.moved = datetime.now(UTC) + timedelta(seconds=seconds)

    def has_heard(self, seconds):
        with Logbook(self.book) as book:
            return book.last_time("evening") >= self.moved

    def enter(self, line):
        self.log.type(line)
        self.log.sees(r"saved [^\r\n]*\r?\n")

    def sees(self, *patterns):
        self.log.type("now")
        shown = self.log.sees(r"from (acoustics alone|\d+ reading)[^\r]*\r?\n")
        for pattern in patterns:
            assert re.search(pattern, shown), shown
        return shown

    def loses(self, thermometer):
        """Nothing to see: the terminal tells what it is asked."""

    def ends(self):
        self.log.type("end")
        return self.log.sees("Next time: [^\r]*")


class InTheBrowser:
    """The evening in Chromium, on a clock that the test moves."""

    def __init__(self, folder, thermometer, chromium):
        self.clock, self.start = SetClock(), SetClock().now()
        self.room = Room(
            folder / "band.logbook", self.clock,
            thermometers=[f"serial:{thermometer.port}?name=stage&silence=60"],
        )  # fmt: skip
        self.chromium = chromium

    def __enter__(self):
        self.room.__enter__()
        self.room.begin("evening", **WHO)
        self.serving = served(self.room)
        self.context = self.chromium.new_context(viewport={"width": 768, "height": 1024})
        self.page = self.context.new_page()
        self.page.goto(self.serving.__enter__())
        self.until("#line", "connected")
        return self

    def __exit__(self, *error):
        self.context.close()
        self.serving.__exit__(None, None, None)
        self.room.__exit__(*error)

    def move_to(self, seconds):
        self.clock.pass_by(seconds=seconds - (self.clock.now() - self.start).total_seconds())

    def has_heard(self, seconds):
        latest = self.room.listeners[0].latest
        return latest is not None and (latest.time - self.start).total_seconds() >= seconds

    def until(self, where, pattern):
        from playwright.sync_api import expect

        expect(self.page.locator(where)).to_contain_text(re.compile(pattern), timeout=60_000)

    def enter(self, line):
        self.page.evaluate("document.querySelector('#answer').textContent = ''")
        self.page.get_by_label("Note", exact=True).fill(line)
        self.page.keyboard.press("Enter")
        self.until("#answer", "^saved")

    def sees(self, *patterns):
        for pattern in patterns:
            self.until("[data-region=standing]", pattern)
        return self.page.locator("[data-region=standing]").inner_text()

    def loses(self, thermometer):
        self.until("[data-region=thermometers]", "stage.*(offline|silent) since")

    def ends(self):
        self.page.get_by_text("End the rehearsal", exact=True).click()
        self.page.get_by_role("button", name="End the rehearsal now").click()
        self.until("[data-region=standing]", "Next time: ")
        return self.page.locator("[data-region=standing]").inner_text()


class Evening:
    """A player who reads and types, and the time that passes."""

    def __init__(self, place, thermometer):
        self.place, self.thermometer = place, thermometer
        self.player, self.seconds = Player(), 0.0

    def play_on(self, minutes):
        """Let time pass in steps that a thermometer fills: a clock does not jump."""
        for _ in range(round(60.0 * minutes / STEP_SECONDS)):
            self.seconds += STEP_SECONDS
            self.player.passes(STEP_SECONDS / 60.0)
            self.place.move_to(self.seconds)
            time.sleep(0.06)
            self.hear()

    def hear(self):
        """Wait for the thermometer: on a busy machine it falls behind a clock that is moved."""
        until = time.monotonic() + 30.0
        while not self.thermometer.away and not self.place.has_heard(self.seconds):
            assert time.monotonic() < until, "the thermometer is not heard"
            time.sleep(0.02)

    def reads(self, *notes):
        for note in notes:
            self.place.enter(self.player.reads(note))


def whole_evening(place, thermometer):
    evening = Evening(place, thermometer)
    player = evening.player
    evening.play_on(0.7)
    place.enter("slide main 12")
    place.enter("play")
    player.playing = True
    assert not re.search("Pull|Push", place.sees("Take a reading first"))

    evening.play_on(2)  # cold: flat, and it rises by itself
    evening.reads("Bb4", "F4")
    said = place.sees("flat")
    assert not re.search(r"[Pp]ull", said), said

    evening.play_on(12)  # warm, and in tune
    evening.reads("Bb4", "F4", "Bb4", "F4")
    place.sees("Leave the slides", "ood to ±")

    place.enter("rest")
    player.playing = False
    evening.play_on(8)
    place.enter("play")
    player.playing = True
    evening.play_on(10)
    evening.reads("Bb4", "F4")
    assert "jumped" not in place.sees("Leave the slides")

    place.enter("slide main 17")  # logged: flat as it has to be, and no surprise
    player.main_mm = 17.0
    evening.play_on(1)
    evening.reads("Bb4", "F4")
    said = place.sees("Push the main slide in [3-7]")
    assert not re.search("jumped|was expected", said), said
    place.enter("slide main 12")
    player.main_mm = 12.0
    evening.play_on(1)
    evening.reads("Bb4", "F4")
    place.sees("Leave the slides")

    player.main_mm = 18.0  # pulled and not logged
    evening.play_on(4)
    evening.reads("Bb4")
    place.sees("was expected: check where the slide is|jumped")
    evening.reads("F4", "Bb4")
    place.sees("Your readings jumped at .*: a slide must have moved")
    place.enter("slide main 18")  # said where it is: no riddle is left
    evening.reads("F4")
    place.sees("Push the main slide in [4-8]")
    place.enter("slide main 12")
    player.main_mm = 12.0

    thermometer.away = True
    evening.play_on(4)
    place.loses(thermometer)
    place.enter("temp 18.5")
    evening.reads("Bb4", "F4")
    place.sees("Leave the slides")
    thermometer.away = False
    assert "Rowan, B♭ trumpet: 1" in place.ends()


@pytest.mark.slow
def test_at_the_terminal(tmp_path):
    with terminals.Thermometer(18.0) as thermometer, AtTheTerminal(tmp_path, thermometer) as place:
        whole_evening(place, thermometer)


@pytest.mark.slow
def test_in_the_browser(tmp_path, chromium):
    with (
        terminals.Thermometer(18.0) as thermometer,
        InTheBrowser(tmp_path, thermometer, chromium) as place,
    ):
        whole_evening(place, thermometer)
