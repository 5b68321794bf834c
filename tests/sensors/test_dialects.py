"""Every dialect: what it reads, what it refuses, and that garbage is never a temperature."""

import json
import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sensors.dialects import LONGEST_LINE, Csv, json_line, key_value, pattern, plain
from sensors.errors import AddressError, LineRefused
from sensors.lines import readable

ANY_LINE = st.one_of(
    st.text(max_size=80),
    st.binary(max_size=80).map(lambda data: data.decode("latin-1")),
    st.text('0123456789.,;+-eE=: CFK°%{}"[]TtempRH$*', max_size=40),
)
PLAUSIBLE = st.decimals(-40, 60, places=2).map(str)


def read(dialect, line):
    """Return what a dialect reads, None for nothing; any exception but ours is an error."""
    try:
        return dialect(line)
    except LineRefused as refusal:
        refused = refusal
    assert refused.line == line
    assert "\n" not in refused.problem
    assert refused.remedy
    return None


# --- plain numbers


@pytest.mark.parametrize("line", ["21.5", "21.5 °C", "70.7F", "+21.50\t", "294.65K"])
def test_plain_number(line):
    assert plain(line).celsius == pytest.approx(21.5, abs=1e-12)


@pytest.mark.parametrize("line", ["T=21.5", "21.5 48", "ok", "", "85.00", "9.91E+37", "212"])
def test_plain_refuses_the_rest(line):
    with pytest.raises(
        LineRefused, match=r"not one number|gives no number|digital probe|no number|outside"
    ):
        plain(line)


@given(ANY_LINE)
@example("1e1")
@example("°C21")
@example("\x1c0")  # white space to str.strip, which float does not take
def test_plain_takes_only_what_python_takes_for_a_number(line):
    found = read(plain, line)
    if found is None:
        return
    bare = re.sub(r"\s*(°|º|deg\w*\.?)?\s*([CFK]\w*|℃|℉)?\s*$", "", line, flags=re.IGNORECASE)
    number = float(bare.strip().replace(",", "."))
    assert any(
        found.celsius == pytest.approx(celsius, abs=1e-9)
        for celsius in (number, (number - 32) / 1.8, number - 273.15)
    )


# --- key=value


@pytest.mark.parametrize(
    ("line", "celsius", "humidity", "pressure"),
    [
        ("T=21.5", 21.5, None, None),
        ("temp=21.5C", 21.5, None, None),
        ("T=21.5 RH=48", 21.5, 48.0, None),
        ("temp: 70.7 °F, humidity: 48 %", 21.5, 48.0, None),
        ("Temperature: 21.5 °C; Humidity: 48%RH; Pressure: 1013.2 hPa", 21.5, 48.0, 1013.2),
        ("id=28FF time=12:30:05 room temperature=21.5 status=ok", 21.5, None, None),
        ("tempF=70.7", 21.5, None, None),
        ("t=21.5,h=48,p=101320", 21.5, 48.0, 1013.2),
        ("temp_c=21.5 temp_f=70.7", 21.5, None, None),
        ("T = 21.5 ;", 21.5, None, None),
        ("T=21.5 RH=-1", 21.5, None, None),
    ],
)
def test_key_value(line, celsius, humidity, pressure):
    found = key_value(line)
    assert found.celsius == pytest.approx(celsius, abs=1e-12)
    assert (found.humidity_percent, found.pressure_hpa) == (humidity, pressure)


def test_key_value_with_the_key_that_the_user_names():
    assert key_value("T1=21.5 T2=18.0", key="T2").celsius == 18.0
    assert key_value("case=70.7", key="case", unit="F").celsius == pytest.approx(21.5, abs=1e-12)


def test_pairs_without_a_temperature_are_passed_over():
    assert key_value("humidity=48") is None
    assert key_value("T=21.5", key="other") is None


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("T=21.5 temp=22", "more than one temperature: T, temp"),
        ("#T=21.5", "not key=value from end to end"),
        ("T=21.5 @", "not key=value from end to end"),
        ("=21.5", "not key=value from end to end"),
        ("T=21.5.5", "not one number"),
        ("T=nan", "no number"),
        ("T=-127", "does not answer"),
        (" ; ", "an empty line"),
    ],
)
def test_key_value_refuses(line, why):
    with pytest.raises(LineRefused, match=why):
        key_value(line)


@given(ANY_LINE)
def test_key_value_takes_only_a_number_behind_a_sign(line):
    found = read(key_value, line)
    if found is not None:
        numbers = re.findall(r"[=:]\s*([+-]?[\d.,]+(?:[eE][+-]?\d+)?)", line)
        values = [float(number.rstrip(",").replace(",", ".")) for number in numbers if
                  re.search(r"\d", number) and number.count(".") <= 1]  # fmt: skip
        readings = [c for v in values for c in (v, (v - 32) / 1.8, v - 273.15)]
        assert any(found.celsius == pytest.approx(c, abs=1e-9) for c in readings)


# --- CSV


def test_csv_by_number():
    line = Csv("2")
    assert line("12:00:05,21.5,48").celsius == 21.5
    assert line("12:00:06;21,6;48").celsius == 21.6
    assert line("12:00:07\t70.7 °F\t48").celsius == pytest.approx(21.5, abs=1e-12)
    assert Csv("1")('"21.5",x').celsius == 21.5


def test_csv_by_the_names_in_its_header():
    line = Csv()
    assert line("time,Temp (°C),Humidity (%),Pressure") is None
    found = line("12:00:05,21.5,48,1013.2")
    assert (found.celsius, found.humidity_percent, found.pressure_hpa) == (21.5, 48.0, 1013.2)


def test_csv_by_a_name_of_the_users_own():
    line = Csv("stage left")
    assert line("time,stage left,case") is None
    assert line("1,21.5,25").celsius == 21.5


