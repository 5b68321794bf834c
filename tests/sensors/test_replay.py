"""A file played as if it happened now."""

import csv
import math
from datetime import UTC, datetime

import pytest

from sensors.errors import SourceUnavailable
from sensors.reading import Sample
from sensors.replay import Replay

TABLE = """time,rehearsal,celsius,humidity_percent,pressure_hpa,source
2031-03-04T19:00:00+01:00,spring,20.5,48,1013.2,stage
2031-03-04T19:01:00+01:00,spring,20.7,,,stage
2031-03-04T18:02:00Z,spring,25,,,case
2031-03-04T19:03:00+01:00,spring,21.0,,,stage
"""


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "temperatures.csv"
    path.write_text(TABLE, encoding="utf-8")
    return path


def play(path, clock, **options):
    with Replay(path, clock, sleep=clock.go_on, **options) as source:
        return list(source)


def test_it_takes_as_long_as_it_did(table, clock):
    began = clock.now()
    items = [item for item in play(table, clock) if item]
    assert [item.celsius for item in items] == [20.5, 20.7, 25.0, 21.0]
    assert [(item.time - began).total_seconds() for item in items] == pytest.approx(
        [0, 60, 120, 180]
    )
    assert (items[0].humidity_percent, items[0].pressure_hpa) == (48.0, 1013.2)
    assert (items[0].source, items[1].humidity_percent) == ("temperatures", None)


def test_sixty_times_as_fast(table, clock):
    began = clock.monotonic()
    play(table, clock, speed=60.0)
    assert clock.monotonic() - began == pytest.approx(3.0)


def test_without_waiting_and_with_the_times_of_the_file(table, clock):
    began = clock.monotonic()
    items = play(table, clock, speed=math.inf, recorded_times=True)
    assert clock.monotonic() == began
    assert items[0].time == datetime(2031, 3, 4, 18, tzinfo=UTC)
    assert items[0].time.tzinfo is UTC


def test_one_of_several_thermometers(table, clock):
    items = play(table, clock, speed=math.inf, only="case", name="box")
    assert [(item.celsius, item.source) for item in items] == [(25.0, "box")]


def test_it_never_sleeps_long(table, clock):
    sleeps = []
    with Replay(table, clock, sleep=lambda s: (sleeps.append(s), clock.go_on(s))) as source:
        assert list(source).count(None) == len(sleeps)
    assert max(sleeps) <= 0.2


def test_a_header_in_quotes(tmp_path, clock):
    path = tmp_path / "t.csv"
    path.write_text('"time","celsius"\n"2031-03-04T19:00Z","21.5"\n', encoding="utf-8")
    assert play(path, clock)[0].celsius == 21.5


@pytest.fixture
def usual_fields():
    """Let the csv library take fields as long as it does by itself; other libraries change that."""
    before = csv.field_size_limit(131_072)
    yield
    csv.field_size_limit(before)


@pytest.mark.usefixtures("usual_fields")
def test_what_is_no_table_in_the_end_is_told(tmp_path, clock):
    path = tmp_path / "t.csv"
    long = '"' + "x" * 200_000 + '"'  # beyond what the csv library takes for a field
    path.write_text(f"time,celsius\n2031-03-04T19:00Z,21.5\n{long},1\n", encoding="utf-8")
    taken, refused = play(path, clock)
    assert taken.celsius == 21.5
    assert "the rest of the file is no table" in refused.text


def test_fahrenheit(tmp_path, clock):
    path = tmp_path / "t.csv"
    path.write_text("time,fahrenheit\n2031-03-04T19:00Z,70.7\n", encoding="utf-8")
    assert play(path, clock)[0].celsius == pytest.approx(21.5, abs=1e-12)


def test_rows_that_cannot_be_taken_are_told_and_passed_over(tmp_path, clock):
    path = tmp_path / "t.csv"
    rows = ["2031-03-04T19:00,20", "yesterday,20", "2031-03-04T19:00Z,85", "2031-03-04T19:00Z,",
            "2031-03-04T19:00Z,warm", "2031-03-04T19:00Z,21", "2031-03-04T19:00Z"]  # fmt: skip
    path.write_text("\n".join(["time,celsius", *rows]), encoding="utf-8")
    items = play(path, clock)
    assert [item.celsius for item in items if isinstance(item, Sample)] == [21.0]
    refused = [item for item in items if not isinstance(item, Sample)]
    assert [item.kind for item in refused] == ["refused"] * 6
    assert [item.text for item in refused][:3] == [
        "no time with an offset: '2031-03-04T19:00'",
        "no time with an offset: 'yesterday'",
        "85 °C is what a digital probe says before its first measurement",
    ]
    assert refused[1].raw == "yesterday,20"


@pytest.mark.parametrize("content", [b"", b"a,b\n1,2\n", b"time,temp\n", b"\xff\xfe\x00\x81"])
def test_another_table_is_refused_when_it_is_opened(tmp_path, clock, content):
    path = tmp_path / "t.csv"
    path.write_bytes(content)
    with (
        pytest.raises(SourceUnavailable, match="has no columns time and celsius"),
        Replay(path, clock),
    ):
        pass


def test_a_file_that_is_not_there(tmp_path, clock):
    source = Replay(tmp_path / "nothing.csv", clock)
    with pytest.raises(SourceUnavailable, match=r"nothing\.csv cannot be read: No such"), source:
        pass


def test_bytes_that_are_no_text_spoil_only_their_row(tmp_path, clock):
    path = tmp_path / "t.csv"
    rows = b"2031-03-04T19:00Z,\xff\xfe\n2031-03-04T19:00Z,21\n"
    path.write_bytes(b"time,celsius\n" + rows)
    refused, taken = play(path, clock)
    assert (refused.kind, taken.celsius) == ("refused", 21.0)
