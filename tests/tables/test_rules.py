"""Each rule for rows: refused with it, taken without it, and in the reference."""

import re
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import drift
from drift.errors import InputError
from drift.logbook.records import RECORDS
from drift.tables import checking
from drift.tables.problems import TablesRefused
from drift.tables.rules import ROW_RULES
from drift.tables.understood import Commas, FarOut, Hot, Repeated
from drift.tables.values import number_of
from drift.words.tables import understood
from tests.folders import HEADER_ONLY, write

HEADER = "time,rehearsal,player,instrument,side,note,cents\n"
ROW = "2026-10-03T19:{:02}:00+02:00,{},Rowan,double horn,{},F4,4.0\n"
EVENTS = "time,rehearsal,player,event,slide,position_mm\n"
#: For each rule a table that breaks it, and nothing else.
BREAKS = {
    "names": ({"readings": HEADER + ROW.format(5, "hall", "X")}, "has no side 'X'"),
    "event": (
        {"events": EVENTS + "2026-10-03T19:00:00+02:00,hall,Rowan,slide,,\n"},
        "a slide event needs slide and position_mm",
    ),
    "together": (
        {
            "temperatures": "time,rehearsal,celsius\n"
            + "".join(f"2026-10-03T19:0{n}:00Z,{name},20\n" for n, name in enumerate("aba"))
        },
        "rehearsal 'a' goes on after rows of 'b'",
    ),
    "order": (
        {"readings": HEADER + ROW.format(15, "hall", "F") + ROW.format(5, "hall", "F")},
        "is before the row above",
    ),
    "one place": (
        {
            "readings": HEADER
            + "".join(ROW.format(n, name, "F") for name in ("a", "b") for n in (5, 15))
        },
        "overlap",
    ),
}


def test_every_rule_has_a_table_that_breaks_it():
    assert set(BREAKS) == {rule.code for rule in ROW_RULES}


@pytest.mark.parametrize("code", BREAKS)
def test_a_rule_refuses_what_is_taken_without_it(tmp_path, monkeypatch, code):
    tables, words = BREAKS[code]
    folder = write(tmp_path / "f", **(HEADER_ONLY | tables))
    with pytest.raises(TablesRefused, match=words):
        drift.load(folder)
    others = tuple(rule for rule in ROW_RULES if rule.code != code)
    monkeypatch.setattr(checking, "ROW_RULES", others)
    drift.load(folder)


def test_the_reference_lists_every_rule_and_every_limit(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "path", [str(Path(drift.__file__).parents[1] / "docs"), *sys.path])
    from reference_pages import write_pages

    write_pages(tmp_path)
    text = (tmp_path / "files.md").read_text(encoding="utf-8")
    parts = dict(re.findall(r"^## (\w+)\.csv\n(.*?)(?=^## |\Z)", text, re.M | re.S))
    for rule in ROW_RULES:
        for table in rule.tables:
            assert f"- {rule.asks} (`{rule.code}`)" in parts[table]
    for table, record in RECORDS.items():
        for column in record.columns:
            assert f"| `{column.name}` | {column.kind} |" in parts[table]
    assert "| `cents` | number | yes | -200 to 200 |" in parts["readings"]


def test_rows_that_are_there_twice_are_mentioned_and_each_counts(tmp_path):
    rows = ROW.format(5, "hall", "F") * 3 + ROW.format(15, "hall", "F")
    loaded = drift.load(write(tmp_path / "f", readings=HEADER + rows))
    (found,) = loaded.understood
    assert isinstance(found, Repeated)
    assert (found.rows, found.first) == (2, f"{tmp_path / 'f' / 'readings.csv'} line 3")
    assert len(loaded.readings) == 4


def test_readings_at_one_time_are_not_taken_for_one(tmp_path):
    rows = ROW.format(5, "hall", "F") + ROW.format(5, "hall", "Bb")
    assert drift.load(write(tmp_path / "f", readings=HEADER + rows)).understood == ()


def test_a_decimal_comma_is_mentioned(tmp_path):
    rows = (HEADER + ROW.format(5, "hall", "F")).replace(",", ";").replace("4.0", "4,5")
    loaded = drift.load(write(tmp_path / "f", readings=rows))
    assert Commas(str(tmp_path / "f" / "readings.csv"), "cents") in loaded.understood
    assert loaded.readings["cents"].tolist() == [4.5]


def test_slides_farther_out_than_slides_go_are_mentioned_with_line_and_value(tmp_path):
    head = "time,rehearsal,player,event,slide,position_mm\n"
    row = "2026-10-03T19:{:02}:00Z,hall,Ilse,slide,main,{}\n"
    events = head + row.format(0, 100) + row.format(1, 140)
    found = drift.load(write(tmp_path / "f", **(HEADER_ONLY | {"events": events}))).understood
    file = tmp_path / "f" / "events.csv"
    assert found == (FarOut(f"{file} line 3", "main", 140.0),)
    many = head + "".join(row.format(n, 120 + n) for n in range(8))
    found = drift.load(write(tmp_path / "g", **(HEADER_ONLY | {"events": many}))).understood
    assert [(one.position_mm, one.more) for one in found] == [
        (120.0, 0), (121.0, 0), (122.0, 0), (123.0, 0), (124.0, 3),
    ]  # fmt: skip
    assert understood(found[-1]).endswith(
        "main at 124 mm is farther out than a slide goes (and 3 more); give mm from fully in"
    )


def test_temperatures_that_look_like_fahrenheit_are_mentioned(tmp_path):
    rows = "".join(f"2026-10-03T19:0{n}:00Z,hall,{50 + n}\n" for n in range(5))
    temperatures = "time,rehearsal,celsius\n" + rows
    loaded = drift.load(write(tmp_path / "f", **(HEADER_ONLY | {"temperatures": temperatures})))
    assert loaded.understood == (Hot(str(tmp_path / "f" / "temperatures.csv"), 50.0, 54.0),)
    assert "call the column fahrenheit" in understood(loaded.understood[0])
    cool = {"temperatures": temperatures.replace(",5", ",2")}
    assert drift.load(write(tmp_path / "g", **(HEADER_ONLY | cool))).understood == ()


def test_a_refused_temperature_names_the_other_unit():
    celsius = next(c for c in RECORDS["temperatures"].columns if c.name == "celsius")
    with pytest.raises(InputError, match="68 °C is outside -40 to 60") as refusal:
        number_of(celsius, "68")
    assert "fahrenheit" in refusal.value.remedy


def test_of_each_player_the_first_reading_of_the_later_rehearsal_is_named():
    """However often one cause occurs: each is found without looking through all rows again."""
    row = np.arange(60)
    readings = pd.DataFrame(
        {
            "time": pd.Timestamp("2026-10-03T17:00Z") + pd.to_timedelta(row // 3 * 60, unit="s"),
            "rehearsal": np.where(row < 30, "first", "second"),
            "player": np.array(["Rowan", "Isolde", "Tamsin"])[row % 3],
            "instrument": "double horn", "side": "F", "note": "F4", "cents": 0.0,
        }
    )  # fmt: skip
    late = readings.assign(time=readings["time"].where(row < 30, readings["time"].shift(30)))
    with pytest.raises(TablesRefused, match="overlap") as refusal:
        drift.load({"readings": late})
    named = [(problem.place.number, problem.value) for problem in refusal.value.problems]
    assert sorted(named) == [(30, "Rowan"), (31, "Isolde"), (32, "Tamsin")]
    assert len(drift.load({"readings": readings}).readings) == 60