def test_csv_header_in_fahrenheit():
    line = Csv("2")
    assert line("n,temp_f") is None
    assert line("1,70.7").celsius == pytest.approx(21.5, abs=1e-12)


@pytest.mark.parametrize(
    ("column", "line", "why"),
    [
        ("", "1,21.5", "no header says which column"),
        ("3", "1,21.5", "no column 3 in a line of 2 fields"),
        ("0", "1,21.5", "no column 0"),
        ("2", "1,", "gives no number"),
        ("2", "1,85.00", "before its first measurement"),
    ],
)
def test_csv_refuses(column, line, why):
    with pytest.raises(LineRefused, match=why):
        Csv(column)(line)


def test_a_row_that_is_shorter_than_its_header_is_refused():
    line = Csv()
    assert line("time,temp,rh") is None
    with pytest.raises(LineRefused, match="2 fields where the header has 3"):
        line("1,21.5")


@given(st.lists(ANY_LINE, max_size=4), st.sampled_from(["", "1", "2", "temp"]))
def test_csv_raises_nothing_but_refusals(lines, column):
    dialect = Csv(column)
    for line in lines:
        found = read(dialect, line)
        if found is not None:
            assert re.search(r"\d", line)


# --- JSON


def test_json_lines():
    found = json_line('{"temperature": 21.5, "humidity": 48, "pressure": 1013.2}')
    assert (found.celsius, found.humidity_percent, found.pressure_hpa) == (21.5, 48.0, 1013.2)
    assert json_line('{"bench": {"temp": "21.5 C"}}').celsius == 21.5
    assert json_line('{"a": {"t1": 20}, "b": {"t1": 21.5}}', key="b.t1").celsius == 21.5
    assert json_line('{"humidity": 48}') is None


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ('{"temperature": NaN}', "no number"),
        ('{"temperature": null}', "no number"),
        ('{"temperature": -127}', "does not answer"),
        ('{"temperature": 21.5', "not a JSON object"),
        ("[21.5]", "not a JSON object"),
        ("21.5", "not a JSON object"),
        ('{"a": {"t": 21}, "b": {"t": 22}}', "more than one temperature: a.t, b.t"),
        ("{" * 900, "not a JSON object"),
    ],
)
def test_json_refuses(line, why):
    with pytest.raises(LineRefused, match=why):
        json_line(line)


def test_true_is_no_temperature():
    assert json_line('{"temperature": true}') is None


LEAVES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["t", "temp", "x", "rh", "a.b"]), inner, max_size=3),
    ),
    max_leaves=8,
)


@given(LEAVES)
def test_json_takes_only_what_stands_in_the_object(content):
    found = read(json_line, json.dumps(content))
    if found is not None:
        assert isinstance(content, dict)
        assert -40 <= found.celsius <= 60


@given(ANY_LINE)
def test_json_raises_nothing_but_refusals(line):
    read(json_line, line)


# --- the user's own pattern


def test_pattern_with_named_groups():
    read_line = pattern(r"air (?P<celsius>\S+) rh (?P<humidity>\S+) p (?P<pressure>\S+)")
    found = read_line("air 21.5 rh 48 p 1013.2")
    assert (found.celsius, found.humidity_percent, found.pressure_hpa) == (21.5, 48.0, 1013.2)
    assert pattern(r"(?P<fahrenheit>[\d.]+)F")("at 70.7F").celsius == pytest.approx(21.5, abs=1e-12)
    assert pattern(r"(?P<kelvin>[\d.]+)")("294.65").celsius == pytest.approx(21.5, abs=1e-12)


def test_pattern_with_one_unnamed_group():
    assert pattern(r"probe 2: (\S+)", unit="F")("probe 2: 70.7").celsius == pytest.approx(21.5)


@pytest.mark.parametrize(
    ("expression", "why"),
    [
        ("(", "no regular expression"),
        (r"\d+", "does not name one temperature"),
        (r"(\d+) (\d+)", "does not name one temperature"),
        (r"(?P<celsius>\d+)(?P<kelvin>\d+)", "does not name one temperature"),
        (r"(?P<humidity>\d+)", "does not name one temperature"),
        (r"(?P<celsius>\d+)(?P<colour>\d+)", "does not name one temperature"),
    ],
)
def test_a_pattern_that_cannot_work_is_refused_before_any_line(expression, why):
    with pytest.raises(AddressError, match=why):
        pattern(expression)


def test_a_line_that_the_pattern_does_not_fit():
    with pytest.raises(LineRefused, match="the pattern does not fit: 'hello'"):
        pattern(r"T(\d+)")("hello")


@given(ANY_LINE)
def test_pattern_raises_nothing_but_refusals(line):
    read(pattern(r"(?P<celsius>[^ ]*)"), line)


# --- all of them


@pytest.mark.parametrize("dialect", [plain, key_value, json_line, Csv("1"), pattern("(.*)")])
def test_an_endless_line_is_refused_unread(dialect):
    with pytest.raises(LineRefused, match="a line of 1025 characters"):
        dialect("1" * (LONGEST_LINE + 1))


@given(PLAUSIBLE)
def test_every_dialect_gives_back_what_was_put_in(number):
    for dialect, line in (
        (plain, number),
        (key_value, f"T={number} RH=40"),
        (Csv("2"), f"x,{number}"),
        (json_line, json.dumps({"temp": float(number)})),
        (pattern(r"<(\S+)>"), f"<{number}>"),
    ):
        assert dialect(line).celsius == float(number)


@given(st.binary(max_size=60))
def test_random_bytes_with_any_that_is_no_text_are_no_line(data):
    text = readable(data)
    if text is not None:
        assert all(sign.isprintable() or sign == "\t" for sign in text)
