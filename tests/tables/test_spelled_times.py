"""Times as spreadsheets write them."""

from datetime import datetime, time

import pytest

from drift.errors import InputError
from drift.tables.spelled_times import clock_of, spelled, spelled_time


@pytest.mark.parametrize(
    ("text", "clock"),
    [
        ("17:00", time(17)), ("5:00 PM", time(17)), ("5 pm", time(17)), ("12 a.m.", time(0)),
        ("17.30", time(17, 30)), ("17", None), ("25:00", None), ("13 pm", None), ("", None),
    ],
)  # fmt: skip
def test_times_of_day_alone(text, clock):
    assert clock_of(text) == clock


def test_a_date_with_a_half_day():
    assert spelled_time("10/16/2026, 5 PM", "month-first") == datetime(2026, 10, 16, 17)  # noqa: DTZ001
    assert not spelled("10/16/2026").has_clock
    assert spelled("2026-10-16 5") is None


@pytest.mark.parametrize(
    "text",
    [
        "27 Oct 2026 6:05 PM", "27-Oct-2026 18:05", "27. October 2026 18:05:00",
        "Oct 27, 2026, 6:05 pm", "OCTOBER 27 2026 18:05",
    ],
)  # fmt: skip
@pytest.mark.parametrize("order", [None, "day-first", "month-first"])
def test_a_month_that_is_a_word_leaves_no_doubt(text, order):
    assert spelled_time(text, order) == datetime(2026, 10, 27, 18, 5)  # noqa: DTZ001
    assert spelled(text).settled


@pytest.mark.parametrize("text", ["27 Oktober 2026", "27 O 2026", "Octobers 27, 2026", "Feb 2026"])
def test_a_word_that_is_no_month_is_no_date(text):
    assert spelled(text) is None


@pytest.mark.parametrize("text", ["09/24/26 18:30", "24.9.26", "24 Sep 26 6 PM", "24-Sep-26"])
def test_a_year_of_two_digits_is_refused_with_what_is_missing_alone(text):
    with pytest.raises(InputError, match="write the year with four digits"):
        spelled_time(text, "month-first")


def test_the_thirtieth_of_february_is_refused():
    with pytest.raises(InputError, match="'30 Feb 2026' is not a valid date"):
        spelled_time("30 Feb 2026", None)


def test_nanoseconds_are_cut_to_microseconds():
    """A table of Parquet may hold them, and times without an offset are told in a zone later."""
    found = spelled_time("2026-03-04 19:02:04.537863294", None)
    assert found == datetime(2026, 3, 4, 19, 2, 4, 537863)  # noqa: DTZ001
