"""Log a rehearsal in a browser: readings, the air, and which slide to move.

for example:
  drift page
  drift page band.logbook --rehearsal "2026-10-03 hall" --player Rowan --instrument "double horn"
  drift page band.logbook --open-to-network --thermometer serial:/dev/ttyUSB0

Ctrl-C stops the program; the same command resumes a rehearsal without an end.

Good to know:
  Only this computer can open the page. With --open-to-network, tablets on the same network can
  too, each by an address that works once. Whoever opens it sees the players' readings and can add
  to them. Names and readings cross the network unencrypted: use a network you trust.
  With --microphone, this computer proposes held single notes as readings; keep or drop them on
  the page.
"""

from __future__ import annotations

import argparse
import contextlib
import os
from functools import partial
from typing import TYPE_CHECKING

from drift.cli.named_player import settle_player
from drift.cli.options import add_logging, catalogue_of, check_microphone, microphone_of, notes_of
from drift.cli.progress import of_source

if TYPE_CHECKING:
    from drift.page import Room
    from drift.page.devices import Devices

__all__ = ["add_arguments", "run"]

PORT = 8040


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    rehearsal = add_logging(parser)
    rehearsal.add_argument(
        "--rehearsal", metavar="NAME", default="", help="its name; left out, the page asks"
    )
    page = parser.add_argument_group("the page")
    page.add_argument(
        "--port", metavar="N", type=int, default=PORT, help=f"port of this computer ({PORT})"
    )
    page.add_argument(
        "--open-to-network", action="store_true", help="let other devices open the page too"
    )


def run(options: argparse.Namespace) -> int:
    """Carry out the command."""
    from drift.cli.log_guided import ask_for_book
    from drift.page import Room, State, create_app
    from drift.page.devices import Devices
    from drift.page.security import hosts_of
    from drift.page.serving import Server, listening, own_names
    from sensors.clocks import SteadyClock, SystemClock

    check_microphone(options)
    ask_for_book(options)
    system = SystemClock()
    clock = SteadyClock(system)
    open_to_network = options.open_to_network
    with listening(options.port, to_network=open_to_network) as listener:
        port = listener.getsockname()[1]
        names = own_names(to_network=open_to_network)
        room = Room(
            options.book,
            clock,
            writer=f"drift page, process {os.getpid()}",
            thermometers=options.thermometer,
            a4_hz=options.a4,
            written=options.written,
            units=options.units,
            catalogue=catalogue_of(options),
            watched=system,
            microphone=None if options.microphone is None else partial(microphone_of, options),
            notes=notes_of(options),
            plan=options.plan,
        )
        with room:
            settle_player(options, room.book.players(), may_be_new=True)
            _begin(room, options)
            address = f"http://{names[0]}:{port}/"
            devices: Devices | None = None
            if open_to_network:
                devices = Devices(
                    options.book.with_name(options.book.name + ".devices"),
                    clock.now,
                    lambda secret: _tell(f"for the next device: {address}open?secret={secret}"),
                )
            else:
                _tell(f"open {address} in a browser on this machine; Ctrl-C stops the program")
            state = State(room, devices, of_source(options.book))
            app = create_app(state, hosts=hosts_of(names, port))
            with contextlib.suppress(KeyboardInterrupt):
                Server(app, state.broadcast.end).run(sockets=[listener])
            if room.going_on:
                _tell(f"{room.rehearsal} has no end yet; start again to go on with it")
    return 0


def _begin(room: Room, options: argparse.Namespace) -> None:
    """Begin the rehearsal that was named, or go on with one that has just been interrupted."""
    if options.rehearsal:
        room.begin(options.rehearsal, player=options.player, instrument=options.instrument)
        _tell(f"{room.rehearsal} {'resumed' if room.desk and room.desk.resumed else 'begins'}")
    elif room.go_on():
        _tell(f"{room.rehearsal} resumed where it was interrupted")


def _tell(text: str) -> None:
    print(text, flush=True)
