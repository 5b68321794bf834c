"""Finding out the dialect from the first lines, and choosing one by name."""

import operator
from functools import reduce

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.detection import DIALECTS, Auto, choose
from sensors.errors import AddressError, LineRefused

TALK = {
    "plain": ["21.5", "21.6 °C", "70.9F"],
    "key=value": ["T=21.5", "T=21.6", "T=21.7"],
    "csv": ["21.5,40", "21.6,40", "21.7,40"],
    "json": ['{"t": 21.5}', '{"t": 21.6}', '{"t": 21.7}'],
    "nmea": [
        f"${body}*{reduce(operator.xor, body.encode()):02X}"
        for body in ("IIMTA,21.5,C", "IIMTW,21.6,C", "WIXDR,C,21.7,C,AIR")
    ],
}


@pytest.mark.parametrize("name", list(TALK))
def test_auto_settles_after_three_lines_and_loses_none(name):
    auto = Auto()
    if name == "csv":
        assert auto("temp,rh") is None
    read = [auto(line).celsius for line in TALK[name][:2]]
    assert (auto.settled, auto.name) == (False, "auto")
    read.append(auto(TALK[name][2]).celsius)
    assert read == pytest.approx([21.5, 21.6, 21.7 if name != "plain" else 70.9 / 1.8 - 32 / 1.8])
    assert (auto.settled, auto.name) == (True, name)


@pytest.mark.parametrize(("name", "other"), [("plain", "json"), ("nmea", "plain")])
def test_once_settled_another_dialect_is_refused(name, other):
    auto = Auto()
    for line in TALK[name]:
        auto(line)
    with pytest.raises(LineRefused, match=r"not one number|no whole NMEA 0183 sentence"):
        auto(TALK[other][0])


def test_a_stray_line_does_not_settle_it():
    auto = Auto()
    assert auto("21.5").celsius == 21.5  # a version number, say, before it starts to speak
    for line in TALK["key=value"]:
        auto(line)
    assert auto.name == "key=value"


def test_lines_without_a_temperature_settle_nothing():
    auto = Auto()
    for _ in range(10):
        assert auto("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47") is None
    assert not auto.settled


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("$IIMTA,21.5,C*04", "checksum"),
        ("{", "not a JSON object"),
        ("T=nan", "no number"),
        ("1;2", "no header says which column"),
        ("21,5", "a decimal comma or two columns"),
        ("hello", "not one number"),
        ("85.00", "before its first measurement"),
    ],
)
def test_the_reason_is_that_of_the_dialect_it_looks_like(line, why):
    with pytest.raises(LineRefused, match=why) as refused:
        Auto()(line)
    assert refused.value.line == line


def test_a_decimal_comma_with_a_unit_leaves_no_doubt():
    assert Auto()("21,5 °C").celsius == 21.5
    assert choose("plain")("21,5").celsius == 21.5


@pytest.mark.parametrize("name", DIALECTS)
def test_every_dialect_can_be_chosen_by_name(name):
    dialect = choose(name, expression="T(.*)" if name == "pattern" else "")
    assert dialect.name == name
    assert choose("keyvalue").name == "key=value"


def test_a_column_or_a_pattern_says_the_dialect():
    assert choose(column="2")("x,21.5").celsius == 21.5
    assert choose(expression="<(.*)>")("<21.5>").celsius == 21.5


def test_an_unknown_dialect_lists_the_known():
    with pytest.raises(AddressError, match="no dialect is called 'morse'") as refused:
        choose("morse")
    assert "key=value" in refused.value.remedy


LINES = st.one_of(
    st.text(max_size=60),
    st.sampled_from([line for lines in TALK.values() for line in lines]),
    st.text('0123456789.,;=:{}"tT°CF$*-', max_size=30),
)


@given(st.lists(LINES, max_size=12))
def test_auto_raises_nothing_but_refusals(lines):
    auto = Auto()
    for line in lines:
        try:
            found = auto(line)
        except LineRefused:
            continue
        assert found is None or -40 <= found.celsius <= 60
