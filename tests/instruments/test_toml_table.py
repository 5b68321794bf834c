"""Tables that know where they stand, and whatever a user may write into them."""

import itertools
import re

import pytest

from drift.errors import InputError
from drift.instruments import Catalogue
from drift.instruments.catalogue_file import read_catalogue
from drift.instruments.toml_table import read_toml

SIZES = {"medium": {"warm_minutes": 6.0, "cool_minutes": 12.0, "source": "test"}}
VALUES = (
    "1", "-1", "1.5", "nan", "inf", "1e300", "true", '""', '"x"', '"é♭"', "[]", "[1]", '["x"]',
    "[[]]", "{}", "[{}]", '[{name = "x"}]', "[{name = 1}]", "1979-05-27", '{x = "y"}',
)  # fmt: skip
KEYS = (
    "name", "family", "size", "written_semitones", "treble_clef_semitones", "compass", "sides",
    "slides", "valves", "aliases", "priors", "fixed_pitch", "wooden", "habit", "remark", "source",
)  # fmt: skip


@pytest.mark.parametrize("key", KEYS)
def test_any_value_of_any_key_is_taken_or_refused_with_its_line(key):
    entry = Catalogue.shipped().entry_text("double horn").replace('size = "medium"\n', "")
    for value in VALUES:
        lines = [line for line in _one_line_each(entry) if not line.startswith(f"{key} ")]
        text = "\n".join([*lines, f"{key} = {value}"]) + "\n"
        assert taken_or_told(text), value


def taken_or_told(text):
    """Return whether a file is taken, or refused in two lines with a line that it has."""
    try:
        return bool(read_catalogue(text, "mine.toml", SIZES).instruments)
    except InputError as refused:
        told = re.fullmatch(r"mine\.toml: line (\d+): key '[\w ]+': .+", refused.problem)
        return bool(told and refused.remedy and 1 <= int(told[1]) <= len(text.splitlines()))


def _one_line_each(text):
    """Return the entry with its lists of tables on one line each."""
    return re.sub(r"\n(?=  \{|\])", "", text).splitlines()


@pytest.mark.parametrize(
    ("key", "value"),
    list(itertools.product(["name", "sides", "path_factor", "source", "fundamental"], VALUES)),
)
def test_any_value_within_a_slide_or_a_side_is_taken_or_refused(key, value):
    text = f"""[[instrument]]
name = "x"
family = "brass"
compass = ["F2", "F4"]
sides = [{{ fundamental = "F1" }}]
slides = [{{ name = "main", {key} = {value} }}]
"""
    if key == "name":
        text = text.replace('name = "main", ', "")
    if key == "fundamental":
        text = text.replace('"F1"', value).replace(f", fundamental = {value} }}]", " }]")
    assert taken_or_told(text)


def test_tables_within_know_their_lines():
    text = 'a = 1\nrows = [\n  { x = 1 },\n  { x = "two" },\n]\n'
    whole = read_toml(text, "file.toml", "mend it")
    first, second = whole.tables("rows")
    assert first.take("x", int) == 1
    with pytest.raises(InputError, match="line 4: key 'x': 'two' is not a whole number\nmend it"):
        second.take("x", int)
    with pytest.raises(InputError, match="line 1: key 'y': missing"):
        whole.take("y", int)


def test_true_is_no_number_and_one_is_a_float():
    whole = read_toml("a = true\nb = 1\n", "file.toml", "mend it")
    assert whole.take("b", float) == 1.0
    with pytest.raises(InputError, match="'a': True is not a number"):
        whole.take("a", float)


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ("tiny = 3", "line 2: key 'tiny': a table is wanted"),
        ("tiny = { warm = 3.0 }", "line 2: key 'warm': not a key of sizes"),
        ("medium = { warm_minutes = inf }", "key 'warm_minutes': inf is not a positive number"),
    ],
)
def test_sizes_are_checked_too(sizes, words):
    text = f"[sizes]\n{sizes}\n{Catalogue.shipped().entry_text('double horn')}"
    with pytest.raises(InputError, match=words):
        read_catalogue(text, "mine.toml", SIZES)


def test_brackets_nested_too_deeply_are_explained():
    with pytest.raises(InputError, match=r"deep.toml: brackets are nested too deeply\nclose"):
        read_toml("a = " + "[" * 50_000, "deep.toml", "mend it")


def test_a_number_of_thousands_of_digits_is_explained():
    with pytest.raises(InputError, match=r"long.toml: .*digits"):
        read_toml("a = " + "9" * 5000, "long.toml", "mend it")


def test_a_whole_number_beyond_any_float_is_not_a_number():
    table = read_toml("a = " + "9" * 400, "long.toml", "mend it")
    with pytest.raises(InputError, match=r"line 1: key 'a': 9+ is not a number"):
        table.take("a", float)


@pytest.mark.parametrize("value", ['"horn\\u001b[31m"', '["B", "B\\u202e"]'])
def test_what_cannot_be_printed_is_not_a_name(value):
    table = read_toml(f"name = {value}", "own.toml", "mend it")
    read = table.take_texts if value.startswith("[") else lambda key: table.take(key, str)
    with pytest.raises(
        InputError, match=r"key 'name': has U\+(001B|202E), which cannot be printed"
    ):
        read("name")
