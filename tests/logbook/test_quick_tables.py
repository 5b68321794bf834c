"""The quick way reads what the careful way reads, or steps aside."""

import tempfile
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drift import shipped
from drift.errors import InputError
from drift.logbook.data_package import write_folder
from drift.logbook.folders import read_folder
from drift.logbook.quick_tables import read_quickly
from drift.logbook.records import RECORDS
from drift.logbook.rehearsals import of_folder
from tests.folders import HEADER_ONLY, READINGS, folders, write


def assert_same(folder: Path) -> bool:
    quick = read_quickly(folder)
    if quick is None:
        return False
    careful = of_folder(read_folder(folder))
    for table in RECORDS:
        pd.testing.assert_frame_equal(quick[table], getattr(careful, table))
    return True


def test_the_shipped_season_takes_the_quick_way():
    assert assert_same(shipped.folder("datasets/cold-hall-season"))


@settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(folders())
def test_both_ways_agree_on_any_valid_folder(folder):
    with tempfile.TemporaryDirectory() as place:
        assert_same(write_folder(Path(place) / "f", folder, title="any"))


SPOILERS = (
    *(
        "",
        " ",
        ",",
        ",,",
        '"',
        "\n",
        "\r",
        "\n\n",
        "\n  \n",
        "\0",
        "\ufeff",
        "\u00a0",
        "_",
        "é",
        "\u0664",
    ),
    *("0", "1", "9", "-", "+", ".", ":", "e5", "T", "Z", "True", "nan", "inf", "NA", "b", "#", "♭"),
)


@settings(deadline=None, max_examples=400)
@given(
    st.sampled_from(["readings", "temperatures", "events"]),
    st.floats(0.0, 1.0),
    st.integers(0, 6),
    st.sampled_from(SPOILERS),
)
def test_a_spoilt_table_is_never_taken_where_the_careful_way_refuses_it(table, place, cut, new):
    with tempfile.TemporaryDirectory() as temporary:
        folder = write(Path(temporary) / "f")
        file = folder / f"{table}.csv"
        text = file.read_text(encoding="utf-8")
        at = int(place * len(text))
        file.write_bytes((text[:at] + new + text[at + cut :]).encode())
        assert_same(folder)  # the careful way raises where it refuses


ROWS = READINGS.splitlines()
QUOTED = [row.replace("Rowan", '"Rowan"') for row in ROWS]


@pytest.mark.parametrize(
    "rows",
    [
        pytest.param([*ROWS[:2], ROWS[2][:-1]], id="a row too short"),
        pytest.param([ROWS[0], *(row[:-1] for row in ROWS[1:])], id="every row too short"),
        pytest.param([ROWS[0], *(row + "," for row in ROWS[1:])], id="every row too long"),
        pytest.param([ROWS[0], ROWS[1] + ",", ROWS[2]], id="the first row too long"),
        pytest.param([ROWS[0], ROWS[1] + ",", ROWS[2][:-1]], id="one too long, one too short"),
        pytest.param([*ROWS[:2], "   ", ROWS[2]], id="a row of spaces"),
        pytest.param([*QUOTED[:2], QUOTED[2][:-1]], id="quotes and a row too short"),
        pytest.param([*QUOTED[:2], QUOTED[2].replace('n"', 'n"x')], id="text after a quote"),
        pytest.param([row.replace("2026-", "0000-") for row in ROWS], id="a year before the first"),
        pytest.param([row.replace("+02:00", "+02:00\0") for row in ROWS], id="a NUL after a time"),
        pytest.param([row.replace("+02:00", "+02:00" + " " * 9) for row in ROWS], id="a long time"),
        pytest.param([ROWS[0], ROWS[1].replace(":00+", ":60+"), ROWS[2]], id="a 60th second"),
        pytest.param([ROWS[0], ROWS[1].replace(":00+", ":0a+"), ROWS[2]], id="no second"),
    ],
)
def test_what_the_parser_would_let_pass_is_left_to_the_careful_way(tmp_path, rows):
    folder = write(tmp_path / "f", readings="\n".join(rows) + "\n")
    assert read_quickly(folder) is None
    with pytest.raises(InputError, match=r"readings.csv line \d"):
        read_folder(folder)


@pytest.mark.parametrize("offset", ["Z", "+02:00", "-11:30"])
def test_times_of_any_offset_are_read_to_the_second(tmp_path, offset):
    times = [f"2026-10-03T{hour:02}:{minute:02}:{second:02}{offset}"
             for hour in (19, 20) for minute in (0, 59) for second in (0, 1, 1, 59)]  # fmt: skip
    rows = [f"{time},hall,Rowan,double horn,F,F4,4.0,," for time in times]
    folder = write(tmp_path / "f", readings="\n".join([ROWS[0], *rows]))
    assert assert_same(folder)


def test_quoted_fields_with_commas_are_read_quickly(tmp_path):
    assert assert_same(write(tmp_path / "f", readings=READINGS.replace("440,", '440,"low, dull"')))


@pytest.mark.parametrize(
    ("table", "old", "new"),
    [
        ("readings", "4.0", "900"),
        ("readings", "4.0", "x"),
        ("readings", "19:05:00+02:00", "19:05:00"),
        ("readings", "F4", "H4"),
        ("readings", "19:15", "19:01"),
        ("readings", "double horn", "ophicleide"),
        ("readings", "Rowan", ""),
        ("temperatures", "19.6", "99"),
        ("temperatures", "celsius", "fahrenheit"),
        ("events", "play", "dance"),
    ],
)
def test_a_table_in_doubt_is_left_to_the_careful_way(tmp_path, table, old, new):
    folder = write(tmp_path / "f")
    file = folder / f"{table}.csv"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")
    assert read_quickly(folder) is None


def test_header_rows_alone_are_empty_tables(tmp_path):
    assert assert_same(write(tmp_path / "f", **HEADER_ONLY))
