"""A receiver of serial bytes, right or wrong in its rate."""

from __future__ import annotations


def seen_at(data: bytes, sent_baud: float, read_baud: float) -> bytes:
    """Return what a receiver at one rate makes of bytes sent at another (8N1, no gaps).

    A start bit is 0, eight data bits follow from the least significant, a stop bit is 1. The
    receiver waits for the edge of a start bit and samples in the middle of each of its own bits;
    a stop bit that is no 1 makes a zero byte, as a terminal in raw mode does.
    """
    bits = [1] * 10
    for byte in data:
        bits += [0, *((byte >> n) & 1 for n in range(8)), 1]
    bits += [1] * 20

    def level(at: float) -> int:
        return bits[min(int(at), len(bits) - 1)]

    step, at, seen = sent_baud / read_baud, 0.0, bytearray()
    while at < len(bits) - 12 * step - 1:
        if level(at) == 1:
            at = int(at) + 1.0  # an edge can only be where a sent bit begins
            continue
        value = sum(level(at + (1.5 + n) * step) << n for n in range(8))
        good = level(at + 9.5 * step) == 1
        seen.append(value if good else 0)
        at += 9.5 * step if good else 10 * step
    return bytes(seen)
