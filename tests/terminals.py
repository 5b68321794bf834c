"""A program at a pseudo-terminal of its own."""

import os
import pty
import re
import subprocess
import sys

ENVIRONMENT = {
    **os.environ,
    "PYTHONUTF8": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "PYTHONPATH": os.pathsep.join(filter(None, sys.path)),
}


class Terminal:
    """A program at a pseudo-terminal: what it asks is waited for, then answered."""

    def __init__(self, folder, *words):
        self.end, inner = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "drift", *words],
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
