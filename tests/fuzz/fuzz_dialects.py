"""Coverage-guided fuzzing of everything that reads a thermometer's bytes.

    pip install atheris
    python tests/fuzz/fuzz_dialects.py -max_total_time=60 NEW_FOLDER tests/fuzz/seeds

The first folder takes what is found on the way, the second holds lines to start from; options are
those of libFuzzer. A run that finds nothing ends with exit status 0;
a finding is written to a file ``crash-...`` that can be given as the only argument to repeat it.

What must hold for any bytes: no exception but a refusal, no temperature outside -40 to 60 °C, no
temperature from a line without a digit, none from an NMEA sentence with a wrong checksum, and the
same lines however the bytes are cut.
"""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

with atheris.instrument_imports(include=["sensors"]):
    from sensors.detection import Auto, choose
    from sensors.errors import LineRefused
    from sensors.lines import LineBuffer, readable, unreadable_share, wrong_settings
    from sensors.nmea import checksum
    from sensors.onewire import read_scratchpad

STATELESS = [
    choose("plain"),
    choose("key=value"),
    choose("key=value", key="t2", unit="F"),
    choose("csv", column="2"),
    choose("json"),
    choose("nmea"),
    choose("pattern", expression=r"(?P<celsius>[^ ]*)"),
]


def one_input(data: bytes) -> None:
    """Read the same bytes in every dialect."""
    lines = LineBuffer().feed(data + b"\n")
    bytewise = LineBuffer()
    cut = [line for byte in data + b"\n" for line in bytewise.feed(bytes([byte]))]
    if lines != cut and all(len(line) <= 1024 for line in lines):
        raise AssertionError("lines depend on how the bytes are cut")
    dialects = [*STATELESS, Auto(), choose("csv")]
    for line in lines:
        text = readable(line)
        if text is not None:
            for dialect in dialects:
                check(dialect, text)
    unreadable_share(data)
    wrong_settings(data, 9600)
    with contextlib.suppress(LineRefused):
        read_scratchpad(data.decode("latin-1"))


def check(dialect, text: str) -> None:
    """Read one line, and doubt what comes out."""
    try:
        found = dialect(text)
    except LineRefused as refusal:
        if refusal.line != text or not refusal.problem or "\n" in refusal.problem:
            raise AssertionError("a refusal without its line or its reason") from None
        return
    if found is None:
        return
    if not -40.0 <= found.celsius <= 60.0:
        raise AssertionError(f"{found.celsius} °C from {text!r}")
    if not any(sign.isdigit() for sign in text):
        raise AssertionError(f"{found.celsius} °C from a line without a digit: {text!r}")
    if dialect.name == "nmea":
        body, _, given = text.strip()[1:].partition("*")
        if checksum(body) != int(given, 16):
            raise AssertionError(f"a temperature despite its checksum: {text!r}")


if __name__ == "__main__":
    atheris.Setup(sys.argv, one_input)
    atheris.Fuzz()
