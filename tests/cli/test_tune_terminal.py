"""A whole tuning of a double horn at a terminal, by a player who makes mistakes."""

import re
import signal
import time

import pytest

from drift.instruments import find
from drift.study import Study
from tests.terminals import Terminal

HORN = find("double horn")
OFF = {"Bb": 18.0, "F": 14.0}
STEPS = re.compile(r"(long\.|tuner\.|Play [^\n]*\.|Once more\.|, to [\d.]+\.|Mark [^\n]*)\r\n")


class Player:
    """Who is so many cents sharp on each side, and whose slides do as the rule says."""

    def __init__(self):
        self.at, self.side = {"main": 12.0, "F": 8.0, "Bb": 2.0}, "Bb"
        self.begun = dict(self.at)

    def answer(self, shown):
        """Return what is typed for a step: nothing for a move, else what the tuner shows."""
        if found := re.search(r"(B♭|F) side: thumb", shown):
            self.side = found[1].replace("♭", "b")
        if found := re.search(
            r"(?:Pull|Push) the (\S+) slide (?:out|in) [^\n]*, to ([\d.]+)\.", shown
        ):
            self.at[found[1].replace("♭", "b")] = float(found[2])
            return ""
        cents = sum(
            HORN.cents_per_mm(self.side, slide) * (mm - self.begun[slide])
            for slide, mm in self.at.items()
            if self.side in HORN.slide(slide).sides
        )
        return f"{OFF[self.side] + cents:+.1f}"


def tuned(terminal, player):
    """Play on to the marks, and return what was shown."""
    said = []
    while "Mark " not in (shown := terminal.sees(STEPS)):
        said.append(shown)
        terminal.type(player.answer(shown))
    return "".join([*said, shown])


@pytest.mark.slow
def test_a_tuning_with_mistakes_leaves_nothing_assumed_and_nothing_left_out(tmp_path):
    player = Player()
    command = ("tune", "b.logbook", "--rehearsal", "hall", "--player", "Robin",
               "--instrument", "double horn", "--no-valves")  # fmt: skip
    with Terminal(tmp_path, *command) as terminal:
        for prompt, typed in (
            (r"How warm is the room\?[^\n]*\n", "70F"),
            (r"Where is the main slide\?[^\n]*\n", "main 12, F 8, Bb 2"),
            (r"or skip\.\r\n", "+14"),
            (r"not saved: \+14 has a sign[^§]*or skip\.\r\n", "played 30"),
            (r"30 minutes played in all[^§]*Long F4 \(sounding\), eyes off the tuner\.\r\n", "+81"),
            (r"F4 once more, long\.\r\n", "undo"),
            (r"undone: F4 81 sharp[^§]*tuner\.\r\n", player.answer("")),
        ):
            terminal.sees(prompt)
            terminal.type(typed)
        shown = terminal.sees(STEPS)
        while ", to " not in shown:
            terminal.type(player.answer(shown))
            shown = terminal.sees(STEPS)
        terminal.type("1")
        terminal.sees(r"main at 1 mm\? Asked was ")
        terminal.type(player.answer(shown))
        said = tuned(terminal, player)
        assert f"main at {player.at['main']:g}" in said
        assert "Tuned at 21.1 °C, warm." in said
    for side in OFF:
        player.side = side
        assert abs(float(player.answer(""))) < 6.0
    with Terminal(tmp_path, "slides", "b.logbook", "--player", "Robin",
                  "--instrument", "double horn", "--celsius", "10") as slides:  # fmt: skip
        assert "assumed" not in slides.sees("Remaining error")
    assert not Study.open(tmp_path / "b.logbook").paired.left_out


@pytest.mark.slow
def test_ctrl_d_and_ctrl_c_end_it_as_end_does(tmp_path):
    command = ("tune", "b.logbook", "--rehearsal", "hall", "--player", "Robin",
               "--instrument", "double horn")  # fmt: skip
    leaving = (
        lambda terminal: terminal.press(b"\x04"),
        lambda terminal: terminal.process.send_signal(signal.SIGINT),
    )
    for leave in leaving:
        with Terminal(tmp_path, *command) as terminal:
            terminal.sees("not known")
            time.sleep(0.5)  # a person waits until it waits: a signal before that is seen later
            leave(terminal)
            terminal.sees(r"Stopped: what was read and set so far is saved\.")
