"""A program at a pseudo-terminal of its own, and a thermometer at another."""

import os
import pty
import re
import subprocess
import sys
import threading
from contextlib import suppress

ENVIRONMENT = {
    **os.environ,
    "PYTHONUTF8": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "PYTHONPATH": os.pathsep.join(filter(None, sys.path)),
}


class Terminal:
    """A program at a pseudo-terminal: what it asks is waited for, then answered."""

    def __init__(self, folder, *words, program=("-m", "drift")):
        self.end, inner = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, *program, *words],
            cwd=folder, stdin=inner, stdout=inner, stderr=inner,
            env=ENVIRONMENT,
        )  # fmt: skip
        os.close(inner)
        self.seen = ""

    def __enter__(self):
        return self

    def __exit__(self, *error):
        self.process.kill()
        self.process.wait()
        os.close(self.end)

    def sees(self, pattern):
        """Read on until something is shown, and return what came until then."""
        while not (found := re.search(pattern, self.seen)):
            try:
                self.seen += os.read(self.end, 4096).decode()
            except OSError:
                raise AssertionError(f"{pattern!r} was not shown:\n{self.seen}") from None
        shown, self.seen = self.seen[: found.end()], self.seen[found.end() :]
        return shown

    def type(self, text):
        os.write(self.end, f"{text}\n".encode())

    def press(self, key):
        os.write(self.end, key)


class Thermometer:
    """Writes the temperature of a room to one end of a pseudo-terminal pair, until it goes away."""

    def __init__(self, celsius, every=0.05):
        self.celsius, self.every, self.away = celsius, every, False

    def __enter__(self):
        self.master, self.slave = pty.openpty()
        self.port = os.ttyname(self.slave)
        self.stop = threading.Event()
        self.thread = threading.Thread(target=self._write)
        self.thread.start()
        return self

    def _write(self):
        while not self.stop.wait(self.every):
            if not self.away:
                with suppress(OSError):
                    os.write(self.master, f"{self.celsius:.2f}\r\n".encode("ascii"))

    def __exit__(self, *_):
        self.stop.set()
        self.thread.join()
        os.close(self.master)
        os.close(self.slave)
