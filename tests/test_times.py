"""Instants as text."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.errors import InputError
from drift.times import check_instant, from_microseconds, parse_time, shown_time, to_microseconds

INSTANTS = st.datetimes(
    min_value=datetime(1901, 1, 1),  # noqa: DTZ001 - hypothesis adds the zone
    max_value=datetime(2199, 1, 1),  # noqa: DTZ001
    timezones=st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m))),
)


@given(INSTANTS)
def test_an_instant_survives_being_written_and_read(instant):
    assert parse_time(instant.isoformat()) == instant
    assert parse_time(shown_time(instant)) == instant
    assert from_microseconds(to_microseconds(instant)) == instant


def test_offsets_name_the_same_instant():
    assert parse_time("2026-10-03T19:00:00+02:00") == parse_time("2026-10-03T17:00:00Z")
    assert parse_time("2026-10-03t19:00:00.5+02:00").microsecond == 500_000


def test_shown_in_utc_without_needless_decimals():
    assert shown_time(datetime(2026, 10, 3, 17, tzinfo=UTC)) == "2026-10-03T17:00:00Z"


@pytest.mark.parametrize(
    "text",
    [
        "2026-10-03T19:00:00",  # naive
        "2026-10-03",
        "03.10.2026 19:00",
        "2026-02-30T19:00:00Z",
        "2026-10-03T25:00:00Z",
        "",
        "٢٠٢٦-10-03T19:00:00Z",
    ],
)
def test_what_is_no_instant_is_refused_with_its_value(text):
    with pytest.raises(InputError, match=r"date and time|is not a valid date|has no offset"):
        parse_time(text)


def test_what_is_finer_than_it_can_be_kept_is_said():
    with pytest.raises(InputError, match="is finer than a microsecond") as refused:
        parse_time("2026-10-03 19:00:00.123456789+00:00")
    assert refused.value.remedy == "write at most six decimals"


def test_what_was_left_out_is_named():
    with pytest.raises(InputError, match="has no seconds"):
        parse_time("2026-10-03T19:40+02:00")
    with pytest.raises(InputError, match="has no offset from UTC"):
        parse_time("2026-10-03T19:40:00")


@pytest.mark.parametrize(
    "text",
    [
        "0001-01-01T00:00:00+14:00",  # in UTC before the first instant a datetime can name
        "9999-12-31T23:59:59-14:00",
        "1799-12-31T23:59:59Z",
        "2200-01-01T00:00:01Z",
    ],
)
def test_an_instant_that_arithmetic_would_overflow_is_refused(text):
    with pytest.raises(InputError, match=r"is outside 1800 to 2200|is not a valid date"):
        parse_time(text)


def test_an_instant_without_an_offset_is_refused():
    with pytest.raises(InputError, match="has no offset"):
        check_instant(datetime(2026, 10, 3))  # noqa: DTZ001


@pytest.mark.parametrize("stored", [2**62, -(2**62), "yesterday", None])
def test_what_a_damaged_file_holds_is_not_an_instant(stored):
    with pytest.raises(InputError, match="is not a time in microseconds"):
        from_microseconds(stored)
