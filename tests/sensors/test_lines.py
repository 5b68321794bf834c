"""Bytes into whole lines, and telling text from the wrong baud rate."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.dialects import LONGEST_LINE
from sensors.lines import UNREADABLE_SHARE, LineBuffer, readable, unreadable_share, wrong_settings
from tests.sensors.receiver import seen_at

TALK = "".join(f"T={20 + n / 10:.1f} RH={40 + n % 20}\r\n" for n in range(60)).encode()


def test_the_simulated_receiver_reads_its_own_rate():
    assert seen_at(TALK, 9600, 9600) == TALK


@given(
    st.lists(st.text("0123456789=T.", min_size=1, max_size=12), max_size=8),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.integers(0, 2**32),
)
def test_lines_do_not_depend_on_how_the_bytes_are_cut(lines, end, seed):
    data = "".join(line + end for line in lines).encode()
    chance, buffer, found = random.Random(seed), LineBuffer(), []
    while data:
        size = chance.randint(1, 5)
        found += buffer.feed(data[:size])
        data = data[size:]
    assert found == [line.encode() for line in lines]
    assert buffer.pending == b""


@given(st.text("0123456789.", min_size=1, max_size=5), st.integers(0, 5))
def test_a_line_whose_start_was_not_seen_is_dropped(line, cut):
    buffer = LineBuffer(whole=False)
    assert buffer.feed(line[cut:].encode() + b"\r\n" + line.encode() + b"\r\n") == [line.encode()]


def test_an_abandoned_half_line_takes_its_other_half_along():
    buffer = LineBuffer()
    assert buffer.feed(b"2") == []
    assert buffer.abandon() == b"2"
    assert buffer.feed(b"1.5\r\n21.6\r\n") == [b"21.6"]


def test_abandoning_nothing_drops_nothing():
    buffer = LineBuffer()
    assert buffer.abandon() == b""
    assert buffer.feed(b"21.5\n") == [b"21.5"]


@pytest.mark.parametrize("size", [1, 100, LONGEST_LINE, 5000])
def test_a_flood_without_line_ends_costs_no_memory(size):
    buffer = LineBuffer()
    for _ in range(6000 // size + 2):
        assert buffer.feed(b"7" * size) == []
        assert len(buffer.pending) <= LONGEST_LINE
    assert buffer.feed(b"\n21.5\n") == [b"21.5"]


@pytest.mark.parametrize(
    ("line", "text"),
    [
        (b"21.5", "21.5"),
        ("21.5 °C".encode(), "21.5 °C"),
        ("21.5 °C".encode("latin-1"), "21.5 °C"),
        ("21.5 °C".encode("cp437"), "21.5 °C"),
        (b"\x0221.5\x03", "21.5"),
        (b"\x0021.5", "21.5"),
        (b"a\tb", "a\tb"),
        (b"21\x00.5", None),
        (b"\x80\x90", None),
        (b"21.5\xff", None),
        (b"\x1b[0m21.5", None),
    ],
)
def test_readable_lines(line, text):
    assert readable(line) == text


def test_text_has_no_unreadable_bytes():
    assert unreadable_share(TALK) == 0.0
    assert unreadable_share("21.5 °C\r\n".encode()) == 0.0
    assert unreadable_share(b"") == 0.0


@pytest.mark.parametrize("sent", [1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200])
@pytest.mark.parametrize("read", [1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200])
def test_a_wrong_rate_is_told_from_a_right_one(sent, read):
    """Through a simulated receiver, for every pair of usual rates."""
    seen = seen_at(TALK, sent, read)
    if sent == read:
        assert unreadable_share(seen) == 0.0
    else:
        assert unreadable_share(seen) > UNREADABLE_SHARE
        assert f"{read} baud is probably the wrong rate" in wrong_settings(seen, read)


def test_the_usual_rates_are_offered_without_the_one_in_use():
    advice = wrong_settings(b"\x80\x00\xf8", 9600)
    assert "4800, 19200, 38400" in advice
    assert " 9600," not in advice


def test_a_parity_bit_is_told_from_a_wrong_rate():
    even = bytes(byte | (bin(byte).count("1") % 2) << 7 for byte in TALK)
    assert unreadable_share(even) > UNREADABLE_SHARE
    assert "frame=7E1" in wrong_settings(even, 9600)
