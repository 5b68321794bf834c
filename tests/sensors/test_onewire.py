"""1-Wire probes: the check byte against published values, and a file that changes and vanishes."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.errors import LineRefused, SourceUnavailable
from sensors.onewire import OneWire, crc8, read_scratchpad


def text_of(scratchpad: bytes, milli: int, verdict: str = "YES") -> str:
    shown = scratchpad.hex(" ")
    return f"{shown} : crc={scratchpad[8]:02x} {verdict}\n{shown} t={milli}\n"


def scratchpad_of(celsius: float) -> bytes:
    """Return the nine bytes of a 12-bit probe: sixteenths of a degree, then its settings."""
    start = round(celsius * 16).to_bytes(2, "little", signed=True) + bytes.fromhex("4b467fff0810")
    return start + bytes([crc8(start)])


# 50 05 4B 46 7F FF 0C 10 -> 1C: the power-on scratchpad, from the project's table of published
# values. 02 1C B8 01 00 00 00 -> A2: the worked example of Maxim's Application Note 27 (from
# memory). A message followed by its own check byte leaves zero, by the theory of such codes.
@pytest.mark.parametrize(
    ("message", "check"),
    [("50 05 4B 46 7F FF 0C 10", 0x1C), ("02 1C B8 01 00 00 00", 0xA2), ("", 0x00)],
)
def test_check_bytes_as_published(message, check):
    data = bytes.fromhex(message)
    assert crc8(data) == check
    assert crc8(data + bytes([check])) == 0


@given(st.binary(min_size=1, max_size=20), st.data())
def test_every_single_damaged_bit_is_caught(message, data):
    bit = data.draw(st.integers(0, 8 * len(message) - 1))
    damaged = bytearray(message)
    damaged[bit // 8] ^= 1 << bit % 8
    assert crc8(bytes(damaged)) != crc8(message)


@pytest.mark.parametrize("celsius", [21.5, -10.125, 0.0, 59.9375])
def test_a_good_file(celsius):
    text = text_of(scratchpad_of(celsius), round(celsius * 1000))
    assert read_scratchpad(text).celsius == pytest.approx(celsius, abs=0.001)  # t= is in 0.001 °C


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "not the text of a w1_slave file"),
        ("21500\n", "not the text of a w1_slave file"),
        (text_of(scratchpad_of(21.5), 21500, "NO"), "the check byte of the probe is wrong"),
        (text_of(bytes(9), 0), "the check byte of the probe is wrong"),
        (text_of(b"\x59" + scratchpad_of(21.5)[1:], 21562), "the check byte of the probe is wrong"),
        (
            text_of(scratchpad_of(21.5), 21500).replace("\n58", "\n59"),
            "the check byte of the probe is wrong",
        ),
        (text_of(bytes.fromhex("50054b467fff0c101c"), 85000), "before its first measurement"),
    ],
)
def test_what_is_wrong_is_said(text, why):
    with pytest.raises(LineRefused, match=why):
        read_scratchpad(text)


@given(st.text(max_size=80))
def test_garbage_is_no_temperature(text):
    with pytest.raises(LineRefused, match="not the text of a w1_slave file"):
        read_scratchpad(text)


@pytest.fixture
def probe(tmp_path):
    folder = tmp_path / "28-0000deadbeef"
    folder.mkdir()
    path = folder / "w1_slave"
    path.write_text(text_of(scratchpad_of(21.5), 21500))
    return path


def test_a_probe_that_goes_and_comes(probe, clock):
    with OneWire(probe, clock, sleep=clock.go_on) as source:
        words = (item for item in source if item is not None)
        first = next(words)
        assert (first.celsius, first.source) == (21.5, "28-0000deadbeef")
        assert first.raw.endswith("t=21500")
        kept = probe.read_text()
        probe.unlink()
        assert next(words).kind == "away"
        probe.write_text(kept.replace("YES", "NO"))
        assert next(words).kind == "refused"
        probe.write_text(kept)
        assert next(words).kind == "back"
        assert next(words).celsius == 21.5


def test_bad_answers_for_long_count_as_away(probe, clock):
    probe.write_text("no\n")
    with OneWire(probe, clock, sleep=clock.go_on, silence_seconds=10) as source:
        items = [item.kind for item in itertools.islice(source, 100) if item is not None]
    assert items[:4] == ["refused"] * 4
    assert items.count("away") == 1


def test_it_reads_every_so_often(probe, clock):
    with OneWire(probe, clock, sleep=clock.go_on, poll_seconds=1.0) as source:
        items = list(itertools.islice(source, 21))
    assert [n for n, item in enumerate(items) if item is not None] == [0, 6, 12, 18]


def test_a_probe_that_is_not_there(tmp_path, clock):
    with (
        pytest.raises(SourceUnavailable, match="w1_slave cannot be read: No such file"),
        OneWire(tmp_path / "w1_slave", clock),
    ):
        pass
