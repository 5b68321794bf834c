"""Changes to an input that keep most of its structure, to reach beyond the first check."""

from __future__ import annotations

import random
import re

# What has been mistaken for a number, a time or a name somewhere, in this program or another.
ODD = [
    *("", " ", "\u00a0", "nan", "inf", "-0", "1e999", "1e308", "-1e308", "9" * 400, "9" * 5000),
    *("1_0", "0x10", "21,5", "−4", "1.000,5", "٤", "١٢", "½", "+6", "70F", "12%", "15 mm", "-"),
    *("\ud800", "\udce4", "\x00", "\x1b[31m", "\x1b]52;c;AA==\x07", "\u202e", "\u200b", "\ufeff"),
    *("=1+1", "@a", '"', "''", ",", ";", "\t", "\n", "\r", "\r\n", "\\", "[" * 50_000, "{" * 3000),
    *("null", "true", "[]", "{}", "{", '"\\ud800"', "a" * 70_000, "🎺", "é" * 100, "ﬁ", "ß"),
    *("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-02-30T19:00:00Z"),
    *("2026-10-03T19:00:00Z", "2026-10-03T19:00:00", "2026-10-03", "19:00", "24:00", "23:59:60"),
    *("F4", "H4", "B♭3", "Cb-1", "C99999999", "A-99999", "double horn", "Bb trumpet", "kazoo"),
    *("main", "F", "Bb", "play", "rest", "tune", "start", "end", "slide", "remark", "yes", "stuck"),
    *("../../etc/passwd", "/dev/zero", "CON", "%s%n", "{0.__class__}", "'; DROP TABLE entries;--"),
]


def changed_text(rng: random.Random, text: str) -> str:
    """Return a text with one to three changes."""
    for _ in range(rng.choice([1, 1, 1, 2, 3])):
        change = rng.choice([_odd_field, _odd_field, _odd_number, _anywhere, _lines, _piece])
        text = change(rng, text)
    return text


def changed_bytes(rng: random.Random, content: bytes) -> bytes:
    """Return bytes with one to four changes: bits, runs, cuts, pieces moved."""
    data = bytearray(content)
    for _ in range(rng.choice([1, 1, 2, 4])):
        at = rng.randrange(len(data)) if data else 0
        size = rng.choice([1, 1, 2, 4, 16, 100, 512, 4096])
        match rng.randrange(6):
            case 0 if data:
                data[at] ^= 1 << rng.randrange(8)
            case 1:
                data[at : at + size] = rng.choice([b"\0", b"\xff"]) * size
            case 2:
                data[at : at + size] = rng.randbytes(size)
            case 3:
                del data[at : len(data) if rng.random() < 0.5 else at + size]
            case 4:
                data[at:at] = data[at // 2 : at // 2 + size]
            case _:
                extreme = rng.choice([b"\xff" * 4, b"\x00" * 4, b"\xff\xff\xff\x7f", b"\0\0\0\x80"])
                data[at : at + 4] = extreme
    return bytes(data)


def _odd(rng: random.Random) -> str:
    return rng.choice(ODD)


def _anywhere(rng: random.Random, text: str) -> str:
    at = rng.randrange(len(text) + 1)
    return text[:at] + _odd(rng) + text[at + rng.choice([0, 0, 1, 5]) :]


def _odd_field(rng: random.Random, text: str) -> str:
    """Replace what stands between two separators."""
    places = [found.start() for found in re.finditer(r"[,;\n=:\s]", text)] or [0]
    number = rng.randrange(len(places))
    begin = places[number] + 1
    end = places[number + 1] if number + 1 < len(places) else len(text)
    other = rng.choice(re.split(r"[,\n]", text)) if rng.random() < 0.3 else _odd(rng)
    return text[:begin] + other + text[max(begin, end) :]


def _odd_number(rng: random.Random, text: str) -> str:
    numbers = list(re.finditer(r"-?\d+(\.\d+)?", text))
    if not numbers:
        return _anywhere(rng, text)
    found = rng.choice(numbers)
    value = float(found[0])
    new = rng.choice(
        [str(-value), str(value * 10), str(value + 1e-9), "0", str(value * 1e6), f"{value:e}"]
    )
    return text[: found.start()] + new + text[found.end() :]


def _lines(rng: random.Random, text: str) -> str:
    lines = text.split("\n")
    at, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    match rng.randrange(5):
        case 0:
            del lines[at]
        case 1:
            lines.insert(at, lines[other])
        case 2:
            lines[at], lines[other] = lines[other], lines[at]
        case 3:
            lines[at] = _shuffled_cells(rng, lines[at])
        case _:
            del lines[at:]
    return "\n".join(lines)


def _shuffled_cells(rng: random.Random, line: str) -> str:
    cells = line.split(",")
    rng.shuffle(cells)
    return ",".join(cells[: rng.randrange(len(cells) + 1)] if rng.random() < 0.3 else cells)


def _piece(rng: random.Random, text: str) -> str:
    at, size = rng.randrange(len(text) + 1), rng.choice([1, 3, 20, 200])
    if rng.random() < 0.5:
        return text[:at] + text[at + size :]
    return text[:at] + text[at : at + size] * rng.choice([2, 2, 50]) + text[at + size :]
