"""The day of times without a date, and the order of day and month."""

from datetime import UTC, date, datetime

import pytest

from drift.gig.days import date_in, day_of_table, days_of, full_time, two_ways


@pytest.mark.parametrize(
    ("texts", "day"),
    [
        (["18:30", "2026-10-16 19:00"], datetime(2026, 10, 16)),  # noqa: DTZ001
        (["23:30", "2026-10-17 00:30"], datetime(2026, 10, 16)),  # noqa: DTZ001
        (["09:30", "2026-10-17 02:30"], datetime(2026, 10, 17)),  # noqa: DTZ001
        (["18:30", "0001-01-01 00:00"], datetime(1, 1, 1)),  # noqa: DTZ001
        (["18:30", "19:00"], None),
    ],
)
def test_the_day_of_a_first_time_is_that_of_another_row(texts, day):
    assert days_of(texts, UTC).day == day


def test_a_comment_and_another_file_name_the_day():
    named = days_of(["18:30"], UTC, date(2026, 10, 16))
    assert named.day == datetime(2026, 10, 16)  # noqa: DTZ001
    assert named.without_zone
    there = datetime(2026, 10, 16, tzinfo=UTC)
    assert days_of(["18:30"], UTC, None, there).day == there
    assert date_in(["Date = 10/16/2026"]) == date(2026, 10, 16)
    assert date_in(["Date = 10/9/2026"]) is None  # month or day first is not known
    assert date_in(["homecoming", "date 16.10.2026"]) == date(2026, 10, 16)


def test_one_date_shows_the_order_of_all():
    days = days_of(["10/9/2026 17:00", "10/16/2026 17:00"], UTC)
    assert full_time("10/9/2026 17:00", days.order) == datetime(2026, 10, 9, 17)  # noqa: DTZ001
    assert days_of(["10/9/2026 5 PM"], UTC).order == "month-first"
    assert two_ways("10/9/2026 17:00", None)
    assert days_of(["13/9/2026 17:00", "9/13/2026 17:00"], UTC).order is None


@pytest.mark.parametrize(
    ("times", "day"),
    [
        (("2026-10-16T18:00Z", "2026-10-17T02:00Z"), 16),
        (("2026-10-16T18:00Z", "2026-10-18T02:00Z"), None),
        (("18:00", "20:00"), None),
    ],
)
def test_a_table_is_of_one_day_or_of_one_night(tmp_path, times, day):
    path = tmp_path / "t.csv"
    path.write_text("time,celsius\n" + "".join(f"{time},9\n" for time in times), encoding="utf-8")
    found = day_of_table(path)
    assert (found.day if found else None) == day
