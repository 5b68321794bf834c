"""Bytes into lines: whole ones only, whatever pieces the bytes come in.

A half line can look like a whole one (``1.5`` of ``21.5``), so a line counts only when both its
ends were seen. The length of a line is limited: a flood without line ends costs no memory.
"""

from __future__ import annotations

from sensors.dialects import LONGEST_LINE

__all__ = [
    "UNREADABLE_SHARE",
    "USUAL_BAUD_RATES",
    "LineBuffer",
    "readable",
    "unreadable_share",
    "wrong_settings",
]

USUAL_BAUD_RATES = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)

# Text at twice the rate it is read at still looks like text to seven parts of ten.
UNREADABLE_SHARE = 0.2

# The degree sign as one byte (ISO 8859-1, and the code page of old PCs) and as UTF-8.
_DEGREE = (b"\xc2\xb0", b"\xc2\xba", b"\xb0", b"\xf8")
_READABLE = frozenset(range(0x20, 0x7F)) | {0x09, 0x0A, 0x0D}
_FRAMING = b"\x00\x02\x03 \t"  # what some instruments put around a line


class LineBuffer:
    r"""Collects bytes and hands out whole lines.

    Parameters
    ----------
    whole : bool
        Whether the first byte to come is known to start a line; if not, everything up to the
        first line end is dropped.

    Examples
    --------
    >>> buffer = LineBuffer(whole=False)
    >>> buffer.feed(b"1.5\r\n21."), buffer.feed(b"6\r\n")
    ([], [b'21.6'])
    """

    def __init__(self, *, whole: bool = True) -> None:
        self._pending = bytearray()
        self._skipping = not whole

    @property
    def pending(self) -> bytes:
        """The line so far, whose end has not come."""
        return bytes(self._pending)

    def feed(self, data: bytes) -> list[bytes]:
        """Take bytes and return the lines that they complete, without their ends.

        Lines may end in CR, LF or both. Empty lines are left out. A line that grows too long is
        dropped up to its end.
        """
        self._pending += data
        *ended, rest = self._pending.replace(b"\r", b"\n").split(b"\n")
        if ended and self._skipping:
            del ended[0]
            self._skipping = False
        self._pending = bytearray(rest)
        if self._skipping or len(rest) > LONGEST_LINE:
            self._pending.clear()
            self._skipping = True
        return [bytes(line) for line in ended if line.strip(_FRAMING)]

    def abandon(self) -> bytes:
        """Give up the line so far: return it, and drop what is still to come of it."""
        given_up = self.pending
        self._skipping = self._skipping or bool(given_up)
        self._pending.clear()
        return given_up


def readable(line: bytes) -> str | None:
    r"""Return a line as text, or None if it has bytes that no thermometer means.

    Examples
    --------
    >>> readable(b"21.5 \xb0C"), readable(b"\x80\xf8\x00")
    ('21.5 °C', None)
    """
    bare = line.strip(_FRAMING)
    try:
        text = bare.decode("utf-8")
    except UnicodeDecodeError:
        text = bare.replace(b"\xf8", b"\xb0").decode("latin-1")
        if not text.replace("°", "").replace("º", "").isascii():
            return None
    return text if all(sign.isprintable() or sign == "\t" for sign in text) else None


def unreadable_share(data: bytes) -> float:
    r"""Return which part of the bytes is no text, between 0 and 1.

    Examples
    --------
    >>> unreadable_share(b"21.5\r\n"), unreadable_share(b"\x80\x00A\xf0")
    (0.0, 0.75)
    """
    for sign in _DEGREE:
        data = data.replace(sign, b"o")
    return sum(byte not in _READABLE for byte in data) / len(data) if data else 0.0


def wrong_settings(data: bytes, baud: int) -> str:
    """Return what to try when the bytes on a line cannot be read.

    Parameters
    ----------
    data : bytes
        Some of them.
    baud : int
        The rate at which they were read [bit/s].

    Returns
    -------
    str
        One line for a person.
    """
    if unreadable_share(bytes(byte & 0x7F for byte in data)) == 0.0:
        return f"the bytes at {baud} baud carry a parity bit: try frame=7E1 or frame=7O1"
    others = ", ".join(str(rate) for rate in USUAL_BAUD_RATES if rate != baud)
    return f"unreadable bytes: {baud} baud is probably the wrong rate; try baud= with {others}"
