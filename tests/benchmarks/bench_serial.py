"""Lines back to back at the rate of 115200 baud: none lost, none duplicated.

    python tests/benchmarks/bench_serial.py [--seconds 60] [--baud 115200]

One thread writes numbered lines to one end of a real pseudo-terminal, paced to the rate that a
line with a start and a stop bit has (ten bits a byte); the serial source reads the other end.
Exits 1 if a line was lost, duplicated or changed.
"""

from __future__ import annotations

import argparse
import os
import sys
import threading
import time
import tty
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from sensors.clocks import SystemClock
from sensors.detection import choose
from sensors.reading import Sample
from sensors.serial_line import SerialLine

BITS_A_BYTE = 10


def line_of(number: int) -> str:
    """Return a numbered line, its temperature derived from the number."""
    return f"T={20 + number % 1000 / 100:.2f} n={number:08d}"


def send(end: int, seconds: float, baud: int, sent: list[int]) -> None:
    """Write lines at the pace of the rate until the time is over."""
    started, size = time.monotonic(), 0
    while time.monotonic() - started < seconds:
        data = (line_of(sent[0]) + "\r\n").encode()
        while data:
            data = data[os.write(end, data) :]
        sent[0] += 1
        size += len(line_of(0)) + 2
        ahead = size * BITS_A_BYTE / baud - (time.monotonic() - started)
        if ahead > 0.002:
            time.sleep(ahead)


def main() -> int:
    """Run the flood, print the figures, return 0 if nothing went wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--baud", type=int, default=115200)
    options = parser.parse_args()

    end, held = os.openpty()
    tty.setraw(held)
    sent, received, wrong = [0], 0, 0
    sender = threading.Thread(target=send, args=(end, options.seconds, options.baud, sent))
    dialect = choose("key=value")
    source = SerialLine(os.ttyname(held), dialect, SystemClock(), baud=options.baud)
    with source:
        sender.start()
        started = quiet = time.monotonic()
        for item in source:
            if isinstance(item, Sample):
                wrong += item.raw != line_of(received)
                received += 1
                quiet = time.monotonic()
            elif item is not None:
                wrong += 1
                print(f"{item.kind}: {item.text}")
            if not sender.is_alive() and time.monotonic() - quiet > 2.0:
                break
    seconds = quiet - started
    print(f"{seconds:.1f} s at {options.baud} baud: {sent[0]} lines sent, {received} received, "
          f"{wrong} wrong; {received / seconds:.0f} lines/s")  # fmt: skip
    return 0 if wrong == 0 and received == sent[0] else 1


if __name__ == "__main__":
    sys.exit(main())
