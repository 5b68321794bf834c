"""NMEA 0183 sentences, against published checksums and an independent decoder."""

import operator
import re
from functools import reduce

import pynmea2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.errors import LineRefused
from sensors.nmea import checksum, sentence

NUMBERS = st.decimals(-40, 60, places=2).map(str)


def finished(body: str) -> str:
    """Return a whole sentence, its checksum computed apart from the code under test."""
    return f"${body}*{reduce(operator.xor, body.encode(), 0):02X}"


# Sentences with their checksums as in the project's table of published values; the rule (XOR of
# the characters between $ and *) is that of NMEA 0183, second-hand. The third is from
# memory.
@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("IIMTA,21.5,C", 0x03),
        ("WIXDR,C,21.5,C,TEMP,H,48,P,RH", 0x4A),
        ("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", 0x47),
    ],
)
def test_checksums_as_published(body, expected):
    assert checksum(body) == expected


def test_air_and_probe_temperature():
    assert sentence("$IIMTA,21.5,C*03").celsius == 21.5
    assert sentence(finished("IIMTW,21.5,C")).celsius == 21.5
    assert sentence(finished("IIMTA,70.7,F")).celsius == pytest.approx(21.5, abs=1e-12)


def test_several_groups_take_humidity_and_pressure_along():
    line = finished("WIXDR,C,21.5,C,AIR,H,48,P,RH,P,1.01325,B,BARO")
    found = sentence(line)
    assert (found.celsius, found.humidity_percent) == (21.5, 48.0)
    assert found.pressure_hpa == pytest.approx(1013.25, abs=1e-9)
    assert sentence(finished("WIXDR,P,101325,P,B,C,21.5,C,A")).pressure_hpa == 1013.25


def test_of_several_temperatures_one_is_chosen_by_name():
    line = finished("WIXDR,C,21.5,C,AIR,C,9.8,C,DEW")
    assert sentence(line, key="DEW").celsius == 9.8
    with pytest.raises(LineRefused, match="more than one temperature: AIR, DEW"):
        sentence(line)


@pytest.mark.parametrize(
    "body", ["GPGGA,123519,,,,,0,,,,M,,M,,", "WIXDR,H,48,P,RH", "WIXDR,", "P", "", "IIMWV,21.5,C"]
)
def test_sentences_about_other_things_are_passed_over(body):
    assert sentence(finished(body)) is None


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("$IIMTA,21.5,C*04", "checksum 04 where 03 is right"),
        ("$IIMTA,31.5,C*03", "checksum 03 where 02 is right"),
        ("$IIMTA,21.5,C", "with a checksum"),
        ("IIMTA,21.5,C*03", "with a checksum"),
        ("$IIMTA,21.5,C*03 $IIMTA,21.5,C*03", "with a checksum|checksum"),
        (finished("IIMTA,,C"), "no temperature in the sentence"),
        (finished("IIMTA,nan,C"), "no temperature in the sentence"),
        (finished("IIMTA,21.5,V"), "no temperature in the sentence"),
        (finished("IIMTA"), "no temperature in the sentence"),
        (finished("IIMTA,85.0,C"), "before its first measurement"),
    ],
)
def test_what_is_wrong_is_said(line, why):
    with pytest.raises(LineRefused, match=why) as refused:
        sentence(line)
    assert refused.value.line == line


@given(NUMBERS)
def test_agrees_with_an_independent_encoder(value):
    xdr = pynmea2.XDR("WI", "XDR", ("H", "48", "P", "RH", "C", value, "C", "T"))
    for line in (str(pynmea2.MTW("II", "MTW", (value, "C"))), str(xdr)):
        assert sentence(line).celsius == float(value)


@given(
    st.sampled_from(["IIMTW,", "WIXDR,", "WIXDR,C,", "WIXDR,H,48,P,RH,C,", ""]),
    st.lists(st.text("0123456789.-CFKHPB", max_size=5), max_size=8),
)
def test_whatever_is_taken_an_independent_decoder_takes_too(start, fields):
    line = finished(start + ",".join(fields))
    try:
        found = sentence(line)
    except LineRefused:
        return
    if found is not None:
        decoded = pynmea2.parse(line, check=True)
        assert decoded.sentence_type in {"MTW", "XDR"}
        values = [float(text) for text in decoded.data if re.fullmatch(r"-?\d*\.?\d+\.?", text)]
        readings = [c for v in values for c in (v, (v - 32) / 1.8, v - 273.15)]
        assert any(found.celsius == pytest.approx(c, abs=1e-9) for c in readings)


@given(
    NUMBERS,
    st.data(),
)
def test_one_damaged_character_never_makes_another_temperature(value, data):
    """The checksum is an exclusive or: it catches every change of a single character."""
    line = finished(f"IIMTA,{value},C")
    at = data.draw(st.integers(0, len(line) - 1))
    other = data.draw(st.characters(min_codepoint=0, max_codepoint=255))
    damaged = line[:at] + other + line[at + 1 :]
    try:
        found = sentence(damaged)
    except LineRefused:
        return
    assert found is None or found.celsius == float(value)
