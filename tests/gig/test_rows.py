"""Cells of CSV files: every refusal names file, line and value."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from drift.errors import InputError
from drift.gig.days import Days
from drift.gig.rows import Row, read_rows
from drift.tables.columns import Place


def written(tmp_path, text, name="table.csv"):
    path = tmp_path / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def row(line=2, **cells):
    return Row(Place("f.csv", "line", line), cells)


def test_rows_know_their_lines(tmp_path):
    path = written(tmp_path, '\ufeffa, b\n1, x \n\n ,\n2,"y,\nz"\n')
    rows = read_rows(path, ["a"], ["b"])
    assert [(found.place.number, found.text("a"), found.text("b")) for found in rows] == [
        (2, "1", "x"),
        (6, "2", "y, z"),
    ]
    assert rows.rows[0].text("c") == ""


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("b\n1\n", "no column a"),
        ("a,c\n1,2\n", "unknown column 'c'"),
        ("a,a\n1,2\n", "column a is there twice"),
        ("a,b\n", "has no rows"),
        ("", "no column a"),
        ("a\n1,2\n", "line 2: 2 cells under 1 columns"),
        (b"a\n\xff\n", "is not UTF-8"),
        ('a\n"x', "line 2: unexpected end of data"),
    ],
)
def test_tables_that_are_refused(tmp_path, text, problem):
    with pytest.raises(InputError, match=problem):
        read_rows(written(tmp_path, text), ["a"], ["b"]).taken(lambda row: row)


def test_a_missing_file(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        read_rows(tmp_path / "none.csv", ["a"])


@pytest.mark.parametrize(
    ("text", "value"),
    [("3.5", 3.5), ("3,5", 3.5), ("−1", -1), ("", None), ("NA", None), ("-1", -1)],
)
def test_numbers(text, value):
    assert row(a=text).number("a", -5, 5) == value


@pytest.mark.parametrize("text", ["3.5 mm", "1,000.5", "warm", "6", "-6", "inf", "1e9"])
def test_what_is_no_number(text):
    found = row(7, a=text)
    assert found.number("a", -5, 5) is None
    assert [problem.told for problem in found.problems] == [
        f"f.csv line 7: a '{text}' is not a number from -5 to 5"
    ]


EAST = timezone(timedelta(hours=-4))


@pytest.mark.parametrize(
    ("text", "zone", "expected"),
    [
        ("2026-10-09T19:00-04:00", UTC, datetime(2026, 10, 9, 23, 0, tzinfo=UTC)),
        ("2026-10-09 19:00:30Z", EAST, datetime(2026, 10, 9, 19, 0, 30, tzinfo=UTC)),
        ("2026-10-09T19:00", EAST, datetime(2026, 10, 9, 23, 0, tzinfo=UTC)),
        ("2026-10-09T19:00+02:00", EAST, datetime(2026, 10, 9, 17, 0, tzinfo=UTC)),
    ],
)
def test_instants(text, zone, expected):
    assert row(t=text).instant("t", Days(zone)) == expected


def test_a_time_of_day_is_the_next_such_time():
    after = datetime(2026, 10, 9, 22, 30, tzinfo=EAST)
    for text, day, hour in (("23:15", 9, 23), ("00:20", 10, 0), ("22:30", 9, 22)):
        found = row(t=text).instant("t", Days(UTC), after=after)
        assert (found.day, found.hour, found.tzinfo) == (day, hour, EAST)


@pytest.mark.parametrize(
    "text", ["", "tonight", "2026-10-09", "25:00", "7 o'clock", "2026-13-01T00:00Z"]
)
def test_what_is_no_instant(text):
    after = datetime(2026, 10, 9, tzinfo=UTC)
    found = row(3, t=text)
    assert found.instant("t", Days(UTC), after=after) is None
    with pytest.raises(InputError, match=r"f.csv line 3: t .*is (not a date and time|empty)"):
        raise found.refused()


@pytest.mark.parametrize("text", ["0001-01-01T00:00+14:00", "9999-12-31T23:59-14:00"])
def test_an_instant_far_from_now_is_refused(text):
    found = row(3, t=text)
    assert found.instant("t", Days(UTC)) is None
    with pytest.raises(InputError, match=r"f.csv line 3: the time .* is outside 1800 to 2200"):
        raise found.refused()


def test_every_wrong_cell_of_a_row_is_named_in_one_go(tmp_path):
    rows = read_rows(written(tmp_path, "a,b\nx,y\n1,2\nz,3\n"), ["a", "b"])
    with pytest.raises(InputError, match="3 problems") as refused:
        rows.taken(lambda found: [found.number(name, 0, 9) for name in "ab"])
    assert [(one.place.number, one.column) for one in refused.value.problems] == [
        (2, "a"), (2, "b"), (4, "a"),
    ]  # fmt: skip
